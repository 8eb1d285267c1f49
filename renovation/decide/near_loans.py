"""The loans nearest to one that does not fit, each judged as any loan is (method §7)."""

from collections.abc import Sequence
from dataclasses import replace
from math import floor, log10

import numpy as np

from renovation.decide.verdict import Verdict
from renovation.money.loan_fit import Condition, other_loans, short_and_low
from renovation.money.loan_near import Way, near_loans


def near_verdicts(asked: Verdict, ways: Sequence[Way]) -> tuple[Verdict, ...]:
    """The verdicts on the nearest loans that fit, the least change first; none of a loan that fits or is running.

    ways: other months of repayment that may be offered.

    Example (every loan of this farm fits as it is):
        >>> from renovation.decide.lending import appraise_loans
        >>> from renovation.inputs import demo_scenario
        >>> judged = appraise_loans(demo_scenario()).loans[0]
        >>> judged.as_stated.holds, near_verdicts(judged.as_stated, ())
        (True, ())
    """
    step = step_of(asked.terms.amount, asked.terms.unit)
    found = near_loans(asked.terms, asked.means, int(asked.start[5:]), ways, step)
    return tuple(replace(asked, terms=one.terms) for one in found)


def step_of(amount: float, unit: float) -> float:
    """What the amounts on offer are whole numbers of: three digits after the first, 1 and the smallest unit at least.

    Example:
        >>> step_of(1800.0, 0.01), step_of(6_000_000.0, 1.0), step_of(120.0, 0.01)
        (1.0, 1000.0, 1.0)
    """
    return max(unit, 1.0, 10.0 ** (floor(log10(amount)) - 3))


def without_it(asked: Verdict) -> Condition | None:
    """The month in which the balance falls furthest below the floor though the loan is not taken; None where it stays.

    Other loans stay as they are. What is short then is not mended by the terms of this one.
    """
    means = asked.means
    held, _, low = short_and_low(means, *other_loans(means))
    month = int(np.argmin(held))
    return Condition("floor", month, float(held[month]), means.floor) if low.any() else None
