//! The settings of the ranking: whom it follows, and how fast the shop's own orders outweigh the catalogue.

use serde::{Deserialize, Serialize};

use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;

use super::learn::Strength;
use super::models::Stand;

/// Whom the ranking follows.
pub const FOLLOW: [(&str, &str, &str); 3] = [
    (
        "better",
        "Whichever guessed better here so far",
        "the shop from the first order on which it is ahead",
    ),
    ("shop", "The shop", "the catalogue, with what was found here"),
    (
        "catalogue",
        "The catalogue alone",
        "as if nothing had been found here yet",
    ),
];

/// How fast it learns, and how many times the measured strength of the catalogue's word that is.
pub const PACES: [(&str, &str, &str, f64); 3] = [
    ("slow", "Slowly", "the catalogue counts three times as much", 3.0),
    (
        "as_measured",
        "As measured",
        "what fitted best on shops whose truth is known",
        1.0,
    ),
    ("fast", "Fast", "the catalogue counts a third as much", 1.0 / 3.0),
];

/// Settings as the owner says them, on the page or in a call.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSettings {
    /// `better`, `shop` or `catalogue`.
    pub follow: String,
    /// `slow`, `as_measured` or `fast`.
    pub pace: String,
}

/// The strengths of a pace, in whole orders.
#[must_use]
fn strengths(times: f64) -> [i64; 3] {
    let Strength {
        shares,
        cells,
        answers,
    } = Strength::default();
    #[expect(clippy::cast_possible_truncation, reason = "some hundreds of orders")]
    [shares, cells, answers].map(|orders| (orders * times).round() as i64)
}

/// The pace of a stand, by its code; empty where the strengths are none of the three.
#[must_use]
pub fn pace(stand: &Stand) -> &'static str {
    let known = PACES.iter().find(|pace| strengths(pace.3) == stand.strengths());
    known.map_or("", |pace| pace.0)
}

/// Keeps new settings, unless they were changed since this version; every model is made anew by them. At another pace it is
/// another ranking, so what fits it and whether it is ahead are found out anew.
///
/// # Errors
/// Problems, stale, or what the database says.
pub async fn change(tx: &mut Tx, version: i64, new: &NewSettings) -> Result<Stand> {
    let mut problems = Problems::default();
    if !FOLLOW.iter().any(|follow| follow.0 == new.follow) {
        problems.add("follow", "Say better, shop or catalogue.");
    }
    let times = PACES.iter().find(|pace| pace.0 == new.pace);
    let Some(times) = times.filter(|_| problems.is_empty()) else {
        if times.is_none() {
            problems.add("pace", "Say slow, as_measured or fast.");
        }
        return Err(problems.into());
    };
    let strengths = strengths(times.3);
    let [shares, cells, answers] = strengths;
    let kept = Stand::get(&mut *tx).await?;
    let other_strengths = kept.strengths() != strengths;
    let changed: Option<Stand> = tx
        .query(
            "update diagnosis set follow = $2, share_strength = $3, cell_strength = $4, answer_strength = $5,
             begun = case when $6 then lessons else begun end, tempered = case when $6 then 0 else tempered end,
             temper = case when $6 then '' else temper end, behind = case when $6 then 0 else behind end,
             catalogue = catalogue + 1, version = version + 1 where id = 1 and version = $1
             returning *",
        )
        .bind(version)
        .bind(new.follow.clone())
        .bind(shares)
        .bind(cells)
        .bind(answers)
        .bind(other_strengths)
        .optional()
        .await?;
    changed.ok_or_else(|| {
        Error::Stale("This was changed by somebody else just now. Look at it again, then change it.".into())
    })
}

/// How much the answers say, as fitted on the shop's own orders, in words.
#[must_use]
pub fn power_words(stand: &Stand) -> String {
    let power = (stand.power() * 100.0).round();
    let from = match stand.tempered {
        0 => "from the catalogue, since nothing was found here yet".to_owned(),
        orders => format!("fitted on {}", crate::words::count(orders, "order", "orders")),
    };
    if power >= 100.0 {
        return format!("Here each answer about a noise counts in full ({from}).");
    }
    format!(
        "Answers about one noise say partly the same, so each counts for {power}\u{a0}% of what it would alone \
         ({from})."
    )
}
