//! The pickup summary: what was said, found, done and left, what it cost, and how to care for it, on one page.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::Response;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::bench::approval::Approval;
use crate::bench::check::{self, Check};
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::bench::step::Step;
use crate::catalogue::cause::Cause;
use crate::clock::Day;
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::counter::pickup::Account;
use crate::error::Result;
use crate::page::{Frame, Markup, html};
use crate::staff::{Staff, Who};

use super::care::{self, Care};
use super::cost::{self, Row};
use super::fit::{self, Scale, Text};
use super::paper::{Asked, Sheet, in_short, number_class, one_line};
use super::{drawing, left};

/// All that is known of a visit when it ends.
pub struct Visit {
    pub shop: Shop,
    pub order: Order,
    pub instrument: Instrument,
    pub customer: Customer,
    pub account: Account,
    pub causes: Vec<Cause>,
    pub findings: Vec<Finding>,
    pub checks: Vec<Check>,
    pub tests: Vec<PlayTest>,
    pub approvals: Vec<Approval>,
    pub staff: Vec<Staff>,
    /// The day of the pickup, or today.
    pub day: Day,
}

/// A confirmed finding in plain words, with its pin on the drawing.
pub struct Found {
    pub pin: Option<usize>,
    pub words: String,
}

impl Visit {
    /// # Errors
    /// Not found, or what the database says.
    pub async fn read(app: &App, tag: &str) -> Result<Visit> {
        let db = &app.db;
        let order = Order::get(db, tag).await?;
        let shop = Shop::get(db).await?;
        let causes = db
            .read(
                "select * from cause where code in (select cause from finding where work_order = $1
                 union select cause from cause_check where work_order = $1)",
            )
            .bind(order.id)
            .all()
            .await?;
        Ok(Visit {
            instrument: Instrument::get(db, order.instrument).await?,
            customer: Customer::get(db, order.customer).await?,
            account: Account::of(db, order.id).await?,
            causes,
            findings: Finding::of(db, order.id).await?,
            checks: Check::of(db, order.id).await?,
            tests: PlayTest::of(db, order.id).await?,
            approvals: Approval::of(db, order.id).await?,
            staff: Staff::all(db).await?,
            day: order.collected_on.unwrap_or_else(|| shop.today(app.clock.now())),
            shop,
            order,
        })
    }

    #[must_use]
    pub fn cause(&self, code: &str) -> Option<&Cause> {
        self.causes.iter().find(|cause| cause.code == code)
    }

    /// A cause with its place: "Open seam, lower bout, bass side".
    #[must_use]
    pub fn placed(&self, finding: &Finding) -> String {
        let name = self.named(&finding.cause);
        match finding.place.as_str() {
            "" => name.to_owned(),
            place => format!("{name}: {}", in_short(place, 80)),
        }
    }

    pub fn done(&self) -> impl Iterator<Item = &Step> {
        let steps = self.account.lines.iter().map(|line| &line.step);
        steps.filter(|step| step.done_at.is_some())
    }

    /// The causes that were seen and that nobody confirmed.
    #[must_use]
    pub fn seen(&self) -> Vec<&str> {
        let mut seen = check::seen(&self.checks, &self.findings);
        seen.retain(|cause| {
            let mut of = self.findings.iter().filter(|finding| finding.cause == *cause);
            !of.any(Finding::is_confirmed)
        });
        seen
    }

    /// A cause in the words of the catalogue.
    #[must_use]
    pub fn named<'a>(&'a self, code: &'a str) -> &'a str {
        self.cause(code).map_or(code, |cause| &cause.name)
    }

    /// Whether another finding says the same of this cause and more: found by a check first, and then with its place.
    fn is_said_again(&self, finding: &Finding) -> bool {
        finding.place.is_empty()
            && self.findings.iter().any(|other| {
                let same = other.id != finding.id && other.cause == finding.cause && other.is_confirmed();
                same && (!other.place.is_empty() || (other.at, other.id) < (finding.at, finding.id))
            })
    }

    fn told(&self, most: usize) -> String {
        let said = in_short(&self.order.words, most);
        if said.is_empty() {
            said
        } else {
            format!("“{said}”")
        }
    }

    /// The regions of what was found, each once, with the first cause that was found there.
    fn regions(&self) -> Vec<drawing::Pin<'_>> {
        let mut regions: Vec<drawing::Pin<'_>> = Vec::new();
        for finding in self.findings.iter().filter(|finding| finding.is_confirmed()) {
            let region = self
                .cause(&finding.cause)
                .map_or("", |cause| cause.region.as_str());
            if regions.iter().all(|pin| pin.0 != region) {
                regions.push((region, &finding.cause));
            }
        }
        regions
    }

    /// The view that holds what was found, and the regions it shows in the order of their pins.
    fn view(&self) -> Option<(Markup, Vec<&str>)> {
        drawing::view(&self.instrument.family, &self.regions())
    }

    fn found(&self) -> Vec<Found> {
        let regions = self.view().map_or(Vec::new(), |view| view.1);
        let confirmed = self.findings.iter().filter(|finding| finding.is_confirmed());
        let confirmed = confirmed.filter(|finding| !self.is_said_again(finding));
        let mut found: Vec<Found> = confirmed
            .map(|finding| {
                let region = self
                    .cause(&finding.cause)
                    .map_or("", |cause| cause.region.as_str());
                let pin = regions.iter().position(|pinned| *pinned == region);
                Found {
                    pin: pin.map(|at| at + 1),
                    words: self.placed(finding),
                }
            })
            .collect();
        found.extend(self.seen().into_iter().map(|code| Found {
            pin: None,
            words: format!("{}. Seen when we looked, and not confirmed.", self.named(code)),
        }));
        if found.is_empty() && !self.checks.is_empty() {
            let mut looked: Vec<&str> = self.checks.iter().map(|check| check.cause.as_str()).collect();
            looked.sort_unstable();
            looked.dedup();
            let looked = i64::try_from(looked.len()).unwrap_or(i64::MAX);
            let looked = crate::words::count(looked, "possible cause", "possible causes");
            // What is not worth the repair, or not wanted, has a fault all the same.
            let words = match self.order.returned_why.as_deref() {
                Some("beyond_repair" | "declined") => format!("We looked for {looked}."),
                _ => format!("No fault that would make this noise. We looked for {looked}."),
            };
            found.push(Found { pin: None, words });
        }
        found
    }

    /// The names of those who did the steps, and who played it again.
    fn hands(&self) -> String {
        let name = |id| {
            let person = self.staff.iter().find(|person| Some(person.id) == id);
            person.map(|person| person.name.as_str())
        };
        let mut workers: Vec<&str> = self.done().filter_map(|step| name(step.done_by)).collect();
        workers.dedup();
        workers.truncate(4);
        let mut hands = Vec::new();
        if !workers.is_empty() {
            hands.push(format!("Work by {}.", workers.join(", ")));
        }
        if let Some(test) = self.tests.last().filter(|test| test.result == "quiet") {
            let by = name(test.staff).map_or(String::new(), |name| format!(" by {name}"));
            let day = self.shop.today(test.at);
            hands.push(if self.instrument.is_bow() {
                format!("Tried{by} on {day}: right.")
            } else {
                format!("Played again{by} on {day}: quiet.")
            });
        }
        hands.join(" ")
    }

    /// The last day on which the same trouble is the shop's to put right, if anything was repaired.
    fn comeback(&self) -> Option<Day> {
        let repaired = self.shop.comeback_days > 0 && self.done().next().is_some();
        repaired.then(|| self.day.plus(self.shop.comeback_days))
    }
}

/// What is said of the comeback window behind its day.
const COME_BACK: &str =
    "bring it: it is ours to put right. This covers the same trouble and our own work, not a new knock.";
/// Where nothing was repaired there is no window.
const NO_WINDOW: &str = "If it speaks again, note the string, the note and the weather, and bring it in.";

#[derive(Template)]
#[template(path = "printing/summary.html")]
struct SummaryPage {
    frame: Frame,
    visit: Visit,
    sheet: Sheet,
    large: bool,
    scale: Scale,
    told: String,
    found: Vec<Found>,
    did: Vec<String>,
    left: Vec<String>,
    hands: String,
    cost: Vec<Row>,
    care: Care,
    comeback: Option<Day>,
    picture: Option<Markup>,
}

impl SummaryPage {
    fn lay_out(frame: Frame, visit: Visit, sheet: Sheet, large: bool) -> SummaryPage {
        let jobs: Vec<&str> = visit.done().filter_map(|step| step.job.as_deref()).collect();
        let care = care::of(visit.shop.season(visit.day), &visit.instrument.family, &jobs);
        let lines = if large { 5 } else { 8 };
        let mut page = SummaryPage {
            told: visit.told(if large { 240 } else { 420 }),
            found: fit::at_most(visit.found(), lines, |more| Found {
                pin: None,
                words: more,
            }),
            did: visit.done().map(|step| step.title.clone()).collect(),
            left: fit::at_most(left::of(&visit), lines, |more| more),
            hands: visit.hands(),
            cost: cost::rows(&visit.account, &visit.shop, usize::MAX),
            comeback: visit.comeback(),
            picture: visit.view().map(|view| view.0),
            scale: Scale::Full,
            care,
            frame,
            visit,
            sheet,
            large,
        };
        let (scale, rows) = fit::choose(large, &page.text(), page.cost.len());
        page.scale = scale;
        if rows < page.cost.len() {
            let work = |row: &&Row| row.kind == cost::Kind::Work;
            let others = page.cost.len() - page.cost.iter().filter(work).count();
            let most = rows.saturating_sub(others).max(1);
            page.cost = cost::rows(&page.visit.account, &page.visit.shop, most);
        }
        page
    }

    /// What stands on the page beside the cost, part by part.
    fn text(&self) -> Text {
        let mut text = Text::begin(&self.about(), self.picture.is_some());
        text.beside([self.told.as_str()]);
        text.beside(self.found.iter().map(|found| found.words.as_str()));
        let did = self.did_on_one_line();
        if self.short_list() {
            let did = self.did.iter().map(String::as_str);
            text.beside(did.chain([self.hands.as_str()]));
        } else {
            text.beside([did.as_str(), self.hands.as_str()]);
        }
        text.beside(self.left.iter().map(String::as_str));
        text.across(self.care.advice.iter().copied());
        // The longer of the two, with its day before it.
        text.across([format!("If the same trouble returns by Wed 30 Sep 2026, {COME_BACK}").as_str()]);
        text
    }

    /// A few steps are a list; many run on.
    fn short_list(&self) -> bool {
        self.did.len() <= 6
    }

    fn did_on_one_line(&self) -> String {
        in_short(&self.did.join("; "), if self.large { 450 } else { 900 })
    }

    /// The line below the heading.
    fn about(&self) -> String {
        let (what, who) = (self.visit.instrument.words(), &self.visit.customer.name);
        format!(
            "{} · for {} · {}",
            in_short(&what, 90),
            in_short(who, 60),
            self.when()
        )
    }

    fn class(&self) -> String {
        let large = if self.large { " large" } else { "" };
        format!(
            "paper paper-summary{large} {} {}",
            self.sheet.class(),
            self.scale.class()
        )
    }

    fn number_class(&self) -> &'static str {
        number_class(&self.visit.order)
    }

    fn shop_address(&self) -> String {
        one_line(&self.visit.shop.address)
    }

    fn heading(&self) -> &'static str {
        if self.did.is_empty() {
            "What we found"
        } else {
            "What we found and did"
        }
    }

    fn when(&self) -> String {
        let order = &self.visit.order;
        match (order.collected_on, order.ready_on) {
            (Some(day), _) => format!("collected {}", day.with_year()),
            (None, Some(day)) => format!("ready {}", day.with_year()),
            (None, None) => format!("as it stands on {}", self.visit.day.with_year()),
        }
    }

    /// The amount of a row, or that it is free.
    fn amount(&self, row: &Row) -> String {
        if row.free {
            "no charge".to_owned()
        } else {
            self.visit.shop.money(&row.amount)
        }
    }

    fn strong(row: &Row) -> bool {
        matches!(row.kind, cost::Kind::Total | cost::Kind::Open)
    }

    /// Nothing was done, nothing was paid.
    fn costs_nothing(&self) -> bool {
        self.did.is_empty() && self.visit.account.payments.is_empty()
    }

    /// What an hour cost, where it was the same for all of the work.
    fn rate(&self) -> Option<String> {
        let mut rates: Vec<_> = self
            .visit
            .done()
            .filter(|step| !step.free)
            .map(|step| step.rate)
            .collect();
        rates.dedup();
        match rates[..] {
            [rate] => Some(self.visit.shop.money(&rate)),
            _ => None,
        }
    }
}

/// `GET /orders/{tag}/summary[?large=yes]`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    asked: Asked,
) -> Result<Response> {
    let visit = Visit::read(&app, &tag).await?;
    let sheet = Sheet::asked(&asked, &visit.shop)?;
    let large = asked.get("large").is_some_and(|large| large == "yes");
    let title = format!("Pickup summary {}", visit.order.spoken());
    let frame = Frame::new(title, &*visit.shop.name, &who, "today");
    html(SummaryPage::lay_out(frame, visit, sheet, large))
}
