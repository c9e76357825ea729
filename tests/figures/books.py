"""What is a sum of the books: orders inspected and confirmed, minutes, money and the cost of causes, added up from the database."""

import datetime
import urllib.parse
from collections import Counter, defaultdict

EPOCH = datetime.date(1970, 1, 1)
METHODS = ("cash", "card", "transfer", "account")


def months_of(span):
    """First and last day of a span, as the books count days."""
    asked = urllib.parse.parse_qs(span)
    year, month = map(int, asked["to"][0].split("-"))
    first = datetime.date.fromisoformat(asked["from"][0] + "-01")
    return (first - EPOCH).days, (datetime.date(year + month // 12, month % 12 + 1, 1) - EPOCH).days - 1, asked


def month_of(day):
    return (EPOCH + datetime.timedelta(day)).isoformat()[:7]


def half_up(numerator, denominator):
    return (2 * numerator + denominator) // (2 * denominator)


def minor(text):
    return round(float(text) * 100)


def orders(compared, shop, span):
    """Orders received in the span of which anything was looked for, and those of them with the cause confirmed."""
    first, last, asked = months_of(span)
    within = {"family": "i.family = ?", "account": "c.kind = ?"}
    of = [(within[by], asked[by][0]) for by in within if by in asked]
    if "size" in asked:
        return
    where = "".join(f" and {condition}" for condition, _ in of)
    joined = f"""from work_order o join instrument i on i.id = o.instrument join customer c on c.id = o.customer
        where o.inspected_on is not null and i.family <> 'bow'{where} and o.received_on between ? and ?"""
    counted = {}
    for row in shop.table("years", span):
        begin, end, _ = months_of(f"from={row['from']}&to={row['to']}")
        values = [value for _, value in of] + [begin, end]
        at = f"{row['cause']} {row['from']} {row['to']} {span}"
        if (*values, where) not in counted:
            confirmed = shop.sql(f"""select f.cause, count(distinct f.work_order) from finding f where f.certainty = 'confirmed'
                and not f.withdrawn and f.work_order in (select o.id {joined}) group by f.cause""", *values)
            counted[*values, where] = shop.sql(f"select count(*) {joined}", *values)[0][0], dict(confirmed)
        inspected, confirmed = counted[*values, where]
        compared.near("inspected in the books", row["inspected"], inspected, 0, at)
        compared.near("confirmed in the books", row["confirmed"], confirmed.get(row["cause"], 0), 0, at)


def came_back(compared, shop, span):
    """The next visit of the same instrument on which the same cause was confirmed, from the day of the pickup on; and how many did
    so within the shop's window, by the month of that visit."""
    rows = shop.sql("""select r.back_on, (select min(n.received_on) from finding g join work_order n on n.id = g.work_order
            where g.instrument = r.instrument and g.cause = r.cause and g.certainty = 'confirmed' and not g.withdrawn
            and n.received_at > o.received_at and n.received_on >= r.collected_on)
        from repaired r join work_order o on o.id = r.work_order order by r.work_order, r.cause""")
    for ours, theirs in rows:
        compared.same("back in the books", ours, theirs, span)
    first, last, _ = months_of(span)
    back = Counter()
    for cause, days in shop.sql("""select f.cause, min(n.received_on - o.collected_on) from finding f
            join work_order n on n.id = f.work_order join work_order o on o.id = f.comeback_of where f.certainty = 'confirmed' and not f.withdrawn
            and n.received_on between ? and ? group by f.work_order, f.cause""", first, last):
        back[cause] += days <= shop.sql("select comeback_days from shop")[0][0]
    told = {row["cause"]: int(row["comebacks"]) for row in shop.table("comebacks", span)}
    for cause in told.keys() | back.keys():
        compared.same("comebacks of the month", told.get(cause, 0), back[cause], f"{cause} {span}")


def bills(shop):
    """Of each order handed back: the day, and labour, parts and tax of the steps that were done and not free."""
    parts = defaultdict(list)
    for step, price, quantity, tax in shop.sql("select step, unit_price, quantity, tax from part"):
        parts[step].append((price * quantity, tax))
    handed_back = shop.sql("select id, collected_on from work_order where collected_on is not null")
    sums = {order: [day, 0, 0, Counter()] for order, day in handed_back}
    done = shop.sql("select id, work_order, planned_minutes, rate, tax from repair_step where done_at is not null and not free")
    for step, order, planned, rate, tax in done:
        if order not in sums:
            continue
        bill, labour = sums[order], half_up(planned * rate, 60)
        bill[1] += labour
        bill[3][tax] += labour
        for price, tax in parts[step]:
            bill[2] += price
            bill[3][tax] += price
    return {order: (day, labour, of_parts, sum(half_up(base * rate, 1_000_000) for rate, base in bases.items()))
            for order, (day, labour, of_parts, bases) in sums.items()}


def money(compared, shop, span):
    first, last, _ = months_of(span)
    all_bills = bills(shop)
    paid = shop.sql("select work_order, amount, method, at, paid_on from payment")
    months_money(compared, shop, span, (first, last), all_bills, paid)
    charged = {kind: sum(bill[at] for bill in all_bills.values() if first <= bill[0] <= last)
               for at, kind in enumerate(("charged_labour", "charged_parts", "charged_tax"), 1)}
    pickups = sum(first <= bill[0] <= last for bill in all_bills.values())
    for row in shop.table("money", span):
        method = row["kind"].removeprefix("taken_")
        taken = [amount for _, amount, how, _, on in paid if how == method and first <= on <= last]
        amount, count = (charged[row["kind"]], pickups) if row["kind"] in charged else (sum(taken), len(taken))
        compared.near("month's money", minor(row["amount"]), amount, 0, f"{row['kind']} {span}")
        compared.near("month's money", row["count"], count, 0, f"{row['kind']} {span}")
    jobs = shop.sql("""select coalesce(job, ''), count(*), sum(planned_minutes), sum(actual_minutes) from repair_step
        where done_at is not null and done_on between ? and ? group by 1""", first, last)
    told = shop.table("jobs", span)
    compared.near("month's minutes", len(told), len(jobs), 0, span)
    for row in told:
        theirs = dict((job[0], job[1:]) for job in jobs)[row["job"]]
        for name, count in zip(("steps", "planned_minutes", "actual_minutes"), theirs):
            compared.near("month's minutes", row[name], count, 0, f"{row['job']} {span}")
    causes(compared, shop, span, (first, last))


def months_money(compared, shop, span, days, all_bills, paid):
    """Each month, or each year where there are many: charged and taken in it, and what is owed when it ends."""
    handed_back = dict(shop.sql("select id, collected_at from work_order where collected_on is not null"))
    for row in shop.table("months", span, "work"):
        within = lambda day: days[0] <= day <= days[1] and month_of(day).startswith(row["month"])
        total = sum(sum(bill[1:]) for bill in all_bills.values() if within(bill[0]))
        compared.near("charged and taken", minor(row["charged"]), total, 0, f"{row['month']} {span}")
        taken = sum(amount for _, amount, _, _, on in paid if within(on))
        compared.near("charged and taken", minor(row["taken"]), taken, 0, f"{row['month']} {span}")
        by_then = lambda day: day <= days[1] and month_of(day)[:len(row["month"])] <= row["month"]
        left = {order: sum(bill[1:]) for order, bill in all_bills.items() if by_then(bill[0])}
        for order, amount, _, at, on in paid:
            if order in left and (at <= handed_back[order] or by_then(on)):
                left[order] -= amount
        for name, sign in (("owed", 1), ("shop_owes", -1)):
            compared.near("owed", minor(row[name]), sum(max(0, sign * rest) for rest in left.values()), 0, f"{row['month']} {span}")


def causes(compared, shop, span, days):
    """Of orders handed back with the cause confirmed: the steps that were planned for it and done, and their parts."""
    rate, window = shop.sql("select labour_rate, comeback_days from shop")[0]
    parts = defaultdict(int)
    for step, price in shop.sql("select step, unit_price * quantity from part"):
        parts[step] += price
    found = shop.sql("""select f.id, f.cause, f.work_order, f.comeback_days from finding f join work_order o on o.id = f.work_order
        where f.certainty = 'confirmed' and not f.withdrawn and o.collected_on between ? and ?""", *days)
    steps = defaultdict(list)
    for finding, *step in shop.sql("""select finding, id, planned_minutes, actual_minutes, rate, free from repair_step
            where done_at is not null and finding is not null"""):
        steps[finding].append(step)
    sums, on = defaultdict(Counter), defaultdict(set)
    for finding, cause, order, back in found:
        on[cause].add(order)
        of = sums[cause]
        for step, planned, actual, then, free in steps[finding]:
            of["minutes"] += actual or 0
            of["parts"] += parts[step]
            if not free:
                of["charged"] += half_up(planned * then, 60) + parts[step]
            elif back is not None and back <= window:
                of["free_minutes"] += actual or 0
                of["free_parts"] += parts[step]
    told = shop.table("causes", span, "work")
    compared.near("cost of a cause", len(told), len(on), 0, span)
    for row in told:
        of, where = sums[row["cause"]], f"{row['cause']} {span}"
        of["cost"] = half_up(of["minutes"] * rate, 60) + of["parts"]
        of["free_cost"] = half_up(of["free_minutes"] * rate, 60) + of["free_parts"]
        compared.near("cost of a cause", row["orders"], len(on[row["cause"]]), 0, where)
        for name in ("minutes", "free_minutes"):
            compared.near("cost of a cause", row[name], of[name], 0, where)
        for name in ("parts", "cost", "charged", "free_parts", "free_cost"):
            compared.near("cost of a cause", minor(row[name]), of[name], 0, where)
