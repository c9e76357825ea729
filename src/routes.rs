//! Every address on one screen, each with who may go there. What is not listed is closed.

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::middleware::{Next, from_fn};
use axum::response::{IntoResponse, Response};
use axum::routing::{MethodRouter, get, patch, post, put};

use crate::admin::{health, set_up, settings};
use crate::api::{
    acts, beside as api_beside, catalogue, climate, comebacks, customers, diagnosis, ears, entries, old_book,
    openapi, orders, plate, recurrence, reported as api_reported, shop, staff, tellings, work as api_work,
};
use crate::app::App;
use crate::bench::forms::{self, ask, ask_of};
use crate::bench::step_form::{self, StepForm};
use crate::bench::waits;
use crate::catalogue::{
    browse, cause_change, cause_page, caution, descriptor_change, descriptor_page, entry, job_change,
    job_page, telling_page,
};
use crate::climate::{air_page, file, reading_page};
use crate::counter::{
    customer_page, instrument_page, intake_page, order_days_page, order_page, owed_page, pickup_page,
    put_right_page, today,
};
use crate::diagnosis::ears_page;
use crate::error::Error;
use crate::old_book::book_file_page;
use crate::page;
use crate::printing::{paper, stub, summary, tag};
use crate::reports::{beside, cells_page, comebacks_page, month, month_csv, work};
use crate::staff::{Who, me, people, sign_in};

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
    use May::{Anyone, Counter, CounterOrBench, Owner, Staff};
    calls(Table::default())
        .at(Anyone, "/static/{edition}/{*file}", get(page::serve_asset))
        .at(Anyone, "/set-up/{code}", get(set_up::page).post(set_up::set_up))
        .at(Anyone, "/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .at(Staff, "/sign-out", post(sign_in::sign_out))
        .at(Staff, "/", get(today::page))
        .at(Staff, "/find", post(today::find))
        .at(Counter, "/intake", get(intake_page::page).post(intake_page::submit))
        .at(Counter, "/intake/look", post(intake_page::look))
        .at(Counter, "/intake/ears", post(intake_page::ears))
        .at(Counter, "/intake/matches", post(intake_page::while_typing))
        .at(Counter, "/owed", get(owed_page::page))
        .at(Counter, "/orders/{tag}/pickup", get(pickup_page::page).post(pickup_page::hand_back))
        .at(Counter, "/orders/{tag}/put_right", get(put_right_page::page).post(put_right_page::put_right))
        .at(Counter, "/orders/{tag}/payments", post(pickup_page::pay))
        .at(Counter, "/orders/{tag}/handed", get(pickup_page::handed))
        .at(Counter, "/customers/{id}", get(customer_page::page).post(customer_page::change))
        .at(CounterOrBench, "/instruments/{id}", get(instrument_page::page).post(instrument_page::change))
        .at(CounterOrBench, "/instruments/{id}/gone", post(instrument_page::gone))
        .at(CounterOrBench, "/instruments/{id}/gone/off", post(instrument_page::gone_off))
        .at(CounterOrBench, "/orders/{tag}/papers", get(paper::papers))
        .at(CounterOrBench, "/orders/{tag}/tag", get(tag::page))
        .at(CounterOrBench, "/orders/{tag}/stub", get(stub::page))
        .at(CounterOrBench, "/orders/{tag}/summary", get(summary::page))
        .at(Staff, "/papers/ruler", get(paper::ruler))
        .at(CounterOrBench, "/bench", get(waits::page))
        .at(Staff, "/orders/{tag}", get(order_page::page))
        .at(CounterOrBench, "/orders/{tag}/checks", post(ask::<forms::CheckForm>))
        .at(CounterOrBench, "/orders/{tag}/findings", post(ask::<forms::FindingForm>))
        .at(CounterOrBench, "/orders/{tag}/findings/{id}/withdraw", post(ask_of::<forms::WithdrawForm>))
        .at(CounterOrBench, "/orders/{tag}/steps", post(ask::<StepForm>))
        .at(CounterOrBench, "/orders/{tag}/steps/more", post(step_form::one_more_part))
        .at(CounterOrBench, "/orders/{tag}/steps/{id}/done", post(ask_of::<forms::DoneForm>))
        .at(CounterOrBench, "/orders/{tag}/steps/{id}/drop", post(ask_of::<forms::DropForm>))
        .at(CounterOrBench, "/orders/{tag}/hold", post(ask::<forms::HoldForm>))
        .at(CounterOrBench, "/orders/{tag}/hold/off", post(ask::<forms::HoldOffForm>))
        .at(CounterOrBench, "/orders/{tag}/approval", post(ask::<forms::ApprovalForm>))
        .at(CounterOrBench, "/orders/{tag}/play_test", post(ask::<forms::PlayTestForm>))
        .at(CounterOrBench, "/orders/{tag}/return", post(ask::<forms::ReturnForm>))
        .at(CounterOrBench, "/orders/{tag}/reopen", post(ask::<forms::ReopenForm>))
        .at(CounterOrBench, "/orders/{tag}/promise", post(ask::<forms::PromiseForm>))
        .at(Owner, "/orders/{tag}/days", get(order_days_page::page).post(order_days_page::put_right))
        .at(CounterOrBench, "/orders/{tag}/answers", post(ask::<forms::AnswerForm>))
        .at(Owner, "/settings", get(settings::page).post(settings::change))
        .at(Owner, "/staff", get(people::list).post(people::add))
        .at(Owner, "/staff/{id}", get(people::page).post(people::change))
        .at(Owner, "/month", get(month::page).post(month::keep))
        .at(Owner, "/month.csv", get(month_csv::csv))
        .at(Owner, "/month/cells", get(cells_page::page))
        .at(Owner, "/month/beside", get(beside::page::page))
        .at(Owner, "/month/beside.csv", get(beside::page::csv))
        .at(Owner, "/comebacks", get(comebacks_page::page))
        .at(Owner, "/comebacks.csv", get(comebacks_page::csv))
        .at(Owner, "/work", get(work::page::page))
        .at(Owner, "/work.csv", get(work::page::csv))
        .at(Owner, "/air", get(air_page::page))
        .at(Owner, "/air.csv", get(air_page::csv))
        .at(CounterOrBench, "/air/reading", get(reading_page::page).post(reading_page::keep))
        .at(CounterOrBench, "/air/reading/{id}/withdraw", post(reading_page::take_out))
        .at(CounterOrBench, "/air/file", post(reading_page::bring).layer(DefaultBodyLimit::max(file::LONGEST)))
        .at(Owner, "/old_book", get(book_file_page::page).post(book_file_page::lay).layer(DefaultBodyLimit::disable()))
        .at(Owner, "/old_book/{id}", get(book_file_page::one_page))
        .at(Owner, "/old_book/{id}/take", post(book_file_page::take))
        .at(Owner, "/old_book/{id}/withdraw", post(book_file_page::withdraw))
        .at(Owner, "/old_book/{id}/amiss.csv", get(book_file_page::amiss_csv))
        .at(Owner, "/ears", get(ears_page::page).post(ears_page::change))
        .at(Staff, "/me", get(me::page))
        .at(Staff, "/me/password", post(me::change_password))
        .at(Staff, "/catalogue", get(browse::causes))
        .at(Staff, "/catalogue/jobs", get(browse::jobs))
        .at(Staff, "/catalogue/questions", get(browse::questions))
        .at(Staff, "/catalogue/cautions", get(caution::page))
        .at(Owner, "/catalogue/causes/new", get(cause_change::new_page).post(cause_change::add))
        .at(Staff, "/catalogue/causes/{code}", get(cause_page::page))
        .at(Owner, "/catalogue/causes/{code}/change", get(cause_change::page).post(cause_change::change))
        .at(Owner, "/catalogue/causes/{code}/retired", post(entry::retire_cause))
        .at(Owner, "/catalogue/jobs/new", get(job_change::new_page).post(job_change::add))
        .at(Staff, "/catalogue/jobs/{code}", get(job_page::page))
        .at(Owner, "/catalogue/jobs/{code}/change", get(job_change::page).post(job_change::change))
        .at(Owner, "/catalogue/jobs/{code}/retired", post(entry::retire_job))
        .at(Owner, "/catalogue/causes/{code}/answers", get(telling_page::list))
        .at(Owner, "/catalogue/causes/{code}/answers/{question}", get(telling_page::page).post(telling_page::tell))
        .at(Owner, "/catalogue/questions/new", get(descriptor_change::new_page).post(descriptor_change::add))
        .at(Staff, "/catalogue/questions/{code}", get(descriptor_page::page))
        .at(Owner, "/catalogue/questions/{code}/change", get(descriptor_change::page).post(descriptor_change::change))
        .at(Owner, "/catalogue/questions/{code}/retired", post(entry::retire_question))
}

/// What programs call, and what watchers ask.
#[rustfmt::skip]
fn calls(table: Table) -> Table {
    use May::{Anyone, Counter, CounterOrBench, Owner, Staff};
    table
        .at(Anyone, "/healthz", get(health::alive))
        .at(Anyone, "/readyz", get(health::ready))
        .at(Anyone, "/metrics", get(health::counts))
        .at(Anyone, "/api/openapi.json", get(openapi::document))
        .at(CounterOrBench, "/api/v1/orders", get(orders::list))
        .at(Counter, "/api/v1/orders", post(orders::create))
        .at(CounterOrBench, "/api/v1/orders/{order}", get(orders::read))
        .at(Owner, "/api/v1/orders/{order}", patch(acts::days))
        .at(CounterOrBench, "/api/v1/orders/{order}/checks", post(acts::check))
        .at(CounterOrBench, "/api/v1/orders/{order}/findings", post(acts::finding))
        .at(CounterOrBench, "/api/v1/orders/{order}/findings/{finding}/withdraw", post(acts::withdraw))
        .at(CounterOrBench, "/api/v1/orders/{order}/steps", post(acts::step))
        .at(CounterOrBench, "/api/v1/orders/{order}/steps/{step}/done", post(acts::done))
        .at(CounterOrBench, "/api/v1/orders/{order}/steps/{step}/drop", post(acts::drop_step))
        .at(CounterOrBench, "/api/v1/orders/{order}/approval", post(acts::approval))
        .at(CounterOrBench, "/api/v1/orders/{order}/play_test", post(acts::play_test))
        .at(CounterOrBench, "/api/v1/orders/{order}/hold", post(acts::hold))
        .at(CounterOrBench, "/api/v1/orders/{order}/hold/off", post(acts::hold_off))
        .at(CounterOrBench, "/api/v1/orders/{order}/return", post(acts::give_back))
        .at(CounterOrBench, "/api/v1/orders/{order}/reopen", post(acts::reopen))
        .at(CounterOrBench, "/api/v1/orders/{order}/promise", post(acts::promise))
        .at(CounterOrBench, "/api/v1/orders/{order}/answers", post(acts::answers))
        .at(Counter, "/api/v1/orders/{order}/payments", post(acts::payment))
        .at(Counter, "/api/v1/orders/{order}/put_right", post(acts::put_right))
        .at(Counter, "/api/v1/orders/{order}/pickup", post(acts::pickup))
        .at(Counter, "/api/v1/customers", get(customers::list).post(customers::create))
        .at(Counter, "/api/v1/customers/{customer}", get(customers::read).patch(customers::change))
        .at(CounterOrBench, "/api/v1/instruments/{instrument}", get(customers::instrument).patch(customers::change_instrument))
        .at(CounterOrBench, "/api/v1/instruments/{instrument}/gone", post(customers::gone))
        .at(CounterOrBench, "/api/v1/instruments/{instrument}/gone/off", post(customers::gone_off))
        .at(Staff, "/api/v1/catalogue/causes", get(catalogue::causes))
        .at(Owner, "/api/v1/catalogue/causes", post(entries::add_cause))
        .at(Staff, "/api/v1/catalogue/causes/{cause}", get(entries::cause))
        .at(Owner, "/api/v1/catalogue/causes/{cause}", patch(entries::change_cause))
        .at(Owner, "/api/v1/catalogue/causes/{cause}/retired", post(entries::retire_cause))
        .at(Staff, "/api/v1/catalogue/causes/{cause}/answers", get(tellings::tellings))
        .at(Staff, "/api/v1/catalogue/causes/{cause}/answers/{descriptor}", get(tellings::telling))
        .at(Owner, "/api/v1/catalogue/causes/{cause}/answers/{descriptor}", put(tellings::say))
        .at(Staff, "/api/v1/catalogue/descriptors", get(catalogue::descriptors))
        .at(Staff, "/api/v1/catalogue/descriptors/{descriptor}", get(entries::descriptor))
        .at(Owner, "/api/v1/catalogue/descriptors", post(entries::add_descriptor))
        .at(Owner, "/api/v1/catalogue/descriptors/{descriptor}", patch(entries::change_descriptor))
        .at(Owner, "/api/v1/catalogue/descriptors/{descriptor}/retired", post(entries::retire_descriptor))
        .at(Staff, "/api/v1/catalogue/jobs", get(catalogue::jobs))
        .at(Owner, "/api/v1/catalogue/jobs", post(entries::add_job))
        .at(Staff, "/api/v1/catalogue/jobs/{job}", get(entries::job))
        .at(Owner, "/api/v1/catalogue/jobs/{job}", patch(entries::change_job))
        .at(Owner, "/api/v1/catalogue/jobs/{job}/retired", post(entries::retire_job))
        .at(Owner, "/api/v1/shop", get(shop::read).patch(shop::change))
        .at(Owner, "/api/v1/staff", get(staff::list).post(staff::create))
        .at(Owner, "/api/v1/staff/{person}", get(staff::read).patch(staff::change))
        .at(CounterOrBench, "/api/v1/diagnosis", post(diagnosis::diagnosis))
        .at(Owner, "/api/v1/diagnosis/score", get(diagnosis::score))
        .at(Owner, "/api/v1/diagnosis/settings", get(ears::read).put(ears::change))
        .at(Owner, "/api/v1/reports/recurrence", get(recurrence::recurrence))
        .at(Owner, "/api/v1/reports/recurrence/beside", get(api_beside::beside))
        .at(Owner, "/api/v1/reports/reported", get(api_reported::list).post(api_reported::keep))
        .at(Owner, "/api/v1/reports/comebacks", get(comebacks::comebacks))
        .at(Owner, "/api/v1/reports/work", get(api_work::work))
        .at(Owner, "/api/v1/old_book", get(old_book::list).post(old_book::lay).layer(DefaultBodyLimit::disable()))
        .at(Owner, "/api/v1/old_book/{file}", get(old_book::read))
        .at(Owner, "/api/v1/old_book/{file}/amiss", get(old_book::amiss))
        .at(Owner, "/api/v1/old_book/{file}/take", post(old_book::take))
        .at(Owner, "/api/v1/old_book/{file}/withdraw", post(old_book::withdraw))
        .at(CounterOrBench, "/api/v1/climate", get(climate::read))
        .at(CounterOrBench, "/api/v1/climate/plate", get(plate::plate))
        .at(CounterOrBench, "/api/v1/climate/readings", post(climate::send))
        .at(CounterOrBench, "/api/v1/climate/readings/{reading}/withdraw", post(climate::withdraw))
}
