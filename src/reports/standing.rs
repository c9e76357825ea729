//! Standing is what is to be thought of each cause: where it stands out, whether it goes with age, how it swings over the year.

use super::bands::{Band, Bands};
use super::calendar::Calendar;
use super::figures::season::Swing;
use super::figures::trend::Trend;
use super::recurrence::Recurrence;
use super::season::Season;
use super::share::Share;
use super::span::month_name;
use super::weigh::{Way, Weighed, is_told, over_table, shrunk, table, trend};
use crate::clock::YearMonth;

/// Of one cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Each age band, the youngest first.
    pub bands: Vec<Weighed>,
    /// Each season that the shop has.
    pub seasons: Vec<Weighed>,
    pub trend: Option<Trend>,
    /// Over all causes.
    pub trend_q: Option<f64>,
    pub swing: Option<Swing>,
    /// Over all causes.
    pub swing_q: Option<f64>,
}

/// Where a cause stands out most.
#[derive(Clone, Debug, PartialEq)]
pub struct Outstanding {
    /// Its place among the causes.
    pub cause: usize,
    pub band: Band,
    pub weighed: Weighed,
}

/// Of each cause of the figures, in their order: seasons by one calendar, the swing over the year by another that may hold
/// more years.
#[must_use]
pub fn standings(
    figures: &Recurrence,
    seasons: &[Season],
    by_season: &Calendar,
    over_year: &Calendar,
) -> Vec<Standing> {
    let causes = &figures.causes;
    let of_bands: Vec<(Share, Vec<Share>)> = causes
        .iter()
        .map(|cause| {
            let bands = figures.bands.all().map(|band| figures.of_band(cause, band));
            (figures.share(cause), bands.collect())
        })
        .collect();
    let of_seasons: Vec<(Share, Vec<Share>)> = causes
        .iter()
        .map(|cause| {
            let share = |season: &Season| by_season.share(*season, &cause.cause);
            (by_season.all(&cause.cause), seasons.iter().map(share).collect())
        })
        .collect();
    let trends: Vec<Option<Trend>> = causes.iter().map(|cause| trend(figures, cause)).collect();
    let swings: Vec<Option<Swing>> = causes.iter().map(|cause| over_year.swing(&cause.cause)).collect();
    let trend_q = over_table(trends.iter().map(|trend| trend.map(|trend| trend.p_value)));
    let swing_q = over_table(swings.iter().map(|swing| swing.map(|swing| swing.p_value)));
    let (bands, seasons) = (table(&of_bands), table(&of_seasons));
    let tests = trends
        .into_iter()
        .zip(trend_q)
        .zip(swings.into_iter().zip(swing_q));
    bands
        .into_iter()
        .zip(seasons)
        .zip(tests)
        .map(
            |((bands, seasons), ((trend, trend_q), (swing, swing_q)))| Standing {
                bands,
                seasons,
                trend,
                trend_q,
                swing,
                swing_q,
            },
        )
        .collect()
}

/// What stands out by age, more often than elsewhere: first what is to be expected most times as often as in the whole shop.
#[must_use]
pub fn outstanding(bands: &Bands, standings: &[Standing]) -> Vec<Outstanding> {
    let mut all: Vec<(f64, Outstanding)> = Vec::new();
    for (cause, standing) in standings.iter().enumerate() {
        let more = |weighed: &Weighed| weighed.way() == Some(Way::More) && !weighed.share.few();
        if !standing.bands.iter().any(more) {
            continue;
        }
        for ((band, weighed), shrunk) in bands.all().zip(&standing.bands).zip(shrunk(&standing.bands)) {
            let times = shrunk
                .zip(weighed.whole.rate())
                .map(|(shrunk, whole)| shrunk / whole);
            if let (true, Some(times)) = (more(weighed), times) {
                let weighed = *weighed;
                all.push((times, Outstanding { cause, band, weighed }));
            }
        }
    }
    all.sort_by(|one, other| other.0.total_cmp(&one.0));
    all.into_iter().map(|outstanding| outstanding.1).collect()
}

impl Standing {
    /// "rises by 4 in 100 a band"; "level" where chance explains what there is, nothing where too few were confirmed.
    #[must_use]
    pub fn with_age(&self) -> Option<String> {
        let trend = self.trend?;
        if !is_told(self.trend_q) {
            return Some("level".to_owned());
        }
        let way = if trend.z > 0.0 { "rises" } else { "falls" };
        Some(format!(
            "{way} by {} in 100 a band",
            hundredths(trend.slope.abs())
        ))
    }

    /// "rises" or "falls", where it is told.
    #[must_use]
    pub fn trend_word(&self) -> Option<&'static str> {
        let trend = self.trend.filter(|_| is_told(self.trend_q))?;
        Some(if trend.z > 0.0 { "rises" } else { "falls" })
    }

    /// "highest in January, December to February, 2.3 times the odds of July"; "level" where chance explains what there is,
    /// nothing where too few were confirmed.
    #[must_use]
    pub fn over_year(&self) -> Option<String> {
        let swing = self.swing?;
        if !is_told(self.swing_q) {
            return Some("level".to_owned());
        }
        Some(peak(&swing))
    }

    /// The swing, where it is told.
    #[must_use]
    pub fn told_swing(&self) -> Option<Swing> {
        self.swing.filter(|_| is_told(self.swing_q))
    }
}

/// "4", "0.7": so many in a hundred.
fn hundredths(rate: f64) -> String {
    let hundredths = rate * 100.0;
    if hundredths >= 2.0 {
        format!("{hundredths:.0}")
    } else if hundredths >= 0.1 {
        format!("{hundredths:.1}")
    } else {
        "under 0.1".to_owned()
    }
}

/// "highest in January (December to February), 2.3 times the odds of July"
#[must_use]
pub fn peak(swing: &Swing) -> String {
    let highest = month_at(swing.peak);
    let within = swing.peak_within.map_or(String::new(), |within| {
        let (from, to) = (month_at(swing.peak - within), month_at(swing.peak + within));
        if from == highest && to == highest {
            String::new()
        } else {
            format!(" ({from} to {to})")
        }
    });
    let ratio = swing.ratio();
    let times = if ratio < 9.95 {
        format!("{ratio:.1}")
    } else if ratio < 100.0 {
        format!("{ratio:.0}")
    } else {
        "over 100".to_owned()
    };
    let lowest = month_at(swing.peak + 6.0);
    format!("highest in {highest}{within}, {times} times the odds of {lowest}")
}

/// The month at a point of the year, from 0 at the start of January.
fn month_at(point: f64) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "from 0 to 12")]
    let month = point.rem_euclid(12.0).floor() as i64;
    month_name(YearMonth(month.clamp(0, 11)))
}
