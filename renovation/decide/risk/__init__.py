"""Risk: futures, what they say of a strategy, stress tests, sensitivity, and the map of which way wins (method §9)."""

from renovation.decide.risk.answers import Answers, Estimate, RiskResult, Spread, judged_on, risk
from renovation.decide.risk.futures import Futures, as_expected, draw_futures, future_samples
from renovation.decide.risk.judge import Judged, judge, judge_all, npv_in
from renovation.decide.risk.map import Axis, TieLine, WinMap, npv_at, values_where_equal, win_map
from renovation.decide.risk.record import PriceRecord, calibrate, price_record, worst_years
from renovation.decide.risk.sensitivity import Bar, Sensitivity, sensitivity
from renovation.decide.risk.strategy import Layout, Strategy, lay_out, one_way, strategies_of
from renovation.decide.risk.stress import StressResult, StressRow, stress_tests

__all__ = [
    "Answers",
    "Axis",
    "Bar",
    "Estimate",
    "Futures",
    "Judged",
    "Layout",
    "PriceRecord",
    "RiskResult",
    "Sensitivity",
    "Spread",
    "Strategy",
    "StressResult",
    "StressRow",
    "TieLine",
    "WinMap",
    "as_expected",
    "calibrate",
    "draw_futures",
    "future_samples",
    "judge",
    "judge_all",
    "judged_on",
    "lay_out",
    "npv_at",
    "npv_in",
    "one_way",
    "price_record",
    "risk",
    "sensitivity",
    "strategies_of",
    "stress_tests",
    "values_where_equal",
    "win_map",
    "worst_years",
]
