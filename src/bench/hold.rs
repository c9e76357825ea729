//! A hold is a time until which an instrument is left alone, for glue to set or a part to come; it is no stage.

use crate::act::Act;
use crate::clock::{DAY_MS, Moment};
use crate::error::{Error, Result};
use crate::form::Problems;

/// The longest: a part may be long in coming.
const LONGEST_MS: i64 = 366 * DAY_MS;

#[derive(Clone, Debug)]
pub struct NewHold {
    pub until: Moment,
    /// What it waits for, e.g. "clamp on the upper bout".
    pub why: String,
}

/// Holds the order until then; a hold that was on before is replaced.
///
/// # Errors
/// Problems, or a conflict.
pub fn put_on(act: &mut Act, new: &NewHold) -> Result<()> {
    still_here(act)?;
    let mut problems = Problems::default();
    if new.until <= act.now {
        problems.add("until", "This time is past. Choose one that is to come.");
    }
    if new.until > act.now.plus_ms(LONGEST_MS) {
        problems.add("until", "Hold it for a year at most.");
    }
    let why = problems.line("why", &new.why, 200);
    problems.settle()?;
    let until = act.shop.zone().words(new.until);
    act.say(if why.is_empty() {
        format!("On hold until {until}")
    } else {
        format!("On hold until {until}: {why}")
    });
    (act.order.hold_until, act.order.hold_why) = (Some(new.until), why);
    Ok(())
}

/// Takes the hold off.
///
/// # Errors
/// A conflict if there is none.
pub fn take_off(act: &mut Act) -> Result<()> {
    still_here(act)?;
    if act.order.hold_until.is_none() {
        return Err(Error::conflict("There is no hold on it."));
    }
    act.order.hold_until = None;
    act.say(if act.order.hold_why.is_empty() {
        "The hold is off".to_owned()
    } else {
        format!("The hold is off: {}", act.order.hold_why)
    });
    act.order.hold_why.clear();
    Ok(())
}

fn still_here(act: &Act) -> Result<()> {
    if act.order.is_handed_back() {
        return Err(Error::conflict("It has been handed back already."));
    }
    Ok(())
}
