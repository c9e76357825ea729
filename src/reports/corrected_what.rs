//! What a corrected figure is of: how telling it is, what it may be the same as, and how it is said.

use crate::admin::shop::Shop;
use crate::clock::YearMonth;
use crate::counter::pickup::METHODS;
use crate::money::Money;
use crate::words::{grouped, minutes};

use super::report::Figures;
use super::season::Season;
use super::span::{Span, month_name};

/// What a figure is of, the most telling first; an empty cause is all that were inspected.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum What {
    Inspected,
    Cause(String),
    Comebacks,
    Charged,
    Taken,
    /// The comebacks of a cause.
    CameBack(String),
    /// In the whole shop, beside which a group is put.
    WholeShop(String),
    Amount(String),
    Pickups,
    Payments(String),
    Needed(String),
    Planned(String),
    Steps(String),
    OfAge(String, usize),
    InSeason(String, u8),
    InMonth(String, i64),
    Before(String, (i64, i64)),
    Course(String, (i64, i64)),
}

impl What {
    /// The first of the two is more telling.
    pub(super) fn rank(&self) -> u8 {
        match self {
            What::Inspected => 0,
            What::Cause(_) => 1,
            What::Comebacks => 2,
            What::Charged => 3,
            What::Taken => 4,
            What::CameBack(_) => 5,
            What::WholeShop(_) => 6,
            What::Amount(_) | What::Pickups | What::Payments(_) => 7,
            What::Needed(_) | What::Planned(_) | What::Steps(_) => 8,
            What::OfAge(..) => 9,
            What::InSeason(..) => 10,
            What::InMonth(..) => 11,
            What::Before(..) => 12,
            What::Course(..) => 13,
        }
    }

    /// What it may be all of.
    pub(super) fn whole(&self) -> Option<What> {
        match self {
            What::WholeShop(cause)
            | What::InSeason(cause, _)
            | What::InMonth(cause, _)
            | What::Course(cause, _) => Some(if cause.is_empty() {
                What::Inspected
            } else {
                What::Cause(cause.clone())
            }),
            _ => None,
        }
    }

    /// The same months beside earlier years and in the course are told once.
    pub(super) fn told_before(&self) -> Option<What> {
        match self {
            What::Course(cause, at) => Some(What::Before(cause.clone(), *at)),
            _ => None,
        }
    }

    pub(super) fn words(&self, figures: &Figures) -> String {
        let of = |cause: &str| {
            if cause.is_empty() {
                "Inspected".to_owned()
            } else {
                figures.names.of(cause)
            }
        };
        let months = |at: (i64, i64)| Span {
            from: YearMonth(at.0),
            to: YearMonth(at.1),
        };
        match self {
            What::Inspected => of(""),
            What::Cause(cause) => of(cause),
            What::Comebacks => "Comebacks".to_owned(),
            What::Charged => "Charged".to_owned(),
            What::Taken => "Taken".to_owned(),
            What::CameBack(cause) => format!("{}, comebacks", of(cause)),
            What::WholeShop(cause) => format!("{}, in the whole shop", of(cause)),
            What::Amount(kind) => of_money(kind),
            What::Pickups => "Pickups".to_owned(),
            What::Payments(kind) => format!("{}, payments", of_money(kind)),
            What::Needed(job) => format!("{}, needed", figures.job_names.of(job)),
            What::Planned(job) => format!("{}, planned", figures.job_names.of(job)),
            What::Steps(job) => format!("{}, steps", figures.job_names.of(job)),
            What::OfAge(cause, place) => {
                let bands = &figures.recurrence.bands;
                let band = bands.all().find(|band| band.place() == *place);
                format!(
                    "{}, {}",
                    of(cause),
                    band.map_or(String::new(), |band| bands.words(band))
                )
            }
            What::InSeason(cause, season) => {
                let season = Season::ALL.into_iter().find(|known| *known as u8 == *season);
                let words = season.map_or("", Season::words);
                format!("{}, {words}, {}", of(cause), figures.season_span.words())
            }
            What::InMonth(cause, month) => {
                let name = month_name(YearMonth(*month));
                format!("{}, every {name}, {}", of(cause), figures.year_span.words())
            }
            What::Before(cause, at) | What::Course(cause, at) => {
                format!("{}, {}", of(cause), months(*at).words())
            }
        }
    }

    pub(super) fn value(&self, n: i64, shop: &Shop) -> String {
        match self {
            What::Charged | What::Taken | What::Amount(_) => shop.money(&Money(n)),
            What::Needed(_) | What::Planned(_) => minutes(n),
            _ => grouped(n.max(0).unsigned_abs()),
        }
    }
}

/// "Charged: Labour", "Taken: Card"
fn of_money(kind: &str) -> String {
    let taken = METHODS
        .iter()
        .find(|method| kind.strip_prefix("taken_") == Some(method.0));
    match (kind, taken) {
        (_, Some(method)) => format!("Taken: {}", method.1),
        ("charged_labour", _) => "Charged: Labour".to_owned(),
        ("charged_parts", _) => "Charged: Parts".to_owned(),
        ("charged_tax", _) => "Charged: Tax".to_owned(),
        (other, _) => other.to_owned(),
    }
}
