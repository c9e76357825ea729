//! Time and money of a span, for the owner: how long work takes, where orders wait, who owes, what causes cost, what to stock.

pub mod cause_cost;
pub mod job_minutes;
pub mod owing;
pub mod page;
pub mod sentences;
pub mod stage_days;
pub mod stock;
pub mod tables;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::Day;
use crate::error::Result;
use crate::form::Problems;

use self::cause_cost::CauseCost;
use self::job_minutes::JobMinutes;
use self::owing::{MonthMoney, Owing};
use self::sentences::Sentence;
use self::stage_days::StageDays;
use self::stock::{OfSeason, Stock};

use super::ask::Ask;
use super::counted::{self, TIME};
use super::counted_before;
use super::recurrence::Names;
use super::span::Span;

/// As shown on the page, so that everybody reads the figures alike; what they are made of is said in [`super::home`].
pub const DEFINITIONS: [(&str, &str); 7] = [
    (
        "Minutes",
        "Of steps done in these months. Half of them took no longer than the middle one; from .. to is the middle half (quartiles after Hyndman and Fan 1996, type 7).",
    ),
    (
        "Typical",
        "What a step planned as usual will take: actual against planned of this job, drawn to that of all jobs the more the fewer steps there are (empirical Bayes on the logarithms, spread between jobs after DerSimonian and Laird 1986). Its range holds the true middle 95 times in 100. Planned too short or too long is what its range leaves out, by more than five in a hundred: of twenty jobs that are planned right one may be told so by chance. What takes longer and is planned longer, as a cello does, is no fault of the plan. Steps in free words, and those of nought minutes, have none.",
    ),
    (
        "Days",
        "Nights between coming to a stage and leaving it, of orders handed back in these months, repaired or not; of those that stood there at all.",
    ),
    (
        "Owed",
        "Charged at pickup, less what was paid, at the end of the month.",
    ),
    (
        "Cost of a cause",
        "Of orders handed back in these months with the cause confirmed: the minutes of the steps planned for it at the labour rate of today, and their parts as priced, all before tax. Free is what of it was put right without charge because it came back within the comeback window.",
    ),
    (
        "Parts to stock",
        "Parts used on steps done in the same months of at most five years before, however they were typed. The range holds what will be used 95 times in 100 if the years go on as they did (negative binomial after Gelman and others 2013, beta negative binomial where years are more unlike each other than chance makes them, over all parts together); of a part of which much is used it may hold a little less.",
    ),
    ("Too few to say", "Fewer than five."),
];

/// All that there is to tell.
pub struct Work {
    pub shop: Shop,
    pub span: Span,
    pub today: Day,
    pub jobs: Vec<JobMinutes>,
    pub stages: Vec<StageDays>,
    /// From this day on all days by stage are kept; nothing when they always were.
    pub stages_since: Option<Day>,
    pub months: Vec<MonthMoney>,
    pub owing: Owing,
    pub causes: Vec<CauseCost>,
    pub stock: Stock,
    /// The same for the season that comes next.
    pub season: OfSeason,
    pub names_of_jobs: Names,
    pub names_of_causes: Names,
}

/// The last twelve months that are over, unless something else is asked for.
///
/// # Errors
/// What wants mending.
pub fn span(ask: &Ask, today: Day) -> Result<Span, Problems> {
    if ask.from.trim().is_empty() && ask.to.trim().is_empty() {
        return Ok(Span::up_to(today.month().plus(-1), 12));
    }
    let of_all = Ask {
        from: ask.from.clone(),
        to: ask.to.clone(),
        ..Ask::default()
    };
    Ok(of_all.understand(today)?.span)
}

impl Work {
    /// # Errors
    /// What the database says.
    pub async fn read(app: &App, shop: Shop, span: Span) -> Result<Work> {
        let db = &app.db;
        let today = shop.today(app.clock.now());
        let sums = counted::sums(db, TIME, span).await?;
        let reach = counted::reach(db).await?;
        let (stock, season) = Stock::read(db, today, &shop.seasons()).await?;
        Ok(Work {
            span,
            today,
            jobs: job_minutes::of(&sums),
            stages: stage_days::of(&sums),
            stages_since: counted_before::since(db).await?,
            months: owing::months(db, span, reach, today).await?,
            owing: Owing::read(db).await?,
            causes: cause_cost::of(&sums, shop.labour_rate),
            stock,
            season,
            names_of_jobs: Names::of_jobs(db).await?,
            names_of_causes: Names::of_causes(db).await?,
            shop,
        })
    }

    /// What the owner should know first.
    #[must_use]
    pub fn sentences(&self) -> Vec<Sentence> {
        sentences::sentences(self)
    }

    #[must_use]
    pub fn has_stages(&self) -> bool {
        self.stages.iter().any(|stage| stage.orders() > 0)
    }

    /// By years where there are many.
    #[must_use]
    pub fn shown_months(&self) -> Vec<MonthMoney> {
        owing::shown(&self.months)
    }
}
