"""Decisions (floor 3): compare ways, find break-even values, judge loans."""

from typing import TYPE_CHECKING

from renovation.decide.appraise import appraise_plan
from renovation.decide.compare import Comparison, Outcome, compare, weigh
from renovation.decide.ranges import Swing, ranges
from renovation.decide.starts import NoStart, earliest_start, techniques_for
from renovation.decide.switching import BreakEven, Ties, break_even, tie_values
from renovation.decide.worth import npv_per_tree
from renovation.on_demand import on_demand

if TYPE_CHECKING:
    from renovation.decide.lending import (
        CalendarRow,
        Due,
        Lending,
        LoanAppraisal,
        appraise_loans,
        at_price,
        best_harvest_months,
        repayment_means,
    )
    from renovation.decide.verdict import Verdict

__all__ = [
    "BreakEven",
    "CalendarRow",
    "Comparison",
    "Due",
    "Lending",
    "LoanAppraisal",
    "NoStart",
    "Outcome",
    "Swing",
    "Ties",
    "Verdict",
    "appraise_loans",
    "appraise_plan",
    "at_price",
    "best_harvest_months",
    "break_even",
    "compare",
    "earliest_start",
    "npv_per_tree",
    "ranges",
    "repayment_means",
    "techniques_for",
    "tie_values",
    "weigh",
]

__getattr__ = on_demand(
    __name__,
    lending=(
        "CalendarRow",
        "Due",
        "Lending",
        "LoanAppraisal",
        "appraise_loans",
        "at_price",
        "best_harvest_months",
        "repayment_means",
    ),
    verdict=("Verdict",),
)
