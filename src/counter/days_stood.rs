//! The days an order stood where, told by the day it came in and the day it went home: what they bound, and how they follow.

use crate::clock::Day;

use super::day_bounds::Bounds;
use super::order::Order;
use super::stage::Stage;

/// The day it first went on from its intake, as far as the days it stood where tell.
#[must_use]
pub fn left_intake(order: &Order, with_intake: bool) -> Option<Day> {
    if stays(order, with_intake) {
        return None;
    }
    let days = if with_intake {
        order.days_bench
    } else {
        order.days_first
    };
    Some(order.received_on.plus(days?))
}

/// Whether it stands where its intake brought it, since that day.
#[must_use]
pub fn stays(order: &Order, with_intake: bool) -> bool {
    let (stage, days) = if with_intake {
        (Stage::Inspecting, order.days_bench)
    } else {
        (Stage::Received, order.days_first)
    };
    !order.is_handed_back()
        && order.stage == stage
        && days.unwrap_or(0) == 0
        && order.stage_on.is_none_or(|on| on == order.received_on)
}

/// The day it was last brought to where it was fetched from.
#[must_use]
pub fn was_to_go_home(order: &Order, with_pickup: bool) -> Option<Day> {
    let days = if with_pickup {
        order.days_bench
    } else {
        order.days_ready
    };
    Some(order.collected_on?.plus(-days?))
}

/// The days it stood where, as the intake and the pickup are so many days later.
pub fn stood(before: &Order, order: &mut Order, bounds: &Bounds, (intake, pickup): (i64, i64)) {
    let less = |days: &mut Option<i64>, by: i64| {
        if let Some(days) = days {
            *days -= by;
        }
    };
    if stays(before, bounds.with_intake) {
        // Only since when it stands there is another day.
        order.stage_on = order.stage_on.map(|_| order.received_on);
    } else if bounds.with_intake {
        less(&mut order.days_bench, intake);
    } else {
        less(&mut order.days_first, intake);
    }
    if before.is_handed_back() {
        less(
            if bounds.with_pickup {
                &mut order.days_bench
            } else {
                &mut order.days_ready
            },
            -pickup,
        );
        order.stage_on = order.stage_on.and(order.collected_on);
    }
    // Both ends at the bench: what is too short there waited for the customer less.
    if let (Some(bench), Some(answer)) = (&mut order.days_bench, &mut order.days_answer) {
        let short = (-*bench).max(0);
        (*bench, *answer) = (*bench + short, *answer - short);
    }
}
