//! What is known of the air of the last years: its days, its last reading, and which causes follow it.

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, YearMonth, Zone};
use crate::error::Result;
use crate::reports::recurrence;
use crate::reports::season::Seasons;
use crate::reports::span::Span;

use super::course::{Course, Mean};
use super::follow::{self, Weighed};
use super::reading::Reading;
use super::{day, plate_ask};

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
        // Two windows before the first month, so that its change is known from its first day on.
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

    /// The two moistures that the page speaks of.
    #[must_use]
    pub fn here(&self) -> plate_ask::Here {
        plate_ask::Here {
            now: self.now().map(|mean| mean.moisture),
            furthest: self.furthest(),
        }
    }
}
