//! A customer: a person, a school or a rental fleet that owns the instrument or answers for it.

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::{Db, Read, Tx, insert_rows};
use crate::error::{Error, Result};
use crate::form::Problems;

use super::find;

#[derive(Clone, Debug, FromRow)]
pub struct Customer {
    pub id: Uuid,
    pub kind: String,
    pub name: String,
    pub phone: String,
    pub email: String,
    pub note: String,
    pub version: i64,
    pub created_at: Moment,
}

/// A customer as somebody describes them, on a page or in a call.
#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewCustomer {
    /// `person`, `school` or `fleet`; empty is a person.
    pub kind: String,
    pub name: String,
    pub phone: String,
    pub email: String,
    pub note: String,
}

pub const KINDS: [(&str, &str); 3] = [
    ("person", "Person"),
    ("school", "School"),
    ("fleet", "Rental fleet"),
];

impl NewCustomer {
    /// As they stand.
    #[must_use]
    pub fn of(kept: &Customer) -> NewCustomer {
        let kept = kept.clone();
        NewCustomer {
            kind: kept.kind,
            name: kept.name,
            phone: kept.phone,
            email: kept.email,
            note: kept.note,
        }
    }

    /// What they are, once checked; fields are named below `at`, such as `customer.`.
    pub fn check(&self, problems: &mut Problems, at: &str, now: Moment) -> Customer {
        let field = |name: &str| format!("{at}{name}");
        let kind = if self.kind.is_empty() {
            "person"
        } else {
            &self.kind
        };
        if !KINDS.iter().any(|known| known.0 == kind) {
            problems.add(field("kind"), "Say person, school or fleet.");
        }
        let email = problems.line(&field("email"), &self.email, 254);
        if !email.is_empty() && !plausible_email(&email) {
            problems.add(
                field("email"),
                "This does not look like an e-mail address; it has one @ and no blanks.",
            );
        }
        Customer {
            id: Uuid::now_v7(),
            kind: kind.to_owned(),
            name: problems.needed(&field("name"), &self.name, 200, "Write the customer's name."),
            phone: problems.line(&field("phone"), &self.phone, 40),
            email,
            note: problems.text(&field("note"), &self.note, 2000),
            version: 1,
            created_at: now,
        }
    }
}

fn plausible_email(email: &str) -> bool {
    let mut parts = email.split('@');
    match (parts.next(), parts.next(), parts.next()) {
        (Some(name), Some(host), None) => {
            !name.is_empty()
                && host.contains('.')
                && !host.starts_with('.')
                && !email.contains(char::is_whitespace)
        }
        _ => false,
    }
}

impl Customer {
    /// The first name, for papers and the bench, where the full name has no business.
    #[must_use]
    pub fn first_name(&self) -> &str {
        if self.kind == "person" {
            self.name.split_whitespace().next().unwrap_or("")
        } else {
            &self.name
        }
    }

    #[must_use]
    pub fn kind_words(&self) -> &'static str {
        KINDS
            .iter()
            .find(|kind| kind.0 == self.kind)
            .map_or("Person", |kind| kind.1)
    }

    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, id: Uuid) -> Result<Customer> {
        on.read("select * from customer where id = $1")
            .bind(id)
            .optional()
            .await?
            .ok_or(Error::NotFound)
    }

    /// Person, school or fleet: all that is counted by.
    ///
    /// # Errors
    /// Not found, or what the database says.
    pub async fn kind_of(tx: &mut Tx, id: Uuid) -> Result<String> {
        let kind: Option<(String,)> = tx
            .query("select kind from customer where id = $1")
            .bind(id)
            .optional()
            .await?;
        kind.map(|kind| kind.0).ok_or(Error::NotFound)
    }

    /// Those that fit what was typed; the newest when nothing was.
    ///
    /// # Errors
    /// What the database says.
    pub async fn search(db: &Db, typed: &str, limit: usize) -> Result<Vec<Customer>> {
        if typed.trim().is_empty() {
            let limit = i64::try_from(limit).unwrap_or(20);
            return Ok(db
                .read("select * from customer order by id desc limit $1")
                .bind(limit)
                .all()
                .await?);
        }
        let mut customers = Vec::new();
        for id in find::customers(db, typed, limit).await? {
            customers.push(Customer::get(db, id).await?);
        }
        Ok(customers)
    }

    /// The customers after `after` in the order they were added.
    ///
    /// # Errors
    /// What the database says.
    pub async fn page(db: &Db, after: Option<Uuid>, limit: i64) -> Result<Vec<Customer>> {
        Ok(db
            .read("select * from customer where id > $1 order by id limit $2")
            .bind(after.unwrap_or(Uuid::nil()))
            .bind(limit)
            .all()
            .await?)
    }

    /// What they are found by.
    fn keys(&self) -> Vec<find::Key> {
        let keys = find::customer_keys(&self.name, &self.phone, &self.email);
        keys.into_iter().map(|key| (key, self.id, None)).collect()
    }

    /// Writes those who are new, and what they are found by.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, customers: &[Customer]) -> Result<()> {
        let into = "insert into customer (id, kind, name, phone, email, note, version, created_at) values";
        insert_rows(tx, into, 8, customers, |query, customer| {
            query
                .bind(customer.id)
                .bind(customer.kind.clone())
                .bind(customer.name.clone())
                .bind(customer.phone.clone())
                .bind(customer.email.clone())
                .bind(customer.note.clone())
                .bind(customer.version)
                .bind(customer.created_at)
        })
        .await?;
        let keys: Vec<find::Key> = customers.iter().flat_map(Customer::keys).collect();
        find::insert(tx, &keys).await
    }

    /// Whether it says of them what the other does.
    #[must_use]
    pub fn says_the_same(&self, other: &Customer) -> bool {
        let said = |one: &Customer| {
            let one = one.clone();
            (one.kind, one.name, one.phone, one.email, one.note)
        };
        said(self) == said(other)
    }

    /// Keeps what was changed, unless somebody else changed it since `version`.
    ///
    /// # Errors
    /// Stale, or what the database says.
    pub async fn update(&self, tx: &mut Tx, version: i64) -> Result<()> {
        let rows = tx
            .query(
                "update customer set kind = $3, name = $4, phone = $5, email = $6, note = $7, version = version + 1
                 where id = $1 and version = $2",
            )
            .bind(self.id)
            .bind(version)
            .bind(self.kind.clone())
            .bind(self.name.clone())
            .bind(self.phone.clone())
            .bind(self.email.clone())
            .bind(self.note.clone())
            .execute()
            .await?;
        if rows == 0 {
            return Err(Error::Stale(
                "Somebody else changed this customer just now. Read it again, then change it.".into(),
            ));
        }
        find::replace(tx, self.id, None, &self.keys()).await
    }
}
