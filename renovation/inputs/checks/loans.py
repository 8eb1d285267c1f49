"""Loans, those stated and the one on offer to the plan: payouts, terms, whole amounts."""

from collections.abc import Iterator

from renovation.inputs.checks.farm import Farm, Findings, Path, Table, table, tables
from renovation.inputs.errors import each
from renovation.inputs.quantities import month_count, problem, year_month
from renovation.money.loan_terms import MOST_UNITS, is_whole_units, months_due
from renovation.words import known_currency, smallest_unit


def _loans(farm: Farm) -> Iterator[tuple[Path, Table]]:
    """Every loan with its place."""
    yield from ((("loans", position), loan) for position, loan in farm.entries("loans"))
    if farm.planning.get("loan"):
        yield ("planning", "loan"), farm.planning["loan"]


def _payout_months(loan: Table) -> dict[int, int]:
    """Month counts of the payouts, by their positions."""
    months = ((i, payout.get("month")) for i, payout in tables(loan.get("payouts")))
    return {i: month_count(month) for i, month in months if month is not None}


def payouts(farm: Farm) -> Findings:
    """Shares that do not sum to 1, months named twice, outside the years looked at or after grace."""
    for place, loan in _loans(farm):
        entries = [payout for _, payout in each(loan.get("payouts"))]
        shares = [share for payout in entries if (share := table(payout).get("share", 1.0)) is not None]
        if entries and len(shares) == len(entries) and abs(sum(shares) - 1) > 1e-6:
            yield (*place, "payouts"), problem("payouts_not_one", found=f"{sum(shares):g}")
        grace, months = loan.get("grace_months", 0), _payout_months(loan)
        seen: set[int] = set()
        for i, month in months.items():
            here = (*place, "payouts", i, "month")
            if month in seen:
                yield (*place, "payouts"), problem("payouts_in_one_month", found=f'"{year_month(month)}"')
            seen.add(month)
            if place[0] == "loans" and farm.start is not None and month < farm.start:
                if loan.get("running", False) is False:
                    yield here, problem("paid_out_before", found=f'"{year_month(month)}"', first=year_month(farm.start))
            else:
                yield from farm.outside(here, month)
            if grace is not None and month - min(months.values()) > grace:
                last = year_month(min(months.values()) + grace)
                yield here, problem("payout_after_grace", found=f'"{year_month(month)}"', last=last)


def counted(farm: Farm) -> Findings:
    """A payout against more live trees than the farm has places for."""
    sizes = [stand.get(field, 0) for stand in farm.stands.values() for field in ("trees", "empty_places")]
    if None in sizes or not farm.all_named:
        return
    for place, loan in _loans(farm):
        for i, payout in tables(loan.get("payouts")):
            if (payout.get("live_trees") or 0) > sum(sizes):
                facts = {"found": str(payout["live_trees"]), "most": sum(sizes)}
                yield (*place, "payouts", i, "live_trees"), problem("more_counted_than_places", **facts)


def running(farm: Farm) -> Findings:
    """A loan marked as running that was not paid out or is repaid; a debt stated of one that is not."""
    for position, loan in farm.entries("loans"):
        place, months = ("loans", position), _payout_months(loan)
        if farm.start is None or not months or ("running" in loan and loan["running"] is None):
            continue
        first = {"first": year_month(farm.start)}
        if loan.get("running"):
            term, grace = loan.get("term_months"), loan.get("grace_months", 0)
            if min(months.values()) >= farm.start:
                yield (*place, "running"), problem("running_not_paid_out", found="true", **first)
            elif term is not None and grace is not None and grace < term:
                begun = min(months.values())
                due = _due(loan, begun + grace, begun + term)
                if due and due[-1] < farm.start:
                    facts = {"last": year_month(due[-1]), **first}
                    yield (*place, "term_months"), problem("loan_is_over", found=str(term), **facts)
        elif loan.get("owed") is not None:
            yield (*place, "owed"), problem("owed_not_running", found=f"{loan['owed']:g}")


def terms(farm: Farm) -> Findings:
    """A term within its grace or beyond the years looked at; harvest months that repay nothing."""
    for place, loan in _loans(farm):
        term, grace = loan.get("term_months"), loan.get("grace_months", 0)
        if term is None or grace is None:
            continue
        if term <= grace:
            yield (*place, "term_months"), problem("term_within_grace", found=str(term), grace=grace)
            continue
        first = min(_payout_months(loan).values(), default=None)
        if first is None:
            continue
        due = _due(loan, first + grace, first + term)
        last = due[-1] if due else first + term
        if farm.end is not None and first < farm.end <= last:
            facts = {"last": year_month(last), "most": farm.end - 1 - first}
            yield (*place, "term_months"), problem("term_beyond_horizon", found=str(term), **facts)
        yield from _harvest_months(loan, place, first + grace, first + term)


def _due(loan: Table, end_of_grace: int, end: int) -> tuple[int, ...]:
    """Month counts of the instalments; month count 0 is a January."""
    named = loan.get("harvest_months") or () if loan.get("repayment") == "harvest" else None
    return months_due(end_of_grace, end, 1, named)


def _harvest_months(loan: Table, place: Path, end_of_grace: int, end: int) -> Findings:
    """A loan repaid at harvest needs harvest months, one of them after grace and within its term."""
    months, where = loan.get("harvest_months", ()), (*place, "harvest_months")
    if months is None:
        return
    for month in sorted({m for m in months if m is not None and months.count(m) > 1}):
        yield where, problem("listed_twice", found=str(month))
    if loan.get("repayment") != "harvest":
        return
    if not months:
        yield where, problem("no_harvest_months")
    elif None not in months and not _due(loan, end_of_grace, end):
        facts = {"first": year_month(end_of_grace + 1), "last": year_month(end)}
        yield where, problem("no_harvest_in_term", found=", ".join(map(str, months)), **facts)


def amounts(farm: Farm) -> Findings:
    """A loan that is no whole number of the currency's smallest units, or one of more than can be counted."""
    currency = farm.appraisal.get("currency")
    if currency is None or not known_currency(currency):
        return
    unit = smallest_unit(currency)
    for place, loan in _loans(farm):
        for field in ("amount", "owed"):
            amount = loan.get(field)
            if amount is None:
                continue
            if amount / unit > MOST_UNITS:
                yield (*place, field), problem("amount_uncountable", found=repr(amount), most=MOST_UNITS * unit)
            elif not is_whole_units(amount, unit):
                yield (*place, field), problem("amount_not_whole_units", found=repr(amount), unit=f"{unit:g}")


CHECKS = (payouts, counted, running, terms, amounts)
