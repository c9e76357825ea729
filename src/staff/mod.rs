//! Staff: the people of the shop, what part each has in it, and who is asking just now.

pub mod hash;
pub mod me;
pub mod people;
pub mod person;
pub mod session;
pub mod sign_in;

use serde::Serialize;
use sqlx::FromRow;
use unicode_normalization::UnicodeNormalization;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::{Read, Tx};
use crate::error::{Error, Result};

/// The parts a person has. The owner may do all of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Roles {
    pub counter: bool,
    pub bench: bool,
    pub owner: bool,
}

/// Who is asking: a person who signed in, or a program with a token.
#[derive(Clone, Debug)]
pub struct Who {
    /// The person's or the token's id.
    pub actor: Uuid,
    /// The person, if it is one.
    pub staff: Option<Uuid>,
    pub name: String,
    pub roles: Roles,
}

#[derive(Clone, Debug, FromRow)]
pub struct Staff {
    pub id: Uuid,
    pub name: String,
    pub name_key: String,
    pub password_hash: String,
    pub counter: bool,
    pub bench: bool,
    pub owner: bool,
    pub active: bool,
    /// Whether somebody else chose the password they have: then they choose their own first.
    pub first_password: bool,
    pub version: i64,
    pub created_at: Moment,
}

impl Roles {
    /// Reads `counter`, `bench` or `owner`, or several joined by commas.
    #[must_use]
    pub fn named(names: &str) -> Option<Roles> {
        let mut roles = Roles::default();
        for name in names.split(',') {
            match name.trim() {
                "counter" => roles.counter = true,
                "bench" => roles.bench = true,
                "owner" => roles.owner = true,
                _ => return None,
            }
        }
        Some(roles)
    }

    #[must_use]
    pub fn counter(self) -> bool {
        self.counter || self.owner
    }
    #[must_use]
    pub fn bench(self) -> bool {
        self.bench || self.owner
    }

    #[must_use]
    pub fn words(self) -> String {
        let parts = [
            (self.counter, "counter"),
            (self.bench, "bench"),
            (self.owner, "owner"),
        ];
        parts
            .iter()
            .filter(|part| part.0)
            .map(|part| part.1)
            .collect::<Vec<_>>()
            .join(", ")
    }
}

/// How a sign-in name is compared: whatever the keyboard, the width and the case.
#[must_use]
pub fn name_key(name: &str) -> String {
    name.trim()
        .nfkc()
        .flat_map(char::to_lowercase)
        .collect::<String>()
        .nfkc()
        .collect()
}

impl Staff {
    #[must_use]
    pub fn roles(&self) -> Roles {
        Roles {
            counter: self.counter,
            bench: self.bench,
            owner: self.owner,
        }
    }

    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Vec<Staff>> {
        Ok(on
            .read("select * from staff order by active desc, name_key")
            .all()
            .await?)
    }

    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, id: Uuid) -> Result<Staff> {
        on.read("select * from staff where id = $1")
            .bind(id)
            .optional()
            .await?
            .ok_or(Error::NotFound)
    }

    /// # Errors
    /// What the database says.
    pub async fn named(mut on: impl Read, name: &str) -> Result<Option<Staff>> {
        Ok(on
            .read("select * from staff where name_key = $1")
            .bind(name_key(name))
            .optional()
            .await?)
    }

    /// Adds the person; false if somebody already has that name.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(&self, tx: &mut Tx) -> Result<bool> {
        let rows = tx
            .query(
                "insert into staff (id, name, name_key, password_hash, counter, bench, owner, active, version, created_at,
                 first_password) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) on conflict do nothing",
            )
            .bind(self.id)
            .bind(self.name.clone())
            .bind(self.name_key.clone())
            .bind(self.password_hash.clone())
            .bind(self.counter)
            .bind(self.bench)
            .bind(self.owner)
            .bind(self.active)
            .bind(self.version)
            .bind(self.created_at)
            .bind(self.first_password)
            .execute()
            .await?;
        Ok(rows == 1)
    }

    /// Keeps what was changed, if nobody else changed it since it was read.
    ///
    /// # Errors
    /// Stale, or what the database says.
    pub async fn update(&mut self, tx: &mut Tx) -> Result<()> {
        let rows = tx
            .query(
                "update staff set name = $3, name_key = $4, password_hash = $5, counter = $6, bench = $7, owner = $8,
                 active = $9, first_password = $10, version = version + 1 where id = $1 and version = $2",
            )
            .bind(self.id)
            .bind(self.version)
            .bind(self.name.clone())
            .bind(self.name_key.clone())
            .bind(self.password_hash.clone())
            .bind(self.counter)
            .bind(self.bench)
            .bind(self.owner)
            .bind(self.active)
            .bind(self.first_password)
            .execute()
            .await?;
        if rows == 0 {
            return Err(Error::Stale(format!(
                "{} was changed by somebody else just now. Load the page anew.",
                self.name
            )));
        }
        self.version += 1;
        Ok(())
    }
}
