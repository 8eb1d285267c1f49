"""The loans nearest to one that does not fit: other amounts, terms, graces and months of repayment, least change first.

A change is measured by what is altered of what was asked for (our judgement, no source):

    |Δamount| / amount + |Δterm| / term + |Δgrace| / term + 0.1 where it is repaid in other months

For given months the amounts that fit are one range in closed form (`loan_search`), so the search goes over terms,
graces and months of repayment: the amount alone, the months of repayment alone, the times alone, and all together over
a grid. What it finds is moved back towards the loan asked for until no single smallest step back fits: a step of
money, a month of term, a month of grace, the months of repayment that were asked for. That a loan fits is said by
`fits` of its own schedule alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from renovation.money.loan_fit import RepaymentMeans, fits
from renovation.money.loan_search import largest_amount, likely_graces
from renovation.money.loan_terms import LoanError, LoanTerms, Repayment
from renovation.money.loans import Schedule, schedule

OTHER_MONTHS = 0.1
"""What repayment in other months counts for."""
LEAST_SHARE, MOST_SHARE = 0.5, 1.5
"""Shares of the amount asked for outside which a loan serves another purpose, and is not offered."""
LONGER, LONGEST_GRACE = 60, 36
"""Months by which a term may be changed, and of grace at most (common practice, no source)."""
TERM_STEP, GRACE_STEP = 6, 6
"""Months between the points of the grid."""
MOST_OFFERED = 3
ROUNDINGS = 40
"""Steps of money that rounded instalments may ask of the amounts found unrounded."""

Way = tuple[Repayment, tuple[int, ...]]


@dataclass(frozen=True)
class NearLoan:
    """A loan that fits, and how far it is from the one asked for."""

    terms: LoanTerms
    change: float


def near_loans(
    asked: LoanTerms,
    means: RepaymentMeans,
    start_calendar_month: int,
    ways: Sequence[Way] = (),
    step: float | None = None,
) -> tuple[NearLoan, ...]:
    """The nearest loans that fit, the least change first; at most three, none where the one asked for fits.

    ways: other months of repayment that may be offered, beside those asked for. step: what amounts are whole numbers
    of, the currency's smallest unit where None. None is offered of a running loan, nor far from what was asked for.
    Raises LoanError as `schedule` does for the loan asked for.

    Example (11 a month comes in and 1.1 times each payment is asked for, a year beginning with a month without one):
        >>> means = RepaymentMeans(np.full(36, 11.0), savings=0.0, floor=0.0, cover_target=1.1)
        >>> asked = LoanTerms(144.0, ((0, 1.0),), 0.0, term_months=12)
        >>> found = near_loans(asked, means, start_calendar_month=1, step=1.0)
        >>> [(one.terms.amount, one.terms.term_months, one.terms.grace_months) for one in found]
        [(130.0, 12, 0), (144.0, 13, 1)]
    """
    search = _Near(asked, means, start_calendar_month, tuple(ways), step or asked.unit)
    if asked.running or search.holds(asked):
        return ()
    found: dict[tuple[float, int, int, Repayment], NearLoan] = {}
    for terms in search.found():
        near = search.moved_back(terms)
        name = near.amount, near.term_months, near.grace_months, near.repayment
        found.setdefault(name, NearLoan(near, search.change(near)))
    return tuple(sorted(found.values(), key=lambda one: one.change)[:MOST_OFFERED])


class _Near:
    """One search about the loan asked for."""

    def __init__(
        self, asked: LoanTerms, means: RepaymentMeans, calendar_month: int, ways: tuple[Way, ...], step: float
    ) -> None:
        self.asked, self.means, self.calendar_month, self.step = asked, means, calendar_month, step
        self.way: Way = asked.repayment, asked.harvest_months
        self.ways = (self.way, *(way for way in ways if way != self.way))
        self.least_grace = asked.payouts[-1][0] - asked.first_month
        self.longest = min(asked.term_months + LONGER, means.horizon_months - 1 - asked.first_month)
        self.known: dict[LoanTerms, bool] = {}

    def holds(self, terms: LoanTerms) -> bool:
        """Whether a loan can be and fits, by its own schedule."""
        if terms not in self.known:
            try:
                self.known[terms] = fits(self._schedule(terms), self.means).holds
            except LoanError:
                self.known[terms] = False
        return self.known[terms]

    def change(self, terms: LoanTerms) -> float:
        """How far a loan is from the one asked for."""
        asked = self.asked
        months = abs(terms.term_months - asked.term_months) + abs(terms.grace_months - asked.grace_months)
        other = OTHER_MONTHS * ((terms.repayment, terms.harvest_months) != self.way)
        return abs(terms.amount - asked.amount) / asked.amount + months / asked.term_months + other

    def found(self) -> Iterator[LoanTerms]:
        """Loans that fit: by the amount alone, by months alone, and by all together."""
        for way in self.ways:
            if (terms := self._of_amount(self._at(way))) is not None:
                yield terms
        for way in self.ways:
            if (terms := self._of_times(way)) is not None:
                yield terms
        if (terms := self._of_all()) is not None:
            yield terms

    def moved_back(self, terms: LoanTerms) -> LoanTerms:
        """The loan moved towards the one asked for until no single step back fits."""
        while (nearer := next((one for one in self.steps_back(terms) if self.holds(one)), None)) is not None:
            most = self._of_amount(nearer) if nearer.amount != terms.amount else None
            terms = most if most is not None and self.change(most) < self.change(nearer) else nearer
        return terms

    def steps_back(self, terms: LoanTerms) -> Iterator[LoanTerms]:
        """The loan with one thing one smallest step nearer to the one asked for."""
        asked = self.asked
        if (terms.repayment, terms.harvest_months) != self.way:
            yield replace(terms, repayment=self.way[0], harvest_months=self.way[1])
        for name in ("grace_months", "term_months"):
            by = int(np.sign(getattr(asked, name) - getattr(terms, name)))
            if by and 0 <= terms.grace_months + by * (name == "grace_months") < terms.term_months + by * (
                name == "term_months"
            ):
                yield replace(terms, **{name: getattr(terms, name) + by})
        left = asked.amount - terms.amount
        if left:
            yield replace(terms, amount=terms.amount + float(np.sign(left)) * min(self.step, abs(left)))

    def _schedule(self, terms: LoanTerms) -> Schedule:
        return schedule(terms, self.means.horizon_months, self.calendar_month)

    def _at(self, way: Way, term: int | None = None, grace: int | None = None) -> LoanTerms:
        """The loan asked for, repaid otherwise."""
        asked = self.asked
        one = replace(asked, repayment=way[0], harvest_months=way[1], term_months=term or asked.term_months)
        return replace(one, grace_months=min(asked.grace_months if grace is None else grace, one.term_months - 1))

    def _range(self, terms: LoanTerms) -> tuple[float, float] | None:
        """The least and the largest amount that fit at these times, in whole steps; None where none does."""
        try:
            found = largest_amount(replace(terms, amount=self.step, unit=self.step), self.means, self.calendar_month)
        except LoanError:
            return None
        return None if found.amount is None else (found.lowest, found.amount)

    def _of_amount(self, terms: LoanTerms) -> LoanTerms | None:
        """The amount nearest to the one asked for that fits at these times."""
        between = self._range(terms)
        if between is None:
            return None
        amount, asked = min(max(self.asked.amount, between[0]), between[1]), self.asked.amount
        away = -self.step if amount < asked else self.step
        for _ in range(ROUNDINGS):
            if not LEAST_SHARE * asked <= amount <= MOST_SHARE * asked:
                return None
            if self.holds(one := replace(terms, amount=amount)):
                return one
            amount += away
        return None

    def _of_times(self, way: Way) -> LoanTerms | None:
        """The whole amount with the term and the grace changed least."""
        asked = self.asked
        best: LoanTerms | None = None
        for term in range(asked.term_months, self.longest + 1):
            if best is not None and self.change(self._at(way, term)) >= self.change(best):
                break
            try:
                graces = likely_graces(self._at(way, term), self.means, self.calendar_month)
            except LoanError:
                continue
            for grace in sorted(graces, key=lambda months: abs(months - asked.grace_months)):
                one = self._at(way, term, grace)
                if best is not None and self.change(one) >= self.change(best):
                    break
                if self._may_be(term, grace) and self.holds(one):
                    best = one
                    break
        return best

    def _of_all(self) -> LoanTerms | None:
        """The least change of all together, over a grid."""
        asked = self.asked
        terms = range(asked.term_months, self.longest + 1, TERM_STEP)
        graces = sorted({asked.grace_months, *range(0, LONGEST_GRACE + 1, GRACE_STEP)})
        every = (
            self._at(way, term, grace)
            for way in self.ways
            for term in terms
            for grace in graces
            if self._may_be(term, grace)
        )
        best: LoanTerms | None = None
        for one in sorted(every, key=self.change):
            if best is not None and self.change(one) >= self.change(best):
                break
            found = self._of_amount(one)
            if found is not None and (best is None or self.change(found) < self.change(best)):
                best = found
        return best

    def _may_be(self, term: int, grace: int) -> bool:
        """Whether times are within what is offered."""
        asked = self.asked
        return (
            self.least_grace <= grace <= max(LONGEST_GRACE, asked.grace_months)
            and max(grace, asked.term_months - LONGER) < term <= self.longest
        )
