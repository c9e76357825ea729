//! Sentences say in words what the figures of a span come to: each is counted, and true at any size.

use std::fmt::Write;

use crate::words::{count, minutes};

use super::bands::{Band, Bands};
use super::calendar::Calendar;
use super::group::Group;
use super::recurrence::{Confirmed, Names, Recurrence, Totals};
use super::season::Season;
use super::sentence::{COUNTED, Piece, Sentence};
use super::share::{Share, TOO_FEW};
use super::span::{Span, capital};
use super::standing::{self, Standing};
use super::takings::{Job, Takings};
use super::weigh::Way;

/// All that there is to speak of.
pub struct Told<'a> {
    pub span: Span,
    /// The span is not over yet.
    pub so_far: bool,
    pub group: &'a Group,
    pub figures: &'a Recurrence,
    /// The months that the seasons are read from, and their figures.
    pub seasons: (Span, &'a Calendar),
    /// The months that the swing over the year is read from.
    pub years: Span,
    /// Of each cause of the figures.
    pub standings: &'a [Standing],
    pub earlier: &'a [(Span, Totals)],
    pub takings: &'a Takings,
    /// Of the whole shop, whichever group was asked for.
    pub every_family: &'a Totals,
    pub names: &'a Names,
    /// What was charged in all, as it is shown.
    pub charged: &'a str,
}

impl Told<'_> {
    /// At most five.
    #[must_use]
    pub fn sentences(&self) -> Vec<Sentence> {
        let sentences = [
            Some(self.inspected()),
            self.most_often(),
            self.stands_out().or_else(|| self.then()),
            self.by_age_and_season(),
            self.work(),
        ];
        sentences.into_iter().flatten().collect()
    }

    fn inspected(&self) -> Sentence {
        let all = self.figures.inspected.all();
        let (of, within) = (self.group.on, self.span.within());
        if all == 0 {
            let so_far = if self.so_far { " so far" } else { "" };
            let rest = format!("{of} received {within} was inspected{so_far}.");
            return Piece::new("Nothing", rest, COUNTED).into();
        }
        let orders = count(all, "order", "orders");
        let were = if all == 1 { "was" } else { "were" };
        let so_far = if self.so_far { " so far" } else { "" };
        let mut words = format!("{of} received {within} {were} inspected{so_far}");
        let before: Vec<String> = self
            .earlier
            .iter()
            .map(|year| crate::words::grouped(year.1.inspected.max(0).unsigned_abs()))
            .collect();
        if !before.is_empty() {
            let _ = write!(words, "; {} {}", self.before(before.len()), listed(&before));
        }
        Piece::new(orders, words + ".", self.whole()).into()
    }

    /// Where the whole of what was inspected stands.
    fn whole(&self) -> &'static str {
        match (self.earlier, self.figures.causes.as_slice()) {
            ([_, ..], _) => "years",
            ([], [_, ..]) => "causes",
            ([], []) => COUNTED,
        }
    }

    /// "in the same month of the three years before".
    fn before(&self, years: usize) -> String {
        let months = if self.span.is_month() { "month" } else { "months" };
        match (years, self.span.years_apart()) {
            (1, 1) if self.span.is_year() => "the year before".to_owned(),
            (1, 1) => "a year before".to_owned(),
            (years, 1) if self.span.is_year() => format!("in the {} years before", in_words(years)),
            (years, 1) => format!("in the same {months} of the {} years before", in_words(years)),
            (1, _) => "in the span before".to_owned(),
            (years, _) => format!("in the {} spans before", in_words(years)),
        }
    }

    /// The causes that were confirmed most often: one, or all that share the place.
    fn leaders(&self) -> &[Confirmed] {
        let causes = &self.figures.causes;
        let most = causes.first().map_or(0, |cause| cause.orders.all());
        let shared = causes
            .iter()
            .take_while(|cause| cause.orders.all() == most)
            .count();
        &causes[..shared]
    }

    fn most_often(&self) -> Option<Sentence> {
        if self.figures.inspected.all() == 0 {
            return None;
        }
        let leaders = self.leaders();
        let Some(first) = leaders.first() else {
            return Some(Piece::new("No cause was confirmed.", "", self.whole()).into());
        };
        let share = self.figures.share(first);
        let counts = share.counts();
        if leaders.len() > 3 {
            let causes = count(
                i64::try_from(leaders.len()).unwrap_or(i64::MAX),
                "cause",
                "causes",
            );
            let rest = format!(" {causes} were confirmed in {counts} each.");
            return Some(Piece::new("No cause leads:", rest, "causes").into());
        }
        let names: Vec<String> = match leaders {
            [one] => vec![self.names.of(&one.cause)],
            several => several.iter().map(|cause| self.quoted(&cause.cause)).collect(),
        };
        let each = if leaders.len() > 1 { "each in" } else { "in" };
        let mut rest = format!(" {each} {counts}");
        if share.few() {
            rest.push_str(", too few to say more.");
        } else {
            let range = share.range().replace("to", "and");
            let _ = write!(rest, " ({}, between {range}).", share.percent());
            if leaders.len() == 1 {
                rest.push_str(&self.beside_earlier(&first.cause, share));
                rest.push_str(&self.beside_others(&first.cause, share));
            }
        }
        let lead = format!("Most often: {},", listed(&names));
        Some(Piece::new(lead, rest, "causes").into())
    }

    /// Whether the share of the earlier years together lies in the range of this one's.
    fn beside_earlier(&self, cause: &str, share: Share) -> String {
        let years = self.earlier.iter().map(|year| year.1.share(cause));
        let together = years.fold(Share::default(), |sum, year| {
            Share::new(sum.confirmed + year.confirmed, sum.inspected + year.inspected)
        });
        beside(&capital(&self.before(self.earlier.len())), together, share)
    }

    /// The same for the rest of the shop, where the report is of a group.
    fn beside_others(&self, cause: &str, share: Share) -> String {
        if self.group.code.is_empty() {
            return String::new();
        }
        let all = self.every_family.share(cause);
        let others = Share::new(all.confirmed - share.confirmed, all.inspected - share.inspected);
        beside("On the other instruments", others, share)
    }

    /// In a list a name needs its bounds, for it may have commas itself.
    fn quoted(&self, cause: &str) -> String {
        format!("“{}”", self.names.of(cause))
    }

    fn then(&self) -> Option<Sentence> {
        let leaders = self.leaders().len();
        let causes = &self.figures.causes;
        if leaders > 3 || causes.len() <= leaders {
            return None;
        }
        let next: Vec<String> = causes[leaders..]
            .iter()
            .take(3)
            .map(|cause| format!("{} ({})", self.quoted(&cause.cause), cause.orders.all()))
            .collect();
        let all = i64::try_from(causes.len()).unwrap_or(i64::MAX);
        let more = if causes.len() > leaders + next.len() {
            format!(" In all, {} were confirmed.", count(all, "cause", "causes"))
        } else {
            String::new()
        };
        Some(Piece::new("Then:", format!(" {}.{more}", listed(&next)), "causes").into())
    }

    /// Where causes other than the leading one turn up more often than chance explains: two at most.
    fn stands_out(&self) -> Option<Sentence> {
        let leads = |cause: usize| cause == 0 && self.leaders().len() == 1;
        let told: Vec<String> = standing::outstanding(&self.figures.bands, self.standings)
            .into_iter()
            .filter(|outstanding| !leads(outstanding.cause))
            .take(2)
            .filter_map(|outstanding| {
                let cause = self.figures.causes.get(outstanding.cause)?;
                let (here, elsewhere) = (outstanding.weighed.share, outstanding.weighed.elsewhere());
                Some(format!(
                    "{} in instruments {}, {} ({} elsewhere)",
                    self.quoted(&cause.cause),
                    self.of_age(outstanding.band),
                    here.counts(),
                    elsewhere.counts()
                ))
            })
            .collect();
        let rest = format!(" {}.", told.join("; "));
        (!told.is_empty()).then(|| Piece::new("More often than chance explains:", rest, "ages").into())
    }

    /// Of the one cause that leads.
    fn by_age_and_season(&self) -> Option<Sentence> {
        let [leader] = self.leaders() else { return None };
        let mut pieces: Vec<Piece> = [self.by_age(leader), self.by_season(leader)]
            .into_iter()
            .flatten()
            .collect();
        let first = pieces.first_mut()?;
        first.rest = format!(" {}{}", first.lead, first.rest);
        first.lead = format!("{}:", self.names.of(&leader.cause));
        for next in pieces.iter_mut().skip(1) {
            next.lead = capital(&next.lead);
        }
        Some(Sentence { pieces })
    }

    fn by_age(&self, leader: &Confirmed) -> Option<Piece> {
        let mut bands: Vec<(Band, Share)> = (self.figures.bands.known())
            .map(|band| (band, self.figures.of_band(leader, band)))
            .filter(|band| !band.1.few())
            .collect();
        bands.sort_by(|one, other| rate(one.1).total_cmp(&rate(other.1)));
        let (least, most) = (bands.first()?, bands.last()?);
        // Where two bands share the end, neither is the one.
        let alone = |share: Share| bands.iter().filter(|band| is_equal(band.1, share)).count() == 1;
        if bands.len() < 2 || !alone(least.1) || !alone(most.1) {
            return None;
        }
        let standing = self.standings.first();
        let way = |band: Band| standing.and_then(|standing| standing.bands.get(band.place())?.way());
        let beyond = way(most.0) == Some(Way::More) || way(least.0) == Some(Way::Less);
        let chance = match standing.and_then(Standing::trend_word) {
            Some(word) => format!("; it {word} with age"),
            None if beyond => "; that is more than chance explains".to_owned(),
            None => "; that may be chance".to_owned(),
        };
        let rest = format!(
            " most often in instruments {} ({}), least often in those {} ({}){chance}.",
            self.of_age(most.0),
            most.1.counts(),
            self.of_age(least.0),
            least.1.counts()
        );
        Some(Piece::new("by age", rest, "ages"))
    }

    fn of_age(&self, band: Band) -> String {
        of_age(&self.figures.bands, band)
    }

    fn by_season(&self, leader: &Confirmed) -> Option<Piece> {
        // The wave over the year says more than the seasons, where there is one.
        if let Some(swing) = self.standings.first().and_then(Standing::told_swing) {
            let rest = format!(" it was {}.", standing::peak(&swing));
            return Some(Piece::new(self.years.within(), rest, "heat"));
        }
        let (span, by_season) = self.seasons;
        let shares: Vec<String> = Season::ALL
            .into_iter()
            .map(|season| (season, by_season.share(season, &leader.cause)))
            .filter(|season| !season.1.none())
            .map(|(season, share)| format!("{} in {}", share.counts(), season.words()))
            .collect();
        let rest = format!(" it was {}.", listed(&shares));
        (shares.len() > 1).then(|| Piece::new(span.within(), rest, "seasons"))
    }

    /// Comebacks, minutes and money, which are counted of the whole shop.
    fn work(&self) -> Option<Sentence> {
        let mut pieces = Vec::new();
        let (confirmed, back) = (self.every_family.all_confirmed(), self.takings.all_comebacks());
        if confirmed > 0 {
            pieces.push(comebacks(confirmed, back));
        }
        let work = Job::sum(&self.takings.jobs);
        if work.steps > 0 {
            let mut rest = format!(
                " took {} against {} planned",
                minutes(work.actual_minutes),
                minutes(work.planned_minutes)
            );
            if work.steps >= TOO_FEW && work.planned_minutes > 0 {
                let _ = write!(rest, ": {}", work.against_plan());
            }
            let steps = count(work.steps, "step", "steps");
            pieces.push(Piece::new(steps, rest + ".", "minutes"));
        }
        let pickups = self.takings.pickups();
        if pickups > 0 {
            let rest = format!(" was charged at {}.", count(pickups, "pickup", "pickups"));
            pieces.push(Piece::new(self.charged, rest, "money"));
        }
        let first = pieces.first_mut()?;
        if !self.group.code.is_empty() {
            first.lead = format!("The whole shop: {}", first.lead);
        }
        Some(Sentence { pieces })
    }
}

/// Whether another share lies in the range of this one.
fn beside(place: &str, other: Share, share: Share) -> String {
    let (Some(rate), Some(range)) = (other.rate(), share.interval()) else {
        return String::new();
    };
    if other.few() {
        return format!(" {place} too few were inspected to compare.");
    }
    let lies = if rate < range.low {
        "below that range"
    } else if rate > range.high {
        "above that range"
    } else {
        "within that range"
    };
    format!(
        " {place} it was {} ({}), {lies}.",
        other.percent(),
        other.counts()
    )
}

fn comebacks(confirmed: i64, back: i64) -> Piece {
    let lead = if confirmed == 1 {
        "One cause was confirmed,".to_owned()
    } else {
        format!("Of {},", count(confirmed, "confirmed cause", "confirmed causes"))
    };
    let rest = match (confirmed, back) {
        (1, 0) => " and it was no comeback.".to_owned(),
        (1, _) => " and it was a comeback.".to_owned(),
        (_, 0) => " none was a comeback.".to_owned(),
        (_, 1) => " one was a comeback.".to_owned(),
        _ => format!(" {} were comebacks.", crate::words::grouped(back.unsigned_abs())),
    };
    Piece::new(lead, rest, "comebacks")
}

fn rate(share: Share) -> f64 {
    share.rate().unwrap_or_default()
}

/// The same rate, to the order.
fn is_equal(one: Share, other: Share) -> bool {
    one.confirmed * other.inspected == other.confirmed * one.inspected
}

/// "under 2 years", "of 2 to 19 years".
pub(super) fn of_age(bands: &Bands, band: Band) -> String {
    let words = bands.words(band);
    if words.starts_with("under") {
        words
    } else {
        format!("of {words}")
    }
}

/// "a", "a and b", "a, b and c".
#[must_use]
pub fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

fn in_words(n: usize) -> &'static str {
    ["no", "one", "two", "three", "four", "five"]
        .get(n)
        .copied()
        .unwrap_or("several")
}
