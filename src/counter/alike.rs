//! Alike are customers of one name with one phone number or e-mail address: most likely the same one, typed again.
//!
//! A phone alone tells nobody: families share one. The words of a name may stand in any order, capitals and marks aside.

use crate::db::{Read, Tx};
use crate::error::{Error, Result};

use super::customer::{Customer, NewCustomer};
use super::find;

/// What is done with somebody new who is like somebody who is here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Alike {
    /// Whoever typed it is asked.
    #[default]
    Ask,
    /// It is the one who is here, if the name is written alike and nothing that was said of them is otherwise.
    Take,
    /// It is somebody else all the same.
    Another,
}

/// A number that so many have is no one's.
const SHARED: i64 = 400;
/// A note is not longer.
const NOTE: usize = 2000;

fn phone(of: &Customer) -> String {
    find::digits(&of.phone)
}

fn email(of: &Customer) -> String {
    find::fold(of.email.trim())
}

fn same(one: &str, other: &str) -> bool {
    !one.is_empty() && one == other
}

/// By what two of one name are known as one: "phone" or "e-mail".
#[must_use]
pub fn by(one: &Customer, other: &Customer) -> &'static str {
    if same(&phone(one), &phone(other)) {
        "phone"
    } else {
        "e-mail"
    }
}

/// Those who are here and like somebody new, the first added first.
///
/// # Errors
/// What the database says.
pub async fn to(mut on: impl Read, new: &Customer) -> Result<Vec<Customer>> {
    let words = find::words(&new.name);
    // The longest word is the rarest, more often than not.
    let Some(word) = words.iter().max_by_key(|word| word.len()).cloned() else {
        return Ok(Vec::new());
    };
    let mut alike: Vec<Customer> = Vec::new();
    for contact in [phone(new), email(new)] {
        if contact.is_empty() {
            continue;
        }
        let named: Vec<Customer> = on
            .read(
                "select c.* from (select f.customer from find f where f.key = $1 and f.instrument is null
                 order by f.customer limit $3) n join find g on g.customer = n.customer and g.key = $2
                 and g.instrument is null join customer c on c.id = n.customer",
            )
            .bind(contact)
            .bind(word.clone())
            .bind(SHARED)
            .all()
            .await?;
        alike.extend(named);
    }
    alike.retain(|known| {
        find::words(&known.name) == words
            && (same(&phone(known), &phone(new)) || same(&email(known), &email(new)))
    });
    alike.sort_by_key(|known| known.id);
    alike.dedup_by_key(|known| known.id);
    Ok(alike)
}

/// The one who is here with what was said anew, if the name is the very same and nothing that was said is otherwise.
fn together(known: &Customer, new: &Customer, said: &NewCustomer) -> Option<Customer> {
    if known.name != new.name {
        return None;
    }
    let fits = |one: String, other: String| one.is_empty() || other.is_empty() || one == other;
    let kind = said.kind.is_empty() || said.kind == known.kind;
    if !(kind && fits(phone(known), phone(new)) && fits(email(known), email(new))) {
        return None;
    }
    let mut known = known.clone();
    for (kept, said) in [(&mut known.phone, &new.phone), (&mut known.email, &new.email)] {
        if kept.is_empty() {
            kept.clone_from(said);
        }
    }
    if known.note.is_empty() {
        known.note.clone_from(&new.note);
    } else if !known.note.contains(&new.note) {
        known.note = format!("{}\n{}", known.note, new.note);
    }
    (known.note.chars().count() <= NOTE).then_some(known)
}

/// The one who is here, if it can be no other; what is known of them since is kept with them.
async fn taken(
    tx: &mut Tx,
    alike: &[Customer],
    new: &Customer,
    said: &NewCustomer,
) -> Result<Option<Customer>> {
    for known in alike {
        let Some(mut together) = together(known, new, said) else {
            continue;
        };
        if !together.says_the_same(known) {
            together.update(tx, known.version).await?;
            together.version += 1;
        }
        return Ok(Some(together));
    }
    Ok(None)
}

/// Who somebody new is.
pub enum Who {
    /// Nobody like them is here, or it was said that they are somebody else.
    New,
    /// Somebody new, though one like them is here.
    Beside,
    /// The one who is here.
    Here(Box<Customer>),
}

/// Who somebody new is, beside those who are here.
///
/// # Errors
/// [`Error::Alike`] where it is to be asked; or what the database says.
pub async fn known(tx: &mut Tx, alike: Alike, new: &Customer, said: &NewCustomer) -> Result<Who> {
    if alike == Alike::Another {
        return Ok(Who::New);
    }
    take_turn(tx).await?;
    let here = to(&mut *tx, new).await?;
    if here.is_empty() {
        return Ok(Who::New);
    }
    if alike == Alike::Ask {
        return Err(Error::Alike(here.iter().map(|known| known.id).collect()));
    }
    let taken = taken(tx, &here, new, said).await?;
    Ok(taken.map_or(Who::Beside, |known| Who::Here(Box::new(known))))
}

/// Of two who say somebody new at the same moment the second waits here until the first is kept, and finds them then. It is
/// the row that every intake holds for its tag anyway.
async fn take_turn(tx: &mut Tx) -> Result<()> {
    tx.query("update tag_counter set next = next where id = 1")
        .execute()
        .await?;
    Ok(())
}
