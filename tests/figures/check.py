"""Reckons the figures of the month, of the comebacks, and of time and money anew from the program's own tables, by scipy, statsmodels and lifelines.

python check.py PURFLE: fills an invented shop with that program, reads its tables as the owner's browser would, and
compares figure by figure. Prints what was compared; ends with 1 at the first table in which a figure differs.
"""

import csv
import datetime
import http.cookiejar
import io
import math
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request
import warnings

import numpy as np
from lifelines import KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test
from scipy import optimize, special, stats
import statsmodels.api as sm
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

import month_tables

SPANS = ["from=2025-01&to=2025-12", "from=2025-12&to=2025-12", "from=2020-02&to=2026-01", "from=2020-02&to=2026-01&family=cello"]
# The day as of which the comebacks are told, and a cause or all of them.
WATCHES = [("2026-02-10", ""), ("2024-06-30", ""), ("2026-02-10", "seam_open_lower")]
BANDS = ["under_2", "2_to_19", "20_to_79", "80_to_99", "100_plus"]


class Shop:
    """The invented shop, served on a free port, with its owner signed in."""

    def __init__(self, program, folder):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.base = f"http://127.0.0.1:{free.getsockname()[1]}"
        words = [program, "demo", "--orders", "6000", "--as-of", "2026-02-10", "--data", f"{folder}/shop", "--listen", self.base[7:]]
        self.process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))
        self.browser.addheaders = [("Origin", self.base)]
        for _ in range(600):
            try:
                self.get("/readyz")
                break
            except urllib.error.URLError:
                if self.process.poll() is not None:
                    raise SystemExit("the program ended before it was ready")
                time.sleep(0.2)
        for line in open(f"{folder}/shop/demo-sign-in.txt", encoding="utf-8"):
            name, roles, password = line.rstrip("\n").split("\t")
            if "owner" in roles.split(","):
                self.browser.open(f"{self.base}/sign-in", urllib.parse.urlencode({"name": name, "password": password}).encode()).read()

    def get(self, path):
        return self.browser.open(self.base + path).read().decode("utf-8")

    def table(self, name, span, page="month"):
        return self.rows(f"/{page}.csv?{span}&table={name}")

    def rows(self, path):
        rows = list(csv.DictReader(io.StringIO(self.get(path))))
        if not rows:
            raise SystemExit(f"{path} is empty: nothing would be checked")
        return rows


class Compared:
    """How many figures were compared, and which differ."""

    def __init__(self):
        self.counts, self.amiss = {}, []

    def near(self, what, ours, theirs, tolerance, where):
        self.counts[what] = self.counts.get(what, 0) + 1
        ours = float(ours)
        if not abs(ours - theirs) <= tolerance:
            self.amiss.append(f"{what}: {ours} here, {theirs} there; {where}")

    def none(self, what, ours, where):
        self.counts[what] = self.counts.get(what, 0) + 1
        if ours != "":
            self.amiss.append(f"{what}: {ours} here, nothing there; {where}")


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
    for row in causes:
        groups = []
        for score, band in enumerate(BANDS):
            of_band = [g for g in of_cells[row["cause"]] if g[0]["age_band"] == band]
            groups.append((score, sum(g[1] for g in of_band), sum(g[2] for g in of_band)))
        groups = [g for g in groups if g[2]]
        count, size = sum(g[1] for g in groups), sum(g[2] for g in groups)
        where = f"{row['cause']} {span}"
        if count < 10 or count == size or len(groups) < 2:
            compared.none("no trend", row["age_p_value"], where)
            continue
        # Statsmodels gives Mantel's extension (1963), whose variance is larger by one order in all.
        table = sm.stats.Table(np.array([[g[1], g[2] - g[1]] for g in groups]), shift_zeros=False)
        mantel = table.test_ordinal_association(row_scores=np.array([g[0] for g in groups]), col_scores=np.array([1, 0]))
        theirs = 2 * stats.norm.sf(abs(mantel.zscore) * math.sqrt(size / (size - 1)))
        compared.near("trend", row["age_p_value"], theirs, 1e-9 + theirs * 1e-6, where)


def swings(compared, causes, rows, span):
    months = by_cause(rows)
    angle = (np.arange(12) + 0.5) * 2 * np.pi / 12
    for row in causes:
        counts = np.array([g[1] for g in months[row["cause"]]])
        sizes = np.array([g[2] for g in months[row["cause"]]])
        where = f"{row['cause']} {span}"
        if counts.sum() < 10 or (sizes == 0).any():
            compared.none("no swing", row["season_p_value"], where)
            continue
        known = np.column_stack([np.ones(12), np.cos(angle), np.sin(angle)])
        both = np.column_stack([counts, sizes - counts])
        fit = lambda known: sm.GLM(both, known, family=sm.families.Binomial()).fit(tol=1e-13, maxiter=200)
        wave, level = fit(known), fit(known[:, :1])
        theirs = stats.chi2.sf(max(0.0, 2 * (wave.llf - level.llf)), 2)
        compared.near("swing", row["season_p_value"], theirs, 1e-8 + theirs * 1e-5, where)
        cosine, sine = wave.params[1:]
        amplitude = math.hypot(cosine, sine)
        compared.near("amplitude", row["season_amplitude"], amplitude, 1e-6 + amplitude * 1e-5, where)
        peak = math.atan2(sine, cosine) % (2 * math.pi) * 6 / math.pi
        if amplitude > 1e-3 and 1e-4 < peak % 1 < 1 - 1e-4:
            compared.near("peak", row["peak_month"], math.floor(peak) + 1, 0, where)


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
        compared.near("minutes", row["planned_middle"], np.median([pair[0] for pair in pairs]), 1e-9, where)
        if row["job"] not in logs:
            compared.none("typical", row["ratio"], where)
            continue
        own = within / len(logs[row["job"]])
        leans = own / (own + between)
        middle = leans * mean + (1 - leans) * np.mean(logs[row["job"]])
        half = stats.norm.ppf(0.975) * math.sqrt((1 - leans) * own + leans ** 2 * variance)
        for name, theirs in (("ratio", middle), ("ratio_low", middle - half), ("ratio_high", middle + half)):
            compared.near("typical", row[name], math.exp(theirs), 1e-7, where)


def stages(compared, rows, days, span):
    for row in rows:
        values = [int(day["days"]) for day in days if day["stage"] == row["stage"] for _ in range(int(day["orders"]))]
        if values:
            spread(compared, "days", row, values, f"{row['stage']} {span}")


def parts(compared, rows):
    """The negative binomial by scipy, with the dispersion over all parts by numpy."""
    counts = [[int(n) for n in row["counts"].split(";")] for row in rows]
    beyond = sum(np.var(row, ddof=1) - np.mean(row) for row in counts)
    dispersion = max(beyond / sum(np.mean(row) ** 2 for row in counts), 0)
    for row, years in zip(rows, counts):
        k, where = len(years), row["part"]
        expected = np.mean(years) + 0.5 / k
        spread_of = (expected + dispersion * expected ** 2) * (1 + 1 / k)
        size = expected ** 2 / (spread_of - expected)
        compared.near("dispersion", row["dispersion"], dispersion, 1e-9, where)
        compared.near("parts", row["expected"], expected, 1e-9, where)
        for name, share in (("low", 0.025), ("high", 0.975)):
            compared.near("parts", row[name], stats.nbinom.ppf(share, size, size / (size + expected)), 0, where)


def season(day):
    return "dry" if day.month in (12, 1, 2, 3) else "humid" if day.month in (7, 8) else "change"


def watched(compared, row, as_of, where):
    """How many days one was watched, whether it came back, and whether that was nature's: from the days alone."""
    day = lambda name: row[name] and datetime.date.fromisoformat(row[name])
    home, back, gone = day("collected_on"), day("back_on"), day("gone_on")
    if back and gone and gone < back:
        back = ""
    days = ((back or gone or as_of) - home).days
    compared.near("days watched", row["days_watched"], days, 0, where)
    compared.near("came back", row["came_back"] == "yes", bool(back), 0, where)
    return days, bool(back), bool(back) and 300 <= days <= 430 and season(back) == row["season"]


def alike(groups):
    """The log-rank test of the groups that could have shown a difference: the others only make its matrix singular."""
    gone = np.unique(np.concatenate([days[back] for days, back, _ in groups]))
    here = np.array([[(days >= day).sum() for day in gone] for days, _, _ in groups])
    back = np.array([sum((days[back] == day).sum() for days, back, _ in groups) for day in gone])
    all_of = here.sum(axis=0)
    part = [at for at in range(len(groups)) if ((here[at] > 0) & (here[at] < all_of) & (back < all_of)).any()]
    if len(part) < 2:
        return None
    groups = [groups[at] for at in part]
    test = multivariate_logrank_test(np.concatenate([g[0] for g in groups]), np.repeat(np.arange(len(groups)), [len(g[0]) for g in groups]),
                                     np.concatenate([g[1] for g in groups]))
    return test.test_statistic, len(groups) - 1, test.p_value


def curve(compared, group, row, points, where):
    days, back, seasonal = group
    compared.near("repaired", row["repaired"], len(days), 0, where)
    compared.near("comebacks", row["comebacks"], back.sum(), 0, where)
    compared.near("seasonal returns", row["seasonal_returns"], seasonal.sum(), 0, where)
    fit = KaplanMeierFitter().fit(days, back)
    survival, ranges = fit.survival_function_["KM_estimate"], fit.confidence_interval_
    at_risk = fit.event_table["at_risk"]
    on = [day for day in fit.event_table.index if fit.event_table["observed"][day] > 0]
    compared.near("days of the curve", len(points), len(on), 0, where)
    for point, day in zip(points, on):
        at = f"{where} day {day}"
        compared.near("days of the curve", point["day"], day, 0, at)
        compared.near("at risk", point["at_risk"], at_risk[day], 0, at)
        compared.near("curve", point["survival"], survival[day], 1e-12, at)
        low, high = ranges.loc[day]
        if 0 < survival[day] < 1:
            compared.near("interval of the curve", point["low"], low, 1e-9, at)
            compared.near("interval of the curve", point["high"], high, 1e-9, at)
        else:
            compared.none("no interval of the curve", point["low"], at)
    for day in (30, 90, 365):
        at = f"{where} by day {day}"
        later = at_risk[at_risk.index >= day]
        compared.near("at risk", row[f"at_risk_{day}"], later.iloc[0] if len(later) else 0, 0, at)
        if days.max() < day and survival.iloc[-1] > 0:
            compared.none("not watched that long", row[f"returned_{day}"], at)
            continue
        share = survival.asof(day)
        compared.near("share by a day", row[f"returned_{day}"], 1 - share, 1e-12, at)
        if 0 < share < 1:
            low, high = ranges.asof(day)
            compared.near("interval by a day", row[f"low_{day}"], 1 - high, 1e-9, at)
            compared.near("interval by a day", row[f"high_{day}"], 1 - low, 1e-9, at)
        else:
            compared.none("no interval by a day", row[f"low_{day}"], at)


def comebacks(compared, shop, as_of, cause):
    asked = f"as_of={as_of}&cause={cause}"
    rows = shop.rows(f"/comebacks.csv?{asked}&table=rows")
    known = [watched(compared, row, datetime.date.fromisoformat(as_of), f"row {at} {asked}") for at, row in enumerate(rows)]
    for by in ("cause", "job", "age_band", "season"):
        told = shop.rows(f"/comebacks.csv?{asked}&by={by}&table=groups")
        points = shop.rows(f"/comebacks.csv?{asked}&by={by}&table=curves")
        groups = {}
        for row, one in zip(rows, known):
            groups.setdefault(row[by], []).append(one)
        groups = {key: tuple(np.array(column) for column in zip(*group)) for key, group in groups.items()}
        together = tuple(np.concatenate(columns) for columns in zip(*groups.values()))
        compared.near("groups", len(told) - 1, len(groups), 0, f"{by} {asked}")
        for at, row in enumerate(told):
            last = at == len(told) - 1
            group = together if last else groups[row["key"]]
            own = [point for point in points if point["name"] == row["name"]]
            curve(compared, group, row, own, f"{by} {row['name']} {asked}")
        test = alike(list(groups.values()))
        path = f"/comebacks.csv?{asked}&by={by}&table=log_rank"
        if test is None:
            compared.near("no log-rank", shop.get(path).count("\n"), 1, 0, f"{by} {asked}")
            continue
        ours = shop.rows(path)[0]
        compared.near("log-rank", ours["chi_square"], test[0], 1e-8 * max(1, test[0]), f"{by} {asked}")
        compared.near("log-rank", ours["df"], test[1], 0, f"{by} {asked}")
        compared.near("log-rank", ours["p_value"], test[2], 1e-9, f"{by} {asked}")


def main():
    # Where a curve begins at 1 the logarithm of its logarithm has no end; such a range is not compared.
    warnings.filterwarnings("ignore", category=RuntimeWarning)
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(sys.argv[1], folder)
        compared = Compared()
        try:
            for span in SPANS:
                of_cells = shop.table("cells", span)
                causes = shop.table("causes", span)
                cells(compared, of_cells, span)
                trends(compared, causes, by_cause(of_cells), span)
                swings(compared, causes, shop.table("months", span), span)
                month_tables.check(compared, shop, span, shrunk)
                if "family" not in span:
                    minutes(compared, shop.table("minutes", span, "work"), shop.table("steps", span, "work"), span)
                    stages(compared, shop.table("stages", span, "work"), shop.table("days", span, "work"), span)
            to_stock = shop.table("parts", SPANS[0], "work")
            for months in sorted({(row["from"], row["to"]) for row in to_stock}):
                parts(compared, [row for row in to_stock if (row["from"], row["to"]) == months])
            for as_of, cause in WATCHES:
                comebacks(compared, shop, as_of, cause)
        finally:
            shop.process.terminate()
            shop.process.wait()
    for what, count in compared.counts.items():
        print(f"{what}: {count} figures compared")
    for wanted in ("rate", "interval", "shrunk rate", "Fisher", "Benjamini-Hochberg", "trend", "swing", "amplitude", "peak",
                   "minutes", "typical", "days", "dispersion", "parts", "days watched", "came back", "seasonal returns", "at risk", "curve",
                   "interval of the curve", "share by a day", "interval by a day", "log-rank", *month_tables.WANTED):
        if not compared.counts.get(wanted):
            compared.amiss.append(f"{wanted}: nothing was compared")
    for amiss in compared.amiss[:20]:
        print(amiss, file=sys.stderr)
    print(f"{len(compared.amiss)} differ")
    sys.exit(1 if compared.amiss else 0)


main()
