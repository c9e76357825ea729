//! Fitting one page: how small the type must be for all that is to be said, reckoned before it is printed.
//!
//! The sizes are those of `static/paper.css`. Letter is reckoned with, the shorter of the two sheets; that it comes to one
//! page is for a browser to say.

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

/// Room on a page of one setting, in hundredths of a line, and letters to a line. Measured in Chromium on Letter with
/// the type at hand, less 7 % of the letters for words that move to the next line.
struct Room {
    scale: Scale,
    /// Letters beside the drawing, and across the page.
    beside: usize,
    across: usize,
    page: usize,
    /// Head, rule, the note on rounding, and the place to sign.
    around: usize,
    /// From one part to the next.
    part: usize,
    /// A row of the cost.
    row: usize,
    /// The drawing's height.
    drawing: usize,
}

const fn room(scale: Scale, letters: (usize, usize), page: usize, frames: [usize; 4]) -> Room {
    Room {
        scale,
        beside: letters.0,
        across: letters.1,
        page,
        around: frames[0],
        part: frames[1],
        row: frames[2],
        drawing: frames[3],
    }
}

const NORMAL: [Room; 3] = [
    room(Scale::Full, (63, 82), 5050, [1000, 110, 121, 1180]),
    room(Scale::Tight, (75, 96), 6150, [920, 75, 115, 1430]),
    room(Scale::Tightest, (117, 117), 7800, [1000, 66, 101, 0]),
];
const LARGE: [Room; 3] = [
    room(Scale::Full, (66, 80), 4090, [1030, 153, 126, 935]),
    room(Scale::Tight, (79, 95), 4950, [940, 155, 120, 1130]),
    room(Scale::Tightest, (115, 115), 6090, [880, 151, 104, 0]),
];

/// The words of a page: the letters of each line, part by part.
#[derive(Default)]
pub struct Text {
    head: usize,
    beside: Vec<Vec<usize>>,
    across: Vec<Vec<usize>>,
    drawing: bool,
}

impl Text {
    /// The line below the heading, and whether there is a drawing.
    #[must_use]
    pub fn begin(head: &str, drawing: bool) -> Text {
        Text {
            head: head.chars().count(),
            drawing,
            ..Text::default()
        }
    }

    /// Adds a part beside the drawing; one without words is not on the page.
    pub fn beside<'a>(&mut self, lines: impl IntoIterator<Item = &'a str>) {
        self.beside.extend(letters(lines));
    }

    /// Adds a part across the page.
    pub fn across<'a>(&mut self, lines: impl IntoIterator<Item = &'a str>) {
        self.across.extend(letters(lines));
    }

    fn height(&self, room: &Room) -> usize {
        let parts = |parts: &[Vec<usize>], width: usize| {
            let lines = |part: &Vec<usize>| {
                part.iter()
                    .map(|letters| letters.div_ceil(width) * 100)
                    .sum::<usize>()
            };
            parts.iter().map(|part| lines(part) + room.part).sum::<usize>()
        };
        let (beside, drawing) = if self.drawing {
            (room.beside, room.drawing)
        } else {
            (room.across, 0)
        };
        let head = self.head.div_ceil(room.beside).saturating_sub(1) * 100;
        head + parts(&self.beside, beside).max(drawing) + parts(&self.across, room.across)
    }
}

fn letters<'a>(lines: impl IntoIterator<Item = &'a str>) -> Option<Vec<usize>> {
    let lines = lines.into_iter().map(|line| line.chars().count());
    let lines: Vec<usize> = lines.filter(|letters| *letters > 0).collect();
    (!lines.is_empty()).then_some(lines)
}

/// The largest type in which it all fits, and how many rows of the cost there is room for.
#[must_use]
pub fn choose(large: bool, text: &Text, rows: usize) -> (Scale, usize) {
    let rooms = if large { &LARGE } else { &NORMAL };
    let left = |room: &Room| {
        room.page
            .saturating_sub(room.around + room.part + text.height(room))
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
        let mut text = Text::begin("Viola 16 in", true);
        text.beside(["It buzzes on the low string since the heating is on.", ""]);
        text.beside([]);
        assert_eq!(choose(false, &text, 6), (Scale::Full, 6));
        assert_eq!(choose(false, &text, 30).0, Scale::Tight);
        assert_eq!(choose(false, &text, 50).0, Scale::Tightest);
        let (scale, rows) = choose(false, &text, 500);
        assert_eq!(scale, Scale::Tightest);
        assert!(rows < 79 && choose(true, &text, 500).1 < rows, "{rows}");
    }

    #[test]
    fn a_drawing_narrows_what_stands_beside_it() {
        let tall = |drawing| {
            let mut text = Text::begin("", drawing);
            text.beside(["a".repeat(700).as_str(); 3]);
            text.height(&NORMAL[0])
        };
        assert!(tall(true) > tall(false));
    }

    #[test]
    fn what_does_not_fit_is_counted() {
        assert_eq!(at_most(vec!["a".to_owned()], 2, |more| more), ["a"]);
        let many = ["a", "b", "c", "d"].map(str::to_owned).to_vec();
        assert_eq!(at_most(many, 3, |more| more), ["a", "b", "and 2 more"]);
    }
}
