//! A shift is what goes with the days of an order that are put right: its other days, and the moments of what was done then.

use uuid::Uuid;

use crate::act::Act;
use crate::clock::{Day, Moment};
use crate::error::Result;

use super::day_bounds::Bounds;
use super::days_stood;
use super::order_days::NewDays;

/// What is written otherwise, beside the order itself.
pub struct Shift {
    order: Uuid,
    /// Of the intake, before and after; and so many days later.
    pub intake: (Moment, Moment),
    pub intake_days: i64,
    /// Of the pickup, if it went home.
    pickup: Option<(Moment, Moment)>,
    pickup_days: i64,
    /// All between goes with the intake.
    pub whole: bool,
}

/// Gives the order its days, and says what goes with them.
#[must_use]
pub fn moved(act: &mut Act, bounds: &Bounds, new: &NewDays) -> Shift {
    let before = act.order.clone();
    let whole = before.is_of_a_day(new);
    let shift = moments(act, bounds, new, whole);
    let order = &mut act.order;
    (order.received_on, order.collected_on) = (new.received_on, new.collected_on);
    order.received_at = shift.intake.1;
    order.collected_at = shift.pickup.map(|pickup| pickup.1);
    let from = |day: Option<Day>, days: i64| day.map(|day| day.plus(days));
    if whole {
        order.inspected_on = from(order.inspected_on, shift.intake_days);
        order.ready_on = from(order.ready_on, shift.intake_days);
        order.stage_on = from(order.stage_on, shift.intake_days);
        return shift;
    }
    if bounds.with_intake {
        order.inspected_on = from(order.inspected_on, shift.intake_days);
    }
    if bounds.with_pickup {
        order.ready_on = from(order.ready_on, shift.pickup_days);
    }
    days_stood::stood(&before, order, bounds, (shift.intake_days, shift.pickup_days));
    shift
}

/// The moments that follow: at the same time of day, as far as that leaves all in its order.
fn moments(act: &Act, bounds: &Bounds, new: &NewDays, whole: bool) -> Shift {
    let (order, zone) = (&act.order, act.shop.zone());
    let near = |at: Moment, day: Day| {
        let (_, hour, minute) = zone.local(at);
        zone.moment(day, hour, minute).plus_ms(at.0.rem_euclid(60_000))
    };
    let long = order.collected_at.map_or(0, |at| at.0 - order.received_at.0);
    let by = if whole { act.now.plus_ms(-long) } else { act.now };
    let intake = if new.received_on == order.received_on {
        order.received_at
    } else if whole {
        bounds.visit(near(order.received_at, new.received_on), (long, by))
    } else {
        bounds.intake(near(order.received_at, new.received_on), by)
    };
    let pickup = order.collected_at.zip(new.collected_on).map(|(at, day)| {
        if whole {
            (at, intake.plus_ms(long))
        } else if order.collected_on == Some(day) {
            (at, at)
        } else {
            (at, bounds.pickup(near(at, day), (intake, act.now)))
        }
    });
    Shift {
        order: order.id,
        intake: (order.received_at, intake),
        intake_days: new.received_on.0 - order.received_on.0,
        pickup,
        pickup_days: new
            .collected_on
            .zip(order.collected_on)
            .map_or(0, |(new, old)| new.0 - old.0),
        whole,
    }
}

impl Shift {
    /// Whether what was paid goes along.
    ///
    /// # Errors
    /// What the database says.
    pub async fn write(&self, act: &mut Act) -> Result<bool> {
        let (from, to) = self.intake;
        let last = self.pickup.map_or(from, |pickup| pickup.0);
        // All of a visit that is moved whole, and else what has the very moment of the one or of the other.
        let with_intake = (from, if self.whole { last } else { from }, to.0 - from.0);
        for sql in [
            "update cause_check set at = at + $4 where work_order = $1 and at between $2 and $3",
            "update repair_step set created_at = created_at + $4 where work_order = $1 and created_at between $2 and $3",
        ] {
            self.all(act, sql, with_intake, None).await?;
        }
        let found = "update finding set at = at + $4, found_on = found_on + $5 where work_order = $1 and at between $2 and $3";
        self.all(act, found, with_intake, Some(self.intake_days)).await?;
        let Some((was, is)) = self.pickup else {
            return Ok(false);
        };
        let with_pickup = (if self.whole { from } else { was }, was, is.0 - was.0);
        for sql in [
            "update play_test set at = at + $4 where work_order = $1 and at between $2 and $3",
            "update approval set at = at + $4 where work_order = $1 and at between $2 and $3",
        ] {
            self.all(act, sql, with_pickup, None).await?;
        }
        let days = Some(self.pickup_days);
        let done = "update repair_step set done_at = done_at + $4, done_on = done_on + $5 where work_order = $1 and done_at between $2 and $3";
        self.all(act, done, with_pickup, days).await?;
        let paid = "update payment set at = at + $4, paid_on = paid_on + $5 where work_order = $1 and at between $2 and $3";
        let paid = self.all(act, paid, with_pickup, days).await?;
        Ok(paid > 0 && self.pickup_days != 0)
    }

    async fn all(
        &self,
        act: &mut Act,
        sql: &'static str,
        (from, to, ms): (Moment, Moment, i64),
        days: Option<i64>,
    ) -> Result<u64> {
        let query = act.tx.query(sql).bind(self.order).bind(from).bind(to).bind(ms);
        let query = match days {
            Some(days) => query.bind(days),
            None => query,
        };
        Ok(query.execute().await?)
    }
}
