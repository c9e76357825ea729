//! Every address on one screen, each with who may go there. What is not listed is closed.

use axum::Router;
use axum::extract::Request;
use axum::middleware::{Next, from_fn};
use axum::response::{IntoResponse, Response};
use axum::routing::{MethodRouter, get, post};

use crate::admin::shop;
use crate::api::recurrence;
use crate::app::App;
use crate::counter::{intake_page, today};
use crate::error::Error;
use crate::page;
use crate::reports::month;
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

/// Everything. One line an address, however long, so that it reads as a table.
#[must_use]
#[rustfmt::skip]
pub fn all() -> Table {
    use May::{Anyone, Counter, Owner, Staff};
    Table::default()
        .at(Anyone, "/static/{edition}/{*file}", get(page::serve_asset))
        .at(Anyone, "/set-up/{code}", get(shop::set_up_page).post(shop::set_up))
        .at(Anyone, "/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .at(Staff, "/sign-out", post(sign_in::sign_out))
        .at(Staff, "/", get(today::page))
        .at(Staff, "/find", post(today::find))
        .at(Counter, "/intake", get(intake_page::page).post(intake_page::submit))
        .at(Counter, "/intake/look", post(intake_page::look))
        .at(Counter, "/intake/matches", post(intake_page::while_typing))
        .at(Owner, "/settings", get(shop::settings_page).post(shop::change_settings))
        .at(Owner, "/staff", get(people::list).post(people::add))
        .at(Owner, "/staff/{id}", post(people::change))
        .at(Owner, "/month", get(month::page))
        .at(Owner, "/month.csv", get(month::csv))
        .at(Owner, "/api/v1/reports/recurrence", get(recurrence::recurrence))
}
