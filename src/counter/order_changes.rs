//! Changes to an order as a whole: it goes back unrepaired, is taken up again, or is promised and limited anew.

use crate::act::Act;
use crate::bench::approval;
use crate::bench::check::{self, Check};
use crate::bench::finding::Finding;
use crate::bench::step::{self, Step};
use crate::clock::Day;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::money::{LIMIT, Money};

use super::stage::{Move, Stage};

/// Why an instrument goes back unrepaired.
pub const REASONS: [(&str, &str); 3] = [
    ("nothing_found", "Nothing found"),
    ("beyond_repair", "Not worth the repair"),
    ("declined", "The customer does not want it"),
];

#[derive(Clone, Debug, Default)]
pub struct NewReturn {
    /// `nothing_found`, `beyond_repair` or `declined`.
    pub why: String,
    pub note: String,
}

/// What may be agreed anew as long as the instrument is here.
#[derive(Clone, Debug, Default)]
pub struct NewPromise {
    pub promised_on: Option<Day>,
    pub authorised_limit: Option<i64>,
}

/// Sends it back unrepaired. Nothing found counts as inspected: somebody looked, and that is what came of it.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn give_back(act: &mut Act, new: &NewReturn) -> Result<()> {
    let mut problems = Problems::default();
    let reason = REASONS.iter().find(|reason| reason.0 == new.why);
    if reason.is_none() {
        problems.add("why", "Say why it goes back as it came.");
    }
    let note = problems.line("note", &new.note, 500);
    problems.settle()?;
    let words = reason.map_or("", |reason| reason.1);
    if new.why == "declined" {
        approval::decline(act).await?;
    } else {
        if new.why == "nothing_found" {
            nothing_stands(act).await?;
        }
        act.go(Move::GiveBack)?;
        act.order.returned_why = Some(new.why.clone());
    }
    act.order.returned_note.clone_from(&note);
    act.teaches = true;
    if new.why == "nothing_found" {
        check::inspected(act).await?;
    }
    let stage = act.order.stage_words(act.instrument.is_bow());
    act.say(if note.is_empty() {
        format!("{stage}: {}", words.to_lowercase())
    } else {
        format!("{stage}: {}. {note}", words.to_lowercase())
    });
    Ok(())
}

/// Nothing was found where nothing is confirmed, and nothing was seen that nobody took back.
async fn nothing_stands(act: &mut Act) -> Result<()> {
    let findings = Finding::of(&mut act.tx, act.order.id).await?;
    if findings.iter().any(Finding::is_confirmed) {
        return Err(Error::conflict(
            "A cause is confirmed on this order, so something was found. Take the finding back first.",
        ));
    }
    let checks = Check::of(&mut act.tx, act.order.id).await?;
    if check::seen(&checks, &findings).is_empty() {
        return Ok(());
    }
    Err(Error::conflict(
        "A check on this order says found. Look again and say “Not this”, or take the finding back first.",
    ))
}

/// Takes it up again before it was handed back. Steps that still stand are put to the customer anew if need be.
///
/// # Errors
/// A conflict, or what the database says.
pub async fn reopen(act: &mut Act) -> Result<()> {
    if act.order.is_handed_back() {
        return Err(Error::conflict(
            "It has been handed back. When it comes again, take it in as a new visit.",
        ));
    }
    act.go(Move::Reopen)?;
    act.order.returned_why = None;
    act.order.returned_note.clear();
    act.teaches = true;
    act.say("Taken up again");
    step::ask_anew(act).await?;
    estimate_again(act).await
}

/// Promises another day, and lets the shop go ahead up to another amount.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn promise(act: &mut Act, new: &NewPromise) -> Result<()> {
    if act.order.is_handed_back() {
        return Err(Error::conflict("It has been handed back already."));
    }
    let mut problems = Problems::default();
    let promised = new.promised_on;
    let changed = promised != act.order.promised_on;
    match promised {
        Some(day) if changed && day < act.today => {
            problems.add("promised_on", "This day is past. Promise a day from today on.");
        }
        Some(day) if changed && day > act.today.plus(5 * 366) => {
            problems.add("promised_on", "This is more than five years away.");
        }
        _ => {}
    }
    if new
        .authorised_limit
        .is_some_and(|limit| !(0..=LIMIT).contains(&limit))
    {
        problems.add(
            "authorised_limit",
            "This limit is more than fits, or less than nothing.",
        );
    }
    problems.settle()?;
    if changed {
        act.say(promised.map_or("No day is promised now".to_owned(), |day| {
            format!("Promised for {day}")
        }));
        act.order.promised_on = promised;
    }
    let limit = new.authorised_limit.map(Money);
    if limit == act.order.authorised_limit {
        return Ok(());
    }
    act.say(limit.map_or("No limit now: ask before work".to_owned(), |limit| {
        format!("Limit now {}", act.shop.money(&limit))
    }));
    act.order.authorised_limit = limit;
    estimate_again(act).await
}

/// Holds what is still to be done against what was agreed; when all is done there is nothing to ask any more.
async fn estimate_again(act: &mut Act) -> Result<()> {
    let waits = !matches!(
        act.order.stage,
        Stage::PlayTest | Stage::Ready | Stage::Collected | Stage::Returned
    );
    let steps = Step::of(&mut act.tx, act.order.id).await?;
    if waits && !step::all_done(&steps) {
        step::estimate_again(act).await?;
    }
    Ok(())
}
