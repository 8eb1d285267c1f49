"""What a loan costs in full: the yearly rate that sets what was received equal to what is paid (method §12)."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from renovation.money.loan_terms import LoanTerms
from renovation.money.loans import Schedule, schedule
from renovation.money.rates import irr_roots


@dataclass(frozen=True)
class CreditCost:
    """What borrowing costs, in the contract's own (nominal) money.

    effective_per_year: (1 + i)^n − 1, i the rate per period and n the periods of a year; fees count. nominal_per_year:
    n·i. received: payouts less fees. paid: every payment. Both rates are None, with the roots in `roots`, where the
    flow has no single rate; `roots` holds effective yearly rates.
    """

    effective_per_year: float | None
    nominal_per_year: float | None
    received: float
    paid: float
    roots: tuple[float, ...]

    @property
    def more_than_received(self) -> float:
        """Total paid less total received."""
        return self.paid - self.received


def credit_cost(received: npt.ArrayLike, paid: npt.ArrayLike, periods_per_year: int = 12) -> CreditCost:
    """Work out the full cost of money received (T,) and paid back (T,), both by period, none below 0.

        Σ received(t)·(1+i)^−t = Σ paid(t)·(1+i)^−t

    Raises ValueError for amounts below 0, for shapes that differ, and as `irr_roots` does.

    Source: the annual percentage rate of 12 CFR 1026, Appendix J (nominal, 12·i), and of Directive 90/88/EEC
    (effective). Its example (c)(1)(i), 5,000 repaid in 24 monthly payments of 230, is 9.69 %:

    >>> found = credit_cost([5000.0] + [0.0] * 24, [0.0] + [230.0] * 24)
    >>> round(100 * found.nominal_per_year, 6), found.more_than_received
    (9.685708, 520.0)
    """
    got, back = np.asarray(received, dtype=np.float64), np.asarray(paid, dtype=np.float64)
    if got.shape != back.shape or (got < 0).any() or (back < 0).any():
        raise ValueError("money received and paid must stand in equal periods and be 0 or more")
    rates = irr_roots(got - back)
    roots = tuple((1 + rate) ** periods_per_year - 1 for rate in rates)
    one = rates[0] if len(rates) == 1 else None
    return CreditCost(
        effective_per_year=None if one is None else roots[0],
        nominal_per_year=None if one is None else periods_per_year * one,
        received=float(got.sum()),
        paid=float(back.sum()),
        roots=roots,
    )


def contract_cost(terms: LoanTerms, start_calendar_month: int) -> CreditCost:
    """The full cost of a contract over its whole life, from its first payout on, also where that lies behind.

    terms.owed is left out: it is what the lender says, not the contract. Raises LoanError as `schedule` does.

    >>> contract_cost(LoanTerms(1000.0, ((0, 1.0),), 0.0, 12, fee_share=0.02), 1).more_than_received.__round__(2)
    20.0
    """
    life = whole_life(terms, start_calendar_month)
    return credit_cost(life.payout, life.debt_service)


def whole_life(terms: LoanTerms, start_calendar_month: int) -> Schedule:
    """The contract's schedule with its first payout in month 0, its last instalment in the last month.

    >>> whole_life(LoanTerms(1000.0, ((-3, 1.0),), 0.12, 12, running=True), 1).payout[0].item()
    1000.0
    """
    first = terms.first_month
    payouts = tuple((month - first, share) for month, share in terms.payouts)
    moved = replace(terms, payouts=payouts, running=False, owed=None)
    return schedule(moved, terms.term_months + 1, (start_calendar_month - 1 + first) % 12 + 1)
