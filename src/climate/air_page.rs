//! The air's page: where the wood is going today, where it went over the year, and which causes follow it.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::response::Response;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, YearMonth, Zone};
use crate::error::Result;
use crate::form::Problems;
use crate::page::{Frame, Markup, html};
use crate::reports::ask::Ask;
use crate::reports::recurrence::{self, Names};
use crate::reports::season::{Season, Seasons};
use crate::reports::span::Span;
use crate::staff::Who;
use crate::words::count;

use super::course::{Course, Mean, Month, season_word};
use super::follow::{self, Weighed};
use super::plate::{CELLO, PLATES};
use super::reading::Reading;
use super::wood::percent;
use super::{air_csv, chart, course, day, months_csv};

/// A reading older than so many days is not the air of today.
const STALE: i64 = 3;
/// A change of the wood within 30 days that is worth a word, in percent.
const MOVES: f64 = 0.5;
/// So many causes are shown at once; the others fold away.
const SHOWN: usize = 8;

/// Everything that is known of the air of the last years.
pub struct Known {
    pub today: Day,
    pub zone: Zone,
    pub course: Course,
    pub latest: Option<Reading>,
    pub weighed: Weighed,
    pub seasons: Seasons,
}

impl Known {
    /// # Errors
    /// What the database says.
    pub async fn read(app: &App, shop: &Shop) -> Result<Known> {
        let today = shop.today(app.clock.now());
        let (from, to) = follow::span(today);
        // A window and a little more before the first month, so that its change is known.
        let days = day::read(&app.db, from.first_day().plus(-2 * follow::WINDOW), today).await?;
        let course = Course::new(days);
        let months = recurrence::by_month(&app.db, Span { from, to }, "").await?;
        Ok(Known {
            today,
            zone: shop.zone(),
            latest: Reading::latest(&app.db, 1).await?.pop(),
            weighed: follow::weigh(&course, &months),
            seasons: shop.seasons(),
            course,
        })
    }

    /// The wood of the last 30 days.
    #[must_use]
    pub fn now(&self) -> Option<Mean> {
        self.course.up_to(self.today, follow::WINDOW)?.enough()
    }

    #[must_use]
    pub fn before(&self) -> Option<Mean> {
        let then = self.today.plus(-follow::WINDOW);
        self.course.up_to(then, follow::WINDOW)?.enough()
    }

    /// The month of the last twelve whose wood was furthest from that of now.
    #[must_use]
    pub fn furthest(&self) -> Option<(YearMonth, f64)> {
        let now = self.now()?.moisture;
        let months = self.course.months(self.today.month().plus(-1), 12);
        let means = months
            .into_iter()
            .filter_map(|month| Some((month.month, month.mean?.enough()?.moisture)));
        means.max_by(|one, other| (one.1 - now).abs().total_cmp(&(other.1 - now).abs()))
    }
}

#[derive(Template)]
#[template(path = "climate/air_page.html")]
struct AirPage {
    frame: Frame,
    known: Known,
    names: Names,
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

    /// "Over the last 30 days wood went to 7.2 %, 1.1 % less than in the 30 days before: it is drying."
    fn lately(&self) -> Option<String> {
        let now = self.known.now()?;
        let said = format!("Over the last 30 days wood went to {}", percent(now.moisture));
        let Some(before) = self.known.before() else {
            return Some(format!("{said}."));
        };
        let change = now.moisture - before.moisture;
        let size = percent(change.abs());
        Some(match change {
            change if change <= -MOVES => {
                format!("{said}, {size} less than in the 30 days before: it is drying.")
            }
            change if change >= MOVES => {
                format!("{said}, {size} more than in the 30 days before: it is taking up water.")
            }
            _ => format!("{said}, much as in the 30 days before."),
        })
    }

    /// "A cello belly 440 mm wide would like to be 2.6 mm narrower than in August."
    fn cello(&self) -> Option<String> {
        let (now, (month, then)) = (self.known.now()?, self.known.furthest()?);
        let moves = CELLO.moves(then, now.moisture).words();
        let name = month_name(month);
        Some(match moves.as_str() {
            "as wide" => format!("A cello belly 440 mm wide would like to be as wide as in {name}."),
            _ => format!("A cello belly 440 mm wide would like to be {moves} than in {name}."),
        })
    }

    fn plates(&self) -> Vec<(String, &'static str, String)> {
        let (Some(now), Some((_, then))) = (self.known.now(), self.known.furthest()) else {
            return Vec::new();
        };
        let line = |plate: &super::plate::Plate| {
            (
                format!("{}, {:.0} mm", plate.words, plate.width),
                plate.wood.words(plate.cut),
                plate.moves(then, now.moisture).words(),
            )
        };
        PLATES.iter().map(line).collect()
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

    fn wood(&self, mean: &Mean) -> String {
        percent(mean.moisture)
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

    /// The surest that follow the air, said in full.
    fn first_told(&self) -> Vec<String> {
        let told = self.known.weighed.causes.iter().filter(|cause| cause.told());
        told.take(2)
            .map(|cause| format!("{}: {}.", self.names.of(&cause.cause), cause.words()))
            .collect()
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

/// `GET /air`
///
/// # Errors
/// What the database says.
pub async fn page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    html(AirPage {
        known: Known::read(&app, &shop).await?,
        names: Names::of_causes(&app.db).await?,
        frame: Frame::new("The air", shop.name, &who, "month"),
    })
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
