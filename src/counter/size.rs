//! A size class says whether a grown player's instrument was brought or a smaller one, from the size as it was written.
//!
//! Full size is, by common practice (no source): a violin or a cello from 7/8 on, a bass from 3/4 on, and a viola with a
//! body from 38 cm on, which is 15 inches. What is written in no such way is known of neither.

/// What grown players play, or smaller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SizeClass {
    Full,
    Fractional,
    /// No size was written, or none that can be read: a class of its own, never folded into another.
    Unknown,
}

/// A viola's body from so many millimetres on is a full-size one.
const VIOLA: f64 = 380.0;
/// None is longer.
const LONGEST: f64 = 500.0;
const INCH: f64 = 25.4;

/// How sizes are said in words, the longer before the shorter that they hold.
const WORDS: [(&str, f64); 6] = [
    ("seven eighth", 7.0 / 8.0),
    ("three quarter", 3.0 / 4.0),
    ("full", 1.0),
    ("half", 1.0 / 2.0),
    ("quarter", 1.0 / 4.0),
    ("eighth", 1.0 / 8.0),
];
const SIGNS: [(&str, &str); 9] = [
    ("½", " 1/2"),
    ("¼", " 1/4"),
    ("¾", " 3/4"),
    ("⅛", " 1/8"),
    ("⅞", " 7/8"),
    ("⁄", "/"),
    ("-", " "),
    (" /", "/"),
    ("/ ", "/"),
];

impl SizeClass {
    /// Of an instrument by its family and its size as written.
    #[must_use]
    pub fn of(family: &str, size: &str) -> SizeClass {
        let mut size = size.trim().to_lowercase();
        for (sign, plain) in SIGNS {
            size = size.replace(sign, plain);
        }
        let full = match family {
            "viola" => match length(&size) {
                Some(millimetres) => return SizeClass::among(millimetres, VIOLA, LONGEST),
                None => 1.0,
            },
            "bass" => 3.0 / 4.0,
            _ => 7.0 / 8.0,
        };
        match part(&size) {
            Some(part) => SizeClass::among(part, full, 1.0),
            None => SizeClass::Unknown,
        }
    }

    /// Full from one measure on; nothing is larger than the other.
    fn among(measure: f64, full: f64, largest: f64) -> SizeClass {
        if measure <= 0.0 || measure > largest {
            SizeClass::Unknown
        } else if measure >= full {
            SizeClass::Full
        } else {
            SizeClass::Fractional
        }
    }
}

/// Its numbers, a part of one as such: "15 1/2 in" is 15.5.
fn numbers(size: &str) -> impl Iterator<Item = f64> {
    size.split(|sign: char| !(sign.is_ascii_digit() || matches!(sign, '.' | ',' | '/')))
        .filter_map(|word| match word.split_once('/') {
            Some((of, parts)) => {
                let (of, parts): (f64, f64) = (of.parse().ok()?, parts.parse().ok()?);
                (parts > 0.0).then_some(of / parts)
            }
            None => word.replace(',', ".").parse().ok(),
        })
}

/// The size as a part of the full one, "3/4" or "three-quarter".
fn part(size: &str) -> Option<f64> {
    let mut numbers = numbers(size);
    match (numbers.next(), numbers.next()) {
        (Some(part), None) if size.contains('/') => Some(part),
        (None, _) => WORDS.iter().find(|word| size.contains(word.0)).map(|word| word.1),
        _ => None,
    }
}

/// The length of a body in millimetres, from inches unless it says otherwise or cannot be.
fn length(size: &str) -> Option<f64> {
    let whole: Vec<f64> = numbers(size).collect();
    let length = match whole.as_slice() {
        [one] if !size.contains('/') => *one,
        [one, part] if *part < 1.0 => one + part,
        _ => return None,
    };
    if size.contains("mm") || (!size.contains("in") && length >= 200.0) {
        Some(length)
    } else if size.contains("cm") || (!size.contains("in") && length >= 25.0) {
        Some(length * 10.0)
    } else {
        Some(length * INCH)
    }
}

#[cfg(test)]
mod tests {
    use super::SizeClass::{self, Fractional, Full, Unknown};
    use crate::counter::instrument::FAMILIES;

    #[test]
    fn each_size_of_the_list_is_of_one_class() {
        let fractional = [
            ("violin", &["3/4", "1/2", "1/4", "1/8", "1/10", "1/16"][..]),
            ("viola", &["14 in", "13 in", "12 in"][..]),
            ("cello", &["3/4", "1/2", "1/4", "1/8", "1/10"][..]),
            ("bass", &["1/2", "1/4"][..]),
        ];
        for (family, small) in fractional {
            let sizes = FAMILIES.iter().find(|known| known.0 == family).unwrap().2;
            for size in sizes {
                let class = if small.contains(size) { Fractional } else { Full };
                assert_eq!(SizeClass::of(family, size), class, "{family} {size}");
            }
        }
    }

    #[test]
    fn a_size_is_read_however_it_is_written() {
        for (family, size, class) in [
            ("violin", " 4 / 4", Full),
            ("violin", "Full size", Full),
            ("violin", "7/8 (lady's)", Full),
            ("violin", "¾", Fractional),
            ("violin", "Three-quarter", Fractional),
            ("bass", "three-quarter", Full),
            ("bass", "half", Fractional),
            ("cello", "1⁄2", Fractional),
            ("cello", "5/4", Unknown),
            ("cello", "4/0", Unknown),
            ("cello", "75 cm", Unknown),
            ("viola", "15.5\"", Full),
            ("viola", "15 1/2 in", Full),
            ("viola", "16¼", Full),
            ("viola", "14 ½ in", Fractional),
            ("viola", "395 mm", Full),
            ("viola", "38 cm", Full),
            ("viola", "38,1", Full),
            ("viola", "360", Fractional),
            ("viola", "3/4", Fractional),
            ("viola", "4/4", Full),
            ("viola", "tenor", Unknown),
            ("violin", "", Unknown),
            ("violin", "large", Unknown),
        ] {
            assert_eq!(SizeClass::of(family, size), class, "{family} {size:?}");
        }
    }
}
