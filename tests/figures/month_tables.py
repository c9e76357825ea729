"""Reckons the month's tables that are read from five years, or weighed as they are shown, anew by scipy and statsmodels.

Called by check.py for each span: `ages` and `seasons` (rates, intervals, Fisher, Benjamini and Hochberg over the very table,
shrunk rates, marks), `heat` (rates, times its own share, tints), `year` (the wave's test, amplitude, peak and how far to either
side of it the peak may lie), `course` (rates and intervals) and `inspected` (that the bands come to the whole).
"""

import math

import numpy as np
from scipy import stats
import statsmodels.api as sm
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

# What must have been compared at least once.
WANTED = ("table rate", "table interval", "table Fisher", "table Benjamini-Hochberg", "table shrunk rate", "mark", "heat", "tint",
          "year swing", "year amplitude", "year peak", "peak's interval", "year Benjamini-Hochberg", "course", "inspected")


def whole(row, head):
    return int(row[head])


def by_cause(rows):
    causes = {}
    for row in rows:
        causes.setdefault(row["cause"], []).append(row)
    return causes


def share(compared, what, row, where):
    """The rate and Wilson's interval, nothing where nobody was inspected."""
    count, size = whole(row, "confirmed"), whole(row, "inspected")
    compared.near(f"{what} few", row["too_few"] == "yes", size < 5, 0, where)
    if not size:
        for head in ("rate", "low", "high"):
            compared.none(f"{what} of nobody", row[head], where)
        return
    compared.near(f"{what} rate", row["rate"], count / size, 1e-12, where)
    for head, theirs in zip(("low", "high"), proportion_confint(count, size, 0.05, "wilson")):
        compared.near(f"{what} interval", row[head], theirs, 1e-9, where)


def weighed(compared, rows, part, span, shrunk):
    """A table as it is shown: each part of each cause beside the rest of its row, and the marks over the whole table."""
    p_values, told = [], []
    for cause, of_cause in by_cause(rows).items():
        groups = [(whole(row, "confirmed"), whole(row, "inspected")) for row in of_cause]
        confirmed, inspected = (sum(column) for column in zip(*groups))
        some = [group for group in groups if group[1]]
        expected, best, same = shrunk(some) if some else ([], 0, 0)
        expected = iter(expected)
        for row, (count, size) in zip(of_cause, groups):
            where = f"{cause} {row[part]} {span}"
            share(compared, "table", row, where)
            if size:
                theirs, rate = next(expected), confirmed / inspected
                flat = same - best < 1e-4  # the likelihood hardly tells one prior from another
                tolerance = 2e-2 * rate if flat else 1e-4 * theirs
                compared.near("table shrunk rate", row["shrunk_rate"], rate if flat else theirs, tolerance, where)
            if size in (0, inspected):
                compared.none("no rest in the table", row["p_value"], where)
                compared.near("no mark", row.get("marked", "") == "", True, 0, where)
                continue
            table = [[count, size - count], [confirmed - count, inspected - size - confirmed + count]]
            theirs = stats.fisher_exact(table)[1]
            compared.near("table Fisher", row["p_value"], theirs, 1e-12 + theirs * 1e-7, where)
            p_values.append(theirs)
            told.append((row, count * inspected > confirmed * size, where))
    if not p_values:
        return
    for (row, more, where), theirs in zip(told, multipletests(p_values, 0.05, "fdr_bh")[1]):
        compared.near("table Benjamini-Hochberg", row["q_value"], theirs, 1e-12 + theirs * 1e-6, where)
        if "marked" not in row or abs(theirs - 0.05) < 1e-9:
            continue
        mark = ("more" if more else "less") if theirs <= 0.05 and row["too_few"] == "no" else ""
        compared.near("mark", row["marked"] == mark, True, 0, f"{mark or 'none'} due, {where}")


def heat(compared, rows, span):
    for cause, months in by_cause(rows).items():
        compared.near("months of the year", len(months), 12, 0, f"{cause} {span}")
        confirmed, inspected = (sum(whole(row, head) for row in months) for head in ("confirmed", "inspected"))
        for row in months:
            where = f"{cause} month {row['month']} {span}"
            share(compared, "heat", row, where)
            if not whole(row, "inspected") or not confirmed:
                compared.none("heat of nobody", row["times_its_share"], where)
                continue
            times = whole(row, "confirmed") / whole(row, "inspected") / (confirmed / inspected)
            compared.near("heat", row["times_its_share"], times, 1e-9, where)
            if row["too_few"] == "yes":
                compared.none("no tint", row["tint"], where)
            elif min(abs(times - step) for step in (0.75, 1.25, 1.75)) > 1e-9:
                compared.near("tint", row["tint"], np.searchsorted((0.75, 1.25, 1.75), times), 0, where)


def wave(counts, sizes, correction):
    """Statsmodels' logistic regression on the sine and cosine of the month: p, amplitude, peak, and the half width of its interval."""
    angle = (np.arange(12) + 0.5) * 2 * np.pi / 12
    known = np.column_stack([np.ones(12), np.cos(angle), np.sin(angle)])
    both = np.column_stack([counts, sizes - counts])
    fit = lambda known: sm.GLM(both, known, family=sm.families.Binomial()).fit(tol=1e-13, maxiter=200)
    full, level = fit(known), fit(known[:, :1])
    cosine, sine = full.params[1:]
    square = cosine ** 2 + sine ** 2
    # The delta method on atan2(sine, cosine), with statsmodels' own covariance.
    slope = np.array([-sine, cosine]) / square
    half = stats.norm.ppf(0.975) * math.sqrt(slope @ full.cov_params()[1:, 1:] @ slope) * 6 / math.pi
    p_value = stats.chi2.sf(max(0.0, 2 * (full.llf - level.llf)) / correction(counts, sizes), 2)
    return p_value, math.sqrt(square), math.atan2(sine, cosine) % (2 * math.pi) * 6 / math.pi, half


def year(compared, rows, of_heat, span, correction):
    months, p_values, told = by_cause(of_heat), [], []
    for row in rows:
        where = f"{row['cause']} {span}"
        of_cause = months[row["cause"]]
        counts, sizes = (np.array([whole(month, head) for month in of_cause]) for head in ("confirmed", "inspected"))
        share(compared, "year", row, where)
        compared.near("year counts", whole(row, "confirmed"), counts.sum(), 0, where)
        compared.near("year counts", whole(row, "inspected"), sizes.sum(), 0, where)
        for month in of_cause:
            compared.near("year span", (month["from"], month["to"]) == (row["from"], row["to"]), True, 0, where)
        if counts.sum() < 10 or (sizes == 0).any():
            for head in ("peak_month", "peak", "peak_within", "amplitude", "p_value", "q_value"):
                compared.none("no swing over the year", row[head], where)
            compared.near("told", row["told"] == "no", True, 0, where)
            continue
        p_value, amplitude, peak, half = wave(counts, sizes, correction)
        compared.near("year swing", row["p_value"], p_value, 1e-8 + p_value * 1e-5, where)
        compared.near("year amplitude", row["amplitude"], amplitude, 1e-6 + amplitude * 1e-5, where)
        if amplitude > 1e-3:
            apart = abs(float(row["peak"]) - peak)
            compared.near("year peak", min(apart, 12 - apart), 0, 1e-4, where)
            if abs(half - 6) > 1e-3:
                if half < 6:
                    compared.near("peak's interval", row["peak_within"], half, 1e-4 + half * 1e-4, where)
                else:
                    compared.none("peak anywhere", row["peak_within"], where)
        p_values.append(p_value)
        told.append((row, where))
    if not p_values:
        return
    for (row, where), theirs in zip(told, multipletests(p_values, 0.05, "fdr_bh")[1]):
        compared.near("year Benjamini-Hochberg", row["q_value"], theirs, 1e-8 + theirs * 1e-5, where)
        if abs(theirs - 0.05) > 1e-6:
            compared.near("told", row["told"] == "yes", theirs <= 0.05, 0, where)


def course(compared, rows, span):
    for row in rows:
        share(compared, "course", row, f"{row['from']} {span}")
        compared.near("course", len({other["cause"] for other in rows}), 1, 0, span)


def inspected(compared, rows, of_ages, span):
    bands = {row["age_band"]: whole(row, "inspected") for row in rows if row["age_band"] != "all"}
    compared.near("inspected", whole(rows[0], "inspected"), sum(bands.values()), 0, span)
    for row in of_ages:
        compared.near("inspected", row["inspected"], bands[row["age_band"]], 0, f"{row['cause']} {row['age_band']} {span}")


def check(compared, shop, span, shrunk, correction=lambda counts, sizes: 1.0):
    """`shrunk` gives the expected rates of groups by the likeliest beta prior, its loss, and that of none; `correction` how many
    times too large the likelihood ratio of the wave is on average, where the program corrects for that."""
    of_ages, of_heat = shop.table("ages", span), shop.table("heat", span)
    weighed(compared, of_ages, "age_band", span, shrunk)
    weighed(compared, shop.table("seasons", span), "season", span, shrunk)
    heat(compared, of_heat, span)
    year(compared, shop.table("year", span), of_heat, span, correction)
    course(compared, shop.table("course", span), span)
    inspected(compared, shop.table("inspected", span), of_ages, span)
