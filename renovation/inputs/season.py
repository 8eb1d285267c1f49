"""The season's record: what a family counted in a project year, the twelve months from the farm's start on.

Every figure may be absent: it was not counted, which is not the same as 0. What is not recorded of trees that were
begun did not happen; what is not recorded of anything else is assumed, and said, by whoever reads the record.

How it is used: `read_season(content, name, farm)` reads one from a CSV (`season_csv`), `season_problems(record, farm)`
(`season_checks`) tells what stands against one that was put together elsewhere; both know the farm whose season it is.
`season_cells(farm)` is the same table, empty. `decide.next_year` carries the farm on by twelve months with it, and
`cohorts_of(farm, record)` there says what became of every group of trees.

Money is as it was paid, in money of the season; kilograms and their price are of beans as the farm sells them: wet
where its market states wet beans, else dry.
"""

from typing import Annotated

from pydantic import Field

from renovation.inputs.quantities import Key, Model, Name, NotNegative, Quantity, YearMonth
from renovation.inputs.standing import Count

Trees = Annotated[Count | None, Quantity("trees")]
PersonDays = Annotated[NotNegative | None, Quantity("person-days")]
Money = Annotated[NotNegative | None, Quantity("money")]


class Try(Model):
    """One try on trees of a cohort: grafts or plants made and how many took; one after the first is a try again."""

    number: Annotated[int, Field(ge=1, le=12), Quantity("try")]
    month: YearMonth | None = None
    """The month in which it was made; the usual one where absent, a gap after the try before."""
    made: Trees = None
    taken: Trees = None


class Cohort(Model):
    """Trees of one stand on which work by one way began in one month, this season or before."""

    stand: Name
    technique: Key
    start: YearMonth | None = None
    """The month in which work on them started; of trees begun in this season it may be absent."""
    prepared: Trees = None
    """Trees to be planted after the season, for which a nursery was begun in it."""
    tries: Annotated[tuple[Try, ...], Field(max_length=12)] = ()
    given_up: Trees = None
    """Of those that did not take, the trees that nobody will try again."""

    @property
    def key(self) -> tuple[str, str, str | None]:
        """Stand, technique and start: what tells it from the others."""
        return self.stand, self.technique, self.start


class Sale(Model):
    """Beans sold, of one stand where they were weighed by stand."""

    stand: Name | None = None
    kg: Annotated[NotNegative | None, Quantity("kg")] = None


class DaysWorked(Model):
    """Days worked: on all the farm, or on a way, or on an operation where that is known."""

    technique: Key | None = None
    operation: Key | None = None
    family: PersonDays = None
    hired: PersonDays = None


class Spent(Model):
    """Money spent, by what it went for where that is known; loans aside."""

    supplies: Money = None
    """Supplies and tools."""
    wages: Money = None
    household: Money = None
    in_all: Money = None


class LoanMoney(Model):
    """Money paid on a loan in one month, or received of it."""

    month: YearMonth
    paid: Money = None
    received: Money = None


class LoanRecord(Model):
    """What was paid on one loan, interest and principal, and what its lender says is owed at the season's end.

    paid: in the whole season. by_month: what was paid, and what was received of the loan itself, where the months are
    known. Where any payout is recorded, these are all that came in the season.
    """

    loan: Name
    paid: Money = None
    owed: Money = None
    by_month: Annotated[tuple[LoanMoney, ...], Field(max_length=12)] = ()

    @property
    def paid_in_all(self) -> float | None:
        """Paid in the season: as stated, else the sum of the months; None where neither is.

        Example:
            >>> months = (LoanMoney(month="2027-02", paid=40.0), LoanMoney(month="2027-03", paid=10.0))
            >>> LoanRecord(loan="Bank", by_month=months).paid_in_all
            50.0
        """
        return in_all([(True, self.paid), *((False, row.paid) for row in self.by_month)])

    @property
    def received(self) -> dict[str, float] | None:
        """Received of the loan by month; None where nothing of it is recorded."""
        found = {row.month: row.received for row in self.by_month if row.received is not None}
        return found or None


class SeasonRecord(Model):
    """What was counted in the twelve months that begin in `season`.

    Example:
        >>> record = SeasonRecord(season="2026-09", sales=(Sale(stand="A", kg=90.0), Sale(stand="B", kg=60.0)))
        >>> record.kg, record.price_per_kg
        (150.0, None)
    """

    season: YearMonth
    """The farm's first month."""
    cohorts: Annotated[tuple[Cohort, ...], Field(max_length=1000)] = ()
    sales: Annotated[tuple[Sale, ...], Field(max_length=201)] = ()
    price_per_kg: Annotated[NotNegative | None, Quantity("money/kg")] = None
    days: Annotated[tuple[DaysWorked, ...], Field(max_length=1000)] = ()
    spent: Spent = Spent()
    other_income: Money = None
    """Money earned by other things than cocoa and what grows between it."""
    money_in_hand: Money = None
    """At the season's end."""
    loans: Annotated[tuple[LoanRecord, ...], Field(max_length=20)] = ()

    @property
    def kg(self) -> float | None:
        """Beans sold in all: as stated, else the sum of the stands; None where nothing was weighed."""
        return in_all([(sale.stand is None, sale.kg) for sale in self.sales])

    @property
    def kg_by_stand(self) -> dict[str, float]:
        """Beans sold of each stand that was weighed by itself."""
        return {sale.stand: sale.kg for sale in self.sales if sale.stand is not None and sale.kg is not None}

    @property
    def family_days(self) -> float | None:
        """The family's days in all; None where none were counted."""
        return in_all([(row.technique is row.operation is None, row.family) for row in self.days])

    @property
    def hired_days(self) -> float | None:
        """Hired days in all; None where none were counted."""
        return in_all([(row.technique is row.operation is None, row.hired) for row in self.days])

    @property
    def spent_in_all(self) -> float | None:
        """Money spent in all; None where none was counted."""
        parts = (self.spent.supplies, self.spent.wages, self.spent.household)
        return in_all([(True, self.spent.in_all), *((False, part) for part in parts)])


def in_all(figures: list[tuple[bool, float | None]]) -> float | None:
    """The figure that is marked as the whole, else the sum of the parts; None where there is neither.

    Example:
        >>> in_all([(False, 2.0), (False, None)]), in_all([(True, 3.0), (False, 2.0)]), in_all([(False, None)])
        (2.0, 3.0, None)
    """
    known = [(whole, figure) for whole, figure in figures if figure is not None]
    return next((figure for whole, figure in known if whole), sum(figure for _, figure in known) if known else None)
