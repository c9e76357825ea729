//! A discovery is a figure of a table that stands out more than the size of the table explains.

/// Benjamini and Hochberg's q values: told are all with a q of at most 0.05, then on average at most one in twenty of what
/// is told is chance.
///
/// Y. Benjamini and Y. Hochberg, J. Royal Stat. Soc. B 57 (1995) 289-300: step-up, over all figures of the table that is
/// shown. In the order of the figures; a figure that could not be tested (not a number) has none and does not count.
#[must_use]
pub fn q_values(p_values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p_values.len()).filter(|at| !p_values[*at].is_nan()).collect();
    order.sort_by(|one, other| p_values[*one].total_cmp(&p_values[*other]));
    let tested = super::of(order.len() as u64);
    let mut q_values = vec![f64::NAN; p_values.len()];
    let mut least = 1.0_f64;
    for (rank, at) in order.into_iter().enumerate().rev() {
        least = least.min(p_values[at] * tested / super::of(rank as u64 + 1));
        q_values[at] = least;
    }
    q_values
}
