//! The claim stub is the customer's half: it gets lost on buses, so it says nothing that a stranger may not read.
//!
//! No name, no home address, no maker, no value, no limit, no complaint: the number, what was left, and the shop.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::Response;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::error::Result;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::paper::{Asked, Sheet, Size, listed, number_class, one_line};
use super::tag::Codes;

#[derive(Template)]
#[template(path = "printing/stub.html")]
struct StubPage {
    frame: Frame,
    size: Size,
    sheet: Sheet,
    shop: Shop,
    order: Order,
    instrument: Instrument,
    codes: Codes,
}

impl StubPage {
    fn number_class(&self) -> &'static str {
        number_class(&self.order)
    }

    fn address(&self) -> String {
        one_line(&self.shop.address)
    }

    /// "violin 4/4"
    fn what(&self) -> String {
        self.instrument.short_words().to_lowercase()
    }

    fn items(&self) -> String {
        let most = match (self.size, self.shop.stub_terms.chars().count()) {
            (Size::Label, _) => 70,
            (_, 0..=240) => 150,
            _ => 100,
        };
        listed(self.order.items(), most)
    }

    /// Long terms are set smaller, so that they stay whole.
    fn terms_class(&self) -> &'static str {
        match self.shop.stub_terms.chars().count() {
            0..=240 => "small-print",
            241..=420 => "small-print long",
            _ => "small-print longest",
        }
    }
}

/// `GET /orders/{tag}/stub?size=label|label4x6|a6`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    asked: Asked,
) -> Result<Response> {
    let order = Order::get(&app.db, &tag).await?;
    let instrument = Instrument::get(&app.db, order.instrument).await?;
    let shop = Shop::get(&app.db).await?;
    let (size, sheet) = (Size::asked(&asked)?, Sheet::asked(&asked, &shop)?);
    html(StubPage {
        frame: Frame::new(
            format!("Claim stub {}", order.spoken()),
            &*shop.name,
            &who,
            "today",
        ),
        size,
        sheet,
        codes: Codes::of(&app, &order)?,
        shop,
        order,
        instrument,
    })
}
