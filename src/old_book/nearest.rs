//! The nearest is the known word that a mistyped one most likely means.

use crate::counter::find::fold;

/// The nearest of the known, if any is near enough to be meant: at most a third of its letters differ.
#[must_use]
pub fn nearest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let plain = |text: &str| -> Vec<char> { fold(text).chars().filter(|c| c.is_alphanumeric()).collect() };
    let typed: Vec<char> = plain(typed).into_iter().take(80).collect();
    known
        .into_iter()
        .map(|known| (distance(&typed, &plain(known)), known))
        .filter(|(far, known)| *far * 3 <= known.chars().count().max(3))
        .min_by_key(|(far, _)| *far)
        .map(|(_, known)| known)
}

/// How many letters must be put in, left out or changed (V. I. Levenshtein, 1966).
fn distance(one: &[char], other: &[char]) -> usize {
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (at, letter) in one.iter().enumerate() {
        let mut before = at;
        row[0] = at + 1;
        for (to, against) in other.iter().enumerate() {
            let changed = before + usize::from(letter != against);
            before = row[to + 1];
            row[to + 1] = changed.min(before + 1).min(row[to] + 1);
        }
    }
    row[other.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_distance_is_that_of_the_printed_examples() {
        // The usual examples of the textbooks.
        let far = |one: &str, other: &str| {
            let of = |text: &str| text.chars().collect::<Vec<_>>();
            distance(&of(one), &of(other))
        };
        assert_eq!(far("kitten", "sitting"), 3);
        assert_eq!(far("saturday", "sunday"), 3);
        assert_eq!(far("", "abc"), 3);
    }

    #[test]
    fn a_slip_finds_its_word_and_nonsense_finds_none() {
        let known = ["seam_open_upper", "seam_open_lower", "wolf_note"];
        assert_eq!(nearest("Seam open uper", known), Some("seam_open_upper"));
        assert_eq!(nearest("wolf-notte", known), Some("wolf_note"));
        assert_eq!(nearest("piano", known), None);
        assert_eq!(nearest("", known), None);
    }
}
