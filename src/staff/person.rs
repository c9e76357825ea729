//! A person of the shop as the owner describes them, on a page or in a call: added, changed, put out, never deleted.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::app::App;
use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;

use super::{Staff, Who, name_key, sign_in};

const TAKEN: &str = "Somebody here has that name already. Add a letter or a surname.";

/// Somebody new. What holds a password cannot be written to a log.
#[derive(Clone, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewPerson {
    /// They sign in with it.
    pub name: String,
    /// At least 8 letters or signs; 12 for an owner. They choose their own when they first sign in.
    #[schema(write_only)]
    pub password: String,
    pub counter: bool,
    pub bench: bool,
    pub owner: bool,
}

/// What is to be of a person.
#[derive(Clone, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PersonToBe {
    pub name: String,
    /// A new one; left out, the old one stays. They are signed out everywhere, and choose their own when they next sign in.
    #[schema(write_only)]
    pub password: Option<String>,
    pub counter: bool,
    pub bench: bool,
    pub owner: bool,
    /// Whether they may sign in. Who is put out is signed out everywhere.
    pub active: bool,
}

/// The shortest password of somebody with these parts.
#[must_use]
pub fn shortest(owner: bool) -> usize {
    if owner {
        sign_in::SHORTEST_OWNER
    } else {
        sign_in::SHORTEST
    }
}

fn check_roles(problems: &mut Problems, roles: [bool; 3]) {
    if roles == [false; 3] {
        problems.add("counter", "Give at least one part: counter, bench or owner.");
    }
}

impl NewPerson {
    /// The person this describes. Their password is hashed here, before the database is held up.
    ///
    /// # Errors
    /// Problems.
    pub async fn describe(self, app: &App) -> Result<Staff> {
        let mut problems = Problems::default();
        let words = "Write the name they will sign in with.";
        let name = problems.needed("name", &self.name, 80, words);
        check_roles(&mut problems, [self.counter, self.bench, self.owner]);
        sign_in::check_password(&mut problems, "password", &self.password, shortest(self.owner));
        problems.settle()?;
        Ok(Staff {
            id: Uuid::now_v7(),
            name_key: name_key(&name),
            name,
            password_hash: sign_in::hash_slowly(app, self.password).await?,
            counter: self.counter,
            bench: self.bench,
            owner: self.owner,
            active: true,
            first_password: true,
            version: 1,
            created_at: app.clock.now(),
        })
    }
}

impl PersonToBe {
    /// As they stand.
    #[must_use]
    pub fn of(kept: &Staff) -> PersonToBe {
        PersonToBe {
            name: kept.name.clone(),
            password: None,
            counter: kept.counter,
            bench: kept.bench,
            owner: kept.owner,
            active: kept.active,
        }
    }

    /// The person this makes of `kept`, with a new password hashed. Nobody takes their own key away.
    ///
    /// # Errors
    /// Problems.
    pub async fn describe(self, app: &App, who: &Who, kept: &Staff) -> Result<Staff> {
        let mut problems = Problems::default();
        let name = problems.needed("name", &self.name, 80, "Write the name they sign in with.");
        check_roles(&mut problems, [self.counter, self.bench, self.owner]);
        if let Some(password) = &self.password {
            sign_in::check_password(&mut problems, "password", password, shortest(self.owner));
        }
        if who.staff == Some(kept.id) && !(self.active && self.owner) {
            problems.add(
                "active",
                "You cannot take your own key away. Let another owner do it.",
            );
        }
        problems.settle()?;
        let (password_hash, first_password) = match self.password {
            Some(password) => {
                let own = who.staff == Some(kept.id);
                (sign_in::hash_slowly(app, password).await?, !own)
            }
            None => (kept.password_hash.clone(), kept.first_password),
        };
        Ok(Staff {
            name_key: name_key(&name),
            name,
            password_hash,
            counter: self.counter,
            bench: self.bench,
            owner: self.owner,
            active: self.active,
            first_password,
            ..kept.clone()
        })
    }
}

/// Adds somebody new.
///
/// # Errors
/// A problem if somebody has that name, or what the database says.
pub async fn add(tx: &mut Tx, person: &Staff) -> Result<()> {
    let mut problems = Problems::default();
    if !person.insert(tx).await? {
        problems.add("name", TAKEN);
    }
    problems.settle()
}

/// Keeps what was changed of `kept`, unless somebody else changed them since `person.version`. One owner who may sign
/// in stays, whoever asks; whose password is new, or who is put out, is signed out everywhere.
///
/// # Errors
/// Problems, stale, or what the database says.
pub async fn keep(tx: &mut Tx, person: &mut Staff, kept: &Staff) -> Result<()> {
    let mut problems = Problems::default();
    let named = Staff::named(&mut *tx, &person.name).await?;
    if named.is_some_and(|other| other.id != person.id) {
        problems.add("name", TAKEN);
        return Err(Error::Problems(problems));
    }
    let no_owner_now = !(person.owner && person.active);
    if no_owner_now {
        // Two owners who put each other out at once wait for each other here.
        tx.query("update shop set house = house where id = 1")
            .execute()
            .await?;
    }
    person.update(tx).await?;
    let (owners,): (i64,) = tx
        .query("select count(*) from staff where owner and active")
        .one()
        .await?;
    if no_owner_now && owners == 0 {
        problems.add("owner", "The shop needs one owner who may sign in.");
        return Err(Error::Problems(problems));
    }
    if person.password_hash != kept.password_hash || !person.active {
        tx.query("delete from session where staff = $1")
            .bind(person.id)
            .execute()
            .await?;
    }
    Ok(())
}
