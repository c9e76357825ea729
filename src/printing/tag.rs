//! The tag that is tied to the instrument: its number large, and enough to know it from the others on the rack.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::Response;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::error::{Error, Result};
use crate::page::{Frame, Markup, html};
use crate::staff::Who;

use super::code;
use super::paper::{Asked, Sheet, Size, in_short, listed, number_class};

#[derive(Template)]
#[template(path = "printing/tag.html")]
struct TagPage {
    frame: Frame,
    size: Size,
    sheet: Sheet,
    order: Order,
    instrument: Instrument,
    first_name: String,
    codes: Codes,
}

/// What a scanner reads from a slip: the order's address, and its number.
pub struct Codes {
    pub qr: Markup,
    pub bars: Markup,
}

impl Codes {
    /// # Errors
    /// When the address is longer than a code can hold.
    pub fn of(app: &App, order: &Order) -> Result<Codes> {
        let address = format!("{}/orders/{}", app.address, order.tag);
        Ok(Codes {
            qr: Markup(code::qr_svg(&address).map_err(Error::fault)?),
            bars: Markup(code::code128_svg(&order.tag).map_err(Error::fault)?),
        })
    }
}

impl TagPage {
    fn number_class(&self) -> &'static str {
        number_class(&self.order)
    }

    fn maker(&self) -> String {
        match (self.instrument.maker.as_str(), self.instrument.year_made) {
            ("", None) => String::new(),
            ("", Some(_)) => format!("made {}", self.instrument.year_words()),
            (maker, None) => in_short(maker, 60),
            (maker, Some(_)) => format!("{}, {}", in_short(maker, 48), self.instrument.year_words()),
        }
    }

    fn items(&self, most: usize) -> String {
        listed(self.order.items(), most)
    }

    /// The complaint in so many letters; without words, where it speaks.
    fn complaint(&self, most: usize) -> String {
        let said = in_short(&self.order.words, most);
        if !said.is_empty() {
            return format!("“{said}”");
        }
        let place = [self.order.buzz_string.as_str(), self.order.buzz_note.as_str()];
        let place: Vec<&str> = place.into_iter().filter(|part| !part.is_empty()).collect();
        if place.is_empty() {
            String::new()
        } else {
            format!("speaks at {}", place.join(", "))
        }
    }

    fn large_drawing(&self) -> bool {
        matches!(self.instrument.family.as_str(), "cello" | "bass")
    }
}

/// `GET /orders/{tag}/tag?size=label|label4x6|a6`
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
    let customer = Customer::get(&app.db, order.customer).await?;
    let shop = Shop::get(&app.db).await?;
    let (size, sheet) = (Size::asked(&asked)?, Sheet::asked(&asked, &shop)?);
    html(TagPage {
        frame: Frame::new(format!("Tag {}", order.spoken()), shop.name, &who, "today"),
        size,
        sheet,
        codes: Codes::of(&app, &order)?,
        first_name: in_short(customer.first_name(), 28),
        order,
        instrument,
    })
}
