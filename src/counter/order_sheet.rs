//! An order's sheet is all that is read of one order for its page: the visit, what was done, what the catalogue says.

use std::sync::Arc;

use sqlx::FromRow;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::bench::check::Check;
use crate::bench::finding::Finding;
use crate::bench::next::{self, Next};
use crate::bench::play_test::PlayTest;
use crate::bench::step::Step;
use crate::catalogue::cause::Cause;
use crate::catalogue::job::{Job, JobStep};
use crate::clock::{Day, Moment};
use crate::diagnosis::checks::Place;
use crate::diagnosis::evidence::Told;
use crate::diagnosis::models::Current;
use crate::diagnosis::opinion::Opinion;
use crate::error::Result;
use crate::reports::repaired::{self, Earlier};
use crate::reports::tally::SEASONAL;

use super::customer::Customer;
use super::instrument::Instrument;
use super::order::Order;
use super::pickup::Account;
use super::stage::Stage;
use super::story::Story;

/// So many earlier visits are shown; the customer's page has them all.
const EARLIER: i64 = 5;
pub const SHOWN: usize = 5;
const STORY: i64 = 50;

pub struct Sheet {
    pub shop: Shop,
    pub now: Moment,
    pub today: Day,
    pub order: Order,
    pub instrument: Instrument,
    pub customer: Customer,
    pub causes: Vec<Cause>,
    pub jobs: Vec<Job>,
    pub checks: Vec<Check>,
    pub findings: Vec<Finding>,
    pub account: Account,
    pub tests: Vec<PlayTest>,
    /// How the jobs that are still to do are done.
    pub hows: Vec<JobStep>,
    pub earlier: Vec<Visit>,
    /// What was repaired on it in earlier visits, newest first.
    pub repaired: Vec<Earlier>,
    pub story: Vec<Story>,
    /// What the catalogue and the shop know of noises.
    pub current: Arc<Current>,
}

/// An earlier visit of the same instrument, and what was found in it.
pub struct Visit {
    pub order: Order,
    pub causes: Vec<String>,
}

#[derive(FromRow)]
struct Found {
    work_order: Uuid,
    name: String,
}

impl Sheet {
    /// # Errors
    /// Not found, or what the database says.
    pub async fn of(app: &App, id_or_tag: &str) -> Result<Sheet> {
        let db = &app.db;
        let order = Order::get(db, id_or_tag).await?;
        let shop = Shop::get(db).await?;
        let now = app.clock.now();
        let instrument = Instrument::get(db, order.instrument).await?;
        let visits = Order::of_instrument(db, instrument.id, EARLIER + 1).await?;
        let found = if visits.len() > 1 {
            db.read(
                "select f.work_order, c.name from finding f join cause c on c.code = f.cause
                 where f.instrument = $1 and f.certainty = 'confirmed' and not f.withdrawn order by f.at",
            )
            .bind(instrument.id)
            .all::<Found>()
            .await?
        } else {
            Vec::new()
        };
        let repaired = if visits.len() > 1 {
            repaired::earlier(db, instrument.id, order.received_on, order.id).await?
        } else {
            Vec::new()
        };
        Ok(Sheet {
            repaired,
            today: shop.today(now),
            now,
            customer: Customer::get(db, order.customer).await?,
            causes: Cause::all(db).await?,
            jobs: Job::all(db).await?,
            checks: Check::of(db, order.id).await?,
            findings: Finding::of(db, order.id).await?,
            account: Account::of(db, order.id).await?,
            tests: PlayTest::of(db, order.id).await?,
            hows: hows(app, order.id).await?,
            earlier: earlier(visits, &found, &order),
            story: Story::of(db, order.id, STORY).await?,
            current: app.models.current(db).await?,
            shop,
            order,
            instrument,
        })
    }

    #[must_use]
    pub fn cause(&self, code: &str) -> Option<&Cause> {
        self.causes.iter().find(|cause| cause.code == code)
    }

    #[must_use]
    pub fn job(&self, code: &str) -> Option<&Job> {
        self.jobs.iter().find(|job| job.code == code)
    }

    /// What this instrument can have, as the catalogue has it today.
    pub fn usable(&self) -> impl Iterator<Item = &Cause> {
        let family = &self.instrument.family;
        self.causes
            .iter()
            .filter(move |cause| !cause.retired && cause.in_family(family))
    }

    /// The findings that stand, in the order of their numbers.
    pub fn standing(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| !finding.withdrawn)
    }

    /// What was repaired here before and is not known to have come back: of the last year and what of it is the season's.
    pub fn watched(&self) -> impl Iterator<Item = &Earlier> {
        let found = |cause: &str| {
            self.standing()
                .any(|finding| finding.cause == cause && finding.is_confirmed())
        };
        let lately = self
            .repaired
            .iter()
            .filter(|earlier| self.days_since(earlier) <= self.shop.comeback_days.max(*SEASONAL.end()));
        lately.filter(move |earlier| !found(&earlier.cause)).take(3)
    }

    /// The days from that pickup to this intake.
    #[must_use]
    pub fn days_since(&self, earlier: &Earlier) -> i64 {
        self.order.received_on.0 - earlier.collected_on.0
    }

    /// Whether a cause that was confirmed is the shop's to answer for.
    #[must_use]
    pub fn is_free(&self, finding: &Finding) -> bool {
        finding.is_confirmed()
            && finding
                .comeback_days
                .is_some_and(|days| days <= self.shop.comeback_days)
    }

    /// The first step that is not done.
    #[must_use]
    pub fn undone(&self) -> Option<&Step> {
        let steps = self.account.lines.iter().map(|line| &line.step);
        steps.into_iter().find(|step| step.waits())
    }

    /// A confirmed finding that no step mends yet.
    #[must_use]
    pub fn unmended(&self) -> Option<&Finding> {
        let mends = |finding: &Finding, step: &Step| match step.finding {
            Some(mended) => mended == finding.id,
            None => step.created_at >= finding.at,
        };
        self.standing()
            .filter(|finding| finding.is_confirmed())
            .find(|finding| !self.account.lines.iter().any(|line| mends(finding, &line.step)))
    }

    /// Whether all that was found is of the counter, and nothing was planned for it yet.
    #[must_use]
    pub fn put_right_here(&self, bench: bool) -> bool {
        let mended = |finding: &Finding| {
            let steps = self.account.lines.iter().map(|line| &line.step);
            steps.into_iter().any(|step| step.finding == Some(finding.id))
        };
        let mut open = self
            .standing()
            .filter(|finding| finding.is_confirmed() && !mended(finding))
            .peekable();
        matches!(self.order.stage, Stage::Received | Stage::Inspecting)
            && self.undone().is_none()
            && open.peek().is_some()
            && open.all(|finding| {
                self.cause(&finding.cause)
                    .is_some_and(|cause| cause.is_at_counter() && (bench || !cause.is_for_luthier()))
            })
    }

    #[must_use]
    pub fn next(&self) -> Next {
        Next::of(
            &self.order,
            &self.instrument,
            self.undone(),
            self.unmended().is_some(),
        )
    }

    /// What it may be, as far as is known now; nothing of a bow, and nothing where nobody speaks of a noise.
    #[must_use]
    pub fn opinion(&self, place: Place) -> Option<Opinion> {
        let family = &self.instrument.family;
        let noise = next::has_noise(&self.order, &self.instrument)
            || !self.checks.is_empty()
            || !self.findings.is_empty();
        let model = self
            .current
            .model(family)
            .filter(|model| noise && !model.causes.is_empty())?;
        let told = Told {
            order: &self.order,
            instrument: &self.instrument,
            owner_kind: &self.customer.kind,
            checks: &self.checks,
            findings: &self.findings,
            play_tests: &self.tests,
        };
        let evidence = told.now(model, &self.current.seasons);
        Some(Opinion::of(&self.current, model, family, &evidence, place))
    }

    /// The commonest cause that was not looked for yet, as far as this person can look: the counter looks where it may.
    #[must_use]
    pub fn commonest(&self, bench: bool) -> Option<&Cause> {
        let open = |cause: &&Cause| {
            (bench || cause.check_place == "counter")
                && !self.checks.iter().any(|check| check.cause == cause.code)
                && !self.standing().any(|finding| finding.cause == cause.code)
        };
        self.usable()
            .filter(open)
            .max_by(|one, other| one.prior_share.total_cmp(&other.prior_share))
    }
}

/// The steps of the jobs that are still to do on an order.
async fn hows(app: &App, order: Uuid) -> Result<Vec<JobStep>> {
    Ok(app
        .db
        .read(
            "select * from job_step where job in (select job from repair_step where work_order = $1 and done_at is null)
             order by job, position",
        )
        .bind(order)
        .all()
        .await?)
}

fn earlier(visits: Vec<Order>, found: &[Found], this: &Order) -> Vec<Visit> {
    let before = |order: &Order| order.id != this.id && order.received_at <= this.received_at;
    let causes = |order: &Order| {
        let mut names: Vec<String> = Vec::new();
        for found in found.iter().filter(|found| found.work_order == order.id) {
            if !names.contains(&found.name) {
                names.push(found.name.clone());
            }
        }
        names
    };
    visits
        .into_iter()
        .filter(before)
        .map(|order| Visit {
            causes: causes(&order),
            order,
        })
        .take(SHOWN)
        .collect()
}
