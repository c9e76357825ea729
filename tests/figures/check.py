"""Reckons the figures of the month, of the comebacks, of time and money and of the air anew, by scipy, statsmodels and lifelines.

python check.py PURFLE: fills an invented shop with that program, reads its tables as the owner's browser would, and
compares figure by figure; what is a sum of the books it adds up from them. Prints what was compared; ends with 1 where a
figure differs.
"""

import sys
import tempfile
import warnings

import air
import bartlett
import books
import comebacks
import month
import month_tables
import work
from shop import Compared, Shop

SPANS = ["from=2025-01&to=2025-12", "from=2025-12&to=2025-12", "from=2020-02&to=2026-01"]
# Of a group of the shop there are the same tables.
GROUPS = ["&family=cello", "&size=fractional", "&account=school", "&account=fleet"]
# So that no comparison falls out in silence.
WANTED = [
    "rate", "interval", "shrunk rate", "Fisher", "Benjamini-Hochberg", "share of a cause", "trend", "slope", "direction of the trend",
    "trends, Benjamini-Hochberg", "swing", "amplitude", "peak", "swings, Benjamini-Hochberg", "years", "minutes", "typical", "plan",
    "days", "dispersion", "parts", "days watched", "came back", "seasonal returns", "at risk", "curve", "interval of the curve",
    "share by a day", "interval by a day", "log-rank", "log-rank, small groups together", "technicians", "inspected in the books",
    "confirmed in the books", "cost of a cause", "back in the books", "comebacks of the month",
    "charged and taken", "owed", "month's money", "month's minutes", "moisture of a day", "moisture of a month",
    "odds with the air", "p with the air", "q with the air", "side by side", *month_tables.WANTED,
]


def main():
    # Where a curve begins at 1 the logarithm of its logarithm has no end; such a range is not compared.
    warnings.filterwarnings("ignore", category=RuntimeWarning)
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(sys.argv[1], folder)
        compared = Compared()
        try:
            for span in SPANS + [SPANS[2] + group for group in GROUPS]:
                month.month(compared, shop, span)
                books.orders(compared, shop, span)
            for span in SPANS + [SPANS[2] + GROUPS[0]]:
                month_tables.check(compared, shop, span, month.shrunk, bartlett.of_wave)
            for by in ("family", "size", "account"):
                beside = shop.rows(f"/month/beside.csv?by={by}&{SPANS[2]}")
                compared.same("side by side", len({row["group"] for row in beside}), {"family": 4}.get(by, 3), by)
                month_tables.weighed(compared, beside, "group", f"by {by}", month.shrunk)
            # One cause by age and season is weighed over its own cells alone.
            month.cells(compared, shop.table("cells", f"{SPANS[2]}&cause=seam_open_lower"), "one cause")
            for span in SPANS:
                work.minutes(compared, shop.table("minutes", span, "work"), shop.table("steps", span, "work"), span)
                work.stages(compared, shop.table("stages", span, "work"), shop.table("days", span, "work"), span)
                books.money(compared, shop, span)
                books.came_back(compared, shop, span)
            to_stock = shop.table("parts", SPANS[0], "work")
            for months in sorted({(row["from"], row["to"]) for row in to_stock}):
                work.parts(compared, [row for row in to_stock if (row["from"], row["to"]) == months])
            for as_of, cause in comebacks.WATCHES:
                comebacks.comebacks(compared, shop, as_of, cause)
            air.air(compared, shop)
        finally:
            shop.process.terminate()
            shop.process.wait()
    for what, count in compared.counts.items():
        print(f"{what}: {count} figures compared")
    for wanted in WANTED:
        if not compared.counts.get(wanted):
            compared.amiss.append(f"{wanted}: nothing was compared")
    for amiss in compared.amiss[:20]:
        print(amiss, file=sys.stderr)
    print(f"{len(compared.amiss)} differ")
    sys.exit(1 if compared.amiss else 0)


main()
