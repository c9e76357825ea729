//! A page: what surrounds every template, and how a template becomes an answer.

use std::sync::LazyLock;

use askama::Template;
use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Response};
use rust_embed::RustEmbed;
use sha2::{Digest, Sha256};

use crate::again::Again;
use crate::counter::stage::Stage;
use crate::error::{Error, Result, Told};
use crate::form::Problems;
use crate::staff::Who;

/// Style sheets, scripts, fonts and the drawing, inside the program.
#[derive(RustEmbed)]
#[folder = "static/"]
struct Asset;

/// One word for all assets as they are, part of their addresses, so that browsers may keep them for good.
static EDITION: LazyLock<String> = LazyLock::new(|| {
    let mut hash = Sha256::new();
    for name in Asset::iter() {
        if let Some(file) = Asset::get(&name) {
            hash.update(name.as_bytes());
            hash.update(file.metadata.sha256_hash());
        }
    }
    hash.finalize()
        .iter()
        .take(6)
        .fold(String::new(), |text, byte| format!("{text}{byte:02x}"))
});

/// The address of an asset.
#[must_use]
pub fn asset(name: &str) -> String {
    format!("/static/{}/{name}", *EDITION)
}

/// Markup made by ourselves from nothing that was typed, put into a page as it is.
pub struct Markup(pub String);

impl std::fmt::Display for Markup {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}
impl askama::filters::HtmlSafe for Markup {}

/// What the frame around a page needs.
pub struct Frame {
    pub title: String,
    pub shop: String,
    pub who: Option<Who>,
    /// Which of the places is underlined: today, intake, bench, month and so on.
    pub place: &'static str,
}

impl Frame {
    #[must_use]
    pub fn new(title: impl Into<String>, shop: impl Into<String>, who: &Who, place: &'static str) -> Frame {
        Frame {
            title: title.into(),
            shop: shop.into(),
            who: Some(who.clone()),
            place,
        }
    }

    /// For pages that are shown to anybody.
    #[must_use]
    pub fn open(title: impl Into<String>, shop: impl Into<String>) -> Frame {
        Frame {
            title: title.into(),
            shop: shop.into(),
            who: None,
            place: "",
        }
    }

    #[must_use]
    pub fn asset(&self, name: &str) -> String {
        asset(name)
    }

    /// A sign of the house; the word stands beside it.
    #[must_use]
    pub fn sign(&self, name: &'static str) -> Markup {
        let signs = asset("icons.svg");
        Markup(format!(
            r#"<svg class="sign" aria-hidden="true"><use href="{signs}#{name}"/></svg>"#
        ))
    }

    /// The sign of a stage.
    #[must_use]
    pub fn sign_of(&self, stage: &Stage) -> Markup {
        self.sign(match stage {
            Stage::Received => "stage-received",
            Stage::Inspecting => "stage-inspecting",
            Stage::AwaitingApproval => "stage-awaiting_approval",
            Stage::Approved => "stage-approved",
            Stage::InRepair => "stage-in_repair",
            Stage::PlayTest => "stage-play_test",
            Stage::Ready => "stage-ready",
            Stage::Collected => "stage-collected",
            Stage::Returned => "stage-returned",
        })
    }

    #[must_use]
    pub fn may_counter(&self) -> bool {
        self.who.as_ref().is_some_and(|who| who.roles.counter())
    }
    #[must_use]
    pub fn may_bench(&self) -> bool {
        self.who.as_ref().is_some_and(|who| who.roles.bench())
    }
    #[must_use]
    pub fn may_own(&self) -> bool {
        self.who.as_ref().is_some_and(|who| who.roles.owner)
    }
}

/// # Errors
/// When the template cannot be filled.
pub fn html(page: impl Template) -> Result<Response> {
    Ok(Html(page.render()?).into_response())
}

#[derive(Template)]
#[template(path = "message.html")]
struct Message<'a> {
    frame: Frame,
    words: &'a str,
    problems: &'a Problems,
    /// Under which the log says what broke.
    number: Option<String>,
    again: Option<&'a Again>,
}

/// A page that says one thing, e.g. that there is nothing at this address.
#[must_use]
pub fn message(told: &Told) -> String {
    let title = match told.status.as_u16() {
        404 => "Not here",
        410 => "Not any more",
        403 => "Not yours to do",
        409 | 412 => "Not as it stands",
        422 | 400 => "Please look again",
        429 => "Wait a little",
        _ => "That did not work",
    };
    let page = Message {
        frame: Frame::open(title, ""),
        words: &told.words,
        problems: &told.problems,
        again: told.again.as_ref(),
        number: told.instance.map(|number| number.to_string()),
    };
    page.render().unwrap_or_else(|_| told.words.clone())
}

/// `GET /static/{edition}/{file}`
///
/// # Errors
/// Not found.
pub async fn serve_asset(Path((_, name)): Path<(String, String)>) -> Result<Response> {
    let file = Asset::get(&name).ok_or(Error::NotFound)?;
    let kind = match name.rsplit('.').next() {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("woff2") => "font/woff2",
        Some("png") => "image/png",
        Some("webmanifest") => "application/manifest+json",
        _ => "text/plain; charset=utf-8",
    };
    Ok((
        [
            (CONTENT_TYPE, kind),
            (CACHE_CONTROL, "public, max-age=31536000, immutable"),
        ],
        file.data,
    )
        .into_response())
}
