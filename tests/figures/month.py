"""The month's tables by scipy and statsmodels: cells, causes with their trends and swings, and the same months of other years."""

import math

import numpy as np
from scipy import optimize, special, stats
import statsmodels.api as sm
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from bartlett import correction

BANDS = ["under_2", "2_to_19", "20_to_79", "80_to_99", "100_plus"]


def month(compared, shop, span):
    of_cells, causes, months = shop.table("cells", span), shop.table("causes", span), shop.table("months", span)
    cells(compared, of_cells, span)
    for row in causes:
        share(compared, "share of a cause", row, f"{row['cause']} {span}")
    trends(compared, causes, by_cause(of_cells), span)
    swings(compared, causes, months, span)
    for row in shop.table("years", span):
        share(compared, "years", row, f"{row['cause']} {row['from']} {row['to']} {span}")


def share(compared, what, row, where):
    """The rate with Wilson's range; nothing where nobody was inspected."""
    count, size = int(row["confirmed"]), int(row["inspected"])
    if size == 0:
        compared.none(what, row["rate"] + row["low"] + row["high"], where)
        return
    compared.near(what, row["rate"], count / size, 1e-12, where)
    for name, theirs in zip(("low", "high"), proportion_confint(count, size, 0.05, "wilson")):
        compared.near(what, row[name], theirs, 1e-9, where)
    compared.same(what, row["too_few"], "yes" if size < 5 else "no", where)


def told(compared, what, rows, column, p_values, where):
    """The q values over all rows that could be tested."""
    theirs = dict(zip(p_values, multipletests(list(p_values.values()), 0.05, "fdr_bh")[1] if p_values else []))
    for row in rows:
        if row["cause"] in theirs:
            q = theirs[row["cause"]]
            compared.near(what, row[column], q, 1e-8 + q * 1e-5, f"{row['cause']} {where}")
        else:
            compared.none(what, row[column], f"{row['cause']} {where}")


def by_cause(rows):
    causes = {}
    for row in rows:
        causes.setdefault(row["cause"], []).append((row, int(row["confirmed"]), int(row["inspected"])))
    return causes


def shrunk(groups):
    """The rate to be expected of each group by the likeliest beta prior, and what is lost by having them all the same."""
    counts, sizes = np.array([g[0] for g in groups]), np.array([g[1] for g in groups])
    rate = counts.sum() / sizes.sum()

    def loss(at):
        odds, together = at
        mean = 1 / (1 + math.exp(-odds))
        a, b = mean * math.exp(together), (1 - mean) * math.exp(together)
        return -(special.betaln(a + counts, b + sizes - counts) - special.betaln(a, b)).sum()

    same = -(special.xlogy(counts, rate) + special.xlog1py(sizes - counts, -rate)).sum()
    if not 0 < rate < 1:
        return np.full(len(counts), rate), same, same
    # Beyond a hundred thousand the rates are the same for all that can be seen, and the gamma function loses its digits.
    start = min(([math.log(rate / (1 - rate)), together] for together in np.arange(0.0, 11.6, 1.5)), key=loss)
    best = optimize.minimize(lambda at: loss(at) if at[1] < 11.5 else 1e9, start, method="Nelder-Mead",
                             options={"xatol": 1e-8, "fatol": 1e-11, "maxiter": 5000})
    mean, together = 1 / (1 + math.exp(-best.x[0])), math.exp(best.x[1])
    return (mean * together + counts) / (together + sizes), best.fun, same


def cells(compared, rows, span):
    causes = by_cause(rows)
    p_values, told = [], []
    for cause, of_cause in causes.items():
        confirmed, inspected = sum(g[1] for g in of_cause), sum(g[2] for g in of_cause)
        expected, best, same = shrunk([g[1:] for g in of_cause])
        for (row, count, size), theirs in zip(of_cause, expected):
            where = f"{cause} {row['age_band']} {row['season']} {span}"
            compared.near("rate", row["rate"], count / size, 1e-12, where)
            low, high = proportion_confint(count, size, 0.05, "wilson")
            compared.near("interval", row["low"], low, 1e-9, where)
            compared.near("interval", row["high"], high, 1e-9, where)
            # Where the rates hardly differ the likelihood is flat, and the prior may be anything large.
            flat = same - best < 1e-4
            rate = confirmed / inspected
            compared.near("shrunk rate", row["shrunk_rate"], rate if flat else theirs, 2e-2 * rate if flat else 1e-4 * theirs, where)
            if size == inspected:
                compared.none("no rest", row["p_value"], where)
                continue
            theirs = stats.fisher_exact([[count, size - count], [confirmed - count, inspected - size - confirmed + count]])[1]
            compared.near("Fisher", row["p_value"], theirs, 1e-12 + theirs * 1e-7, where)
            p_values.append(theirs)
            told.append((row, where))
    if p_values:
        for (row, where), theirs in zip(told, multipletests(p_values, 0.05, "fdr_bh")[1]):
            compared.near("Benjamini-Hochberg", row["q_value"], theirs, 1e-12 + theirs * 1e-6, where)


def trends(compared, causes, of_cells, span):
    p_values = {}
    for row in causes:
        groups = []
        for score, band in enumerate(BANDS):
            of_band = [g for g in of_cells[row["cause"]] if g[0]["age_band"] == band]
            groups.append((score, sum(g[1] for g in of_band), sum(g[2] for g in of_band)))
        groups = [g for g in groups if g[2]]
        count, size = sum(g[1] for g in groups), sum(g[2] for g in groups)
        where = f"{row['cause']} {span}"
        if count < 10 or count == size or len(groups) < 2:
            compared.none("no trend", row["age_p_value"] + row["age_slope"], where)
            continue
        # Statsmodels gives Mantel's extension (1963), whose variance is larger by one order in all.
        table = sm.stats.Table(np.array([[g[1], g[2] - g[1]] for g in groups]), shift_zeros=False)
        mantel = table.test_ordinal_association(row_scores=np.array([g[0] for g in groups]), col_scores=np.array([1, 0]))
        theirs = 2 * stats.norm.sf(abs(mantel.zscore) * math.sqrt(size / (size - 1)))
        compared.near("trend", row["age_p_value"], theirs, 1e-9 + theirs * 1e-6, where)
        p_values[row["cause"]] = theirs
        # The straight line through the shares, each as heavy as the orders it is of.
        scores, rates, sizes = (np.array(column, float) for column in zip(*((g[0], g[1] / g[2], g[2]) for g in groups)))
        line = sm.WLS(rates, sm.add_constant(scores), weights=sizes).fit().params[1]
        compared.near("slope", row["age_slope"], line, 1e-9 + abs(line) * 1e-6, where)
        compared.near("direction of the trend", math.copysign(1, float(row["age_slope"])), math.copysign(1, mantel.zscore), 0, where)
    told(compared, "trends, Benjamini-Hochberg", causes, "age_q_value", p_values, span)


def swings(compared, causes, rows, span):
    months, p_values = by_cause(rows), {}
    angle = (np.arange(12) + 0.5) * 2 * np.pi / 12
    for row in causes:
        counts = np.array([g[1] for g in months[row["cause"]]])
        sizes = np.array([g[2] for g in months[row["cause"]]])
        where = f"{row['cause']} {span}"
        if counts.sum() < 10 or (sizes == 0).any():
            compared.none("no swing", row["season_p_value"] + row["season_amplitude"] + row["peak_month"], where)
            continue
        known = np.column_stack([np.ones(12), np.cos(angle), np.sin(angle)])
        both = np.column_stack([counts, sizes - counts])
        fit = lambda known: sm.GLM(both, known, family=sm.families.Binomial()).fit(tol=1e-13, maxiter=200)
        wave, level = fit(known), fit(known[:, :1])
        few = correction(known, 1, sizes, level.fittedvalues)
        theirs = stats.chi2.sf(max(0.0, 2 * (wave.llf - level.llf)) / few, 2)
        compared.near("swing", row["season_p_value"], theirs, 1e-8 + theirs * 1e-5, where)
        p_values[row["cause"]] = theirs
        cosine, sine = wave.params[1:]
        amplitude = math.hypot(cosine, sine)
        compared.near("amplitude", row["season_amplitude"], amplitude, 1e-6 + amplitude * 1e-5, where)
        peak = math.atan2(sine, cosine) % (2 * math.pi) * 6 / math.pi
        if amplitude > 1e-3 and 1e-4 < peak % 1 < 1 - 1e-4:
            compared.near("peak", row["peak_month"], math.floor(peak) + 1, 0, where)
    told(compared, "swings, Benjamini-Hochberg", causes, "season_q_value", p_values, span)
