//! The same deeds through the real acts: intake, checks, findings, steps, answers, play tests, payments, pickup.

use std::collections::HashMap;

use purfle::act::{Act, Guard};
use purfle::app::App;
use purfle::bench::approval::{self, NewApproval};
use purfle::bench::check::{self, NewCheck};
use purfle::bench::finding::{self, NewFinding};
use purfle::bench::hold::{self, NewHold};
use purfle::bench::play_test::{self, NewPlayTest};
use purfle::bench::step::{self, NewStep, Part, Step};
use purfle::clock::{Clock, Moment};
use purfle::counter::alike::Alike;
use purfle::counter::customer::NewCustomer;
use purfle::counter::instrument::NewInstrument;
use purfle::counter::intake::{self, BuzzAt, Complaint, Intake, Which};
use purfle::counter::order::Order;
use purfle::counter::order_changes::{self, NewReturn};
use purfle::counter::pickup::{self, NewPayment, NewPickup};
use purfle::demo::book::Book;
use purfle::demo::deed::{Deed, Done};
use purfle::demo::history::Batch;
use purfle::demo::shop;
use purfle::demo::{self, World};
use purfle::staff::Who;
use uuid::Uuid;

use super::{books, empty, hashes, invented, rows, wish};
use crate::shop::on_both;

#[test]
fn every_row_and_count_is_what_the_acts_would_have_written() {
    on_both(async |shop| {
        let db = &shop.app.db;
        let wish = wish(130, 3);
        // The models are brought up to date at every lesson, as the acts do it.
        empty(db).await;
        demo::fill_learning(db, wish, &hashes(), 1, |_| {})
            .await
            .expect("a demo");
        let (written, counts) = (visits(&shop.app).await, rows::counts(db).await);
        empty(db).await;
        let (world, batches) = invented(wish);
        every_kind_of_deed_is_among(&batches);
        let mut acted = Acted::in_the_shop(&shop.app, &shop.clock, &world).await;
        acted.all(&batches).await;
        for (acted, written) in visits(&shop.app).await.iter().zip(&written) {
            assert_eq!(acted, written);
        }
        assert_eq!(rows::counts(db).await, counts);
        assert_eq!(written.len(), 130);
    });
}

/// A deed that is never done would be compared with nothing.
fn every_kind_of_deed_is_among(batches: &[Batch]) {
    let deeds: Vec<String> = books(batches)
        .flat_map(|book| &book.deeds)
        .map(|done| format!("{:?}", done.deed))
        .collect();
    let kinds = [
        "result: \"found\"",
        "result: \"not_found\"",
        "confirmed: false",
        "job: None",
        "free: true",
        "Hold",
        "yes: true",
        "yes: false",
        "still_buzzes",
        "quiet",
        "Pay",
        "nothing_found",
        "HandBack",
        "method: None",
    ];
    for kind in kinds {
        assert!(
            deeds.iter().any(|deed| deed.contains(kind)),
            "no deed with {kind}"
        );
    }
    assert!(
        books(batches)
            .flat_map(|book| &book.findings)
            .any(|finding| finding.comeback_days.is_some())
    );
}

struct Acted<'a> {
    app: &'a App,
    clock: &'a Clock,
    world: &'a World,
    customers: HashMap<Uuid, Uuid>,
    instruments: HashMap<Uuid, Uuid>,
}

impl<'a> Acted<'a> {
    async fn in_the_shop(app: &'a App, clock: &'a Clock, world: &'a World) -> Acted<'a> {
        let mut tx = app.db.begin().await.expect("a transaction");
        world.shop.insert(&mut tx).await.expect("the shop");
        for (hand, hash) in world.hands.iter().zip(hashes()) {
            let staff = shop::staff(hand, &hash, world.opened);
            assert!(staff.insert(&mut tx).await.expect("a person"));
        }
        tx.commit().await.expect("kept");
        Acted {
            app,
            clock,
            world,
            customers: HashMap::new(),
            instruments: HashMap::new(),
        }
    }

    fn who(&self, by: usize) -> Who {
        let hand = &self.world.hands[by];
        Who {
            actor: hand.id,
            staff: Some(hand.id),
            name: hand.name.into(),
            roles: hand.roles,
        }
    }

    /// Every deed in the order of time, since what is found on one order teaches how the next is ranked.
    async fn all(&mut self, batches: &[Batch]) {
        let books: Vec<(&Batch, &Book)> = batches
            .iter()
            .flat_map(|batch| batch.books.iter().map(move |book| (batch, book)))
            .collect();
        let mut times: Vec<(Moment, usize, usize)> = Vec::new();
        for (at, (_, book)) in books.iter().enumerate() {
            times.push((book.order.received_at, at, 0));
            times.extend((1..).zip(&book.deeds).map(|(deed, done)| (done.at, at, deed)));
        }
        times.sort_unstable();
        let mut kept = vec![(Vec::new(), Vec::new()); books.len()];
        for (_, at, deed) in times {
            let (batch, book) = books[at];
            let tag = &book.order.tag;
            let Some(done) = deed.checked_sub(1).map(|deed| &book.deeds[deed]) else {
                assert_eq!(&self.take_in(batch, book).await, tag);
                continue;
            };
            self.clock.set(done.at);
            let act = Act::begin(self.app, &self.who(done.by), tag, Guard::default()).await;
            let mut act = act.expect("an act");
            let (findings, steps) = &mut kept[at];
            self.deed(&mut act, done, findings, steps).await;
            act.write().await.expect("written");
            let kept = act.commit(axum::http::StatusCode::OK, "").await;
            kept.expect("kept");
        }
    }

    async fn take_in(&mut self, batch: &Batch, book: &Book) -> String {
        let order = &book.order;
        self.clock.set(order.received_at);
        let customer = match self.customers.get(&order.customer) {
            Some(known) => Which::Known(*known),
            None => Which::New(new_customer(batch, order.customer)),
        };
        let instrument = match self.instruments.get(&order.instrument) {
            Some(known) => Which::Known(*known),
            None => Which::New(new_instrument(batch, order.instrument)),
        };
        let buzz = !order.buzz_string.is_empty();
        let intake = Intake {
            customer,
            alike: Alike::Another,
            instrument,
            complaint: Complaint {
                words: order.words.clone(),
                answers: order.answers(),
                buzz_at: buzz.then(|| BuzzAt {
                    string: order.buzz_string.clone(),
                    note: order.buzz_note.clone(),
                }),
            },
            items_left: order.items().map(str::to_owned).collect(),
            condition: order.condition.clone(),
            declared_value: order.declared_value.map(|value| value.0),
            promised_on: order.promised_on,
            authorised_limit: book.limit_at_intake.map(|limit| limit.0),
            checks: Vec::new(),
            first_answers: None,
        };
        let by = self
            .world
            .hands
            .iter()
            .position(|hand| Some(hand.id) == order.received_by);
        let who = self.who(by.expect("somebody took it in"));
        let taken = intake::take_in(self.app, &who, &intake, purfle::form::Problems::default(), None)
            .await
            .expect("taken in");
        let kept = taken.commit(200, "").await.expect("kept");
        self.customers.insert(order.customer, kept.customer);
        self.instruments.insert(order.instrument, kept.instrument);
        kept.tag
    }

    async fn deed(&self, act: &mut Act, done: &Done, findings: &mut Vec<Uuid>, steps: &mut Vec<Uuid>) {
        let causes = &self.world.trade.causes;
        match done.deed.clone() {
            Deed::Check {
                cause,
                result,
                minutes,
                note,
            } => {
                let new = NewCheck {
                    cause: causes[cause].code.clone(),
                    result: result.into(),
                    minutes,
                    note,
                };
                check::log(act, &new).await.expect("a check");
            }
            Deed::Find {
                cause,
                confirmed,
                place,
                note,
            } => {
                let certainty = if confirmed { "confirmed" } else { "suspected" }.into();
                let new = NewFinding {
                    cause: causes[cause].code.clone(),
                    certainty,
                    place,
                    note,
                };
                findings.push(finding::log(act, &new).await.expect("a finding").id);
            }
            Deed::Plan {
                job,
                title,
                finding,
                minutes,
                parts,
                free,
            } => {
                let job = job.map(|at| self.world.trade.jobs[at].code.clone());
                let title = (!title.is_empty()).then_some(title);
                let finding = finding.map(|at| findings[at]);
                let new = NewStep {
                    job,
                    title,
                    finding,
                    planned_minutes: Some(minutes),
                    parts,
                    free,
                };
                steps.push(step::plan(act, &new).await.expect("a step").id);
            }
            Deed::Work { step, minutes } => step::done(act, steps[step], minutes).await.expect("done"),
            _ => self.later_deed(act, done).await,
        }
    }

    /// What stands on no finding or step.
    async fn later_deed(&self, act: &mut Act, done: &Done) {
        match done.deed.clone() {
            Deed::Hold { until, why } => hold::put_on(
                act,
                &NewHold {
                    until,
                    why: why.into(),
                },
            )
            .expect("a hold"),
            Deed::Answer {
                yes,
                said_by,
                channel,
                limit,
            } => {
                let decision = if yes { "approved" } else { "declined" }.into();
                let new = NewApproval {
                    decision,
                    by: said_by,
                    channel: channel.into(),
                    limit,
                };
                approval::answer(act, &new).await.expect("an answer");
            }
            Deed::Play { result, note } => {
                let new = NewPlayTest {
                    result: result.into(),
                    note,
                };
                play_test::log(act, &new).await.expect("a play test");
            }
            Deed::Pay { amount, method } => {
                pickup::pay(
                    act,
                    &NewPayment {
                        amount,
                        method: method.into(),
                    },
                )
                .await
                .expect("paid");
            }
            Deed::GiveBack { why } => {
                let new = NewReturn {
                    why: why.into(),
                    note: String::new(),
                };
                order_changes::give_back(act, &new).await.expect("given back");
            }
            Deed::HandBack {
                collected_by,
                paid,
                method,
            } => {
                let new = NewPickup {
                    collected_by,
                    paid,
                    method: method.map(str::to_owned),
                };
                pickup::hand_back(act, &new).await.expect("handed back");
            }
            other => panic!("{other:?} is done elsewhere"),
        }
    }
}

fn new_customer(batch: &Batch, id: Uuid) -> NewCustomer {
    let row = batch
        .customers
        .iter()
        .find(|row| row.id == id)
        .expect("a new customer")
        .clone();
    NewCustomer {
        kind: row.kind,
        name: row.name,
        phone: row.phone,
        email: row.email,
        note: row.note,
    }
}

fn new_instrument(batch: &Batch, id: Uuid) -> NewInstrument {
    let row = batch
        .instruments
        .iter()
        .find(|row| row.id == id)
        .expect("a new instrument")
        .clone();
    NewInstrument {
        family: row.family,
        size: row.size,
        maker: row.maker,
        year_made: row.year_made,
        year_certainty: row.year_certainty,
        serial: row.serial,
        marks: row.marks,
    }
}

/// All that stands on each order, as text, with every id taken out that each writing names anew.
async fn visits(app: &App) -> Vec<String> {
    let orders: Vec<Order> = rows::all(&app.db, "select * from work_order order by tag").await;
    let mut texts = Vec::new();
    for order in orders {
        texts.push(visit(app, order).await);
    }
    texts
}

async fn visit(app: &App, mut order: Order) -> String {
    let (db, id) = (&app.db, order.id);
    let mut findings = finding::Finding::of(db, id).await.expect("findings");
    let places: HashMap<Uuid, usize> = findings
        .iter()
        .enumerate()
        .map(|(at, finding)| (finding.id, at))
        .collect();
    for finding in &mut findings {
        (finding.id, finding.work_order, finding.instrument) = (Uuid::nil(), Uuid::nil(), Uuid::nil());
        finding.comeback_of = finding.comeback_of.map(|_| Uuid::nil());
    }
    let mut steps = Step::of(db, id).await.expect("steps");
    let order_of_steps: HashMap<Uuid, usize> =
        steps.iter().enumerate().map(|(at, step)| (step.id, at)).collect();
    let mended: Vec<Option<usize>> = steps
        .iter()
        .map(|step| step.finding.map(|id| places[&id]))
        .collect();
    for step in &mut steps {
        (step.id, step.work_order, step.finding) = (Uuid::nil(), Uuid::nil(), None);
    }
    let parts: Vec<(usize, String, i64, i64, i64)> = Part::of_order(db, id)
        .await
        .expect("parts")
        .into_iter()
        .map(|part| {
            (
                order_of_steps[&part.step],
                part.name,
                part.quantity,
                part.unit_price.0,
                part.tax.0,
            )
        })
        .collect();
    let mut checks = check::Check::of(db, id).await.expect("checks");
    for row in &mut checks {
        (row.id, row.work_order) = (Uuid::nil(), Uuid::nil());
    }
    let mut approvals = approval::Approval::of(db, id).await.expect("answers");
    for row in &mut approvals {
        (row.id, row.work_order) = (Uuid::nil(), Uuid::nil());
    }
    let mut tests = play_test::PlayTest::of(db, id).await.expect("play tests");
    for row in &mut tests {
        (row.id, row.work_order) = (Uuid::nil(), Uuid::nil());
    }
    let account = pickup::Account::of(db, id).await.expect("an account");
    let payments: Vec<_> = account
        .payments
        .iter()
        .map(|row| (row.amount, &row.method, row.at, row.paid_on, row.staff))
        .collect();
    let story = purfle::counter::story::Story::of(db, id, 1000)
        .await
        .expect("a story");
    let story: Vec<_> = story
        .into_iter()
        .map(|line| (line.at, line.by_name, line.words))
        .collect();
    let taught = rows::taught(db, id).await;
    (order.id, order.customer, order.instrument) = (Uuid::nil(), Uuid::nil(), Uuid::nil());
    format!(
        "{order:#?}\n{checks:#?}\n{findings:#?}\n{steps:#?}\n{mended:?}\n{parts:#?}\n{approvals:#?}\n{tests:#?}\n{payments:#?}\n{story:#?}\n{taught}"
    )
}
