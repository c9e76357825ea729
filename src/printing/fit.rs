//! Fitting one page: how small the type must be for all that is to be said, reckoned before it is printed.
//!
//! The reckoning is in lines of the type at hand. A line's height and its letters follow from the style sheet's sizes
//! in `static/paper.css` for Letter, which is the shorter sheet; the browser tests measure that one page it is.

/// How the type of a summary is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    Full,
    Tight,
    Tightest,
}

impl Scale {
    #[must_use]
    pub fn class(self) -> &'static str {
        match self {
            Scale::Full => "",
            Scale::Tight => "tight",
            Scale::Tightest => "tightest",
        }
    }
}

/// Room on a page of one setting: letters to a line, tenths of a line that fit, and what frames take of them.
struct Room {
    scale: Scale,
    letters: usize,
    tenths: usize,
    /// Head, rule and the place to sign.
    around: usize,
    /// Between two parts.
    part: usize,
    /// A row of the cost.
    row: usize,
}

const NORMAL: [Room; 3] = [
    Room {
        scale: Scale::Full,
        letters: 70,
        tenths: 500,
        around: 75,
        part: 12,
        row: 12,
    },
    Room {
        scale: Scale::Tight,
        letters: 84,
        tenths: 620,
        around: 80,
        part: 9,
        row: 11,
    },
    Room {
        scale: Scale::Tightest,
        letters: 100,
        tenths: 780,
        around: 90,
        part: 8,
        row: 11,
    },
];
const LARGE: [Room; 3] = [
    Room {
        scale: Scale::Full,
        letters: 70,
        tenths: 405,
        around: 85,
        part: 17,
        row: 12,
    },
    Room {
        scale: Scale::Tight,
        letters: 86,
        tenths: 500,
        around: 90,
        part: 16,
        row: 11,
    },
    Room {
        scale: Scale::Tightest,
        letters: 104,
        tenths: 600,
        around: 100,
        part: 15,
        row: 11,
    },
];

/// The words of a page: the letters of each line, part by part.
#[derive(Default)]
pub struct Text(Vec<Vec<usize>>);

impl Text {
    /// Adds a part with its lines; one without words is not on the page.
    pub fn part<'a>(&mut self, lines: impl IntoIterator<Item = &'a str>) {
        let lines = lines.into_iter().map(|line| line.chars().count());
        let lines: Vec<usize> = lines.filter(|letters| *letters > 0).collect();
        if !lines.is_empty() {
            self.0.push(lines);
        }
    }

    /// Adds a line to the last part.
    pub fn line(&mut self, line: &str) {
        if let Some(last) = self.0.last_mut().filter(|_| !line.is_empty()) {
            last.push(line.chars().count());
        }
    }

    fn tenths(&self, room: &Room) -> usize {
        let lines = |part: &Vec<usize>| {
            part.iter()
                .map(|letters| letters.div_ceil(room.letters) * 10)
                .sum::<usize>()
        };
        self.0.iter().map(|part| lines(part) + room.part).sum()
    }
}

/// The largest type in which it all fits, and how many rows of the cost there is room for.
#[must_use]
pub fn choose(large: bool, text: &Text, rows: usize) -> (Scale, usize) {
    let rooms = if large { &LARGE } else { &NORMAL };
    let left = |room: &Room| {
        room.tenths
            .saturating_sub(room.around + room.part + text.tenths(room))
            / room.row
    };
    for room in rooms {
        if left(room) >= rows {
            return (room.scale, rows);
        }
    }
    (Scale::Tightest, left(&rooms[2]))
}

/// The first of many, and how many there are beside them.
#[must_use]
pub fn at_most<T>(mut things: Vec<T>, most: usize, more: impl Fn(String) -> T) -> Vec<T> {
    if things.len() > most {
        let rest = things.len() - (most - 1);
        things.truncate(most - 1);
        things.push(more(format!("and {rest} more")));
    }
    things
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_more_there_is_the_smaller_it_is_set() {
        let mut text = Text::default();
        text.part(["It buzzes on the low string since the heating is on."]);
        assert_eq!(choose(false, &text, 6), (Scale::Full, 6));
        assert_eq!(choose(false, &text, 42).0, Scale::Tight);
        assert_eq!(choose(false, &text, 55).0, Scale::Tightest);
        let (scale, rows) = choose(false, &text, 500);
        assert_eq!(scale, Scale::Tightest);
        assert!((50..70).contains(&rows), "{rows}");
        assert!(choose(true, &text, 500).1 < rows);
    }

    #[test]
    fn what_does_not_fit_is_counted() {
        assert_eq!(at_most(vec!["a".to_owned()], 2, |more| more), ["a"]);
        let many = ["a", "b", "c", "d"].map(str::to_owned).to_vec();
        assert_eq!(at_most(many, 3, |more| more), ["a", "b", "and 2 more"]);
    }
}
