//! A percentage is how often an answer comes, as somebody types it; the database keeps shares of one.

use crate::form::Problems;

use super::entry::{decimal, within};

/// No answer never comes, and none always: either would settle a question by itself.
const LEAST: f64 = 0.5;
const MOST: f64 = 99.5;

/// A share in a hundred as it is told: 0.45 is 45, a third 33.3.
#[must_use]
pub fn of(share: f64) -> f64 {
    (share * 1000.0).round() / 10.0
}

/// The same as it is typed.
#[must_use]
pub fn typed(share: f64) -> String {
    of(share).to_string()
}

/// A percentage as somebody typed it, with or without its sign; empty is none.
#[must_use]
pub fn number(text: &str) -> Option<f64> {
    let text = text.trim().trim_end_matches('%').trim_end();
    (!text.is_empty()).then(|| decimal(text))
}

/// The shares of percentages, field by field, with none for a field left empty. All given, they must make 100 within
/// rounding and are brought to 1; with some left empty, something must be left for those.
pub fn read(problems: &mut Problems, fields: &[(String, Option<f64>)]) -> Vec<Option<f64>> {
    let before = problems.iter().count();
    let given: Vec<Option<f64>> = fields
        .iter()
        .map(|(field, percent)| one(problems, field, (*percent)?))
        .collect();
    let (sum, filled) = given
        .iter()
        .flatten()
        .fold((0.0, 0_u32), |(sum, filled), percent| (sum + percent, filled + 1));
    let Some((field, _)) = fields.first() else {
        return given;
    };
    if problems.iter().count() > before || filled == 0 {
        return given;
    }
    let rounding = 0.5 * f64::from(filled);
    let words = typed(sum / 100.0);
    if given.iter().all(Option::is_some) {
        if (sum - 100.0).abs() > rounding {
            problems.add(
                field,
                format!("Together these make {words}\u{a0}%. Let them make 100."),
            );
        }
        return given
            .iter()
            .map(|percent| percent.map(|percent| percent / sum))
            .collect();
    }
    if sum > 100.0 + rounding {
        problems.add(
            field,
            format!("Together these make {words}\u{a0}%, more than 100. Lower some."),
        );
    } else if sum > MOST {
        problems.add(field, "Nothing is left for those that are empty. Lower some.");
    }
    given
        .iter()
        .map(|percent| percent.map(|percent| percent / 100.0))
        .collect()
}

fn one(problems: &mut Problems, field: &str, given: f64) -> Option<f64> {
    let before = problems.iter().count();
    let percent = within(problems, field, given, &(LEAST..=MOST));
    (problems.iter().count() == before).then_some(percent)
}

/// What is left for each field that was left empty, in equal parts.
#[must_use]
pub fn filled(shares: &[Option<f64>]) -> Vec<f64> {
    let empty = shares.iter().filter(|share| share.is_none()).count();
    let rest = 1.0 - shares.iter().flatten().sum::<f64>();
    let each = rest / f64::from(u32::try_from(empty.max(1)).unwrap_or(1));
    shares.iter().map(|share| share.unwrap_or(each)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_all(typed: &[&str]) -> (Vec<Option<f64>>, String) {
        let mut problems = Problems::default();
        let fields: Vec<_> = typed.iter().map(|text| ("f".to_owned(), number(text))).collect();
        let shares = read(&mut problems, &fields);
        (shares, problems.at("f").to_owned())
    }

    #[test]
    fn what_is_rounded_makes_one_and_what_is_amiss_is_told() {
        let (thirds, words) = read_all(&["33,3", "33.3", "33.3 %"]);
        assert!(words.is_empty() && (thirds[0].unwrap_or(0.0) - 1.0 / 3.0).abs() < 1e-12);
        assert!(read_all(&["60", "30"]).1.contains("make 90\u{a0}%"));
        assert!(read_all(&["60", "50", ""]).1.contains("more than 100"));
        assert!(read_all(&["60", "40", ""]).1.contains("Nothing is left"));
        assert!(read_all(&["100", ""]).1.contains("from 0.5 to 99.5"));
        assert!(read_all(&["many", ""]).1.contains("from 0.5 to 99.5"));
    }

    #[test]
    fn those_left_empty_share_what_is_left() {
        let (shares, words) = read_all(&["60", "", ""]);
        assert!(words.is_empty());
        assert!((filled(&shares)[1] - 0.2).abs() < 1e-12);
        assert_eq!(filled(&read_all(&["", "", "", ""]).0), [0.25; 4]);
        assert_eq!((typed(1.0 / 3.0), typed(0.45)), ("33.3".into(), "45".into()));
    }
}
