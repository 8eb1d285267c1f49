"""Decisions (floor 3): compare ways, find break-even values, judge loans."""

from renovation.decide.compare import (
    Comparison,
    NoStart,
    Outcome,
    appraise_plan,
    compare,
    earliest_start,
    npv_per_tree,
    techniques_for,
    weigh,
)
from renovation.decide.lending import (
    LOWER_PRICES,
    CalendarRow,
    Due,
    Lending,
    LoanAppraisal,
    Verdict,
    appraise_loans,
    at_price,
    best_harvest_months,
    repayment_means,
)
from renovation.decide.ranges import Swing, ranges
from renovation.decide.switching import BreakEven, Ties, break_even, tie_values

__all__ = [
    "LOWER_PRICES",
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
