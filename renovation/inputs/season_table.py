"""A season's record as a CSV: a row a figure, so that nothing has to be known beyond what was counted.

| `what` | what the value is | names it by |
| --- | --- | --- |
| `season` | the farm's first month, such as 2026-09 | |
| `made`, `taken` | grafts or plants made in a try, and how many took | stand, technique; start, try (the next one) |
| `given_up` | trees that nobody will try again | stand, technique; start |
| `prepared` | trees of a nursery begun, planted after the season | stand, technique, start |
| `kg_sold` | kilograms, dry or wet as the farm sells them | (stand) |
| `price_per_kg` | price got for one of them | |
| `family_days`, `hired_days` | days worked | (technique, operation) |
| `spent_on_supplies`, `spent_on_wages`, `spent_on_household`, `spent_in_all` | money spent, loans aside | |
| `other_income`, `money_in_hand` | money earned elsewhere, and what is there at the end | |
| `loan_paid` | paid on a loan, in a month or in the whole season | loan; month |
| `loan_received` | received of a loan in a month, in your hand | loan, month |
| `loan_owed` | owed on a loan at the end | loan |

`start` is the month in which work on those trees began, this season or before; `month` that of a payment, or that in
which a try was made, where it was not the usual one. A row without a value says nothing.
"""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from pydantic import BaseModel

from renovation.inputs.loans import Loan
from renovation.inputs.quantities import month_count, year_month
from renovation.inputs.scenario import Scenario
from renovation.inputs.season import Cohort, DaysWorked, LoanMoney, LoanRecord, Sale, SeasonRecord, Spent, Try
from renovation.inputs.season_checks import YEAR
from renovation.money.loan_terms import months_due

COLUMNS = ("what", "stand", "technique", "start", "try", "month", "operation", "loan", "value")


@dataclass(frozen=True)
class What:
    """One kind of figure: the field that it is, the columns that must name it, and those that may."""

    model: type[BaseModel]
    field: str
    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()


TREES = ("stand", "technique")
WORK = ("technique", "operation")
FIGURES: Mapping[str, What] = {
    "season": What(SeasonRecord, "season"),
    "made": What(Try, "made", TREES, ("start", "try", "month")),
    "taken": What(Try, "taken", TREES, ("start", "try")),
    "given_up": What(Cohort, "given_up", TREES, ("start",)),
    "prepared": What(Cohort, "prepared", (*TREES, "start")),
    "kg_sold": What(Sale, "kg", (), ("stand",)),
    "price_per_kg": What(SeasonRecord, "price_per_kg"),
    "family_days": What(DaysWorked, "family", (), WORK),
    "hired_days": What(DaysWorked, "hired", (), WORK),
    "spent_on_supplies": What(Spent, "supplies"),
    "spent_on_wages": What(Spent, "wages"),
    "spent_on_household": What(Spent, "household"),
    "spent_in_all": What(Spent, "in_all"),
    "other_income": What(SeasonRecord, "other_income"),
    "money_in_hand": What(SeasonRecord, "money_in_hand"),
    "loan_paid": What(LoanRecord, "paid", ("loan",), ("month",)),
    "loan_received": What(LoanMoney, "received", ("loan", "month")),
    "loan_owed": What(LoanRecord, "owed", ("loan",)),
}


def season_cells(farm: Scenario) -> list[dict[str, str]]:
    """The rows of an empty table for the first year of a farm: its stands, the ways of its plan, its loans.

    Trees under way with the tries that may come, and what the plan starts or begins a nursery for in this year; where
    there is neither, every way that suits a stand. Then sales, days, money, and the loans paid out by then.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> [row["what"] for row in season_cells(demo_scenario())][:3]
        ['season', 'made', 'taken']
    """
    expected = _expected(farm)
    rows = [_cells("season", value=farm.appraisal.start)]
    for cohort in expected:
        rows += _cells_of(farm, *cohort)
    wholes = list(dict.fromkeys(stand.part_of or stand.name for stand in farm.stands))
    stands = wholes if len(wholes) > 1 else []
    rows += [_cells("kg_sold", stand=stand) for stand in stands]
    for technique in dict.fromkeys(key for _, key, _, _ in expected):
        rows += [_cells(what, technique=technique) for what in ("family_days", "hired_days")]
    rows += [_cells(what) for what, figure in FIGURES.items() if what != "season" and not figure.needs]
    return [*rows, *(row for loan in farm.loans for row in _cells_of_loan(farm, loan))]


def _cells_of_loan(farm: Scenario, loan: Loan) -> Iterator[dict[str, str]]:
    """The rows of a loan paid out by the season's end: payouts of the season, payments month by month or in all."""
    months = sorted(farm.month_of(payout.month) for payout in loan.payouts)
    if months[0] >= YEAR:
        return
    first, end_of_grace = month_count(farm.appraisal.start), months[0] + loan.grace_months
    for month in months:
        if 0 <= month < YEAR:
            yield _cells("loan_received", loan=loan.name, month=year_month(first + month))
    yield _cells("loan_paid", loan=loan.name)
    named = loan.harvest_months if loan.repayment == "harvest" else None
    due = set(months_due(end_of_grace, months[0] + loan.term_months, farm.appraisal.start_calendar_month, named))
    if loan.grace_interest == "paid" and loan.rate_per_year:
        due |= set(range(months[0] + 1, end_of_grace + 1))
    for month in range(YEAR):
        if month in due:
            yield _cells("loan_paid", loan=loan.name, month=year_month(first + month))
    yield _cells("loan_owed", loan=loan.name)


def _expected(farm: Scenario) -> list[tuple[str, str, str, int]]:
    """Cohorts that the season may bring something of: stand, technique, start, the tries counted before."""
    fewest: dict[tuple[str, str, str], int] = {}
    for one in (one for one in farm.under_way if one.waiting):
        names = (one.stand, one.technique, one.start)
        fewest[names] = min(fewest.get(names, len(one.taken)), len(one.taken))
    found = [(*names, tries) for names, tries in fewest.items()]
    for entry in farm.plan:
        if farm.month_of(entry.start) + min(0, farm.techniques[entry.technique].earliest_month) < YEAR:
            found.append((entry.stand, entry.technique, entry.start, 0))
    suited = [
        (stand.name, key)
        for stand in farm.stands
        for key in stand.techniques or farm.techniques
        if farm.techniques[key].works_on == "trees" or stand.empty_places
    ]
    return list(dict.fromkeys(found)) or [(stand, key, "", 0) for stand, key in suited]


def _cells_of(farm: Scenario, stand: str, key: str, start: str, counted: int) -> list[dict[str, str]]:
    """The rows of one cohort: a nursery, or its tries within the year."""
    names = {"stand": stand, "technique": key, "start": start}
    begins, technique = farm.month_of(start) if start else 0, farm.techniques[key]
    if begins >= YEAR:
        return [_cells("prepared", **names)]
    tries = [
        number
        for number in range(counted + 1, technique.attempts.value + 1)
        if number == counted + 1 or begins + (number - 1) * technique.gap_months.value < YEAR
    ]
    rows = [_cells(what, **names, **{"try": str(number)}) for number in tries for what in ("made", "taken")]
    return [*rows, _cells("given_up", **names)]


def _cells(what: str, **cells: str) -> dict[str, str]:
    return {**dict.fromkeys(COLUMNS, ""), "what": what, **cells}


def season_csv(rows: Sequence[Mapping[str, str]]) -> str:
    """Rows as CSV, with commas and the columns in their order."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
