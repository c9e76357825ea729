//! The air's page: where the wood is going today, where it went over the year, and which causes follow it.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::YearMonth;
use crate::error::Result;
use crate::form::Problems;
use crate::page::{Frame, Markup, html};
use crate::reports::ask::Ask;
use crate::reports::recurrence::Names;
use crate::reports::season::Season;
use crate::staff::Who;
use crate::words::count;

use super::chart::ROOM;
use super::course::{Mean, Month, season_word};
pub use super::known::Known;
use super::plate::{CELLO, PLATES, Plate};
use super::plate_ask::PlateAsked;
use super::plate_told::PlateTold;
use super::reading::Reading;
use super::wood::{Cut, Wood, percent};
use super::{air_csv, chart, course, follow, gap, months_csv, plate_chart};

/// A reading older than so many days is not the air of today.
const STALE: i64 = 3;
/// A change of the wood within 30 days that is worth a word, in percent.
const MOVES: f64 = 0.5;
/// So many causes are shown at once; the others fold away.
const SHOWN: usize = 8;

/// What is said first, with the place of the page that shows it.
struct Said {
    lead: String,
    place: &'static str,
    rest: String,
}

#[derive(Template)]
#[template(path = "climate/air_page.html")]
struct AirPage {
    frame: Frame,
    known: Known,
    names: Names,
    asked: PlateAsked,
    problems: Problems,
    told: Option<PlateTold>,
}

impl AirPage {
    fn when(&self, reading: &Reading) -> String {
        let (day, hour, minute) = self.known.zone.local(reading.at);
        if day == self.known.today {
            format!("Today at {hour}:{minute:02}")
        } else {
            self.known.zone.words(reading.at)
        }
    }

    /// How many days ago the last reading was, where it is no more of today.
    fn stale(&self, reading: &Reading) -> Option<i64> {
        let days = self.known.today.0 - self.known.zone.day(reading.at).0;
        (days > STALE).then_some(days)
    }

    /// What is said of the last month and of the causes that follow the air.
    fn said(&self) -> Vec<Said> {
        let mut said: Vec<Said> = self.lately().into_iter().chain(self.cello()).collect();
        let told = self.known.weighed.causes.iter().filter(|cause| cause.told());
        said.extend(told.take(2).map(|cause| Said {
            lead: self.names.of(&cause.cause),
            place: "causes",
            rest: format!(": {}.", cause.words()),
        }));
        said
    }

    /// "Over the last 30 days wood went to 7.2 %, 1.1 % less than in the 30 days before: it is drying."
    fn lately(&self) -> Option<Said> {
        let now = self.known.now()?;
        let rest = self.known.before().map_or(".".to_owned(), |before| {
            let change = now.moisture - before.moisture;
            let size = percent(change.abs());
            match change {
                change if change <= -MOVES => {
                    format!(", {size} less than in the 30 days before: it is drying.")
                }
                change if change >= MOVES => {
                    format!(", {size} more than in the 30 days before: it is taking up water.")
                }
                _ => ", much as in the 30 days before.".to_owned(),
            }
        });
        Some(Said {
            lead: format!("Over the last 30 days wood went to {}", percent(now.moisture)),
            place: "months",
            rest,
        })
    }

    /// "A cello belly 440 mm wide would like to be 2.6 mm narrower than in August."
    fn cello(&self) -> Option<Said> {
        let (now, (month, then)) = (self.known.now()?, self.known.furthest()?);
        let moves = CELLO.moves(then, now.moisture).words();
        let than = if moves == "as wide" { "as" } else { "than" };
        Some(Said {
            lead: format!("A cello belly 440 mm wide would like to be {moves}"),
            place: "plates",
            rest: format!(" {than} in {}.", month_name(month)),
        })
    }

    fn plates(&self) -> Vec<(&'static Plate, String)> {
        let (Some(now), Some((_, then))) = (self.known.now(), self.known.furthest()) else {
            return Vec::new();
        };
        let line = |plate: &'static Plate| (plate, plate.moves(then, now.moisture).words());
        PLATES.iter().map(line).collect()
    }

    /// The warmth that stands in its field until another is typed.
    fn warmth(&self) -> String {
        match self.asked.at("temperature_c") {
            "" => format!("{ROOM:.0}"),
            typed => typed.to_owned(),
        }
    }

    /// An air is said, or has to be.
    fn airs_open(&self) -> bool {
        let said = |field| !self.asked.at(field).is_empty() || !self.problems.at(field).is_empty();
        let amiss = !self.problems.at("temperature_c").is_empty();
        self.known.now().is_none() || amiss || said("from_humidity") || said("to_humidity")
    }

    fn since(&self) -> String {
        let furthest = self.known.furthest();
        furthest.map_or(String::new(), |month| month_name(month.0))
    }

    /// "No readings from 3 to 20 May and from 2 to 14 Aug."
    fn gaps(&self) -> Option<String> {
        let from = self.known.today.plus(1 - chart::DAYS);
        let gaps = self.known.course.gaps(from, self.known.today);
        let words: Vec<String> = gaps
            .into_iter()
            .map(|gap| format!("from {}", gap.words()))
            .collect();
        match words.as_slice() {
            [] => None,
            [one] => Some(format!("No readings {one}.")),
            [first @ .., last] => Some(format!("No readings {} and {last}.", first.join(", "))),
        }
    }

    fn picture(&self) -> Markup {
        chart::year(&self.known.course, self.known.today)
    }

    fn drawn(&self) -> bool {
        let from = self.known.today.plus(1 - chart::DAYS);
        !self.known.course.within(from, self.known.today).is_empty()
    }

    /// The last twelve months and this one.
    fn months(&self) -> Vec<Month> {
        self.known.course.months(self.known.today.month(), 13)
    }

    /// "Feb 2026"
    fn short_month(&self, month: YearMonth) -> String {
        let words = month.to_string();
        let (name, year) = words.split_once(' ').unwrap_or((&words, ""));
        format!("{} {year}", name.chars().take(3).collect::<String>())
    }

    /// "5.9 to 8.1": what the days of a month had in earlier years.
    fn earlier(&self, month: YearMonth) -> Option<String> {
        let last = month.last_day().min(self.known.today);
        let (least, most) = self.known.course.earlier_between(month.first_day(), last)?;
        Some(format!("{least:.1} to {most:.1}"))
    }

    fn by_air(&self, mean: &Mean) -> &'static str {
        if mean.enough().is_some() {
            season_word(mean.season())
        } else {
            "too few days"
        }
    }

    fn by_calendar(&self, month: YearMonth) -> &'static str {
        let season = self.known.seasons.of_month(month.month_number());
        season_word(season.unwrap_or(Season::Change))
    }

    /// "2 causes follow the air beyond chance"
    fn how_many(&self) -> String {
        match self.told() {
            0 => "No cause follows the air beyond chance".to_owned(),
            told => words(told, "cause follows", "causes follow") + " the air beyond chance",
        }
    }

    fn months_said(&self, months: usize) -> String {
        words(months, "month", "months")
    }

    fn told(&self) -> usize {
        self.known
            .weighed
            .causes
            .iter()
            .filter(|cause| cause.told())
            .count()
    }

    fn causes(&self) -> (&[follow::Follows], &[follow::Follows]) {
        let all = &self.known.weighed.causes;
        all.split_at(all.len().min(SHOWN.max(self.told())))
    }
}

fn words(n: usize, one: &str, many: &str) -> String {
    count(i64::try_from(n).unwrap_or(i64::MAX), one, many)
}

fn month_name(month: YearMonth) -> String {
    let words = month.to_string();
    words
        .split_once(' ')
        .map_or(words.clone(), |parts| parts.0.to_owned())
}

/// `GET /air`, and with a plate: `/air?width_mm=440&wood=spruce&cut=quarter`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    RawQuery(query): RawQuery,
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let known = Known::read(&app, &shop).await?;
    let asked = PlateAsked::read(query.as_deref());
    let (told, problems) = match asked.understand(known.here(), "") {
        _ if asked.is_empty() => (None, Problems::default()),
        Ok(told) => (Some(told), Problems::default()),
        Err(problems) => (None, problems),
    };
    let status = if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = AirPage {
        known,
        names: Names::of_causes(&app.db).await?,
        frame: Frame::new("The air", shop.name, &who, "month"),
        asked,
        problems,
        told,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /air.csv?table=days`
///
/// # Errors
/// No such table, or what the database says.
pub async fn csv(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let known = Known::read(&app, &shop).await?;
    let to = known.today;
    let table = match ask.table.as_str() {
        "days" => air_csv::days(&known.course, to.plus(1 - chart::DAYS), to),
        "earlier" => air_csv::earlier(&known.course, to.plus(1 - chart::DAYS), to),
        "plates" => air_csv::plates(known.here()),
        "causes" => air_csv::causes(&known.weighed, &Names::of_causes(&app.db).await?),
        "months" => months_csv::months(&app.db, &known.course, to, &Names::of_causes(&app.db).await?).await?,
        _ => {
            let mut problems = Problems::default();
            let words = format!("Choose one of the tables: {}.", air_csv::TABLES.join(", "));
            problems.add("table", words);
            return Err(problems.into());
        }
    };
    table.answer(&format!("air-{}-{}", ask.table, to.iso()))
}
