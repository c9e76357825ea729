"""The figures of a span, grouped by DuckDB from rows that are prepared for it: one for each order inspected and for each
cause confirmed on it. Told the path of the rows; then asked line by line, "FROM TO FAMILY" with "-" for every family, and
answers with the milliseconds, the orders inspected and the causes confirmed."""

import sys
import time

import duckdb

FIGURES = """
    select code, band, month % 12, count(*) from lines
    where month between ? and ? and (? = '-' or family = ?) group by all
"""

shop = duckdb.connect()
shop.execute("create table lines as select * from read_csv(?, header = true)", [sys.argv[1]])
print(duckdb.__version__, flush=True)
for line in sys.stdin:
    first, last, family = line.split()
    start = time.perf_counter()
    figures = shop.execute(FIGURES, [int(first), int(last), family, family]).fetchall()
    took = (time.perf_counter() - start) * 1000
    inspected = sum(n for code, _, _, n in figures if code == "-")
    confirmed = sum(n for code, _, _, n in figures if code != "-")
    print(took, inspected, confirmed, flush=True)
