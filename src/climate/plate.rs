//! A plate is a belly or a back: how wide it is, of what wood, and how far the air would have it move.

use super::wood::{Cut, Movement, Wood, movement};

#[derive(Clone, Copy, Debug)]
pub struct Plate {
    pub words: &'static str,
    /// Across the lower bouts, in millimetres: common measures of full sizes, from memory.
    pub width: f64,
    pub wood: Wood,
    pub cut: Cut,
}

const fn plate(words: &'static str, width: f64, wood: Wood, cut: Cut) -> Plate {
    Plate {
        words,
        width,
        wood,
        cut,
    }
}

pub const PLATES: [Plate; 7] = [
    plate("Violin belly", 208.0, Wood::Spruce, Cut::Radial),
    plate("Violin back", 208.0, Wood::Maple, Cut::Radial),
    plate("Violin back", 208.0, Wood::Maple, Cut::Tangential),
    plate("Viola belly", 243.0, Wood::Spruce, Cut::Radial),
    CELLO,
    plate("Cello back", 440.0, Wood::Maple, Cut::Radial),
    plate("Bass belly", 680.0, Wood::Spruce, Cut::Radial),
];

/// The one that is spoken of.
pub const CELLO: Plate = plate("Cello belly", 440.0, Wood::Spruce, Cut::Radial);

impl Plate {
    /// As it is asked for in an address.
    #[must_use]
    pub fn query(&self) -> String {
        let (wood, cut) = (self.wood.code(), self.cut.code());
        format!("width_mm={:.0}&wood={wood}&cut={cut}", self.width)
    }

    #[must_use]
    pub fn moves(&self, from: f64, to: f64) -> Movement {
        movement(self.width, self.wood.coefficient(self.cut), from, to)
    }
}
