//! A gap is a run of days on which nobody looked at the hygrometer: said in words, and told apart in the picture.

use crate::clock::Day;

use super::course::Course;

/// So many days without a reading are a gap and said so; fewer are a shop's holidays.
pub const GAP: i64 = 10;

/// Days without a reading, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    pub from: Day,
    pub to: Day,
}

impl Course {
    /// Where nobody looked for [`GAP`] days or longer, from the first reading of all on.
    #[must_use]
    pub fn gaps(&self, from: Day, to: Day) -> Vec<Gap> {
        let Some(first) = self.first() else {
            return Vec::new();
        };
        let mut gaps = Vec::new();
        let mut next = from.max(first);
        let after = std::iter::once(to.plus(1));
        for day in self.within(from, to).iter().map(|day| day.day).chain(after) {
            if day.0 - next.0 >= GAP {
                gaps.push(Gap {
                    from: next,
                    to: day.plus(-1),
                });
            }
            next = day.plus(1);
        }
        gaps
    }
}

impl Gap {
    /// "3 to 20 May", "28 Dec 2025 to 9 Jan 2026"
    #[must_use]
    pub fn words(self) -> String {
        let said = |day: Day| {
            let words = day.to_string();
            words
                .split_once(' ')
                .map_or(words.clone(), |(_, rest)| rest.to_owned())
        };
        let (from, to) = (said(self.from), said(self.to));
        if self.from.month() == self.to.month() {
            let day = from.split(' ').next().unwrap_or_default();
            format!("{day} to {to}")
        } else if self.from.year() == self.to.year() {
            format!("{from} to {to}")
        } else {
            format!("{from} {} to {to} {}", self.from.year(), self.to.year())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::climate::day::by_day;
    use crate::climate::reading::Air;
    use crate::clock::Zone;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    fn course(days: impl IntoIterator<Item = (Day, i64)>) -> Course {
        let zone = Zone::named("Europe/Vienna").unwrap();
        let readings = days.into_iter().map(|(day, humidity)| {
            let air = Air {
                temperature: 2000,
                humidity,
            };
            (zone.moment(day, 10, 0), air)
        });
        Course::new(by_day(&zone, readings))
    }

    #[test]
    fn a_gap_is_said_from_ten_days_on_and_never_before_the_first_reading() {
        let from = day("2025-05-01");
        let days = (0..60).filter(|at| *at != 0 && !(2..20).contains(at) && !(30..39).contains(at));
        let course = course(days.map(|at| (from.plus(at), 4000)));
        let gaps = course.gaps(day("2025-01-01"), from.plus(80));
        let words: Vec<String> = gaps.into_iter().map(Gap::words).collect();
        assert_eq!(words, ["3 to 20 May", "30 Jun to 20 Jul"]);
        assert_eq!(course.runs(from, from.plus(80)).len(), 2);
        assert!(Course::default().gaps(from, from).is_empty());
        let year = Gap {
            from: day("2025-12-24"),
            to: day("2026-01-06"),
        };
        assert_eq!(year.words(), "24 Dec 2025 to 6 Jan 2026");
    }
}
