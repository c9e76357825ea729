"""The air: wood moisture from single readings by the Wood Handbook, and the causes beside it by statsmodels."""

import calendar
import datetime
import zoneinfo

import numpy as np
from scipy import stats
import statsmodels.api as sm
from statsmodels.stats.multitest import multipletests

from bartlett import correction

# A window of so many days, of which so many need readings; a cause is told of from so many confirmed on.
WINDOW, ENOUGH_DAYS, ENOUGH_CONFIRMED = 30, 10, 20
ODDS = [("odds_per_percent_drier", "drier_low", "drier_high"), ("odds_per_percent_lost", "lost_low", "lost_high")]


def moisture(celsius, percent):
    """Equation 4-5 of the Wood Handbook, FPL-GTR-282 (2021), in the degrees Celsius it is given for; percent."""
    h, t = percent / 100, celsius
    w = np.polyval([0.0135, 1.29, 349], t)
    k = np.polyval([-2.73e-6, 7.36e-4, 0.805], t)
    k1 = np.polyval([-3.03e-4, -9.38e-3, 6.27], t)
    k2 = np.polyval([-2.93e-4, 4.07e-2, 1.91], t)
    a, b = k * h, k1 * k * h
    c = b * k2 * k * h
    return 1800 / w * (a / (1 - a) + (b + 2 * c) / (1 + b + c))


def by_day(shop):
    """The mean moisture of the readings of each day of the shop's calendar, each to a thousandth as it is kept."""
    zone = zoneinfo.ZoneInfo(shop.sql("select zone from shop")[0][0])
    days = {}
    for at, celsius, percent in shop.sql("select at, temperature, humidity from reading"):
        day = datetime.datetime.fromtimestamp(at / 1000, zone).date()
        days.setdefault(day, []).append(round(float(moisture(celsius / 100, percent / 100)), 3))
    return days


def up_to(means, day):
    """Of the days with readings among the thirty up to one; nothing of too few."""
    found = [means[on] for on in (day - datetime.timedelta(back) for back in range(WINDOW)) if on in means]
    return np.mean(found) if len(found) >= ENOUGH_DAYS else None


def of_month(means, year, month):
    """The moisture of the last thirty days and its change from the thirty before, over the days of the month."""
    days = [datetime.date(year, month, day + 1) for day in range(calendar.monthrange(year, month)[1])]
    pairs = [(up_to(means, day), up_to(means, day - datetime.timedelta(WINDOW))) for day in days]
    pairs = [pair for pair in pairs if None not in pair]
    if 2 * len(pairs) < len(days):
        return None
    now, before = np.mean(pairs, axis=0)
    return now, now - before


def air(compared, shop):
    days = by_day(shop)
    for row in shop.rows("/air.csv?table=days"):
        readings, where = days[datetime.date.fromisoformat(row["day"])], row["day"]
        compared.near("moisture of a day", row["readings"], len(readings), 0, where)
        # Three places are told.
        for name, theirs in (("percent", np.mean(readings)), ("least", min(readings)), ("most", max(readings))):
            compared.near("moisture of a day", row[f"wood_moisture_{name}"], theirs, 5.1e-4 + 1e-3 * (name != "percent"), where)
    months, means = {}, {day: np.mean(readings) for day, readings in days.items()}
    rows = shop.rows("/air.csv?table=months")
    for row in rows:
        if row["month"] not in months:
            months[row["month"]] = theirs = of_month(means, *map(int, row["month"].split("-")))
            if theirs is None:
                compared.none("no moisture of a month", row["wood_moisture_percent"] + row["change_percent"], row["month"])
                continue
            for name, figure in zip(("wood_moisture_percent", "change_percent"), theirs):
                # A reading that ends in half a thousandth may be rounded either way.
                compared.near("moisture of a month", row[name], figure, 1e-4, row["month"])
    causes(compared, rows, shop.rows("/air.csv?table=causes"))


def causes(compared, rows, told):
    with_air = [row for row in rows if row["wood_moisture_percent"]]
    of_cause = {}
    for row in with_air:
        figures = [float(row[name]) for name in ("wood_moisture_percent", "change_percent", "confirmed", "inspected")]
        of_cause.setdefault(row["cause"], []).append(figures)
    weighable = {cause: np.array(figures) for cause, figures in of_cause.items() if sum(row[2] for row in figures) >= ENOUGH_CONFIRMED}
    compared.same("causes with the air", sorted(row["cause"] for row in told), sorted(weighable), "air")
    p_values = []
    for row in told:
        figures, where = weighable[row["cause"]], row["cause"]
        confirmed, inspected = figures[:, 2], figures[:, 3]
        compared.near("causes with the air", row["confirmed"], confirmed.sum(), 0, where)
        compared.near("causes with the air", row["inspected"], inspected.sum(), 0, where)
        known = np.column_stack([np.ones(len(figures)), figures[:, :2]])
        both = np.column_stack([confirmed, inspected - confirmed])
        fit = lambda known: sm.GLM(both, known, family=sm.families.Binomial()).fit(tol=1e-13, maxiter=200)
        wide, narrow = fit(known), fit(known[:, :1])
        for at, names in enumerate(ODDS, 1):
            low, high = wide.conf_int()[at]
            for name, theirs in zip(names, np.exp([-wide.params[at], -high, -low])):
                compared.near("odds with the air", row[name], theirs, 1e-6 * max(1, theirs), f"{name} {where}")
        few = correction(known, 1, inspected, narrow.fittedvalues)
        p_values.append(stats.chi2.sf(max(0.0, 2 * (wide.llf - narrow.llf)) / few, 2))
        compared.near("p with the air", row["p_value"], p_values[-1], 1e-9 + 1e-6 * p_values[-1], where)
    for row, theirs in zip(told, multipletests(p_values, 0.05, "fdr_bh")[1]):
        compared.near("q with the air", row["q_value"], theirs, 1e-9 + 1e-6 * theirs, row["cause"])
