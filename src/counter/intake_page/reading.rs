//! What the intake's form says, read as the act takes it.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::bench::check::NewCheck;
use crate::clock::Day;
use crate::counter::alike::Alike;
use crate::counter::customer::NewCustomer;
use crate::counter::instrument::NewInstrument;
use crate::counter::intake::{BuzzAt, Complaint, Intake, Which};
use crate::counter::order::answers_of;
use crate::form::{Problems, Typed};
use crate::money;

/// What the form says, with what cannot be read of it.
pub fn read(typed: &Typed, shop: &Shop) -> (Intake, Problems) {
    let mut problems = Problems::default();
    let currency = shop.currency();
    let mut amount = |field: &str| match typed.at(field).trim() {
        "" => None,
        text => money::parse(text, &currency)
            .map_err(|problem| problems.add(field, problem.to_string()))
            .ok()
            .map(|money| money.0),
    };
    let (declared_value, authorised_limit) = (amount("declared_value"), amount("authorised_limit"));
    let promised = if typed.at("promised_on") == "other" {
        typed.at("promised_other")
    } else {
        typed.at("promised_on")
    };
    let promised_on = Day::parse(promised.trim());
    if promised_on.is_none() && !promised.trim().is_empty() {
        problems.add("promised_on", "Write the day as a date, such as 2026-03-09.");
    }
    let customer = match typed.at("customer.id").parse::<Uuid>() {
        Ok(id) => Which::Known(id),
        Err(_) => Which::New(new_customer(typed)),
    };
    let instrument = match typed.at("instrument.id").parse::<Uuid>() {
        Ok(id) => Which::Known(id),
        Err(_) => Which::New(new_instrument(typed, &mut problems)),
    };
    let answers: BTreeMap<String, String> = typed
        .under("complaint.answers.")
        .map(|(code, answer)| (code.to_owned(), answer.to_owned()))
        .collect();
    let buzz_at = BuzzAt {
        string: typed.at("complaint.buzz_at.string").into(),
        note: typed.at("complaint.buzz_at.note").into(),
    };
    let items = typed.under("items_left").map(|(_, thing)| thing.to_owned());
    let intake = Intake {
        customer,
        alike: if typed.at("customer.another") == "yes" {
            Alike::Another
        } else {
            Alike::Ask
        },
        instrument,
        complaint: Complaint {
            words: typed.at("complaint.words").into(),
            answers,
            buzz_at: Some(buzz_at),
        },
        items_left: items
            .chain(
                typed
                    .at("also_left")
                    .split(',')
                    .map(|thing| thing.trim().to_owned()),
            )
            .collect(),
        condition: typed.at("condition").into(),
        declared_value,
        promised_on,
        authorised_limit,
        checks: checks(typed),
        first_answers: first_answers(typed),
    };
    (intake, problems)
}

fn new_customer(typed: &Typed) -> NewCustomer {
    let said = |field: &str| typed.at(&format!("customer.{field}")).to_owned();
    NewCustomer {
        kind: said("kind"),
        name: said("name"),
        phone: said("phone"),
        email: said("email"),
        note: String::new(),
    }
}

pub fn new_instrument(typed: &Typed, problems: &mut Problems) -> NewInstrument {
    let said = |field: &str| typed.at(&format!("instrument.{field}")).to_owned();
    let year_made = problems.number("instrument.year_made", &said("year_made"), 0..=9999);
    // A year that was written stands for itself unless somebody said that it is a guess.
    let certainty = match (said("year_certainty").as_str(), year_made) {
        ("unknown" | "", None) => "unknown".to_owned(),
        ("unknown", Some(_)) => "exact".to_owned(),
        (said, _) => said.to_owned(),
    };
    NewInstrument {
        family: said("family"),
        size: said("size"),
        maker: said("maker"),
        year_made,
        year_certainty: certainty,
        serial: said("serial"),
        marks: said("marks"),
    }
}

/// What was said of a cause, and the field that says it.
pub struct Said<'a> {
    pub field: &'a str,
    pub cause: &'a str,
    pub result: &'a str,
}

/// The checks that say something, in the order of the form. A look at several that are alike names them all in its field:
/// it is said of each of them, but for `found:CAUSE`, which is said of that one.
pub fn said(typed: &Typed) -> Vec<Said<'_>> {
    let mut all = Vec::new();
    for (field, result) in typed.under("check.").filter(|(_, result)| !result.is_empty()) {
        let which = result
            .split_once(':')
            .filter(|of| field.split(';').any(|code| code == of.1));
        let causes = field
            .split(';')
            .filter(|code| which.is_none_or(|of| of.1 == *code));
        let result = which.map_or(result, |of| of.0);
        all.extend(causes.map(|cause| Said { field, cause, result }));
    }
    all
}

fn checks(typed: &Typed) -> Vec<NewCheck> {
    let checks = said(typed).into_iter().map(|said| NewCheck {
        cause: said.cause.to_owned(),
        result: said.result.to_owned(),
        ..NewCheck::default()
    });
    checks.collect()
}

/// The answers that stood before the first check, if one was made; a form that does not say it knew all of them.
fn first_answers(typed: &Typed) -> Option<BTreeMap<String, String>> {
    let stood = typed.under("stood").find(|(rest, _)| rest.is_empty());
    let (_, stood) = stood.filter(|_| !said(typed).is_empty())?;
    Some(answers_of(stood))
}

/// Names the fields as the page does: a check by what its field names, an answer that stood by its question.
pub fn on_page(typed: &Typed, problems: &Problems) -> Problems {
    let checks = said(typed);
    let mut named = Problems::default();
    for problem in problems {
        let place = problem
            .field
            .strip_prefix("checks.")
            .and_then(|rest| rest.split_once('.'));
        let check = place.and_then(|(at, _)| checks.get(at.parse::<usize>().ok()?));
        let field = match (check, problem.field.strip_prefix("first_answers.")) {
            (Some(check), _) => format!("check.{}", check.field),
            (None, Some(code)) => format!("complaint.answers.{code}"),
            (None, None) => problem.field.clone(),
        };
        named.add(field, problem.words.clone());
    }
    named
}
