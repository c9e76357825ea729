//! A hash is what is kept of a password: slow to make on purpose, in memory that is kept and used again.

use std::sync::{Mutex, PoisonError};

use argon2::password_hash::phc::{Output, ParamsString, PasswordHash, Salt};
use argon2::{Algorithm, Argon2, Block, Params, Version};

use crate::error::{Error, Result};

/// So many passwords are hashed at once. Each takes 19 MiB, so hashing never holds more than four times that.
pub const AT_ONCE: usize = 4;
/// The salt in bytes, and what comes out (RFC 9106, section 4, asks for 16 and 32).
const SALT: usize = 16;
const OUTPUT: usize = 32;

/// Memory between two hashes. Handed back to the allocator it would stay with whichever thread had it, and a morning on
/// which everybody signs in at once would leave the program with a block for every thread that ever hashed.
static KEPT: Mutex<Vec<Vec<Block>>> = Mutex::new(Vec::new());

/// Argon2id with 19 MiB, two passes, one lane (OWASP Password Storage Cheat Sheet, 2026).
fn argon() -> Argon2<'static> {
    let params =
        Params::new(19 * 1024, 2, 1, Some(OUTPUT)).expect("these parameters are within Argon2's own limits");
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// Works in memory that was used before, if there is any. What a hash left in it is overwritten on the first pass, so it
/// need not be cleared.
fn fill(argon: &Argon2, password: &[u8], salt: &[u8], out: &mut [u8]) -> argon2::Result<()> {
    let kept = || KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    let mut blocks = kept().pop().unwrap_or_default();
    let needed = argon.params().block_count();
    if blocks.len() < needed {
        blocks = vec![Block::new(); needed];
    }
    let done = argon.hash_password_into_with_memory(password, salt, out, &mut blocks);
    let mut kept = kept();
    if kept.len() < AT_ONCE {
        kept.push(blocks);
    }
    done
}

/// The text that is kept of a password. Takes tens of milliseconds on purpose; not for the async threads.
///
/// # Errors
/// When the system has no randomness to give.
pub fn hash_password(password: &str) -> Result<String> {
    let mut salt = [0; SALT];
    getrandom::fill(&mut salt).map_err(Error::fault)?;
    let (argon, mut out) = (argon(), [0; OUTPUT]);
    fill(&argon, password.as_bytes(), &salt, &mut out).map_err(Error::fault)?;
    let hash = PasswordHash {
        algorithm: Algorithm::Argon2id.ident(),
        version: Some(Version::V0x13.into()),
        params: ParamsString::try_from(argon.params()).map_err(Error::fault)?,
        salt: Some(Salt::new(&salt).map_err(Error::fault)?),
        hash: Some(Output::new(&out).map_err(Error::fault)?),
    };
    Ok(hash.to_string())
}

/// Whether the password is the one that was hashed, with the parameters it was hashed with. Where there is no hash it
/// takes as long and does not fit.
#[must_use]
pub fn fits(hash: Option<&str>, password: &str) -> bool {
    let Some(Ok(hash)) = hash.map(PasswordHash::new) else {
        let _ = hash_password(password);
        return false;
    };
    refill(&hash, password).is_some_and(|made| hash.hash.is_some_and(|kept| kept == made))
}

/// What comes out of a password with the salt and the parameters of a hash.
fn refill(hash: &PasswordHash, password: &str) -> Option<Output> {
    let algorithm = Algorithm::try_from(hash.algorithm.as_str()).ok()?;
    let version = Version::try_from(hash.version?).ok()?;
    let params = Params::try_from(hash).ok()?;
    let mut out = vec![0; hash.hash.as_ref()?.as_bytes().len()];
    let argon = Argon2::new(algorithm, version, params);
    fill(&argon, password.as_bytes(), hash.salt.as_ref()?, &mut out).ok()?;
    Output::new(&out).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hash_made_in_used_memory_is_the_one_made_in_new_memory() {
        for password in ["a short sentence is good", "another one", ""] {
            let hash = hash_password(password).expect("a hash");
            let kept = PasswordHash::new(&hash).expect("it reads");
            let salt = kept.salt.expect("a salt");
            let mut new = [0; OUTPUT];
            argon()
                .hash_password_into(password.as_bytes(), &salt, &mut new)
                .expect("a hash");
            assert_eq!(kept.hash.expect("an output").as_bytes(), new);
            assert!(fits(Some(&hash), password) && !fits(Some(&hash), "not this one"));
        }
        assert!(!fits(None, "nobody") && !fits(Some("-"), "-"));
    }
}
