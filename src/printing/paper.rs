//! A paper is what is printed on: a label off the roll, or a sheet of A4 or Letter, and how words are cut to fit it.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{Extension, Path, Query, State};
use axum::response::Response;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::error::{Error, Result};
use crate::page::{Frame, html};
use crate::staff::Who;

/// What a tag or a stub is printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// 100 x 62 mm, off the roll.
    Label,
    /// 4 x 6 in, as parcels have it.
    Label4x6,
    /// A6, cut from a sheet.
    A6,
}

/// The sheet in the printer's tray.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    A4,
    Letter,
}

/// What was asked for in the address: `size`, `sheet`, `large`.
pub type Asked = Query<HashMap<String, String>>;

impl Size {
    /// The label, unless something else is asked for.
    ///
    /// # Errors
    /// Not found, for a size that there is not.
    pub fn asked(asked: &Asked) -> Result<Size> {
        match asked.get("size").map_or("", String::as_str) {
            "" | "label" => Ok(Size::Label),
            "label4x6" => Ok(Size::Label4x6),
            "a6" => Ok(Size::A6),
            _ => Err(Error::NotFound),
        }
    }

    /// The class of a page that prints one slip.
    #[must_use]
    pub fn class(self, sheet: Sheet) -> String {
        match self {
            Size::Label => "paper paper-label".to_owned(),
            Size::Label4x6 => "paper paper-label-4x6".to_owned(),
            Size::A6 => format!("paper paper-slips {}", sheet.class()),
        }
    }

    #[must_use]
    pub fn words(self, sheet: Sheet) -> String {
        match self {
            Size::Label => "A label of 100 x 62 mm.".to_owned(),
            Size::Label4x6 => "A label of 4 x 6 in.".to_owned(),
            Size::A6 => format!("A6 on {}; cut along the dashes.", sheet.words()),
        }
    }
}

impl Sheet {
    /// As asked for, or what is usual where the shop's money is: Letter in North America and some of its neighbours,
    /// A4 elsewhere (common practice, no source).
    ///
    /// # Errors
    /// Not found, for a sheet that there is not.
    pub fn asked(asked: &Asked, shop: &Shop) -> Result<Sheet> {
        match asked.get("sheet").map_or("", String::as_str) {
            "" => Ok(match shop.currency.as_str() {
                "USD" | "CAD" | "MXN" | "CLP" | "PHP" => Sheet::Letter,
                _ => Sheet::A4,
            }),
            "a4" => Ok(Sheet::A4),
            "letter" => Ok(Sheet::Letter),
            _ => Err(Error::NotFound),
        }
    }

    #[must_use]
    pub fn class(self) -> &'static str {
        match self {
            Sheet::A4 => "on-a4",
            Sheet::Letter => "on-letter",
        }
    }

    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Sheet::A4 => "A4",
            Sheet::Letter => "Letter",
        }
    }
}

/// The class that makes a tag's number as large as its digits allow.
#[must_use]
pub fn number_class(order: &Order) -> &'static str {
    match order.spoken().chars().count() {
        0..=6 => "tag-number",
        7..=8 => "tag-number long",
        _ => "tag-number longest",
    }
}

/// Words on one line, cut at a blank where they go beyond `most` letters.
#[must_use]
pub fn in_short(words: &str, most: usize) -> String {
    let line = words.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() <= most {
        return line;
    }
    let cut: String = line.chars().take(most).collect();
    let whole = cut.rsplit_once(' ').map_or(cut.as_str(), |(whole, _)| whole);
    format!("{}…", whole.trim_end_matches([',', ';', '.', ':']))
}

/// Things one after the other; those that go beyond `most` letters are counted, never dropped in silence.
#[must_use]
pub fn listed<'a>(things: impl IntoIterator<Item = &'a str>, most: usize) -> String {
    const AND_MORE: usize = " and 40 more".len();
    let things: Vec<&str> = things.into_iter().collect();
    let all = things.join(" · ");
    if all.chars().count() <= most {
        return all;
    }
    let mut line = String::new();
    for (at, thing) in things.iter().enumerate() {
        let thing = in_short(thing, most.saturating_sub(AND_MORE));
        if at > 0 && line.chars().count() + thing.chars().count() + AND_MORE > most {
            return format!("{line} and {} more", things.len() - at);
        }
        if at > 0 {
            line.push_str(" · ");
        }
        line.push_str(&thing);
    }
    line
}

/// The shop's address on one line.
#[must_use]
pub fn one_line(address: &str) -> String {
    let lines = address.lines().map(str::trim).filter(|line| !line.is_empty());
    lines.collect::<Vec<_>>().join(", ")
}

#[derive(Template)]
#[template(path = "printing/papers.html")]
struct PapersPage {
    frame: Frame,
    order: Order,
    instrument: Instrument,
}

/// `GET /orders/{tag}/papers`: what can be printed of an order.
///
/// # Errors
/// Not found, or what the database says.
pub async fn papers(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
) -> Result<Response> {
    let order = Order::get(&app.db, &tag).await?;
    let instrument = Instrument::get(&app.db, order.instrument).await?;
    let shop = Shop::get(&app.db).await?;
    let frame = Frame::new(format!("Papers of {}", order.spoken()), shop.name, &who, "today");
    html(PapersPage {
        frame,
        order,
        instrument,
    })
}

#[derive(Template)]
#[template(path = "printing/ruler.html")]
struct RulerPage {
    frame: Frame,
    sheet: Sheet,
}

/// `GET /papers/ruler`: a page to see whether the printer keeps its measure.
///
/// # Errors
/// Not found, or what the database says.
pub async fn ruler(State(app): State<App>, Extension(who): Extension<Who>, asked: Asked) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let sheet = Sheet::asked(&asked, &shop)?;
    html(RulerPage {
        frame: Frame::new("Does the printer keep its measure?", shop.name, &who, "today"),
        sheet,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_cut_at_a_blank_and_say_so() {
        assert_eq!(in_short("a fizz\n up  high", 40), "a fizz up high");
        assert_eq!(in_short("a fizz, up high", 9), "a fizz…");
        assert_eq!(in_short("mosquitolike", 5), "mosqu…");
    }

    #[test]
    fn things_that_do_not_fit_are_counted() {
        assert_eq!(listed(["case", "bow"], 10), "case · bow");
        assert_eq!(
            listed(["case", "bow", "mute", "cloth"], 22),
            "case · bow and 2 more"
        );
        assert_eq!(
            listed(["a case in the colour of night", "bow"], 24),
            "a case in… and 1 more"
        );
        assert_eq!(listed([], 12), "");
    }
}
