"""What an answer rests on, figure by figure: bars over each range, switching values, critical figures.

One figure at a time from its low to its high, the others as stated; sorted by how far the NPV moves. A figure
is critical where a change of 1 % moves the NPV by 1 % or more, and its switching value is where the NPV is 0
(European Commission, Guide to Cost-Benefit Analysis of Investment Projects). Figures that a family states have no
range of their own: they move 20 % down and up, as the price does. Where the farm states a learning curve, how fast
hands learn is one of the figures of a way that learns: its takes then follow from the grafts on the compared trees.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scipy.optimize import brentq

from renovation.decide.appraise import worth_of_change
from renovation.decide.compare import Comparison, Outcome
from renovation.decide.drivers import Driver, drivers
from renovation.decide.ends import End, plain, times
from renovation.decide.plain import fields_of
from renovation.decide.ranges import Swing, moved, ranges, to_end
from renovation.farm import farm_flows
from renovation.inputs import Scenario, Treatment
from renovation.money import switching_value

if TYPE_CHECKING:
    import pandas as pd

SMALL_CHANGE = 0.01
"""The change by which a critical figure is told."""

NEXT_TO_NONE = 1e-6
"""A share lost below this is too small for half of it to make another number."""


@dataclass(frozen=True)
class Bar:
    """NPV of all compared trees with one figure at its low and at its high.

    driver: the figure's name: `price_per_kg`, `take`, `days.graft`, `unit_cost.scion` … low, value, high: in `unit`
    (`money` stands for the currency); None for a curve. switching: values at which the NPV is 0, empty where none
    does; for a table by year the factor on all its entries. elasticity: percent that NPV moves when the figure
    moves 1 %; None for counts, for curves (1 % more of a curve is 1 % more crop) and where NPV is 0. source: its
    source class; `own` for what the family states.
    """

    driver: str
    unit: str
    source: str
    low: End
    value: End
    high: End
    npv_low: float | None
    npv_high: float | None
    switching: tuple[float, ...]
    elasticity: float | None

    @property
    def width(self) -> float:
        """How far the NPV moves between the two ends, 0 where one is refused."""
        return moved(self.npv_low, self.npv_high)

    @property
    def critical(self) -> bool:
        """Whether a change of 1 % moves the NPV by 1 % or more."""
        return self.elasticity is not None and abs(self.elasticity) >= 1 - 1e-9

    def as_dict(self) -> dict[str, Any]:
        """Stable keys, None for blank."""
        return {**fields_of(self), "critical": self.critical}


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """Every bar of one technique on the compared trees, the one that moves the NPV furthest first.

    npv: as stated. together: all figures of `ranges` at their bad, then at their good ends.
    """

    comparison: Comparison
    technique: str
    npv: float
    bars: tuple[Bar, ...]
    together: Swing

    @property
    def critical(self) -> tuple[Bar, ...]:
        """The critical figures."""
        return tuple(bar for bar in self.bars if bar.critical)

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`."""
        return {
            "technique": self.technique,
            "stand": self.comparison.stand,
            "trees": self.comparison.trees,
            "npv": self.npv,
            "bars": [bar.as_dict() for bar in self.bars],
            "together": self.together.as_dict(),
        }

    def table(self) -> "pd.DataFrame":
        """One row per bar."""
        import pandas as pd

        return pd.DataFrame([{"technique": self.technique, **bar.as_dict()} for bar in self.bars])


def sensitivity(comparison: Comparison, technique: str | None = None) -> Sensitivity:
    """Bars of one compared technique over every figure that it rests on.

    technique: that of the headline where None. Raises KeyError for one that is not among the outcomes.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> found = sensitivity(compare(demo_scenario()), "side_graft")
        >>> widths = [bar.width for bar in found.bars]
        >>> widths == sorted(widths, reverse=True), "price_per_kg" in {bar.driver for bar in found.critical}
        (True, True)
    """
    key = technique or comparison.headline
    if key is None:
        raise KeyError("no technique can be compared")
    outcome = comparison.outcomes[key]
    worth = _Worth(comparison.scenario, outcome.treatment)
    known = {swing.driver: swing for swing in ranges(comparison, key)}
    bars = []
    for driver in drivers(comparison.scenario, outcome.treatment):
        swing = known.get(driver.name)
        at_low, at_high = (swing.npv_low, swing.npv_high) if swing else _ends(worth, key, driver)
        bars.append(
            Bar(
                driver=driver.name,
                unit=driver.unit,
                source=driver.source,
                low=plain(driver.low),
                value=plain(driver.value),
                high=plain(driver.high),
                npv_low=at_low,
                npv_high=at_high,
                switching=_switching(driver, worth, outcome),
                elasticity=_elasticity(driver, worth),
            )
        )
    bars.sort(key=lambda bar: -bar.width)
    return Sensitivity(comparison, key, worth.stated, tuple(bars), known["together"])


class _Worth:
    """NPV of a treatment under changed scenarios."""

    def __init__(self, scenario: Scenario, treatment: Treatment) -> None:
        self.scenario, self.treatment = scenario, treatment
        self.stated = self.of(scenario)

    def of(self, scenario: Scenario) -> float:
        """NPV of the incremental economic account."""
        flows = farm_flows(scenario, [self.treatment])
        return float(worth_of_change(scenario, flows.with_plan.economic, flows.without.economic))


def _ends(worth: _Worth, key: str, driver: Driver) -> tuple[float | None, float | None]:
    """NPV at the low and at the high end; None where another number of tries, or gap, makes a take above 1."""

    def at(end: Any) -> float | None:
        change = to_end(worth.scenario, key, driver, end) if driver.form == "count" else driver.to(end)
        return change and worth.of(change(worth.scenario))

    return at(driver.low), at(driver.high)


def _elasticity(driver: Driver, worth: _Worth) -> float | None:
    """Percent of NPV per percent of the figure, from a change of 1 % down: up might leave a share's bounds."""
    if driver.form in ("count", "curve") or worth.stated == 0:
        return None
    less = worth.of(driver.put(worth.scenario, times(driver.value, 1 - SMALL_CHANGE)))
    here = worth.of(driver.to(driver.value)(worth.scenario)) if driver.form == "practice" else worth.stated
    return (here - less) / worth.stated / SMALL_CHANGE


def _switching(driver: Driver, worth: _Worth, outcome: Outcome) -> tuple[float, ...]:
    """Values of the figure at which the NPV is 0."""
    lowest, highest = driver.bounds
    if driver.form == "take":
        return outcome.break_even.take
    if driver.form == "rate":
        return tuple(root for root in outcome.measures.irr.roots if root >= 0)
    if driver.form in ("curve", "count"):
        return ()
    if driver.form in ("smooth", "practice"):
        return _searched(driver, worth)
    if driver.form == "table":
        here, there, other = 1.0, 0.5, times(driver.value, 0.5)
    elif driver.form == "share_lost":  # what is got is 1/(1 − share lost) times what is used
        other = driver.value / 2 if driver.value > NEXT_TO_NONE else 0.25
        here, there = 1 / (1 - driver.value), 1 / (1 - other)
    else:
        other = driver.value / 2 if driver.value else 1.0
        here, there = driver.value, other
    found = switching_value(here, worth.stated, there, worth.of(driver.put(worth.scenario, other)))
    if found is not None and driver.form == "share_lost":
        found = 1 - 1 / found if found >= 1 else None
    return () if found is None or not lowest <= found <= highest else (found,)


def _searched(driver: Driver, worth: _Worth) -> tuple[float, ...]:
    """The one value within the bounds at which NPV changes sign; empty where its ends have one sign."""

    def npv(value: float) -> float:
        return worth.of(driver.put(worth.scenario, value))

    lowest, highest = driver.bounds
    if npv(lowest) * npv(highest) >= 0:
        return ()
    return (float(brentq(npv, lowest, highest, xtol=1e-12)),)
