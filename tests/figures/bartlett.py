"""Bartlett's correction of a likelihood ratio of two logistic regressions, on whole matrices: Cordeiro (1983) as McCullagh and
Nelder (1989) have it."""

import numpy as np


def excess(known, second, third, fourth):
    close = known @ np.linalg.inv(known.T @ (second[:, None] * known)) @ known.T
    own = np.diag(close)
    return (3 * (third * own) @ close @ (third * own) + 2 * third @ close ** 3 @ third - 3 * (fourth * own ** 2).sum()) / 12


def correction(known, narrow, sizes, rates):
    """Of all columns against the first few, where these expect the rates."""
    second = sizes * rates * (1 - rates)
    cumulants = second, second * (1 - 2 * rates), second * (1 - 6 * rates * (1 - rates))
    return 1 + (excess(known, *cumulants) - excess(known[:, :narrow], *cumulants)) / (known.shape[1] - narrow)


def of_wave(counts, sizes):
    """Of a wave over the twelve months against none."""
    counts, sizes = np.array(counts, float), np.array(sizes, float)
    angle = (np.arange(12) + 0.5) * 2 * np.pi / 12
    known = np.column_stack([np.ones(12), np.cos(angle), np.sin(angle)])
    return correction(known, 1, sizes, np.full(12, counts.sum() / sizes.sum()))
