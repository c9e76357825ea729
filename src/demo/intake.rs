//! Intake as the counter wrote it down: words, answers, what stays here, what is promised and agreed.

use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::SAYS_NOTHING;
use crate::clock::{Day, Moment};
use crate::counter::order::Order;
use crate::counter::stage::Stage;
use crate::money::Money;

use super::World;
use super::chance::{Chance, Ids, real};
use super::people::Kind;
use super::told;
use super::visit::{Guest, Why};
use super::words::{self, Complaint, Truth};

/// What is known when somebody stands at the counter.
pub struct Asked<'a> {
    pub why: Why,
    pub truth: Option<&'a Truth<'a>>,
    pub cause: Option<&'a Cause>,
    pub tag: String,
    pub at: Moment,
    pub day: Day,
}

/// The order as it was taken in, and the answers that say something: question and choice by their places.
pub fn order(
    world: &World,
    chance: &mut Chance,
    ids: &mut Ids,
    guest: Guest<'_>,
    asked: &Asked<'_>,
) -> (Order, Vec<(usize, usize)>) {
    let complaint = complaint(chance, guest, asked);
    let mut telling = Vec::new();
    let answers = asked
        .truth
        .map(|truth| answers(chance, truth, guest, asked.why, &mut telling))
        .unwrap_or_default();
    let order = Order {
        id: ids.at(asked.at),
        tag: asked.tag.clone(),
        customer: guest.customer,
        instrument: guest.piece.id,
        stage: Stage::Received,
        words: complaint.words,
        answers,
        buzz_string: complaint.string,
        buzz_note: complaint.note,
        items_left: items(chance, guest),
        condition: condition(chance, guest),
        declared_value: declared(chance, guest, asked.day),
        promised_on: promise(world, chance, asked),
        authorised_limit: limit(chance, guest),
        estimate: Money::ZERO,
        approved_up_to: None,
        hold_until: None,
        hold_why: String::new(),
        returned_why: None,
        received_at: asked.at,
        received_on: asked.day,
        received_by: None,
        inspected_on: None,
        ready_on: None,
        collected_at: None,
        collected_on: None,
        collected_by: String::new(),
        version: 1,
        stage_on: Some(asked.day),
        days_first: Some(0),
        days_answer: None,
        days_bench: None,
        days_ready: None,
        owed: Money::ZERO,
        returned_note: String::new(),
    };
    (order, telling)
}

fn complaint(chance: &mut Chance, guest: Guest<'_>, asked: &Asked<'_>) -> Complaint {
    let plain = |words: &str| Complaint {
        words: words.to_owned(),
        ..Complaint::default()
    };
    match (asked.why, asked.truth) {
        (Why::Noise, Some(truth)) => words::noise(chance, truth, guest.piece.family, guest.kind),
        (Why::Again(_), Some(truth)) => {
            let mut complaint = words::noise(chance, truth, guest.piece.family, guest.kind);
            let back = chance.one(&[
                "It is back. ",
                "The same again. ",
                "You mended this, and now it is there again. ",
                "As last time. ",
            ]);
            complaint.words.insert_str(0, back);
            complaint
        }
        (Why::Damage, Some(truth)) => plain(&told::damage(
            chance,
            truth,
            asked.cause.unwrap_or(&truth.trade.causes[0]),
        )),
        (why, _) => plain(told::wish(chance, why, guest.kind)),
    }
}

/// As they are kept on an order, by descriptor. Not every question is asked, and some are answered with a shrug.
fn answers(
    chance: &mut Chance,
    truth: &Truth<'_>,
    guest: Guest<'_>,
    why: Why,
    telling: &mut Vec<(usize, usize)>,
) -> String {
    let in_a_hurry = if why == Why::Damage {
        0.3
    } else {
        chance.pick(&[1.0, 1.0, 0.9, 0.6, 0.25])
    };
    let mut kept = Vec::new();
    for (at, descriptor) in truth.trade.descriptors.iter().enumerate() {
        let asked = match descriptor.asked_of.as_str() {
            "customer" => 0.8,
            "counter" => 0.5,
            _ => 0.15,
        };
        if !descriptor.fits(guest.piece.family) || !chance.yes(asked * in_a_hurry) {
            continue;
        }
        let shrug = descriptor.choices().find(|choice| SAYS_NOTHING.contains(choice));
        let answer = match shrug {
            Some(shrug) if chance.yes(0.09) => shrug,
            _ => {
                telling.push((at, truth.answers[at]));
                truth.trade.choice(at, truth.answers[at])
            }
        };
        kept.push(format!("{}={answer}", descriptor.code));
    }
    kept.join(";")
}

fn items(chance: &mut Chance, guest: Guest<'_>) -> String {
    let piece = guest.piece;
    let mut items = Vec::new();
    if piece.is_bow() {
        return if chance.yes(0.3) {
            "Bow tube".into()
        } else {
            String::new()
        };
    }
    if chance.yes(0.9) {
        items.push(match piece.family {
            "cello" | "bass" => chance.one(&[
                "Soft bag, black",
                "Hard case, white",
                "Soft bag, blue",
                "Hard case with wheels",
            ]),
            _ => chance.one(&[
                "Oblong case, blue",
                "Shaped case, black",
                "Oblong case, green, strap torn",
                "Case, brown",
            ]),
        });
    }
    if chance.yes(0.6) {
        items.push(chance.one(&["Bow", "Two bows", "Bow, carbon"]));
    }
    if matches!(piece.family, "violin" | "viola") && chance.yes(0.5) {
        items.push("Shoulder rest");
    }
    for (thing, p) in [
        ("Rosin", 0.2),
        ("Mute", 0.12),
        ("Music in the pocket", 0.08),
        ("Spare strings", 0.1),
    ] {
        if chance.yes(p) {
            items.push(thing);
        }
    }
    items.join("\n")
}

fn condition(chance: &mut Chance, guest: Guest<'_>) -> String {
    if guest.piece.is_bow() {
        return chance
            .one(&["Hair short on one side", "Tip sound", "Winding worn", ""])
            .to_owned();
    }
    let seen = [
        "Scratches by the chin rest",
        "Chip at the lower treble corner",
        "Varnish worn on the upper bout",
        "Clean",
        "Rosin under the strings",
        "Old crack by the bass soundhole, closed",
        "Edge worn at the waist",
        "Small dent in the back",
        "Bridge leans a little",
        "Peg heads worn",
    ];
    match chance.below(10) {
        0..3 => String::new(),
        3..8 => chance.one(&seen).to_owned(),
        _ => format!("{}\n{}", chance.one(&seen[..5]), chance.one(&seen[5..])),
    }
}

/// What it is said to be worth: students' ones little, old ones more, in round figures.
fn declared(chance: &mut Chance, guest: Guest<'_>, day: Day) -> Option<Money> {
    if !chance.yes(if guest.kind == Kind::Person { 0.35 } else { 0.1 }) {
        return None;
    }
    let piece = guest.piece;
    let large = match piece.family {
        "cello" | "bass" => 2.2,
        "bow" => 0.3,
        _ => 1.0,
    };
    let usual = match (piece.student, piece.age(day.year())) {
        (true, _) => 600.0,
        (false, ..20) => 2400.0,
        (false, 20..80) => 3800.0,
        (false, _) => 7500.0,
    };
    let value = usual * large * chance.spread(0.6);
    let step = if value > 2000.0 { 500.0 } else { 50.0 };
    Some(Money(
        super::chance::whole((value / step).round().max(1.0) * step) * 100,
    ))
}

fn promise(world: &World, chance: &mut Chance, asked: &Asked<'_>) -> Option<Day> {
    if chance.yes(0.12) {
        return None;
    }
    let days = match asked.why {
        Why::Strings | Why::Bow => 2.5,
        Why::Damage => 12.0,
        _ => 7.0,
    };
    let days = super::chance::whole(days * chance.spread(0.4)).max(1);
    Some(world.calendar.day_after(asked.day, days))
}

fn limit(chance: &mut Chance, guest: Guest<'_>) -> Option<Money> {
    let (share, limits): (f64, &[i64]) = match guest.kind {
        Kind::Person => (
            0.86,
            &[5000, 8000, 10_000, 10_000, 12_000, 15_000, 20_000, 30_000],
        ),
        Kind::School => (0.85, &[8000, 10_000, 15_000]),
        Kind::Fleet => (0.95, &[6000, 9000]),
    };
    let factor = if matches!(guest.piece.family, "cello" | "bass") && guest.kind == Kind::Person {
        real(2)
    } else {
        1.0
    };
    let limit = real(chance.pick(limits)) * factor;
    chance.yes(share).then(|| Money(super::chance::whole(limit)))
}
