//! The whole order as a program is told it: who, what, what was found and done, what it costs, and its story.

use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::bench::approval::Approval;
use crate::bench::check::Check;
use crate::bench::estimate::Line;
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::bench::step::Part;
use crate::clock::{Day, Moment};
use crate::counter::book::Entry;
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::intake::{BuzzAt, Complaint, TakenIn};
use crate::counter::order::Order;
use crate::counter::pickup::{Account, Payment};
use crate::counter::story::Story;
use crate::db::Read;
use crate::error::Result;
use crate::staff::Who;

use super::shape;

/// So many lines of the story are told.
const STORY: i64 = 500;

/// All that belongs to an order.
struct Belongings {
    shop: Shop,
    customer: Customer,
    instrument: Instrument,
    account: Account,
    checks: Vec<Check>,
    findings: Vec<Finding>,
    approvals: Vec<Approval>,
    play_tests: Vec<PlayTest>,
    story: Vec<Story>,
}

/// Reads all that belongs to an order, and tells it as this program may know it.
///
/// # Errors
/// What the database says.
pub async fn told(mut on: impl Read, order: &Order, who: &Who) -> Result<shape::Order> {
    let all = Belongings {
        shop: Shop::get(&mut on).await?,
        customer: Customer::get(&mut on, order.customer).await?,
        instrument: Instrument::get(&mut on, order.instrument).await?,
        account: Account::of(&mut on, order.id).await?,
        checks: Check::of(&mut on, order.id).await?,
        findings: Finding::of(&mut on, order.id).await?,
        approvals: Approval::of(&mut on, order.id).await?,
        play_tests: PlayTest::of(&mut on, order.id).await?,
        story: Story::of(&mut on, order.id, STORY).await?,
    };
    Ok(tell(order, all, who))
}

/// Tells an order that was just taken in: nothing belongs to it yet but what came in with it, so nothing is read.
///
/// # Errors
/// None that can happen: a bill of nothing adds up.
pub fn fresh(taken: &TakenIn, who: &Who) -> Result<shape::Order> {
    let all = Belongings {
        shop: taken.shop.clone(),
        customer: taken.customer.clone(),
        instrument: taken.instrument.clone(),
        account: Account::new(Vec::new(), &[], Vec::new())?,
        checks: Vec::new(),
        findings: Vec::new(),
        approvals: Vec::new(),
        play_tests: Vec::new(),
        story: taken.story.clone(),
    };
    Ok(tell(&taken.order, all, who))
}

fn tell(order: &Order, all: Belongings, who: &Who) -> shape::Order {
    let Belongings {
        shop,
        customer,
        instrument,
        account,
        checks,
        findings,
        approvals,
        play_tests,
        story,
    } = all;
    shape::Order {
        id: order.id,
        tag: order.tag.clone(),
        stage: order.stage,
        version: order.version,
        received_at: order.received_at.rfc3339(),
        received_on: order.received_on.iso(),
        promised_on: order.promised_on.map(Day::iso),
        customer: customer_told(&customer, who),
        instrument: instrument.into(),
        complaint: complaint(order),
        items_left: order.items().map(str::to_owned).collect(),
        condition: order.condition.clone(),
        declared_value: order.declared_value.map(i64::from),
        authorised_limit: order.authorised_limit.map(i64::from),
        currency: shop.currency,
        estimate: estimate(&account),
        money: shape::Money {
            charged: account.charged.total.0,
            paid: account.paid.0,
            owed: account.owed.0,
        },
        checks: checks.into_iter().map(Into::into).collect(),
        findings: findings.into_iter().map(Into::into).collect(),
        steps: account.lines.into_iter().map(Into::into).collect(),
        approvals: approvals.into_iter().map(Into::into).collect(),
        play_tests: play_tests.into_iter().map(Into::into).collect(),
        payments: account.payments.into_iter().map(Into::into).collect(),
        hold: order.hold_until.map(|until| shape::Hold {
            until: until.rfc3339(),
            why: order.hold_why.clone(),
        }),
        returned_why: order.returned_why.clone(),
        returned_note: Some(order.returned_note.clone()).filter(|note| !note.is_empty()),
        inspected_on: order.inspected_on.map(Day::iso),
        ready_on: order.ready_on.map(Day::iso),
        collected: order.collected_at.map(|at| shape::Collected {
            at: at.rfc3339(),
            on: order.collected_on.map(Day::iso),
            by: order.collected_by.clone(),
        }),
        timeline: story.into_iter().map(Into::into).collect(),
    }
}

/// The counter reaches people; the bench knows them by their first name.
#[must_use]
pub fn customer_told(customer: &Customer, who: &Who) -> shape::Customer {
    let counter = who.roles.counter();
    let shown = |text: &str| counter.then(|| text.to_owned());
    shape::Customer {
        id: customer.id,
        kind: customer.kind.clone(),
        name: shown(&customer.name).unwrap_or_else(|| customer.first_name().to_owned()),
        phone: shown(&customer.phone),
        email: shown(&customer.email),
        note: shown(&customer.note),
        version: customer.version,
    }
}

fn complaint(order: &Order) -> Complaint {
    let (string, note) = (order.buzz_string.clone(), order.buzz_note.clone());
    let noted = !(string.is_empty() && note.is_empty());
    Complaint {
        words: order.words.clone(),
        answers: order.answers(),
        buzz_at: noted.then_some(BuzzAt { string, note }),
    }
}

fn estimate(account: &Account) -> shape::Estimate {
    let bill = &account.estimate;
    let wanted = account
        .lines
        .iter()
        .filter(|line| line.step.declined_at.is_none());
    shape::Estimate {
        labour: bill.labour.0,
        parts: bill.parts.0,
        tax: bill.tax.0,
        total: bill.total.0,
        lines: wanted.map(Into::into).collect(),
    }
}

impl From<&Line> for shape::EstimateLine {
    fn from(line: &Line) -> Self {
        shape::EstimateLine {
            step: line.step.id,
            title: line.step.title.clone(),
            labour: line.labour.0,
            parts: line.sum.0 - line.labour.0,
            sum: line.sum.0,
        }
    }
}

/// An order in short, as this program may know it.
#[must_use]
pub fn in_short(entry: Entry, who: &Who) -> shape::OrderInShort {
    let first = || entry.customer_name.split_whitespace().next().unwrap_or_default();
    let name = if who.roles.counter() || entry.customer_kind != "person" {
        entry.customer_name.clone()
    } else {
        first().to_owned()
    };
    shape::OrderInShort {
        id: entry.id,
        tag: entry.tag,
        stage: entry.stage,
        version: entry.version,
        received_at: entry.received_at.rfc3339(),
        received_on: entry.received_on.iso(),
        promised_on: entry.promised_on.map(Day::iso),
        customer: shape::CustomerInShort {
            id: entry.customer,
            name,
        },
        instrument: shape::InstrumentInShort {
            id: entry.instrument,
            family: entry.family,
            size: entry.size,
            maker: entry.maker,
        },
        words: entry.words,
        estimate: entry.estimate.0,
        hold_until: entry.hold_until.map(Moment::rfc3339),
        collected_at: entry.collected_at.map(Moment::rfc3339),
        owed: entry.owed.0,
    }
}

impl From<Instrument> for shape::Instrument {
    fn from(instrument: Instrument) -> Self {
        shape::Instrument {
            id: instrument.id,
            customer: instrument.customer,
            family: instrument.family,
            size: instrument.size,
            maker: instrument.maker,
            year_made: instrument.year_made,
            year_certainty: instrument.year_certainty,
            serial: instrument.serial,
            marks: instrument.marks,
            version: instrument.version,
        }
    }
}

impl From<Check> for shape::Check {
    fn from(check: Check) -> Self {
        shape::Check {
            id: check.id,
            cause: check.cause,
            result: check.result,
            minutes: check.minutes,
            note: check.note,
            at: check.at.rfc3339(),
        }
    }
}

impl From<Finding> for shape::Finding {
    fn from(finding: Finding) -> Self {
        shape::Finding {
            id: finding.id,
            cause: finding.cause,
            certainty: finding.certainty,
            place: finding.place,
            note: finding.note,
            comeback_of: finding.comeback_of,
            comeback_days: finding.comeback_days,
            withdrawn: finding.withdrawn,
            at: finding.at.rfc3339(),
        }
    }
}

impl From<Line> for shape::Step {
    fn from(line: Line) -> Self {
        let step = line.step;
        shape::Step {
            id: step.id,
            job: step.job,
            title: step.title,
            finding: step.finding,
            planned_minutes: step.planned_minutes,
            actual_minutes: step.actual_minutes,
            free: step.free,
            parts: line.parts.into_iter().map(Into::into).collect(),
            done_at: step.done_at.map(Moment::rfc3339),
            declined_at: step.declined_at.map(Moment::rfc3339),
        }
    }
}

impl From<Part> for shape::Part {
    fn from(part: Part) -> Self {
        shape::Part {
            id: part.id,
            name: part.name,
            quantity: part.quantity,
            unit_price: part.unit_price.0,
        }
    }
}

impl From<Approval> for shape::Approval {
    fn from(approval: Approval) -> Self {
        shape::Approval {
            id: approval.id,
            decision: approval.decision,
            by: approval.said_by,
            channel: approval.channel,
            estimate: approval.estimate.0,
            limit: approval.authorised_limit.map(i64::from),
            at: approval.at.rfc3339(),
        }
    }
}

impl From<PlayTest> for shape::PlayTest {
    fn from(test: PlayTest) -> Self {
        shape::PlayTest {
            id: test.id,
            result: test.result,
            note: test.note,
            at: test.at.rfc3339(),
        }
    }
}

impl From<Payment> for shape::Payment {
    fn from(payment: Payment) -> Self {
        shape::Payment {
            id: payment.id,
            amount: payment.amount.0,
            method: payment.method,
            at: payment.at.rfc3339(),
            paid_on: payment.paid_on.iso(),
        }
    }
}

impl From<Story> for shape::StoryLine {
    fn from(line: Story) -> Self {
        shape::StoryLine {
            at: line.at.rfc3339(),
            by: line.by_name,
            words: line.words,
        }
    }
}

/// The step of an order with this id, priced, among its lines.
#[must_use]
pub fn step_of(lines: Vec<Line>, id: Uuid) -> Option<shape::Step> {
    lines.into_iter().find(|line| line.step.id == id).map(Into::into)
}
