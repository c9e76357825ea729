//! A tag is the short number tied to an instrument, spoken over the phone: digits only, the last one a Damm check digit.

use thiserror::Error;

/// The lowest running number, so that every tag has at least five digits and none begins with 0.
pub const FIRST_NUMBER: i64 = 1000;
const FEWEST_DIGITS: usize = 5;
const MOST_DIGITS: usize = 10;

/// A totally anti-symmetric quasigroup of order 10 with 0 on its diagonal: H. M. Damm, "Total anti-symmetrische
/// Quasigruppen", Marburg 2004. It catches every wrong digit and every swap of two neighbours. The table is from memory;
/// the tests count both kinds of slip one by one.
const DAMM: [[u8; 10]; 10] = [
    [0, 3, 1, 7, 5, 9, 8, 6, 4, 2],
    [7, 0, 9, 2, 1, 5, 4, 8, 6, 3],
    [4, 2, 0, 6, 8, 7, 1, 3, 5, 9],
    [1, 7, 5, 0, 9, 8, 3, 4, 2, 6],
    [6, 1, 2, 3, 0, 4, 5, 9, 7, 8],
    [3, 6, 7, 4, 2, 0, 9, 5, 8, 1],
    [5, 8, 6, 9, 7, 2, 0, 1, 3, 4],
    [8, 9, 4, 5, 3, 6, 2, 0, 1, 7],
    [9, 4, 3, 8, 6, 1, 7, 2, 0, 5],
    [2, 5, 8, 1, 4, 3, 6, 7, 9, 0],
];

/// Why what was typed is not a tag. The text is the hint for the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum Misread {
    #[error("Type the number on the tag.")]
    Empty,
    #[error("A tag has only the digits 0 to 9.")]
    NotDigits,
    #[error("That is too short for a tag: it has at least {FEWEST_DIGITS} digits.")]
    TooShort,
    #[error("That is too long for a tag: it has at most {MOST_DIGITS} digits.")]
    TooLong,
    #[error("A tag never begins with 0.")]
    LeadingZero,
    #[error("That number does not add up: read it again, digit by digit.")]
    DoesNotAddUp,
    /// One swap of neighbours would make it fit. The hint says so and stops there: to open the order that the
    /// swapped number names would be a guess, and the order may be a stranger's.
    #[error(
        "That number does not add up: read it again, digit by digit. Two neighbours may have changed places."
    )]
    MaybeSwapped,
}

/// The tag for a running number: its digits and a check digit behind them.
///
/// Running numbers begin at [`FIRST_NUMBER`]; a lower one gives a tag that [`read`] refuses, so it can open nothing.
#[must_use]
pub fn from_number(number: i64) -> String {
    let digits = number.max(0).to_string();
    let check = remainder(digits.bytes().map(|b| b - b'0'));
    format!("{digits}{check}")
}

/// Reads a tag as somebody typed or scanned it: spaces, hyphens, dots and a leading `#` do not matter.
///
/// # Errors
/// [`Misread`] says what is wrong with it, and what to do.
pub fn read(typed: &str) -> Result<String, Misread> {
    let typed = typed.trim();
    let typed = typed.strip_prefix('#').unwrap_or(typed);
    let mut digits = String::new();
    for sign in typed.chars() {
        match sign {
            '0'..='9' => digits.push(sign),
            // The no-break space and hyphen come along when a tag is copied from a page.
            ' ' | '-' | '.' | '\t' | '\u{a0}' | '\u{202f}' | '\u{2011}' => {}
            _ => return Err(Misread::NotDigits),
        }
        if digits.len() > MOST_DIGITS {
            return Err(Misread::TooLong);
        }
    }
    match digits.len() {
        0 => return Err(Misread::Empty),
        n if n < FEWEST_DIGITS => return Err(Misread::TooShort),
        _ => {}
    }
    // A zero in front leaves the check digit as it is, so this slip is caught by itself.
    if digits.starts_with('0') {
        return Err(Misread::LeadingZero);
    }
    if adds_up(&digits) {
        Ok(digits)
    } else if swaps_that_fit(&digits) == 1 {
        Err(Misread::MaybeSwapped)
    } else {
        Err(Misread::DoesNotAddUp)
    }
}

/// A tag in groups of three and two, as it is read aloud: "104 27", "104 275", "104 27 53".
#[must_use]
pub fn spoken(tag: &str) -> String {
    let signs: Vec<char> = tag.chars().collect();
    let mut groups: Vec<String> = Vec::new();
    let mut rest = signs.as_slice();
    while !rest.is_empty() {
        let size = if rest.len() == 2 || rest.len() == 4 {
            2
        } else {
            rest.len().min(3)
        };
        let (group, after) = rest.split_at(size);
        groups.push(group.iter().collect());
        rest = after;
    }
    groups.join(" ")
}

/// The check digit that belongs behind these digits; nothing if they are not all digits.
#[must_use]
pub fn check_digit(digits: &str) -> Option<u8> {
    let all = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    all.then(|| remainder(digits.bytes().map(|b| b - b'0')))
}

/// Whether the last digit is the check digit of those before it.
#[must_use]
pub fn adds_up(digits: &str) -> bool {
    check_digit(digits) == Some(0)
}

fn remainder(digits: impl Iterator<Item = u8>) -> u8 {
    digits.fold(0, |so_far, digit| DAMM[usize::from(so_far)][usize::from(digit)])
}

fn swaps_that_fit(digits: &str) -> usize {
    let signs: Vec<u8> = digits.bytes().map(|b| b - b'0').collect();
    (1..signs.len())
        .filter(|&at| {
            let mut swapped = signs.clone();
            swapped.swap(at - 1, at);
            swapped[0] != 0 && remainder(swapped.into_iter()) == 0
        })
        .count()
}
