"""What stands against a season's record: figures that contradict each other, or the farm whose season it is."""

from collections import defaultdict
from collections.abc import Collection, Iterator
from typing import Any

from renovation.inputs.errors import Path, Problem
from renovation.inputs.loans import Loan
from renovation.inputs.quantities import FrozenDict, month_count, year_month
from renovation.inputs.scenario import Scenario
from renovation.inputs.season import Cohort, LoanRecord, SeasonRecord, Try
from renovation.inputs.standing import UnderWay
from renovation.inputs.techniques import Technique

FARM_WORK = ("upkeep", "harvest", "intercrop")
"""Work of the farm that belongs to no operation of a technique."""
YEAR = 12
Found = Iterator[tuple[Path, Problem]]


def season_problems(record: SeasonRecord, farm: Scenario) -> list[tuple[Path, Problem]]:
    """Every mistake in a record of this farm's first year, with the path from the record to the figure it stands in.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> [(path, str(told.code)) for path, told in season_problems(SeasonRecord(season="2020-01"), farm)]
        [(('season',), 'season_error.earlier')]
    """
    found = list(_season(record, farm))
    return found or [told for check in _CHECKS for told in check(record, farm)]


def told(code: str, found: object = "", **facts: Any) -> Problem:
    """A mistake without its place."""
    return Problem("", "", f"season_error.{code}", str(found), FrozenDict(facts))


def no_such(code: str, found: str, known: Collection[str]) -> Problem:
    """A name that nothing known bears."""
    return told(code, found, like=found, choices=tuple(known))


def _season(record: SeasonRecord, farm: Scenario) -> Found:
    """A season that is not the first year of this farm."""
    first = farm.appraisal.start
    if record.season != first:
        code = "earlier" if record.season < first else "later"
        yield ("season",), told(code, record.season, first=first, start=first)


def _names(record: SeasonRecord, farm: Scenario) -> Found:
    """Stands, ways, operations and loans that the farm does not have, and loans not yet paid out."""
    stands = [stand.name for stand in farm.stands]
    named: list[tuple[Path, str | None, str | None]] = [
        (("cohorts", i), cohort.stand, cohort.technique) for i, cohort in enumerate(record.cohorts)
    ]
    named += [(("days", i), None, row.technique) for i, row in enumerate(record.days)]
    for path, stand, technique in named:
        if stand is not None and stand not in stands:
            yield (*path, "stand"), no_such("unknown_stand", stand, stands)
        if technique is not None and technique not in farm.techniques:
            yield (*path, "technique"), no_such("unknown_technique", technique, farm.techniques)
    for i, row in enumerate(record.days):
        if row.operation is not None and (row.technique is None or row.technique in farm.techniques):
            ways = farm.techniques if row.technique is None else (row.technique,)
            known = [key for way in ways for key in farm.techniques[way].operations]
            known = list(dict.fromkeys([*known, *(FARM_WORK if row.technique is None else ())]))
            if row.operation not in known:
                yield ("days", i, "operation"), no_such("unknown_operation", row.operation, known)
    loans = {loan.name: min(payout.month for payout in loan.payouts) for loan in farm.loans}
    for i, entry in enumerate(record.loans):
        if entry.loan not in loans:
            yield ("loans", i, "loan"), no_such("unknown_loan", entry.loan, loans)
        elif farm.month_of(loans[entry.loan]) >= YEAR:
            month = loans[entry.loan]
            yield ("loans", i, "loan"), told("loan_not_paid_out", entry.loan, first=month, last=_last(farm))


def _sales(record: SeasonRecord, farm: Scenario) -> Found:
    """Beans of a stand that the farm does not have, or of a class that was weighed with its stand.

    A class may bear the name of its stand: its beans are then the whole stand's.
    """
    whole = {stand.name: stand.part_of for stand in farm.stands if stand.part_of != stand.name}
    weighed = list(dict.fromkeys([*(stand.name for stand in farm.stands), *filter(None, whole.values())]))
    for i, sale in enumerate(record.sales):
        if sale.stand is not None and sale.stand not in weighed:
            yield ("sales", i, "stand"), no_such("unknown_stand", sale.stand, weighed)
        elif sale.stand is not None and whole.get(sale.stand) in record.kg_by_stand:
            yield ("sales", i, "stand"), told("weighed_twice", sale.stand, stand=whole[sale.stand])


def _sums(record: SeasonRecord, _: Scenario) -> Found:
    """A whole that is less than its parts."""
    spent = record.spent
    parts = sum(part or 0.0 for part in (spent.supplies, spent.wages, spent.household))
    wholes: list[tuple[Path, float | None, float]] = [(("spent", "in_all"), spent.in_all, parts)]
    kg = sum(record.kg_by_stand.values())
    wholes += [(("sales", i, "kg"), sale.kg, kg) for i, sale in enumerate(record.sales) if sale.stand is None]
    for field in ("family", "hired"):
        rows = [(i, row.technique is row.operation is None, getattr(row, field)) for i, row in enumerate(record.days)]
        parts = sum(days or 0.0 for _, whole, days in rows if not whole)
        wholes += [(("days", i, field), days, parts) for i, whole, days in rows if whole]
    for i, entry in enumerate(record.loans):
        wholes.append((("loans", i, "paid"), entry.paid, sum(row.paid or 0.0 for row in entry.by_month)))
    for path, whole, least in wholes:
        if whole is not None and whole < least * (1 - 1e-9):
            yield path, told("less_than_parts", f"{whole:g}", least=least)


def _payments(record: SeasonRecord, farm: Scenario) -> Found:
    """Payments and payouts out of the season, before the loan was paid out or after its grace; more than was lent."""
    loans = {loan.name: loan for loan in farm.loans}
    for i, entry in enumerate(record.loans):
        loan, seen = loans.get(entry.loan), set[str]()
        for at, row in enumerate(entry.by_month if loan is not None else ()):
            place: Path = ("loans", i, "by_month", at, "month")
            if row.month in seen:
                yield place, told("loan_month_twice", row.month, loan=entry.loan)
            seen.add(row.month)
            if not 0 <= farm.month_of(row.month) < YEAR:
                yield place, told("loan_month_outside", row.month, first=record.season, last=_last(farm))
        if loan is not None:
            yield from _paid_out(entry, loan, farm, ("loans", i))


def _paid_out(entry: LoanRecord, loan: Loan, farm: Scenario, path: Path) -> Found:
    """What is recorded of one loan, beside what it lends and when."""
    came = {month for month, money in (entry.received or {}).items() if money}
    earlier = {payout.month: payout.share for payout in loan.payouts if payout.month < farm.appraisal.start}
    first = min({*earlier, *(came if entry.received else (payout.month for payout in loan.payouts))}, default=None)
    last = None if first is None else year_month(month_count(first) + loan.grace_months)
    for at, row in enumerate(entry.by_month):
        place: Path = (*path, "by_month", at)
        if row.paid and (first is None or row.month < first):
            known = {} if first is None else {"first": first}
            code = "nothing_paid_out" if first is None else "paid_before_payout"
            yield (*place, "paid"), told(code, row.month, loan=loan.name, **known)
        if row.received and last is not None and row.month > last:
            yield (*place, "received"), told("received_after_grace", row.month, loan=loan.name, last=last)
    most = loan.amount * (1 - sum(earlier.values())) * (1 - loan.fee_share)
    whole = sum((entry.received or {}).values())
    if whole > most * (1 + 1e-9) + len(came):
        yield (*path, "by_month", 0, "received"), told("received_too_much", f"{whole:g}", loan=loan.name, most=most)


def _trees(record: SeasonRecord, farm: Scenario) -> Found:
    """More trees begun in a stand than were free, or more empty places planted."""
    begun: dict[tuple[str, str], int] = defaultdict(int)
    free_of = {(plot.name, plot.works_on): plot.free for plot in farm.plots}
    for i, cohort in enumerate(record.cohorts):
        if cohort.technique not in farm.techniques or cohort.stand not in [stand.name for stand in farm.stands]:
            continue
        if cohort.start not in [entry.start for entry in under_way_like(cohort, farm)]:
            here = cohort.stand, farm.techniques[cohort.technique].works_on
            before, free = begun[here], free_of.get(here, 0)
            begun[here] += trees_begun(cohort)
            if before <= free < begun[here]:
                yield (
                    ("cohorts", i),
                    told("too_many_begun", trees_begun(cohort), stand=cohort.stand, most=free - before),
                )


def _cohorts(record: SeasonRecord, farm: Scenario) -> Found:
    """Trees that nobody began, or that nobody can have begun yet; and what is wrong with their tries."""
    seen: set[tuple[str, str, str | None]] = set()
    for i, cohort in enumerate(record.cohorts):
        path: Path = ("cohorts", i)
        technique = farm.techniques.get(cohort.technique)
        if technique is None or cohort.stand not in [stand.name for stand in farm.stands]:
            continue
        if cohort.key in seen:
            yield path, told("cohort_twice", cohort.start or "")
        seen.add(cohort.key)
        starts = tuple(dict.fromkeys(one.start for one in under_way_like(cohort, farm)))
        facts: dict[str, Any] = {"stand": cohort.stand, "technique": cohort.technique}
        if cohort.start is None and starts:
            yield path, told("start_needed", choices=starts, **facts)
        elif cohort.start is not None and cohort.start not in starts and cohort.start < record.season:
            known = {"choices": starts} if starts else {}
            yield path, told("not_under_way" if starts else "nothing_under_way", cohort.start, **facts, **known)
        else:
            yield from _prepared(cohort, farm, path)
            yield from _tries(cohort, technique, farm, path)


def _prepared(cohort: Cohort, farm: Scenario, path: Path) -> Found:
    """A nursery for trees that are planted within the season, or trees begun after it."""
    after = cohort.start is not None and farm.month_of(cohort.start) >= YEAR
    if cohort.prepared is not None and not after:
        yield (*path, "prepared"), told("planted_already", cohort.prepared, last=_last(farm))
    if after and (cohort.tries or cohort.given_up):
        yield path, told("not_begun_yet", cohort.start, last=_last(farm))


def _tries(cohort: Cohort, technique: Technique, farm: Scenario, path: Path) -> Found:
    """Tries out of turn, after the season, on more trees than waited; more taken than made; trees that wait in vain."""
    most, last, waiting = technique.attempts.value, -1, waiting_by_tries(cohort, farm)
    counted = min(waiting, default=0)
    for at, one in enumerate(cohort.tries):
        place: Path = (*path, "tries", at)
        there = waiting.get(one.number - 1, 0)
        if one.number > most:
            yield place, told("no_such_try", one.number, technique=cohort.technique, most=most)
            return
        if one.number <= counted or (one.number - 1 not in waiting and one.number > 1):
            code = "try_counted" if one.number <= counted else "try_out_of_turn"
            yield (
                place,
                told(code, one.number, next=max(waiting, default=0) + 1 if one.number > counted else counted + 1),
            )
            return
        if one.made is None:
            yield (*place, "taken"), told("taken_without_made", one.taken)
            return
        if one.taken is not None and one.taken > one.made:
            yield (*place, "taken"), told("more_taken", one.taken, most=one.made)
        if one.made > there:
            yield (*place, "made"), told("more_made", one.made, most=there)
            return
        yield from _month(cohort, one, last, farm, place)
        last = max(last, farm.month_of(one.month) if one.month else -1)
        waiting[one.number - 1] = there - one.made
        waiting[one.number] = waiting.get(one.number, 0) + one.made - (one.taken or 0)
    if cohort.given_up is not None:
        yield from _given_up(cohort.given_up, waiting, most, (*path, "given_up"))


def _given_up(given_up: int, waiting: dict[int, int], most: int, place: Path) -> Found:
    """More given up than had not taken, before any try; or fewer than have no try left."""
    tried = sum(trees for tries, trees in waiting.items() if tries)
    if given_up and not any(waiting):
        yield place, told("given_up_untried", given_up)
    elif given_up > tried:
        yield place, told("more_given_up", given_up, most=tried)
    elif given_up < waiting.get(most, 0):
        yield place, told("no_try_left", given_up, most=most, waiting=waiting[most] - given_up)


def waiting_by_tries(cohort: Cohort, farm: Scenario) -> dict[int, int]:
    """Trees of a cohort that wait when the season begins, by the tries made on them; those begun in it by none."""
    entries = [entry for entry in under_way_like(cohort, farm) if entry.start == cohort.start]
    found: dict[int, int] = {}
    for entry in entries:
        found[len(entry.taken)] = found.get(len(entry.taken), 0) + entry.waiting
    return found if entries else {0: trees_begun(cohort)}


def _month(cohort: Cohort, one: Try, before: int, farm: Scenario, place: Path) -> Found:
    """A month of a try that is not in the season, before its start, or not after the try before."""
    if one.month is None:
        return
    month, start = farm.month_of(one.month), farm.month_of(cohort.start) if cohort.start else 0
    if not max(0, start, before + 1) <= month < YEAR:
        first = year_month(month_count(farm.appraisal.start) + max(0, start, before + 1))
        yield (*place, "month"), told("try_outside", one.month, first=first, last=_last(farm))


def _last(farm: Scenario) -> str:
    """The last month of the season."""
    return year_month(month_count(farm.appraisal.start) + YEAR - 1)


def under_way_like(cohort: Cohort, farm: Scenario) -> list[UnderWay]:
    """The farm's trees under way of the same stand and way."""
    return [entry for entry in farm.under_way if (entry.stand, entry.technique) == (cohort.stand, cohort.technique)]


def trees_begun(cohort: Cohort) -> int:
    """Trees of a cohort of this season: those of its first try, or those prepared."""
    first = next((one.made for one in cohort.tries if one.number == 1), None)
    return first or (0 if cohort.tries else cohort.prepared or 0)


_CHECKS = (_names, _sales, _sums, _payments, _trees, _cohorts)
