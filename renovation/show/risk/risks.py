"""Everything that report and workbook show of risk, each question asked once."""

from dataclasses import dataclass

from renovation.decide import Comparison
from renovation.decide.risk import (
    RiskResult,
    Sensitivity,
    StressResult,
    risk,
    sensitivity,
    strategies_of,
    stress_tests,
)
from renovation.inputs import Scenario


@dataclass(frozen=True, eq=False)
class Risks:
    """The plan and the ways of the headline on futures and in hard cases; what the headline's way rests on, if any."""

    found: RiskResult
    tests: StressResult
    ranked: Sensitivity | None


def risks_of(scenario: Scenario, comparison: Comparison) -> Risks:
    """Try the scenario's futures and hard cases; raises LoanError for a loan that cannot be, as `risk` does."""
    strategies = strategies_of(scenario)
    ranked = sensitivity(comparison) if comparison.headline else None
    return Risks(risk(scenario, strategies), stress_tests(scenario, strategies), ranked)
