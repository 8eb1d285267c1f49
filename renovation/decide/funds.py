"""What a loan is used for, month by month: the plan's own needs beside what is paid out.

need(t) = supplies(t) + tools(t) + hired hands(t), each with the plan less without it, constant prices
"""

from dataclasses import dataclass

import numpy as np

from renovation.farm import FarmFlows, month_labels
from renovation.types import FloatArray

MONTHS = 24
"""Months that are told one by one."""
LEAST = 0.5


@dataclass(frozen=True)
class FundsMonth:
    """One month: money that the plan asks for beyond the farm without it, and money paid out. month: `YYYY-MM`."""

    month: str
    supplies: float
    hands: float
    payout: float


@dataclass(frozen=True)
class UseOfFunds:
    """Months from the first need or payout on, at most `MONTHS` of them that have either.

    more: months that have either and are not among them. needed, paid_out: sums over the whole span up to a year after
    the last payout; last: its last month.
    """

    months: tuple[FundsMonth, ...]
    first: str
    last: str
    needed: float
    paid_out: float
    more: int


def use_of_funds(flows: FarmFlows, start: str, payout: FloatArray, months: int = MONTHS) -> UseOfFunds:
    """The plan's own needs beside a loan's payouts, (T,) money of today by project month; month 0 is `start`.

    Example:
        >>> import numpy as np
        >>> from renovation.farm import farm_flows
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> flows, paid = farm_flows(farm, farm.plan), np.zeros(farm.appraisal.months)
        >>> paid[3] = 600.0
        >>> found = use_of_funds(flows, farm.appraisal.start, paid)
        >>> found.first, found.last, found.paid_out, found.months[0].payout
        ('2027-04', '2028-03', 600.0, 600.0)
    """
    planned, without = flows.with_plan, flows.without
    supplies = planned.materials + planned.tools - without.materials - without.tools
    hands = planned.wages - without.wages
    asked = (supplies + hands >= LEAST) | (payout > 0)
    first = int(np.argmax(asked)) if asked.any() else 0
    paid = np.flatnonzero(payout > 0)
    last = min(payout.size, (int(paid[-1]) if paid.size else first) + 12)
    labels = month_labels(start, payout.size)
    found = [t for t in range(first, last) if asked[t]]
    return UseOfFunds(
        tuple(FundsMonth(labels[t], float(supplies[t]), float(hands[t]), float(payout[t])) for t in found[:months]),
        labels[first],
        labels[last - 1],
        float((supplies + hands)[first:last].sum()),
        float(payout[first:last].sum()),
        len(found[months:]),
    )
