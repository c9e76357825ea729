//! What a line of the old book becomes: an order that was collected, with its findings, its work and its money.
//!
//! The book knows less than the shop does, and nothing is made up for it: it names days, so all of a day is at noon;
//! what was charged stands as one part without tax, since neither rate nor tax are told, and counts as paid on account
//! at pickup; minutes are shared evenly by what was repaired. Confirmed, and nothing repaired: it went back unrepaired.

use uuid::{Builder, Uuid};

use crate::bench::estimate::{self, Bill};
use crate::bench::finding::Finding;
use crate::bench::step::{Part, Step};
use crate::bulk::{Counted, Lot, Sums};
use crate::clock::{Moment, Zone};
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::counter::pickup::Payment;
use crate::counter::stage::Stage;
use crate::counter::story::Story;
use crate::counter::tag;
use crate::diagnosis::lesson::{Answers, Lesson, Shares};
use crate::error::Result;
use crate::money::{Money, Rate};

use super::entry::{Against, Entry};
use super::known::Known;

/// The one line of its story.
pub const STORY: &str = "Brought in from the shop's old book";

/// What stands for all that was charged.
pub const CHARGED: &str = "Charged, as the old book has it";

/// What is collected until it is written.
pub struct Writing<'a> {
    pub against: &'a Against,
    pub zone: Zone,
    pub now: Moment,
    /// Who brings it in.
    pub by: &'a str,
    /// The next running number.
    pub number: i64,
    pub lot: Lot,
    pub lessons: Vec<Lesson>,
    /// Orders with the marks of their lines.
    pub marks: Vec<(Uuid, Uuid)>,
    pub sums: Sums,
    pub shares: Shares,
    pub answers: Answers,
    pub taught: i64,
    pub customers: i64,
    pub instruments: i64,
}

/// An id in the order of time, like all ids of the house.
fn id(at: Moment) -> Uuid {
    let mut random = [0; 10];
    random.copy_from_slice(&Uuid::new_v4().into_bytes()[6..]);
    Builder::from_unix_timestamp_millis(u64::try_from(at.0).unwrap_or(0), &random).into_uuid()
}

impl Writing<'_> {
    /// Adds a line; `at` is its instrument.
    ///
    /// # Errors
    /// When an amount is larger than money here can be, which the check of the line excludes.
    pub fn add(&mut self, known: &mut Known, at: usize, entry: &Entry) -> Result<()> {
        let received_at = self.noon(entry.received_on);
        let instrument = self.instrument(known, at, entry, received_at);
        let order = self.order(entry, &instrument, received_at);
        let findings = findings(&order, entry);
        let (steps, parts) = self.work(&order, entry, &findings);
        let bill: Bill = estimate::bill(&estimate::lines(steps.clone(), &parts)?)?;
        let order = Order {
            estimate: bill.total,
            ..order
        };
        let collected_at = order.collected_at.unwrap_or(received_at);
        let payments: Vec<Payment> = entry
            .charged
            .iter()
            .map(|charged| Payment {
                id: id(collected_at),
                work_order: order.id,
                amount: *charged,
                method: "account".into(),
                at: collected_at,
                paid_on: entry.collected_on,
                staff: None,
            })
            .collect();
        let counted = Counted {
            order: &order,
            family: known.things[at].family,
            size: &instrument.size,
            year_made: instrument.year_made,
            kind: known.people[known.things[at].owner].kind,
            findings: &findings,
            steps: &steps,
            parts: &parts,
            payments: &payments,
            charged: Some(&bill),
        };
        // Comebacks are looked for and counted when all is written.
        self.sums.add(&counted)?;
        self.learn(&order, &instrument, entry);
        self.lot.story.push(Story {
            id: id(self.now),
            work_order: order.id,
            at: self.now,
            by_name: self.by.to_owned(),
            words: STORY.into(),
        });
        self.marks.push((order.id, entry.mark()));
        self.lot.orders.push(order);
        self.lot.findings.extend(findings);
        self.lot.steps.extend(steps);
        self.lot.parts.extend(parts);
        self.lot.payments.extend(payments);
        Ok(())
    }

    fn noon(&self, day: crate::clock::Day) -> Moment {
        self.zone.moment(day, 12, 0).min(self.now)
    }

    /// The instrument; it and its owner are written when they come for the first time.
    fn instrument(&mut self, known: &mut Known, at: usize, entry: &Entry, now: Moment) -> Instrument {
        let thing = &mut known.things[at];
        let person = &mut known.people[thing.owner];
        if !person.is_written {
            (person.id, person.is_written) = (id(now), true);
            self.customers += 1;
            self.lot.customers.push(Customer {
                id: person.id,
                kind: person.kind.into(),
                name: entry.customer.clone(),
                phone: entry.phone.clone(),
                email: String::new(),
                note: String::new(),
                version: 1,
                created_at: now,
            });
        }
        let fresh = !thing.is_written;
        if fresh {
            (thing.id, thing.is_written) = (id(now), true);
        }
        let instrument = Instrument {
            id: thing.id,
            customer: person.id,
            family: thing.family.to_owned(),
            size: thing.size.clone(),
            maker: entry.label.clone(),
            year_made: thing.year_made,
            year_certainty: thing.year_certainty().to_owned(),
            serial: String::new(),
            marks: String::new(),
            version: 1,
            created_at: now,
        };
        if fresh {
            self.instruments += 1;
            self.lot.instruments.push(instrument.clone());
        }
        instrument
    }

    fn order(&mut self, entry: &Entry, instrument: &Instrument, received_at: Moment) -> Order {
        let tag = tag::from_number(self.number);
        self.number += 1;
        let unrepaired = !entry.confirmed.is_empty() && entry.repaired.is_empty();
        let inspected = !entry.confirmed.is_empty() && !instrument.is_bow();
        Order {
            id: id(received_at),
            tag,
            customer: instrument.customer,
            instrument: instrument.id,
            stage: if unrepaired {
                Stage::Returned
            } else {
                Stage::Collected
            },
            words: entry.words.clone(),
            answers: entry.answers.clone(),
            buzz_string: String::new(),
            buzz_note: String::new(),
            items_left: String::new(),
            condition: String::new(),
            declared_value: None,
            promised_on: None,
            authorised_limit: None,
            estimate: Money::ZERO,
            approved_up_to: None,
            hold_until: None,
            hold_why: String::new(),
            returned_why: None,
            received_at,
            received_on: entry.received_on,
            received_by: None,
            inspected_on: inspected.then_some(entry.received_on),
            ready_on: None,
            collected_at: Some(self.noon(entry.collected_on)),
            collected_on: Some(entry.collected_on),
            collected_by: String::new(),
            version: 1,
            // The book names the days of the visit, and nothing between.
            stage_on: None,
            days_first: None,
            days_answer: None,
            days_bench: None,
            days_ready: None,
            owed: Money::ZERO,
            returned_note: String::new(),
        }
    }

    /// A step for each cause that was repaired; one for all where none is named and yet there was work or money.
    fn work(&self, order: &Order, entry: &Entry, findings: &[Finding]) -> (Vec<Step>, Vec<Part>) {
        let name = |code: &str| {
            self.against
                .causes
                .get(code)
                .map_or(code.to_owned(), |cause| cause.name.clone())
        };
        let mut of: Vec<(Option<Uuid>, String)> = findings
            .iter()
            .filter(|finding| entry.repaired.contains(&finding.cause))
            .map(|finding| (Some(finding.id), format!("Put right: {}", name(&finding.cause))))
            .collect();
        if of.is_empty() && (entry.minutes.is_some() || entry.charged.is_some()) {
            of.push((None, "Work of this visit".into()));
        }
        let done_at = order.collected_at.unwrap_or(order.received_at);
        let count = i64::try_from(of.len()).unwrap_or(1).max(1);
        let steps: Vec<Step> = (0..)
            .zip(of)
            .map(|(at, (finding, title))| {
                // What does not go round is with the first.
                let minutes = entry
                    .minutes
                    .map(|all| all / count + if at == 0 { all % count } else { 0 });
                Step {
                    id: id(done_at),
                    work_order: order.id,
                    finding,
                    job: None,
                    title,
                    planned_minutes: minutes.unwrap_or(0),
                    actual_minutes: minutes,
                    rate: Money::ZERO,
                    tax: Rate(0),
                    free: false,
                    position: at + 1,
                    created_at: order.received_at,
                    done_at: Some(done_at),
                    done_on: Some(entry.collected_on),
                    done_by: None,
                    declined_at: None,
                }
            })
            .collect();
        let part = entry.charged.zip(steps.first()).map(|(unit_price, step)| Part {
            id: id(done_at),
            step: step.id,
            name: CHARGED.into(),
            quantity: 1,
            unit_price,
            tax: Rate(0),
        });
        (steps, part.into_iter().collect())
    }

    fn learn(&mut self, order: &Order, instrument: &Instrument, entry: &Entry) {
        if entry.confirmed.is_empty() {
            return;
        }
        if let Some(lesson) = Lesson::of(order, instrument, &entry.confirmed) {
            lesson.counts(1, &mut self.shares, &mut self.answers);
            self.taught += 1;
            self.lessons.push(lesson);
        }
    }
}

fn findings(order: &Order, entry: &Entry) -> Vec<Finding> {
    entry
        .confirmed
        .iter()
        .map(|cause| Finding {
            id: id(order.received_at),
            work_order: order.id,
            instrument: order.instrument,
            cause: cause.clone(),
            certainty: "confirmed".into(),
            place: String::new(),
            note: String::new(),
            comeback_of: None,
            comeback_days: None,
            withdrawn: false,
            at: order.received_at,
            found_on: entry.received_on,
            staff: None,
        })
        .collect()
}
