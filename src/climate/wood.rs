//! Wood takes up and gives off water until it fits the air, and a plate grows and shrinks with it.
//!
//! Figures: Wood Handbook, FPL-GTR-282, USDA Forest Products Laboratory, 2021. What it says of lumber holds for a thin plate
//! sooner than for a block, and varnish slows it: the moisture told is where the wood is going, not where it is.

/// The moisture, in percent of the dry wood's weight, that wood comes to in air that stays as it is: temperature in degrees
/// Celsius, relative humidity in percent. Wood Handbook, equation 4-5 (W. T. Simpson, Forest Prod. J. 23(5) (1973) 41-49).
#[must_use]
pub fn moisture(temperature: f64, humidity: f64) -> f64 {
    let t = temperature;
    let h = humidity / 100.0;
    let w = 349.0 + 1.29 * t + 0.0135 * t * t;
    let kh = (0.805 + 0.000_736 * t - 0.000_002_73 * t * t) * h;
    let k1 = 6.27 - 0.009_38 * t - 0.000_303 * t * t;
    let k2 = 1.91 + 0.0407 * t - 0.000_293 * t * t;
    let bound = k1 * kh + 2.0 * k1 * k2 * kh * kh;
    1800.0 / w * (kh / (1.0 - kh) + bound / (1.0 + k1 * kh + k1 * k2 * kh * kh))
}

/// "7.9 %"
#[must_use]
pub fn percent(moisture: f64) -> String {
    format!("{moisture:.1} %")
}

/// Between these, in percent, a plate moves in proportion to its moisture (Wood Handbook, section on dimensional change).
pub const HOLDS: (f64, f64) = (6.0, 14.0);

/// Which way the growth rings lie across a plate's width.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// On the quarter: the width runs across the rings.
    Radial,
    /// On the slab: the width runs along them.
    Tangential,
}

/// A wood that plates are made of, by the handbook's American kinds: for European spruce and sycamore maple it has none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wood {
    /// Engelmann spruce.
    Spruce,
    /// Sugar maple.
    Maple,
}

impl Cut {
    pub const ALL: [Cut; 2] = [Cut::Radial, Cut::Tangential];

    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Cut::Radial => "quarter",
            Cut::Tangential => "slab",
        }
    }

    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Cut::Radial => "on the quarter",
            Cut::Tangential => "on the slab",
        }
    }
}

impl Wood {
    pub const ALL: [Wood; 2] = [Wood::Spruce, Wood::Maple];

    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Wood::Spruce => "spruce",
            Wood::Maple => "maple",
        }
    }

    /// The kind whose figures are taken.
    #[must_use]
    pub fn kind(self) -> &'static str {
        match self {
            Wood::Spruce => "Engelmann spruce",
            Wood::Maple => "sugar maple",
        }
    }

    /// By which part of itself a width changes for each percent of moisture: Wood Handbook, table 13-5.
    #[must_use]
    pub fn coefficient(self, cut: Cut) -> f64 {
        match (self, cut) {
            (Wood::Spruce, Cut::Radial) => 0.001_30,
            (Wood::Spruce, Cut::Tangential) => 0.002_48,
            (Wood::Maple, Cut::Radial) => 0.001_65,
            (Wood::Maple, Cut::Tangential) => 0.003_53,
        }
    }

    #[must_use]
    pub fn words(self, cut: Cut) -> &'static str {
        match (self, cut) {
            (Wood::Spruce, Cut::Radial) => "spruce on the quarter",
            (Wood::Spruce, Cut::Tangential) => "spruce on the slab",
            (Wood::Maple, Cut::Radial) => "maple on the quarter",
            (Wood::Maple, Cut::Tangential) => "maple on the slab",
        }
    }
}

/// The coefficient from how much a wood shrinks from green to dry, in percent: S / (3000 - 20 S), which takes the width at
/// 10 % moisture and 30 % for where shrinking begins (Wood Handbook, equation 13-2).
#[must_use]
pub fn coefficient_of_shrinkage(percent: f64) -> f64 {
    percent / (3000.0 - 20.0 * percent)
}

/// By how much a width changes, in its own unit: width times coefficient times change, where that holds.
#[must_use]
pub fn change(width: f64, coefficient: f64, from: f64, to: f64) -> f64 {
    width * coefficient * (to - from)
}

/// How a plate would move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Movement {
    /// In millimetres, wider above nought.
    pub millimetres: f64,
    /// One of the two moistures lies beyond where the rule holds, so that this is only the part within.
    pub at_least: bool,
}

/// How a plate of a width in millimetres would move from one moisture to another.
#[must_use]
pub fn movement(width: f64, coefficient: f64, from: f64, to: f64) -> Movement {
    let within = |percent: f64| percent.clamp(HOLDS.0, HOLDS.1);
    let outside = |percent: f64| percent < HOLDS.0 || percent > HOLDS.1;
    Movement {
        millimetres: change(width, coefficient, within(from), within(to)),
        at_least: outside(from) || outside(to),
    }
}

impl Movement {
    /// In whole tenths of a millimetre, wider above nought.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "plates move by millimetres")]
    pub fn tenths(self) -> i64 {
        (self.millimetres * 10.0).round() as i64
    }

    /// "2.6 mm narrower", "at least 0.4 mm wider", "as wide".
    #[must_use]
    pub fn words(self) -> String {
        let size = format!("{:.1} mm", self.millimetres.abs());
        let least = if self.at_least { "at least " } else { "" };
        match (size == "0.0 mm", self.millimetres < 0.0) {
            (true, _) if self.at_least => "outside what can be reckoned".to_owned(),
            (true, _) => "as wide".to_owned(),
            (false, true) => format!("{least}{size} narrower"),
            (false, false) => format!("{least}{size} wider"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wood_takes_up_more_the_damper_and_the_colder_the_air() {
        let mut before = -1.0;
        for humidity in 0..=100 {
            let percent = moisture(20.0, f64::from(humidity));
            assert!(percent > before && percent.is_finite(), "{humidity}");
            before = percent;
        }
        assert!(moisture(0.0, 50.0) > moisture(30.0, 50.0));
        assert!(moisture(21.0, 0.0).abs() < 1e-12);
        assert!(moisture(-20.0, 100.0).is_finite() && moisture(50.0, 100.0).is_finite());
    }

    #[test]
    fn a_plate_moves_only_as_far_as_the_rule_holds() {
        let belly = |from, to| movement(440.0, Wood::Spruce.coefficient(Cut::Radial), from, to);
        assert_eq!(belly(11.0, 6.5).words(), "2.6 mm narrower");
        assert_eq!(belly(11.0, 4.0).words(), "at least 2.9 mm narrower");
        assert_eq!(belly(6.5, 11.0).words(), "2.6 mm wider");
        assert_eq!(belly(9.0, 9.02).words(), "as wide");
        assert_eq!(belly(5.0, 4.0).words(), "outside what can be reckoned");
    }
}
