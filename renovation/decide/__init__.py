"""Decisions (floor 3): compare ways, find break-even values."""

from renovation.decide.compare import (
    Comparison,
    NoStart,
    Outcome,
    compare,
    earliest_start,
    npv_per_tree,
    techniques_for,
    weigh,
)
from renovation.decide.ranges import Swing, ranges
from renovation.decide.switching import BreakEven, Ties, break_even, tie_values

__all__ = [
    "BreakEven",
    "Comparison",
    "NoStart",
    "Outcome",
    "Swing",
    "Ties",
    "break_even",
    "compare",
    "earliest_start",
    "npv_per_tree",
    "ranges",
    "techniques_for",
    "tie_values",
    "weigh",
]
