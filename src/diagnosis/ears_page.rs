//! How well it guesses: the owner's page on the ranking, what the shop has taught it, and whom it follows.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{self, Field, Side};
use crate::clock::Day;
use crate::counter::instrument::FAMILIES;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, Markup, html};
use crate::reports::ask::Ask;
use crate::reports::season::Season;
use crate::reports::share::{Share, percent};
use crate::reports::span::Span;
use crate::staff::Who;
use crate::words;

use super::calibration::{self, Tenth};
use super::models::{Current, Stand};
use super::score_report::{Did, Score};
use super::settings::{self, NewSettings};
use super::taught::{self, Answered, Oftener};

/// Fewer orders say nothing of how well it guesses (practice, no source).
pub const TOO_FEW: i64 = 20;
const FIELDS: [Field; 2] = [("follow", "Follow", true), ("pace", "Learn", true)];

#[derive(Template)]
#[template(path = "diagnosis/ears_page.html")]
struct EarsPage {
    frame: Frame,
    ask: Ask,
    asked: Problems,
    span: Option<Span>,
    score: Score,
    taught: Taught,
    stand: Stand,
    problems: Problems,
    typed: Typed,
    version: i64,
    changed: Option<Vec<Side>>,
    kept: bool,
}

/// What the shop has taught, in words.
struct Taught {
    orders: i64,
    shares: Vec<Line>,
    answers: Vec<Line>,
}

/// A difference between the shop and the catalogue.
struct Line {
    what: String,
    of: String,
    here: Share,
    catalogue: String,
    times: String,
}

/// What the page shows beside the score.
struct Shown {
    problems: Problems,
    typed: Typed,
    version: i64,
    changed: Option<Vec<Side>>,
    kept: bool,
}

impl EarsPage {
    fn enough(&self) -> bool {
        self.score.shop.orders >= TOO_FEW
    }

    /// The rankings side by side, with what they are.
    fn rankings(&self) -> [(&'static str, &'static str, &Did); 4] {
        let (score, bench) = (&self.score, "how the checks were written down");
        [
            (
                "With what the shop taught",
                "as it stood when the cause was found",
                &score.shop,
            ),
            (
                "The catalogue alone",
                "the same answers, nothing learned",
                &score.catalogue,
            ),
            (
                "Shares alone",
                "how often a cause comes; no answers",
                &score.shares,
            ),
            ("As the bench looked", bench, &score.bench),
        ]
    }

    /// Whom the ranking follows now, and why.
    fn followed(&self) -> String {
        let orders = words::count(self.stand.tempered, "order", "orders");
        let since = if self.stand.begun == 0 {
            "of all years"
        } else {
            "since it learns at this pace"
        };
        match (self.stand.follow.as_str(), self.stand.tempered, self.stand.behind) {
            ("shop", ..) => "It goes by what the shop has taught, as was said below.".to_owned(),
            ("catalogue", ..) => "It goes by the catalogue alone, as was said below.".to_owned(),
            _ if self.stand.lessons == 0 => {
                "It goes by the catalogue until the shop has taught it something.".to_owned()
            }
            (_, 0, _) => {
                "It goes by what the shop has taught; on no order yet could the two be compared.".to_owned()
            }
            (_, _, 1..) => format!(
                "It goes by the catalogue alone for now: on {orders} {since} that guessed a little better than what \
                 the shop had taught by then. It learns on, and follows the shop as soon as the shop is ahead."
            ),
            _ => format!(
                "It goes by what the shop has taught: on {orders} {since} that guessed no worse than the catalogue \
                 alone."
            ),
        }
    }

    /// How the ranking that people see now did.
    fn did(&self) -> &Did {
        self.score.followed(&self.stand)
    }

    /// "214 orders"
    fn scored(&self) -> String {
        words::count(self.score.shop.orders, "order", "orders")
    }

    fn learned(&self) -> String {
        words::count(self.taught.orders, "confirmed cause", "confirmed causes")
    }

    /// How long it took until it was found, once it is known.
    fn took(&self) -> Option<String> {
        let (checks, minutes) = (self.score.median_checks?, self.score.median_minutes?);
        let checks = words::count(checks, "check", "checks");
        Some(format!("{checks} and {}", words::minutes(minutes)))
    }

    fn strengths(&self) -> String {
        let (stand, orders) = (
            &self.stand,
            words::count(self.stand.share_strength, "order", "orders"),
        );
        format!(
            "Now the catalogue’s shares count for {orders} in each family, {} in an age or a season, and its answers \
             for {} on each question.",
            stand.cell_strength, stand.answer_strength
        )
    }

    fn figure(&self, figure: Option<f64>) -> String {
        figure.map_or("–".to_owned(), |figure| format!("{figure:.2}"))
    }

    fn tenths(&self) -> Vec<Tenth> {
        calibration::tenths(&self.did().bins)
    }

    fn picture(&self) -> Markup {
        calibration::picture(&self.did().bins)
    }

    fn off(&self) -> String {
        self.did().calibration_error().map_or(String::new(), percent)
    }

    /// What the log loss means: the chance that it gave to what was found, on the (geometric) average.
    fn chance(&self) -> String {
        self.did()
            .log_loss
            .map_or(String::new(), |loss| percent((-loss).exp()))
    }
}

impl Did {
    fn firsts(&self) -> Share {
        Share::new(self.first, self.orders)
    }

    fn first_threes(&self) -> Share {
        Share::new(self.first_three, self.orders)
    }
}

impl Taught {
    fn of(current: &Current, counts: &super::learn::Counts) -> Taught {
        let name = |code: &str| {
            current
                .cause(code)
                .map_or(code.to_owned(), |cause| cause.name.clone())
        };
        let oftener = |one: Oftener| {
            let family = FAMILIES
                .iter()
                .find(|known| known.0 == one.family)
                .map_or("", |known| known.1);
            let when = one.season.map_or("all year", Season::words);
            line(name(&one.cause), format!("{family}, {when}"), &one.beside)
        };
        let answered = |one: Answered| {
            let (asked, said) = (
                current.figures.words.asked(&one.question),
                current.figures.words.said(&one.question, &one.answer),
            );
            line(name(&one.cause), format!("{asked}: {said}"), &one.beside)
        };
        Taught {
            orders: taught::orders(counts, current),
            shares: taught::shares(current, counts).into_iter().map(oftener).collect(),
            answers: taught::answers(current, counts)
                .into_iter()
                .map(answered)
                .collect(),
        }
    }
}

fn line(what: String, of: String, beside: &taught::Beside) -> Line {
    Line {
        what,
        of,
        here: beside.here,
        catalogue: percent(beside.catalogue),
        times: beside.times(),
    }
}

/// The last twelve months unless something else is asked for.
fn span(ask: &Ask, today: Day) -> Result<Span, Problems> {
    if ask.from.trim().is_empty() && ask.to.trim().is_empty() {
        return Ok(Span::up_to(today.month(), 12));
    }
    ask.understand(today).map(|asked| asked.span)
}

async fn show(app: &App, who: &Who, mut ask: Ask, shown: Shown) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let today = shop.today(app.clock.now());
    let (span, asked) = match span(&ask, today) {
        Ok(span) => (Some(span), Problems::default()),
        Err(problems) => (None, problems),
    };
    let score = match span {
        Some(span) => Score::read(&app.db, span).await?,
        None => Score::default(),
    };
    if let Some(span) = span {
        (ask.from, ask.to) = (span.from.iso(), span.to.iso());
    }
    let read = |current: &Current, counts: &_| (current.stand.clone(), Taught::of(current, counts));
    let (stand, taught) = app.models.counted(&app.db, read).await?;
    let status = match (&shown.changed, shown.problems.is_empty() && asked.is_empty()) {
        (Some(_), _) => StatusCode::PRECONDITION_FAILED,
        (None, true) => StatusCode::OK,
        (None, false) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let page = EarsPage {
        frame: Frame::new("How well it guesses", shop.name, who, "month"),
        ask,
        asked,
        span,
        score,
        taught,
        stand,
        problems: shown.problems,
        typed: shown.typed,
        version: shown.version,
        changed: shown.changed,
        kept: shown.kept,
    };
    Ok((status, html(page)?).into_response())
}

fn typed_of(stand: &Stand) -> Typed {
    Typed::default()
        .with("follow", &*stand.follow)
        .with("pace", settings::pace(stand))
}

/// `GET /ears?from=2025-03&to=2026-02`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    RawQuery(query): RawQuery,
) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let stand = Stand::get(&app.db).await?;
    let shown = Shown {
        problems: Problems::default(),
        typed: typed_of(&stand),
        version: stand.version,
        changed: None,
        kept: query.is_some_and(|query| query.contains("kept=yes")),
    };
    show(&app, &who, ask, shown).await
}

/// The settings as the page sends them.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct SettingsForm {
    follow: String,
    pace: String,
    version: i64,
}

/// `POST /ears`
///
/// # Errors
/// What the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<SettingsForm>,
) -> Result<Response> {
    let SettingsForm {
        follow,
        pace,
        version,
    } = form.of;
    let mut tx = app.db.begin().await?;
    let now = Stand::get(&mut tx).await?;
    let mut shown = Shown {
        problems: Problems::default(),
        typed: form.typed,
        version,
        changed: None,
        kept: false,
    };
    match settings::change(&mut tx, version, &NewSettings { follow, pace }).await {
        Err(Error::Problems(problems)) => shown.problems = problems,
        Err(Error::Stale(_)) => {
            shown.changed = Some(changed::between(&FIELDS, &typed_of(&now), &shown.typed));
            shown.version = now.version;
        }
        kept => {
            kept?;
            tx.commit().await?;
            return Ok(Redirect::to("/ears?kept=yes").into_response());
        }
    }
    drop(tx); // the page reads as of now
    show(&app, &who, Ask::default(), shown).await
}
