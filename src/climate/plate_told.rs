//! What is told of a plate: by how much it would like to be wider or narrower, from one air to another.

use crate::clock::YearMonth;

use super::reading::{Air, figure, said};
use super::wood::{self, Cut, Movement, Wood, movement, percent};

/// Where the wood comes from, or goes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// The last 30 days here, in percent of moisture.
    Now(f64),
    /// A month here.
    Month(YearMonth, f64),
    /// Air that was said.
    Air(Air),
}

/// What was asked, once understood, and the answer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlateTold {
    /// In hundredths of a millimetre.
    pub width: i64,
    pub wood: Wood,
    pub cut: Cut,
    pub from: Place,
    pub to: Place,
}

impl Place {
    /// In percent of the dry wood's weight.
    #[must_use]
    pub fn moisture(self) -> f64 {
        match self {
            Place::Now(moisture) | Place::Month(_, moisture) => moisture,
            Place::Air(air) => wood::moisture(figure(air.temperature), figure(air.humidity)),
        }
    }

    /// "the last 30 days here", "July 2026 here", "air of 35 % at 20 °C"
    #[must_use]
    pub fn short(self) -> String {
        match self {
            Place::Now(_) => "the last 30 days here".to_owned(),
            Place::Month(month, _) => format!("{month} here"),
            Place::Air(air) => format!("air of {} % at {} °C", said(air.humidity), said(air.temperature)),
        }
    }

    /// "10.8 % moisture: July 2026 here"
    #[must_use]
    pub fn words(self) -> String {
        format!("{} moisture: {}", percent(self.moisture()), self.short())
    }
}

impl PlateTold {
    /// In millimetres.
    #[must_use]
    pub fn width(&self) -> f64 {
        figure(self.width)
    }

    #[must_use]
    pub fn movement(&self) -> Movement {
        let coefficient = self.wood.coefficient(self.cut);
        movement(
            self.width(),
            coefficient,
            self.from.moisture(),
            self.to.moisture(),
        )
    }

    /// Nothing can be said: neither moisture lies where the rule holds, and both on one side of it.
    #[must_use]
    pub fn is_beyond(&self) -> bool {
        let movement = self.movement();
        movement.at_least && movement.tenths() == 0
    }

    /// "A plate of spruce on the quarter, 440 mm wide,"
    #[must_use]
    pub fn plate(&self) -> String {
        format!(
            "A plate of {}, {} mm wide,",
            self.wood.words(self.cut),
            said(self.width)
        )
    }

    /// "would like to be 2.6 mm narrower"
    #[must_use]
    pub fn answer(&self) -> String {
        let movement = self.movement();
        match movement.tenths() {
            0 if movement.at_least => "is beyond what can be reckoned".to_owned(),
            0 => "would hardly move".to_owned(),
            _ => format!("would like to be {}", movement.words()),
        }
    }

    /// "26 tenths of a millimetre."
    #[must_use]
    pub fn tenths(&self) -> String {
        let movement = self.movement();
        let least = if movement.at_least { "At least " } else { "" };
        match movement.tenths().abs() {
            0 if movement.at_least => {
                "Both moistures lie outside 6 to 14 %, where the rule holds.".to_owned()
            }
            0 => "Less than a tenth of a millimetre.".to_owned(),
            1 => format!("{least}1 tenth of a millimetre."),
            tenths => format!("{least}{tenths} tenths of a millimetre."),
        }
    }
}
