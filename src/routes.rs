//! Every address on one screen, each with who may go there. What is not listed is closed.

use axum::Router;
use axum::extract::Request;
use axum::middleware::{Next, from_fn};
use axum::response::{IntoResponse, Response};
use axum::routing::{MethodRouter, get, post};

use crate::admin::shop;
use crate::app::App;
use crate::bench::forms::{self, ask, ask_of};
use crate::bench::waits;
use crate::counter::order_page;
use crate::error::Error;
use crate::page;
use crate::staff::{Who, people, sign_in};

/// Who may go to an address. The owner may go everywhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum May {
    /// Anybody, signed in or not.
    Anyone,
    Staff,
    Counter,
    Bench,
    CounterOrBench,
    Owner,
}

impl May {
    #[must_use]
    pub fn allows(self, who: Option<&Who>) -> bool {
        let Some(who) = who else {
            return self == May::Anyone;
        };
        let roles = who.roles;
        match self {
            May::Anyone | May::Staff => true,
            May::Counter => roles.counter(),
            May::Bench => roles.bench(),
            May::CounterOrBench => roles.counter() || roles.bench(),
            May::Owner => roles.owner,
        }
    }
}

/// The router, and the list it was made from, which the tests walk through.
#[derive(Default)]
pub struct Table {
    pub router: Router<App>,
    pub list: Vec<(May, &'static str)>,
}

impl Table {
    fn at(mut self, may: May, path: &'static str, what: MethodRouter<App>) -> Table {
        let gate = from_fn(move |request: Request, next: Next| gate(may, request, next));
        self.router = self.router.route(path, what.layer(gate));
        self.list.push((may, path));
        self
    }
}

async fn gate(may: May, request: Request, next: Next) -> Response {
    let who = request.extensions().get::<Who>();
    match (may.allows(who), who) {
        (true, _) => next.run(request).await,
        (false, None) => Error::SignIn.into_response(),
        (false, Some(_)) => Error::NotAllowed.into_response(),
    }
}

/// Everything.
#[must_use]
pub fn all() -> Table {
    use May::{Anyone, Bench, CounterOrBench, Owner, Staff};
    Table::default()
        .at(Anyone, "/static/{edition}/{*file}", get(page::serve_asset))
        .at(
            Anyone,
            "/set-up/{code}",
            get(shop::set_up_page).post(shop::set_up),
        )
        .at(Anyone, "/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .at(Staff, "/sign-out", post(sign_in::sign_out))
        .at(CounterOrBench, "/bench", get(waits::page))
        .at(Staff, "/orders/{tag}", get(order_page::page))
        .at(
            CounterOrBench,
            "/orders/{tag}/checks",
            post(ask::<forms::CheckForm>),
        )
        .at(Bench, "/orders/{tag}/findings", post(ask::<forms::FindingForm>))
        .at(
            Bench,
            "/orders/{tag}/findings/{id}/withdraw",
            post(ask_of::<forms::WithdrawForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/steps",
            post(ask::<forms::StepForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/steps/{id}/done",
            post(ask_of::<forms::DoneForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/steps/{id}/drop",
            post(ask_of::<forms::DropForm>),
        )
        .at(CounterOrBench, "/orders/{tag}/hold", post(ask::<forms::HoldForm>))
        .at(
            CounterOrBench,
            "/orders/{tag}/hold/off",
            post(ask::<forms::HoldOffForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/approval",
            post(ask::<forms::ApprovalForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/play_test",
            post(ask::<forms::PlayTestForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/return",
            post(ask::<forms::ReturnForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/reopen",
            post(ask::<forms::ReopenForm>),
        )
        .at(
            CounterOrBench,
            "/orders/{tag}/promise",
            post(ask::<forms::PromiseForm>),
        )
        .at(
            Owner,
            "/settings",
            get(shop::settings_page).post(shop::change_settings),
        )
        .at(Owner, "/staff", get(people::list).post(people::add))
        .at(Owner, "/staff/{id}", post(people::change))
}
