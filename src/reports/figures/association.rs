//! An association is that a cause turns up more often, or more seldom, here than in the rest of what is looked at.

use statrs::function::factorial::ln_factorial;

/// Orders with and without a cause, here and elsewhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fourfold {
    pub with_here: u64,
    pub without_here: u64,
    pub with_elsewhere: u64,
    pub without_elsewhere: u64,
}

/// Tables whose chances differ by less than this part of one are taken as equally likely, since floating point parts
/// what is equal.
const SAME: f64 = 1e-7;
/// What is left of a sum once a term has fallen so far below it changes no digit.
const NEGLIGIBLE: f64 = 1e-18;

impl Fourfold {
    /// Of `confirmed` of `inspected` here, when the whole shop had so many.
    ///
    /// Nothing when what is here is no part of the whole.
    #[must_use]
    pub fn within(here: (u64, u64), whole: (u64, u64)) -> Option<Fourfold> {
        let (confirmed, inspected) = here;
        let without_here = inspected.checked_sub(confirmed)?;
        let with_elsewhere = whole.0.checked_sub(confirmed)?;
        let without = whole.1.checked_sub(whole.0)?;
        Some(Fourfold {
            with_here: confirmed,
            without_here,
            with_elsewhere,
            without_elsewhere: without.checked_sub(without_here)?,
        })
    }

    /// Fisher's exact test, two-sided: how often chance alone, with the same sums at the margins, gives a table that is
    /// no likelier than this one.
    ///
    /// R. A. Fisher, The Design of Experiments (1935), section 11; two-sided by the sum of all tables no likelier than the
    /// one seen (J. O. Irwin, Metron 12 (1935) 83-94). One where nothing can differ.
    #[must_use]
    pub fn fisher(&self) -> f64 {
        let spread = Hypergeometric::of(self);
        let seen = spread.ln_chance(self.with_here);
        let (low, high) = (spread.least, spread.most);
        if low == high {
            return 1.0;
        }
        let mode = spread.mode();
        let likely = |count: u64| spread.ln_chance(count) > seen + SAME;
        // The chances rise up to the mode and fall behind it, so that what is no likelier lies at both ends.
        let below = if self.with_here <= mode {
            Some(self.with_here)
        } else {
            last_unlikely(low, mode, &likely)
        };
        let above = if self.with_here >= mode {
            Some(self.with_here)
        } else {
            first_unlikely(mode, high, &likely)
        };
        let lower = below.map_or(0.0, |from| spread.down(from));
        let upper = above.map_or(0.0, |from| spread.up(from));
        // At the mode itself both ends begin with the table that was seen.
        let twice = if below == above { seen.exp() } else { 0.0 };
        (lower + upper - twice).clamp(0.0, 1.0)
    }
}

/// Of counts from `low` to `mode`, whose chances rise: the last that is no likelier.
fn last_unlikely(low: u64, mode: u64, likely: &impl Fn(u64) -> bool) -> Option<u64> {
    if likely(low) {
        return None;
    }
    let (mut unlikely, mut first_likely) = (low, mode + 1);
    while unlikely + 1 < first_likely {
        let middle = unlikely + (first_likely - unlikely) / 2;
        if likely(middle) {
            first_likely = middle;
        } else {
            unlikely = middle;
        }
    }
    Some(unlikely)
}

/// Of counts from `mode` to `high`, whose chances fall: the first that is no likelier.
fn first_unlikely(mode: u64, high: u64, likely: &impl Fn(u64) -> bool) -> Option<u64> {
    if likely(high) {
        return None;
    }
    if !likely(mode) {
        return Some(mode);
    }
    let (mut last_likely, mut unlikely) = (mode, high);
    while last_likely + 1 < unlikely {
        let middle = last_likely + (unlikely - last_likely) / 2;
        if likely(middle) {
            last_likely = middle;
        } else {
            unlikely = middle;
        }
    }
    Some(unlikely)
}

/// How many of those with the cause stand here, by chance alone, the sums at the margins being what they are.
struct Hypergeometric {
    with: u64,
    without: u64,
    here: u64,
    least: u64,
    most: u64,
    ln_all: f64,
}

impl Hypergeometric {
    fn of(table: &Fourfold) -> Hypergeometric {
        let with = table.with_here + table.with_elsewhere;
        let without = table.without_here + table.without_elsewhere;
        let here = table.with_here + table.without_here;
        Hypergeometric {
            with,
            without,
            here,
            least: here.saturating_sub(without),
            most: here.min(with),
            ln_all: ln_choose(with + without, here),
        }
    }

    fn ln_chance(&self, count: u64) -> f64 {
        ln_choose(self.with, count) + ln_choose(self.without, self.here - count) - self.ln_all
    }

    /// The likeliest count.
    fn mode(&self) -> u64 {
        let (here, with) = (u128::from(self.here), u128::from(self.with));
        let all = with + u128::from(self.without);
        let mode = (here + 1) * (with + 1) / (all + 2);
        u64::try_from(mode)
            .unwrap_or(self.most)
            .clamp(self.least, self.most)
    }

    /// The chance of this count and of all below it.
    fn down(&self, from: u64) -> f64 {
        let first = self.ln_chance(from).exp();
        let (mut term, mut sum, mut count) = (first, first, from);
        while count > self.least && term > sum * NEGLIGIBLE {
            let fewer = count - 1;
            term *= number(count) * number(self.without + count - self.here)
                / (number(self.with - fewer) * number(self.here - fewer));
            sum += term;
            count = fewer;
        }
        sum
    }

    /// The chance of this count and of all above it.
    fn up(&self, from: u64) -> f64 {
        let first = self.ln_chance(from).exp();
        let (mut term, mut sum, mut count) = (first, first, from);
        while count < self.most && term > sum * NEGLIGIBLE {
            let more = count + 1;
            term *= number(self.with - count) * number(self.here - count)
                / (number(more) * number(self.without + more - self.here));
            sum += term;
            count = more;
        }
        sum
    }
}

fn number(count: u64) -> f64 {
    super::of(count)
}

/// The logarithm of how many ways there are to choose so many of all.
fn ln_choose(all: u64, chosen: u64) -> f64 {
    ln_factorial(all) - ln_factorial(chosen) - ln_factorial(all - chosen)
}
