"""The comebacks by lifelines, from the rows that the program hands out."""

import datetime

import numpy as np
from lifelines import KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test

# The day as of which the comebacks are told, and a cause or all of them.
WATCHES = [("2026-02-10", ""), ("2024-06-30", ""), ("2026-02-10", "seam_open_lower")]
BY = ["cause", "job", "age_band", "season", "size", "account", "technician"]


def season(day):
    return "dry" if day.month in (12, 1, 2, 3) else "humid" if day.month in (7, 8) else "change"


def watched(compared, row, as_of, window, where):
    """How many days one was watched, whether it came back, and whether that was nature's: from the days alone."""
    day = lambda name: row[name] and datetime.date.fromisoformat(row[name])
    home, back, gone = day("collected_on"), day("back_on"), day("gone_on")
    if back and gone and gone < back:
        back = ""
    days = ((back or gone or as_of) - home).days
    compared.near("days watched", row["days_watched"], days, 0, where)
    compared.near("came back", row["came_back"] == "yes", bool(back), 0, where)
    return days, bool(back), bool(back) and max(300, window + 1) <= days <= 430 and season(back) == row["season"]


def watched_and_back(groups):
    """Of each day on which any came back: how many of each group were watched, and how many came back in all."""
    gone = np.unique(np.concatenate([days[back] for days, back, _ in groups]))
    here = np.array([[(days >= day).sum() for day in gone] for days, _, _ in groups])
    return here, np.array([sum((days[back] == day).sum() for days, back, _ in groups) for day in gone])


def small_together(groups):
    """Those of which fewer than five would be expected back as one, and with the least of the others where it is still too few."""
    here, back = watched_and_back(groups)
    expected = (here * back / here.sum(axis=0)).sum(axis=1)
    order = list(np.argsort(-expected, kind="stable"))
    enough = max(1, int((expected >= 5).sum()))
    apart, small = [groups[at] for at in order[:enough]], [groups[at] for at in order[enough:]]
    together = lambda some: tuple(np.concatenate(columns) for columns in zip(*some))
    if not small:
        return apart
    if expected[order[enough:]].sum() < 5 and (expected >= 5).sum() > 1:
        return apart[:-1] + [together([apart[-1]] + small)]
    return apart + [together(small)]


def alike(groups):
    """The log-rank test of the groups that could have shown a difference: the others only make its matrix singular."""
    here, back = watched_and_back(groups)
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
    window = shop.sql("select comeback_days from shop")[0][0]
    known = [watched(compared, row, datetime.date.fromisoformat(as_of), window, f"row {at} {asked}") for at, row in enumerate(rows)]
    # Nobody is named in the rows; who did the work stands in the books, in the order of the rows.
    home = (datetime.date.fromisoformat(as_of) - datetime.date(1970, 1, 1)).days
    people = shop.sql("select coalesce(hex(technician), '') from repaired where collected_on <= ? and (? = '' or cause = ?) "
                      "order by work_order, cause", home, cause, cause)
    compared.near("technicians", len(people), len(rows), 0, asked)
    for row, person in zip(rows, people):
        row["technician"] = person[0].lower()
    for by in BY:
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
            group = together if last else groups[row["key"].replace("-", "") if by == "technician" else row["key"]]
            own = [point for point in points if point["name"] == row["name"]]
            curve(compared, group, row, own, f"{by} {row['name']} {asked}")
        path = f"/comebacks.csv?{asked}&by={by}&table=log_rank"
        each = list(groups.values())
        tests = [alike(each), alike(small_together(each))]
        if tests[0] is None:
            compared.near("no log-rank", shop.get(path).count("\n"), 1, 0, f"{by} {asked}")
            continue
        for ours, test, which in zip(shop.rows(path), tests, ("each", "small_together")):
            what = "log-rank" if which == "each" else "log-rank, small groups together"
            compared.same(what, ours["groups"], which, f"{by} {asked}")
            compared.near(what, ours["chi_square"], test[0], 1e-8 * max(1, test[0]), f"{by} {asked}")
            compared.near(what, ours["df"], test[1], 0, f"{by} {asked}")
            compared.near(what, ours["p_value"], test[2], 1e-9, f"{by} {asked}")
