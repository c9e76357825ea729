//! Acts on an order for programs: each is the same act as on a page, and answers with the order's new version.

use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::Serialize;
use uuid::Uuid;

use crate::act::Act;
use crate::app::App;
use crate::bench::approval::NewApproval;
use crate::bench::check::NewCheck;
use crate::bench::finding::NewFinding;
use crate::bench::hold::{self, NewHold};
use crate::bench::play_test::NewPlayTest;
use crate::bench::step::NewStep;
use crate::bench::{approval, check, finding, play_test, step};
use crate::clock::{Day, Moment};
use crate::counter::answers::{self, NewAnswers};
use crate::counter::order_changes::{self, NewPromise, NewReturn};
use crate::counter::order_days::{self, OrderDays};
use crate::counter::pickup::{self, Account, NewPayment, NewPickup};
use crate::counter::put_right::{self, NewPutRight};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::Who;

use super::json::{Json, Nothing, Patch};
use super::shape::{self, GoesBack, HoldUntil, Made, PromisedAnew, StepDone};
use super::{orders, whole};

/// Answers with what was made.
async fn made<T: Serialize>(mut act: Act, thing: T) -> Result<Response> {
    act.write().await?;
    let made = Made {
        thing,
        order_version: act.order.version,
        stage: act.order.stage,
    };
    act.answer(StatusCode::CREATED, &made).await
}

/// Answers with the order as it stands now.
async fn whole(mut act: Act) -> Result<Response> {
    act.write().await?;
    let order = whole::told(&mut act.tx, &act.order, &act.who).await?;
    act.answer(StatusCode::OK, &order).await
}

/// A step or a finding that an address names.
fn named(id: &str) -> Result<Uuid> {
    id.parse().map_err(|_| Error::NotFound)
}

/// Logs a check of a cause.
#[utoipa::path(post, path = "/api/v1/orders/{order}/checks", tag = "bench", request_body = NewCheck, responses((status = 201, body = Made<shape::Check>)))]
pub async fn check(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewCheck>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    let check = check::look(&mut act, &call.of).await?;
    made(act, shape::Check::from(check)).await
}

/// Writes a finding.
#[utoipa::path(post, path = "/api/v1/orders/{order}/findings", tag = "bench", request_body = NewFinding, responses((status = 201, body = Made<shape::Finding>)))]
pub async fn finding(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewFinding>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    let finding = finding::log(&mut act, &call.of).await?;
    made(act, shape::Finding::from(finding)).await
}

/// Takes a finding back; it stays in the story and counts no more.
#[utoipa::path(post, path = "/api/v1/orders/{order}/findings/{finding}/withdraw", tag = "bench", responses((status = 200, body = shape::Order)))]
pub async fn withdraw(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path((order, finding)): Path<(String, String)>,
    call: Json<Nothing>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    finding::withdraw(&mut act, named(&finding)?).await?;
    whole(act).await
}

/// Plans a repair step.
#[utoipa::path(post, path = "/api/v1/orders/{order}/steps", tag = "bench", request_body = NewStep, responses((status = 201, body = Made<shape::Step>)))]
pub async fn step(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewStep>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    let step = step::plan(&mut act, &call.of).await?;
    let account = Account::of(&mut act.tx, act.order.id).await?;
    let told = whole::step_of(account.lines, step.id);
    made(
        act,
        told.ok_or_else(|| Error::fault("the step that was planned is on the order"))?,
    )
    .await
}

/// Notes that a step is done.
#[utoipa::path(post, path = "/api/v1/orders/{order}/steps/{step}/done", tag = "bench", request_body = StepDone, responses((status = 200, body = shape::Order)))]
pub async fn done(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path((order, step)): Path<(String, String)>,
    call: Json<StepDone>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    step::done(&mut act, named(&step)?, call.of.actual_minutes).await?;
    whole(act).await
}

/// Takes a planned step away again.
#[utoipa::path(post, path = "/api/v1/orders/{order}/steps/{step}/drop", tag = "bench", responses((status = 200, body = shape::Order)))]
pub async fn drop_step(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path((order, step)): Path<(String, String)>,
    call: Json<Nothing>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    step::drop_step(&mut act, named(&step)?).await?;
    whole(act).await
}

/// Records what the customer said to the estimate.
#[utoipa::path(post, path = "/api/v1/orders/{order}/approval", tag = "bench", request_body = NewApproval, responses((status = 200, body = shape::Order)))]
pub async fn approval(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewApproval>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    approval::answer(&mut act, &call.of).await?;
    whole(act).await
}

/// Notes how it sounded when it was played again.
#[utoipa::path(post, path = "/api/v1/orders/{order}/play_test", tag = "bench", request_body = NewPlayTest, responses((status = 200, body = shape::Order)))]
pub async fn play_test(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewPlayTest>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    play_test::log(&mut act, &call.of).await?;
    whole(act).await
}

/// Leaves it alone until then; a hold that was on before is replaced.
#[utoipa::path(post, path = "/api/v1/orders/{order}/hold", tag = "bench", request_body = HoldUntil, responses((status = 200, body = shape::Order)))]
pub async fn hold(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<HoldUntil>,
) -> Result<Response> {
    let guard = call.guard()?;
    let until = Moment::parse(&call.of.until).ok_or_else(|| {
        let mut problems = Problems::default();
        problems.add("until", "Write the time like 2026-02-28T16:30:00Z.");
        Error::Problems(problems)
    })?;
    let why = call.of.why;
    let mut act = Act::begin(&app, &who, &order, guard).await?;
    hold::put_on(&mut act, &NewHold { until, why })?;
    whole(act).await
}

/// Takes the hold off.
#[utoipa::path(post, path = "/api/v1/orders/{order}/hold/off", tag = "bench", responses((status = 200, body = shape::Order)))]
pub async fn hold_off(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<Nothing>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    hold::take_off(&mut act)?;
    whole(act).await
}

/// Sends it back unrepaired, to be picked up.
#[utoipa::path(post, path = "/api/v1/orders/{order}/return", tag = "bench", request_body = GoesBack, responses((status = 200, body = shape::Order)))]
pub async fn give_back(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<GoesBack>,
) -> Result<Response> {
    let guard = call.guard()?;
    let GoesBack { why, note } = call.of;
    let mut act = Act::begin(&app, &who, &order, guard).await?;
    order_changes::give_back(&mut act, &NewReturn { why, note }).await?;
    whole(act).await
}

/// Takes it up again before it was handed back.
#[utoipa::path(post, path = "/api/v1/orders/{order}/reopen", tag = "bench", responses((status = 200, body = shape::Order)))]
pub async fn reopen(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<Nothing>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    order_changes::reopen(&mut act).await?;
    whole(act).await
}

/// Promises another day or none, or sets another limit or none.
#[utoipa::path(post, path = "/api/v1/orders/{order}/promise", tag = "counter", request_body = PromisedAnew, responses((status = 200, body = shape::Order)))]
pub async fn promise(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Patch,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    let agreed = call.onto(&PromisedAnew {
        promised_on: act.order.promised_on.map(Day::iso),
        authorised_limit: act.order.authorised_limit.map(i64::from),
    })?;
    let mut problems = Problems::default();
    let promised_on = orders::day(&mut problems, "promised_on", agreed.promised_on.as_deref());
    problems.settle()?;
    let new = NewPromise {
        promised_on,
        authorised_limit: agreed.authorised_limit,
    };
    order_changes::promise(&mut act, &new).await?;
    whole(act).await
}

/// Puts right the day it came in, or the day it went home; all that is counted by them follows.
#[utoipa::path(patch, path = "/api/v1/orders/{order}", tag = "orders", request_body = OrderDays, responses((status = 200, body = shape::Order)))]
pub async fn days(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Patch,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    let days = call.onto(&OrderDays {
        received_on: act.order.received_on.iso(),
        collected_on: act.order.collected_on.map(Day::iso),
    })?;
    order_days::put_right(&mut act, &days.read()?).await?;
    whole(act).await
}

/// Adds answers about the noise, or sets them right; what the order had before anybody looked is what it is scored by.
#[utoipa::path(post, path = "/api/v1/orders/{order}/answers", tag = "counter", request_body = NewAnswers, responses((status = 200, body = shape::Order)))]
pub async fn answers(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewAnswers>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    answers::answer(&mut act, &call.of).await?;
    whole(act).await
}

/// Takes money: a deposit, or what was left owed.
#[utoipa::path(post, path = "/api/v1/orders/{order}/payments", tag = "counter", request_body = NewPayment, responses((status = 201, body = Made<shape::Payment>)))]
pub async fn payment(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewPayment>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    let payment = pickup::pay(&mut act, &call.of).await?;
    made(act, shape::Payment::from(payment)).await
}

/// Puts right at the counter what was found there: done, agreed to in person, played, and handed back if it is quiet.
#[utoipa::path(post, path = "/api/v1/orders/{order}/put_right", tag = "counter", request_body = NewPutRight, responses((status = 200, body = shape::Order)))]
pub async fn put_right(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewPutRight>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    put_right::put_right(&mut act, &call.of).await?;
    whole(act).await
}

/// Hands the instrument back, repaired or not.
#[utoipa::path(post, path = "/api/v1/orders/{order}/pickup", tag = "counter", request_body = NewPickup, responses((status = 200, body = shape::Order)))]
pub async fn pickup(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(order): Path<String>,
    call: Json<NewPickup>,
) -> Result<Response> {
    let mut act = Act::begin(&app, &who, &order, call.guard()?).await?;
    pickup::hand_back(&mut act, &call.of).await?;
    whole(act).await
}
