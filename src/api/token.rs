//! A token lets a program use the API in one role; it is shown once and kept as a hash.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::Db;
use crate::error::Result;
use crate::staff::session::{hash, secret};
use crate::staff::{Roles, Who};

#[derive(FromRow)]
struct Token {
    id: Uuid,
    name: String,
    role: String,
}

/// Makes a token and returns it, this once.
///
/// # Errors
/// What the database says.
pub async fn add(db: &Db, name: &str, role: &str, expires_at: Option<Moment>, now: Moment) -> Result<String> {
    let token = format!("purfle_{}", secret()?);
    db.write("insert into token (id, name, role, token_hash, expires_at, created_at) values ($1, $2, $3, $4, $5, $6)")
        .bind(Uuid::now_v7())
        .bind(name.to_owned())
        .bind(role.to_owned())
        .bind(hash(&token))
        .bind(expires_at)
        .bind(now)
        .execute()
        .await?;
    Ok(token)
}

/// Who holds this token, unless it has expired or was revoked.
///
/// # Errors
/// What the database says.
pub async fn holder(db: &Db, token: &str, now: Moment) -> Result<Option<Who>> {
    let found: Option<Token> = db
        .read(
            "select id, name, role from token where token_hash = $1 and revoked_at is null
             and (expires_at is null or expires_at > $2)",
        )
        .bind(hash(token))
        .bind(now)
        .optional()
        .await?;
    Ok(found.map(|token| Who {
        actor: token.id,
        staff: None,
        name: token.name,
        roles: Roles::named(&token.role).unwrap_or_default(),
    }))
}
