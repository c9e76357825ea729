//! An order as the tests have it: a violin with a noise, taken in at the counter.

use purfle::counter::alike::Alike;
use purfle::counter::customer::NewCustomer;
use purfle::counter::instrument::NewInstrument;
use purfle::counter::intake::{BuzzAt, Complaint, Intake, Which, take_in};
use purfle::counter::order::Order;
use purfle::form::Problems;
use purfle::staff::{Staff, Who};

use super::Shop;

/// What the counter writes down for most of the tests; each changes what it needs.
pub fn intake() -> Intake {
    Intake {
        customer: Which::New(NewCustomer {
            name: "Marta Ellingworth".into(),
            phone: "01 555 0142".into(),
            ..NewCustomer::default()
        }),
        // Each is somebody else, however many of this name a test takes in.
        alike: Alike::Another,
        instrument: Which::New(NewInstrument {
            family: "violin".into(),
            size: "4/4".into(),
            maker: "Jos. Hallbrink".into(),
            year_made: Some(1921),
            ..NewInstrument::default()
        }),
        complaint: Complaint {
            words: "Since I changed the E there is a fizz up high.".into(),
            answers: [("which_strings", "one"), ("worst_string", "top")]
                .map(|(question, answer)| (question.to_owned(), answer.to_owned()))
                .into(),
            buzz_at: Some(BuzzAt {
                string: "E".into(),
                note: "B5".into(),
            }),
        },
        items_left: vec!["Case".into(), "Bow".into()],
        condition: "Varnish worn at the shoulder".into(),
        declared_value: None,
        promised_on: None,
        authorised_limit: Some(8000),
        checks: Vec::new(),
        first_answers: None,
    }
}

impl Shop {
    /// The person of this part, as a handler knows them.
    pub async fn who(&self, role: &str) -> Who {
        let person = Staff::named(&self.app.db, role)
            .await
            .expect("the staff")
            .expect("somebody of that part");
        Who {
            actor: person.id,
            staff: Some(person.id),
            name: person.name.clone(),
            roles: person.roles(),
        }
    }

    /// Takes in [`intake`] as `change` has it: `shop.order(|_| {})` as it is.
    pub async fn order(&self, change: impl FnOnce(&mut Intake)) -> Order {
        let mut new = intake();
        change(&mut new);
        let taken = take_in(
            &self.app,
            &self.who("counter").await,
            &new,
            Problems::default(),
            None,
        )
        .await
        .expect("an intake without problems");
        taken.commit(303, "").await.expect("kept")
    }

    /// The order as it stands now.
    pub async fn order_now(&self, tag: &str) -> Order {
        Order::get(&self.app.db, tag).await.expect("the order")
    }
}
