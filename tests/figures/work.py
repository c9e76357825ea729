"""Time and money: minutes, days and parts by numpy, scipy and statsmodels, and money as the books have it."""

import math

import numpy as np
from scipy import optimize, special, stats
from statsmodels.stats.meta_analysis import combine_effects


def spread(compared, what, row, values, where):
    for name, theirs in zip(("low", "middle", "high"), np.percentile(values, [25, 50, 75])):
        compared.near(what, row[name], theirs, 1e-9, where)


def minutes(compared, jobs, steps, span):
    """Quartiles by numpy, the variance between jobs by statsmodels' DerSimonian and Laird, and what leans on it."""
    logs, of_job = {}, {}
    for row in steps:
        planned, actual, times = int(row["planned"]), int(row["actual"]), int(row["steps"])
        of_job.setdefault(row["job"], []).extend([(planned, actual)] * times)
        if row["job"] and planned > 0 and actual > 0:
            logs.setdefault(row["job"], []).extend([math.log(actual / planned)] * times)
    names = list(logs)
    counts = np.array([len(logs[name]) for name in names])
    means = np.array([np.mean(logs[name]) for name in names])
    within = sum(((np.array(logs[name]) - np.mean(logs[name])) ** 2).sum() for name in names) / (counts.sum() - len(names))
    all_jobs = combine_effects(means, within / counts, method_re="dl")
    between, mean, variance = all_jobs.tau2, all_jobs.mean_effect_re, all_jobs.sd_eff_w_re ** 2
    if between < 0:  # statsmodels lets it be; DerSimonian and Laird have it nought then, and all jobs are alike
        between, mean, variance = 0, all_jobs.mean_effect_fe, all_jobs.sd_eff_w_fe ** 2
    for row in jobs:
        where = f"{row['job']} {span}"
        pairs = of_job[row["job"]]
        spread(compared, "minutes", row, [pair[1] for pair in pairs], where)
        planned = np.median([pair[0] for pair in pairs])
        compared.near("minutes", row["planned_middle"], planned, 1e-9, where)
        for at, name in enumerate(("planned_minutes", "actual_minutes")):
            compared.near("minutes", row[name], sum(pair[at] for pair in pairs), 0, where)
        compared.near("minutes", row["compared"], len(logs.get(row["job"], [])), 0, where)
        if row["job"] not in logs:
            compared.none("typical", row["ratio"], where)
            continue
        own = within / len(logs[row["job"]])
        leans = own / (own + between)
        middle = leans * mean + (1 - leans) * np.mean(logs[row["job"]])
        half = stats.norm.ppf(0.975) * math.sqrt((1 - leans) * own + leans ** 2 * variance)
        for name, theirs in (("ratio", middle), ("ratio_low", middle - half), ("ratio_high", middle + half)):
            compared.near("typical", row[name], math.exp(theirs), 1e-7, where)
        compared.near("typical", row["leans"], leans, 1e-7, where)
        if planned:
            compared.near("typical", row["typical"], math.exp(middle) * planned, 1e-5, where)
        off = "as_planned"
        if len(logs[row["job"]]) < 5:
            off = "too_few"
        elif middle - half > 0 and math.exp(middle) > 1.05:
            off = "too_short"
        elif middle + half < 0 and math.exp(middle) < 0.95:
            off = "too_long"
        compared.same("plan", row["plan"], off, where)


def stages(compared, rows, days, span):
    for row in rows:
        values = [int(day["days"]) for day in days if day["stage"] == row["stage"] for _ in range(int(day["orders"]))]
        if values:
            spread(compared, "days", row, values, f"{row['stage']} {span}")


def unlike(counts):
    """How much years differ beyond chance, over all parts: where Pearson's chi-square is what is expected of it."""
    rows = [np.array(row, float) for row in counts if len(row) > 1 and sum(row)]
    beyond = lambda d: sum(((row - row.mean()) ** 2).sum() / (row.mean() + d * row.mean() ** 2) - (len(row) - 1) for row in rows)
    return optimize.brentq(beyond, 0, 1024, xtol=1e-14) if rows and beyond(0) > 0 else 0.0


def parts(compared, rows):
    """The next count: negative binomial, or beta negative binomial where years differ beyond chance."""
    counts = [[int(n) for n in row["counts"].split(";")] for row in rows]
    dispersion = unlike(counts)
    for row, years in zip(rows, counts):
        k, counted, where = len(years), sum(years) + 0.5, row["part"]
        compared.near("dispersion", row["dispersion"], dispersion, 1e-9, where)
        compared.near("parts", row["expected"], counted / k, 1e-9, where)
        if dispersion > 1e-6:
            size = 1 / dispersion
            n = np.arange(0, 100 * counted / k + 1000)
            chance = np.cumsum(np.exp(special.gammaln(size + n) - special.gammaln(n + 1) - special.gammaln(size)
                                      + special.betaln((k + 1) * size, counted + n) - special.betaln(k * size, counted)))
            ends = np.searchsorted(chance, [0.025, 0.975])
        else:
            ends = stats.nbinom.ppf([0.025, 0.975], counted, k / (k + 1))
        for name, theirs in zip(("low", "high"), ends):
            compared.near("parts", row[name], theirs, 0, where)
