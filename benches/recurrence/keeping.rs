//! What keeping the counts costs: an intake and a finding on it, with all that the reports keep and without.

use std::time::{Duration, Instant};

use purfle::act::{Act, Guard};
use purfle::bench::finding::{self, NewFinding};
use purfle::counter::alike::Alike;
use purfle::counter::intake::{Complaint, Intake, Which, take_in};
use purfle::form::Problems;
use purfle::reports::repaired::Repairs;
use purfle::reports::tally::Counts;
use purfle::staff::{Staff, Who};
use uuid::Uuid;

use crate::median;
use crate::place::Place;

/// Eight people at once.
const HANDS: usize = 8;
/// Turn and turn about, so that a slow minute of the machine hits both.
const ROUNDS: usize = 9;
const ROUND: Duration = Duration::from_millis(1500);
const CAUSES: [&str; 6] = [
    "seam_open_lower",
    "seam_open_upper",
    "nut_loose",
    "nut_slot_low",
    "wolf_note",
    "bridge_feet_fit",
];

/// Someone's instrument, and who brings it.
type Known = (Uuid, Uuid);

pub async fn measure(place: &Place) {
    // Of each family its share, as they came.
    let known: Vec<Known> = place
        .app
        .db
        .read("select id, customer from instrument where family <> 'bow' order by id limit 200")
        .all()
        .await
        .expect("instruments");
    let people = Staff::all(&place.app.db).await.expect("the staff");
    let person = people.iter().find(|person| person.owner).expect("an owner");
    let who = Who {
        actor: person.id,
        staff: Some(person.id),
        name: person.name.clone(),
        roles: person.roles(),
    };
    let (mut with, mut without) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        with.push(round(place, &who, &known, true).await);
        without.push(round(place, &who, &known, false).await);
    }
    let mut ratios: Vec<f64> = with
        .iter()
        .zip(&without)
        .map(|(with, without)| with / without)
        .collect();
    println!(
        "| {} | {} | intake and finding, a second, with the counts and without | {:.0} | {:.0} | {:.2} | | | |",
        place.kind(),
        place.orders,
        median(&mut with),
        median(&mut without),
        median(&mut ratios)
    );
}

async fn round(place: &Place, who: &Who, known: &[Known], keep: bool) -> f64 {
    let start = Instant::now();
    let hands: Vec<_> = (0..HANDS)
        .map(|hand| {
            let (app, who, known) = (place.app.clone(), who.clone(), known.to_vec());
            tokio::spawn(async move {
                let mut done = 0_usize;
                while start.elapsed() < ROUND {
                    let which = hand * 31 + done * 7;
                    let order = intake(known[which % known.len()]);
                    let taken = take_in(&app, &who, &order, Problems::default(), None)
                        .await
                        .expect("an intake");
                    let order = taken.commit(303, "").await.expect("kept");
                    let mut act = Act::begin(&app, &who, &order.tag, Guard::default())
                        .await
                        .expect("an act");
                    let found = NewFinding {
                        cause: CAUSES[which % CAUSES.len()].into(),
                        certainty: "confirmed".into(),
                        ..NewFinding::default()
                    };
                    finding::log(&mut act, &found).await.expect("a finding");
                    if !keep {
                        act.counts = Counts::default();
                        act.repairs = Repairs::Unchanged;
                    }
                    act.then("/").await.expect("kept");
                    done += 1;
                }
                u32::try_from(done).expect("few")
            })
        })
        .collect();
    let mut done = 0;
    for hand in hands {
        done += hand.await.expect("hands that end");
    }
    f64::from(done) / start.elapsed().as_secs_f64()
}

fn intake((instrument, customer): Known) -> Intake {
    Intake {
        checks: Vec::new(),
        first_answers: None,
        customer: Which::Known(customer),
        alike: Alike::default(),
        instrument: Which::Known(instrument),
        complaint: Complaint {
            words: "It buzzes on the lowest string.".into(),
            answers: [("which_strings".to_owned(), "one".to_owned())].into(),
            buzz_at: None,
        },
        items_left: vec!["Case".into()],
        condition: String::new(),
        declared_value: None,
        promised_on: None,
        authorised_limit: Some(8000),
    }
}
