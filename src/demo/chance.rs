//! Chance is where everything invented comes from: a stream of numbers that is the same for the same seed.
//!
//! Our own few lines, so that a new version of a crate cannot change what a seed gives: xoshiro256++ by D. Blackman and
//! S. Vigna ("Scrambled Linear Pseudorandom Number Generators", ACM TOMS 47(4), 2021), its state filled by splitmix64
//! as they advise. Nothing secret may come from here.

use uuid::{Builder, Uuid};

use crate::clock::Moment;

#[derive(Clone, Debug)]
pub struct Chance([u64; 4]);

fn splitmix64(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A whole number as a real one; ours are far below 2^53.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts and minutes are far below 2^53")]
pub fn real(n: i64) -> f64 {
    n as f64
}

/// A real number to the nearest whole one.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    reason = "counts and minutes are far below 2^53"
)]
pub fn whole(x: f64) -> i64 {
    x.round() as i64
}

impl Chance {
    /// The stream of one thing, such as an order: what is drawn for it moves nothing of any other.
    #[must_use]
    pub fn of(seed: u64, what: &str, which: u64) -> Chance {
        let mut state = seed;
        for byte in what.bytes() {
            state = splitmix64(&mut state) ^ u64::from(byte);
        }
        state = splitmix64(&mut state) ^ which;
        Chance(std::array::from_fn(|_| splitmix64(&mut state)))
    }

    pub fn number(&mut self) -> u64 {
        let s = &mut self.0;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// From 0 up to, not with, 1.
    #[expect(clippy::cast_precision_loss, reason = "53 bits are what a double holds")]
    pub fn unit(&mut self) -> f64 {
        (self.number() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// One of `n` places, from 0.
    pub fn below(&mut self, n: usize) -> usize {
        let n = u128::try_from(n.max(1)).unwrap_or(1);
        usize::try_from((u128::from(self.number()) * n) >> 64).unwrap_or(0)
    }

    /// From `low` to `high`, both with.
    pub fn range(&mut self, low: i64, high: i64) -> i64 {
        let span = usize::try_from(high - low).unwrap_or(0);
        low + i64::try_from(self.below(span + 1)).unwrap_or(0)
    }

    pub fn yes(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    pub fn one<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len())]
    }

    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// A place, as often as its weight says.
    pub fn weighted(&mut self, weights: impl Iterator<Item = f64> + Clone) -> usize {
        let sum: f64 = weights.clone().sum();
        let mut left = self.unit() * sum;
        let mut last = 0;
        for (at, weight) in weights.enumerate() {
            if weight > 0.0 {
                last = at;
                left -= weight;
                if left < 0.0 {
                    break;
                }
            }
        }
        last
    }

    /// About normal, mean 0 and deviation 1: the sum of twelve even draws.
    pub fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }

    /// A factor about 1, log-normal: minutes and days run over further than they fall short.
    pub fn spread(&mut self, sigma: f64) -> f64 {
        (sigma * self.bell()).exp()
    }
}

/// Ids in the order of time, like all ids of the house (UUID version 7), their random part from a stream.
#[derive(Clone, Debug)]
pub struct Ids {
    chance: Chance,
    count: u16,
}

impl Ids {
    #[must_use]
    pub fn new(chance: Chance) -> Ids {
        Ids { chance, count: 0 }
    }

    /// The next; of several in one moment the later one is larger.
    pub fn at(&mut self, at: Moment) -> Uuid {
        let mut bytes = [0; 10];
        bytes[..2].copy_from_slice(&(self.count & 0xfff).to_be_bytes());
        bytes[2..].copy_from_slice(&self.chance.number().to_be_bytes());
        self.count += 1;
        Builder::from_unix_timestamp_millis(at.0.unsigned_abs(), &bytes).into_uuid()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first numbers of the authors' own program for the state 1, 2, 3, 4; and of splitmix64 for the seed 1234567
    /// (both from memory, as printed in the tests of several libraries).
    #[test]
    fn the_stream_is_the_published_one() {
        let mut chance = Chance([1, 2, 3, 4]);
        let drawn: Vec<u64> = (0..5).map(|_| chance.number()).collect();
        assert_eq!(
            drawn,
            [
                41_943_041,
                58_720_359,
                3_588_806_011_781_223,
                3_591_011_842_654_386,
                9_228_616_714_210_784_205
            ]
        );
        let mut state = 1_234_567;
        assert_eq!(splitmix64(&mut state), 6_457_827_717_110_365_317);
        assert_eq!(splitmix64(&mut state), 3_203_168_211_198_807_973);
    }

    #[test]
    fn draws_are_even_and_within_bounds() {
        let mut chance = Chance::of(1, "test", 0);
        let mut counts = [0; 6];
        for _ in 0..60_000 {
            counts[chance.below(6)] += 1;
            assert!((3..=5).contains(&chance.range(3, 5)));
        }
        // Six deviations of a binomial of 60,000 and a sixth are 548.
        assert!(
            counts.iter().all(|count| (9_452..=10_548).contains(count)),
            "{counts:?}"
        );
    }

    #[test]
    fn ids_of_one_moment_are_in_order() {
        let mut ids = Ids::new(Chance::of(1, "ids", 0));
        let all: Vec<Uuid> = (0..50).map(|_| ids.at(Moment(1_770_714_000_000))).collect();
        assert!(all.is_sorted());
        assert!(all.iter().all(|id| id.get_version_num() == 7));
        assert!(all[49] < ids.at(Moment(1_770_714_000_001)));
    }
}
