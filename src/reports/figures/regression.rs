//! A regression is how a rate follows what is known beside it: the month of the year, or the moisture of the wood.

use super::of;

/// What is fitted at most: a constant and three more.
pub const WIDEST: usize = 4;
pub(super) type Row = [f64; WIDEST];
type Square = [[f64; WIDEST]; WIDEST];

/// How the expected count follows from the sum of what is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// So many of `size`, on the scale of log odds.
    Binomial,
    /// So many in an exposure of `size`, on the scale of logarithms.
    Poisson,
}

/// One group: what is known of it, and how many of how many.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Group {
    /// What is known, beginning with the constant 1; as many as `width` are read.
    pub known: Row,
    pub count: f64,
    pub size: f64,
}

impl Group {
    /// A group with a constant and what else is known of it.
    ///
    /// # Panics
    /// With more than three figures known: that is more than is ever fitted.
    #[must_use]
    pub fn new<const N: usize>(known: [f64; N], count: u64, size: u64) -> Group {
        const { assert!(N < WIDEST) };
        let mut row = [0.0; WIDEST];
        row[0] = 1.0;
        row[1..=N].copy_from_slice(&known);
        Group {
            known: row,
            count: of(count),
            size: of(size),
        }
    }
}

/// What was fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// How many coefficients, the constant among them.
    pub(super) width: usize,
    coefficients: Row,
    covariance: Square,
    /// Up to a constant that is the same for every fit of the same counts.
    pub log_likelihood: f64,
}

impl Fit {
    #[must_use]
    pub fn coefficient(&self, at: usize) -> f64 {
        self.coefficients[at]
    }

    #[must_use]
    pub fn covariance(&self, one: usize, other: usize) -> f64 {
        self.covariance[one][other]
    }

    #[must_use]
    pub fn standard_error(&self, at: usize) -> f64 {
        self.covariance[at][at].max(0.0).sqrt()
    }
}

/// The likelihood ratio of two fits of the same counts, the narrower within the wider: chi-square by chance alone, of as
/// many degrees of freedom as they differ in width, once many were counted (S. S. Wilks, Ann. Math. Stat. 9 (1938) 60-62).
/// Of few it is too large on average: see [`super::bartlett`].
#[must_use]
pub fn likelihood_ratio(narrow: &Fit, wide: &Fit) -> f64 {
    (2.0 * (wide.log_likelihood - narrow.log_likelihood)).max(0.0)
}

/// Steps until nothing changes any more; well-behaved counts want five to eight.
const STEPS: usize = 40;
/// A constant beyond this is a rate of nought or one: no finite figure fits then.
const BEYOND: f64 = 30.0;

/// The likeliest coefficients by iteratively reweighted least squares.
///
/// J. A. Nelder and R. W. M. Wedderburn, J. Royal Stat. Soc. A 135 (1972) 370-384. Nothing where none is likeliest: none
/// or all counted, fewer groups than coefficients, what is known hangs together, or a group apart by itself.
#[must_use]
pub fn fit(family: Family, width: usize, groups: &[Group]) -> Option<Fit> {
    let width = width.clamp(1, WIDEST);
    let groups: Vec<Group> = groups.iter().filter(|group| group.size > 0.0).copied().collect();
    let (count, size) = groups
        .iter()
        .fold((0.0, 0.0), |sum, group| (sum.0 + group.count, sum.1 + group.size));
    let full = family == Family::Binomial && count >= size;
    if groups.len() < width || count <= 0.0 || full {
        return None;
    }
    let mut at = [0.0; WIDEST];
    at[0] = link(family, count / size);
    let mut before = log_likelihood(family, width, &groups, &at);
    for _ in 0..STEPS {
        let (information, score) = weigh(family, width, &groups, &at);
        let covariance = inverse(width, information)?;
        let step = times(width, &covariance, &score);
        // Halved while it overshoots, so that each step is uphill.
        let mut scale = 1.0;
        let (next, after) = loop {
            let mut next = at;
            for (figure, step) in next.iter_mut().zip(step) {
                *figure += scale * step;
            }
            let after = log_likelihood(family, width, &groups, &next);
            if after >= before - 1e-12 * before.abs() || scale < 1e-6 {
                break (next, after);
            }
            scale /= 2.0;
        };
        let moved = step
            .iter()
            .take(width)
            .fold(0.0_f64, |most, step| most.max(step.abs()));
        (at, before) = (next, after);
        if at
            .iter()
            .any(|figure| !figure.is_finite() || figure.abs() > BEYOND)
        {
            return None;
        }
        if moved < 1e-10 {
            let (information, _) = weigh(family, width, &groups, &at);
            return Some(Fit {
                width,
                coefficients: at,
                covariance: inverse(width, information)?,
                log_likelihood: before,
            });
        }
    }
    None
}

fn link(family: Family, rate: f64) -> f64 {
    match family {
        Family::Binomial => (rate / (1.0 - rate)).ln(),
        Family::Poisson => rate.ln(),
    }
}

fn sum(width: usize, group: &Group, at: &Row) -> f64 {
    let known = group.known.iter().zip(at).take(width);
    known.map(|(known, coefficient)| known * coefficient).sum()
}

/// The expected rate, and how closely it is known.
fn expected(family: Family, sum: f64) -> (f64, f64) {
    match family {
        Family::Binomial => {
            let rate = 1.0 / (1.0 + (-sum).exp());
            (rate, rate * (1.0 - rate))
        }
        Family::Poisson => (sum.exp(), sum.exp()),
    }
}

/// The rate that a fit expects of a group.
pub(super) fn rate(family: Family, fit: &Fit, group: &Group) -> f64 {
    expected(family, sum(fit.width, group, &fit.coefficients)).0
}

fn log_likelihood(family: Family, width: usize, groups: &[Group], at: &Row) -> f64 {
    let of_group = |group: &Group| {
        let sum = sum(width, group, at);
        match family {
            // ln(1 + e^x) without overflow.
            Family::Binomial => group.count * sum - group.size * (sum.max(0.0) + (-sum.abs()).exp().ln_1p()),
            Family::Poisson => group.count * (sum + group.size.ln()) - group.size * sum.exp(),
        }
    };
    groups.iter().map(of_group).sum()
}

/// The information matrix and the score at these coefficients.
fn weigh(family: Family, width: usize, groups: &[Group], at: &Row) -> (Square, Row) {
    let (mut information, mut score) = ([[0.0; WIDEST]; WIDEST], [0.0; WIDEST]);
    for group in groups {
        let (rate, weight) = expected(family, sum(width, group, at));
        let off = group.count - group.size * rate;
        for one in 0..width {
            score[one] += group.known[one] * off;
            let known = group.size * weight * group.known[one];
            for (sum, other) in information[one].iter_mut().zip(group.known).take(width) {
                *sum += known * other;
            }
        }
    }
    (information, score)
}

pub(super) fn times(width: usize, matrix: &Square, row: &Row) -> Row {
    let mut product = [0.0; WIDEST];
    for (at, product) in product.iter_mut().enumerate().take(width) {
        *product = (0..width).map(|other| matrix[at][other] * row[other]).sum();
    }
    product
}

/// By Gauss and Jordan with pivots; nothing when the matrix has no inverse worth having.
pub(super) fn inverse(width: usize, mut matrix: Square) -> Option<Square> {
    let mut inverse = [[0.0; WIDEST]; WIDEST];
    for (at, row) in inverse.iter_mut().enumerate() {
        row[at] = 1.0;
    }
    let scale = (0..width).fold(0.0_f64, |most, at| most.max(matrix[at][at].abs()));
    for column in 0..width {
        let pivot = (column..width).max_by(|one, other| {
            matrix[*one][column]
                .abs()
                .total_cmp(&matrix[*other][column].abs())
        })?;
        let size = matrix[pivot][column].abs();
        if size.is_nan() || size <= scale * 1e-12 {
            return None;
        }
        matrix.swap(column, pivot);
        inverse.swap(column, pivot);
        let by = matrix[column][column];
        for at in 0..width {
            matrix[column][at] /= by;
            inverse[column][at] /= by;
        }
        for row in (0..width).filter(|row| *row != column) {
            let by = matrix[row][column];
            for at in 0..width {
                matrix[row][at] -= by * matrix[column][at];
                inverse[row][at] -= by * inverse[column][at];
            }
        }
    }
    Some(inverse)
}
