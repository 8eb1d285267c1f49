"""What an answer rests on, figure by figure: bars over each range, switching values, critical figures.

One figure at a time from its low to its high, the others as stated; sorted by how far the NPV moves. A figure
is critical where a change of 1 % moves the NPV by 1 % or more, and its switching value is where the NPV is 0
(European Commission, Guide to Cost-Benefit Analysis of Investment Projects). Figures that a family states have no
range of their own: they move 20 % down and up, as the price does.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from scipy.optimize import brentq

from renovation.decide.compare import Comparison, Outcome
from renovation.decide.ranges import PRICE_SWING, Swing, ranges
from renovation.farm import by_year, farm_flows
from renovation.inputs import Figure, FrozenDict, Scenario, Technique, Treatment, declared, models
from renovation.money import net_present_value, switching_value

if TYPE_CHECKING:
    import pandas as pd

SMALL_CHANGE = 0.01
"""The change by which a critical figure is told."""

End = float | tuple[float, ...] | None
Form = Literal["line", "share_lost", "take", "rate", "smooth", "table", "curve", "count"]
Set = Callable[[Scenario, Any], Scenario]


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
        if self.npv_low is None or self.npv_high is None:
            return 0.0
        return abs(self.npv_high - self.npv_low)

    @property
    def critical(self) -> bool:
        """Whether a change of 1 % moves the NPV by 1 % or more."""
        return self.elasticity is not None and abs(self.elasticity) >= 1 - 1e-9

    def as_dict(self) -> dict[str, Any]:
        """Stable keys, None for blank."""
        ends = {"low": self.low, "value": self.value, "high": self.high}
        return {
            "driver": self.driver,
            "unit": self.unit,
            "source": self.source,
            **{name: list(end) if isinstance(end, tuple) else end for name, end in ends.items()},
            "npv_low": self.npv_low,
            "npv_high": self.npv_high,
            "switching": list(self.switching),
            "elasticity": self.elasticity,
            "critical": self.critical,
        }


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
    for driver in _drivers(comparison, key):
        swing = known.get(driver.name)
        at_low, at_high = (swing.npv_low, swing.npv_high) if swing else _ends(worth, driver)
        bars.append(
            Bar(
                driver=driver.name,
                unit=driver.unit,
                source=driver.source,
                low=_plain(driver.low),
                value=_plain(driver.value),
                high=_plain(driver.high),
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
        flow = by_year(farm_flows(scenario, [self.treatment]).economic_change)
        return float(net_present_value(flow, scenario.appraisal.discount_rate))


@dataclass(frozen=True)
class _Driver:
    """One figure: its range, how it is changed, and how the NPV depends on it.

    `line`: linearly. `share_lost`: linearly in 1/(1 − value). `take`, `rate`: solved elsewhere. `smooth`: in
    some way that is searched. `table`: linearly in a factor on all entries. `curve`, `count`: no switching value.
    """

    name: str
    unit: str
    source: str
    low: Any
    value: Any
    high: Any
    put: Set
    form: Form
    bounds: tuple[float, float] = (0.0, float("inf"))


def _ends(worth: _Worth, driver: _Driver) -> tuple[float, float]:
    """NPV at the low and at the high end."""
    low, high = (worth.of(driver.put(worth.scenario, end)) for end in (driver.low, driver.high))
    return low, high


def _plain(end: Any) -> End:
    """A number or a tuple of numbers; None for a curve."""
    if isinstance(end, tuple):
        return None if end and isinstance(end[0], tuple) else end
    return float(end)


def _times(value: Any, factor: float) -> Any:
    """A number, a table or a curve's shares, times a factor."""
    if not isinstance(value, tuple):
        return value * factor
    return tuple((entry[0], entry[1] * factor) if isinstance(entry, tuple) else entry * factor for entry in value)


def _elasticity(driver: _Driver, worth: _Worth) -> float | None:
    """Percent of NPV per percent of the figure, from a change of 1 % down: up might leave a share's bounds."""
    if driver.form in ("count", "curve") or worth.stated == 0:
        return None
    less = worth.of(driver.put(worth.scenario, _times(driver.value, 1 - SMALL_CHANGE)))
    return (worth.stated - less) / worth.stated / SMALL_CHANGE


def _switching(driver: _Driver, worth: _Worth, outcome: Outcome) -> tuple[float, ...]:
    """Values of the figure at which the NPV is 0."""
    lowest, highest = driver.bounds
    if driver.form == "take":
        return outcome.break_even.take
    if driver.form == "rate":
        return tuple(root for root in outcome.measures.irr.roots if root >= 0)
    if driver.form in ("curve", "count"):
        return ()
    if driver.form == "smooth":
        return _searched(driver, worth)
    if driver.form == "table":
        here, there, other = 1.0, 0.5, _times(driver.value, 0.5)
    elif driver.form == "share_lost":  # what is got is 1/(1 − share lost) times what is used
        other = driver.value / 2 if driver.value else 0.25
        here, there = 1 / (1 - driver.value), 1 / (1 - other)
    else:
        other = driver.value / 2 if driver.value else 1.0
        here, there = driver.value, other
    found = switching_value(here, worth.stated, there, worth.of(driver.put(worth.scenario, other)))
    if found is not None and driver.form == "share_lost":
        found = 1 - 1 / found if found >= 1 else None
    return () if found is None or not lowest <= found <= highest else (found,)


def _searched(driver: _Driver, worth: _Worth) -> tuple[float, ...]:
    """The one value within the bounds at which NPV changes sign; empty where its ends have one sign."""

    def npv(value: float) -> float:
        return worth.of(driver.put(worth.scenario, value))

    lowest, highest = driver.bounds
    if npv(lowest) * npv(highest) >= 0:
        return ()
    return (float(brentq(npv, lowest, highest, xtol=1e-12)),)


# The figures


def _drivers(comparison: Comparison, key: str) -> Iterator[_Driver]:
    """Every figure that the NPV of a technique on the compared trees rests on and that has a range."""
    scenario = comparison.scenario
    technique = scenario.techniques[key]
    for driver in (
        *_stated(comparison),
        *_of_technique(key, technique),
        *_of_operations(key, technique),
        *_of_supplies(scenario, technique),
    ):
        if driver.low != driver.high:
            yield driver


def _swung(name: str, unit: str, value: float, put: Set, form: Form = "line", **more: Any) -> _Driver:
    """A figure that the family states: 20 % down and up."""
    ends = (value * (1 - PRICE_SWING), value * (1 + PRICE_SWING))
    return _Driver(name, unit, "own", min(ends), value, max(ends), put, form, **more)


def _stated(comparison: Comparison) -> Iterator[_Driver]:
    """What the family states: price, wage, rate, the stand."""
    scenario = comparison.scenario
    market, household, appraisal = scenario.market, scenario.household, scenario.appraisal
    position = next(i for i, stand in enumerate(scenario.stands) if stand.name == comparison.stand)
    stand = scenario.stands[position]

    def part(section: str, field: str) -> Set:
        def put(scenario: Scenario, value: Any) -> Scenario:
            table = getattr(scenario, section).model_copy(update={field: value})
            return scenario.model_copy(update={section: table})

        return put

    def of_stand(field: str) -> Set:
        def put(scenario: Scenario, value: Any) -> Scenario:
            stands = list(scenario.stands)
            stands[position] = stands[position].model_copy(update={field: value})
            return scenario.model_copy(update={"stands": tuple(stands)})

        return put

    def crop(scenario: Scenario, value: Any) -> Scenario:
        return of_stand("pods")(of_stand("crop_per_tree")(scenario, value), None)

    def price(scenario: Scenario, value: Any) -> Scenario:
        return part("market", "wet_beans")(part("market", "price_per_kg")(scenario, value), None)

    yield _swung("price_per_kg", _unit("Market", "price_per_kg"), market.dry_price_per_kg, price)
    yield _swung(
        "deductions_per_kg",
        _unit("Market", "deductions_per_kg"),
        market.deductions_per_kg,
        part("market", "deductions_per_kg"),
    )
    yield _swung(
        "harvest_days_per_kg",
        _unit("Market", "harvest_days_per_kg"),
        market.harvest_days_per_kg,
        part("market", "harvest_days_per_kg"),
    )
    yield _swung(
        "wage_per_day", _unit("Household", "wage_per_day"), household.wage_per_day, part("household", "wage_per_day")
    )
    yield _swung(
        "discount_rate",
        _unit("Appraisal", "discount_rate"),
        appraisal.discount_rate,
        part("appraisal", "discount_rate"),
        form="rate",
    )
    yield _swung("crop_per_tree", _unit("Stand", "crop_per_tree"), stand.kg_per_tree, crop)
    yield _swung(
        "decline_per_year",
        _unit("Stand", "decline_per_year"),
        stand.decline_per_year,
        of_stand("decline_per_year"),
        form="smooth",
        bounds=(-0.2, 0.6),
    )
    for field in ("upkeep_days", "upkeep_inputs"):
        yield _swung(f"old_{field}", _unit("Stand", field), getattr(stand, field), of_stand(field))


def _unit(model: str, field: str) -> str:
    """The declared unit of a field."""
    return declared(next(kind for kind in models() if kind.__name__ == model), field).unit


def _of_technique(key: str, technique: Technique) -> Iterator[_Driver]:
    """The technique's own figures."""
    forms: dict[str, Form] = {
        "take": "take",
        "mature_crop": "line",
        "new_crown": "curve",
        "shade": "line",
        "attempts": "count",
        "gap_months": "count",
        "upkeep_days": "table",
        "upkeep_inputs": "table",
    }
    pruned = technique.family == "prune"
    for field, form in forms.items():
        if pruned and field in ("take", "attempts", "gap_months"):
            continue
        figure: Figure[Any] = getattr(technique, field)
        most = 1.0 if field == "shade" else float("inf")
        yield _figure(field, figure, _in_technique(key, (field,)), form, (0.0, most))
    yield _figure("old_crown", technique.old_crown.curve, _in_technique(key, ("old_crown", "curve")), "curve")


def _of_operations(key: str, technique: Technique) -> Iterator[_Driver]:
    """Days of each operation, quantities of its supplies, shares lost before use; the crop between young trees."""
    for name, operation in technique.operations.items():
        yield _figure(f"days.{name}", operation.days, _in_technique(key, ("operations", name, "days")), "line")
        for item, use in operation.materials.items():
            place = ("operations", name, "materials", item)
            yield _figure(f"quantity.{name}.{item}", use.quantity, _in_technique(key, (*place, "quantity")), "line")
            if use.loss_before_use is not None:
                put = _in_technique(key, (*place, "loss_before_use"))
                yield _figure(f"lost.{name}.{item}", use.loss_before_use, put, "share_lost", (0.0, 1.0))
    for position, span in enumerate(technique.intercrop):
        for field in ("income", "days"):
            put = _in_technique(key, ("intercrop", position, field))
            yield _figure(f"intercrop_{field}.{position + 1}", getattr(span, field), put, "line")


def _of_supplies(scenario: Scenario, technique: Technique) -> Iterator[_Driver]:
    """Unit costs of the supplies that the technique uses, prices and lives of its tools."""
    used = dict.fromkeys(item for operation in technique.operations.values() for item in operation.materials)
    for item in used:
        figure = scenario.supplies.items[item].unit_cost
        yield _figure(f"unit_cost.{item}", figure, _in_supplies(("items", item, "unit_cost")), "line")
    for name in technique.tools:
        tool = scenario.supplies.tools[name]
        yield _figure(f"tool_price.{name}", tool.price, _in_supplies(("tools", name, "price")), "line")
        yield _figure(f"tool_life.{name}", tool.lasts_years, _in_supplies(("tools", name, "lasts_years")), "count")


def _figure(
    name: str, figure: Figure[Any], put: Set, form: Form, bounds: tuple[float, float] = (0.0, float("inf"))
) -> _Driver:
    """A figure with its own range."""
    return _Driver(name, figure.unit, figure.source, figure.low, figure.value, figure.high, put, form, bounds)


def _in_technique(key: str, path: tuple[str | int, ...]) -> Set:
    """Set the value of the figure at a path below a technique."""

    def put(scenario: Scenario, value: Any) -> Scenario:
        changed = _changed(scenario.techniques[key], path, value)
        return scenario.model_copy(update={"techniques": FrozenDict({**scenario.techniques, key: changed})})

    return put


def _in_supplies(path: tuple[str | int, ...]) -> Set:
    """Set the value of the figure at a path below the supplies."""

    def put(scenario: Scenario, value: Any) -> Scenario:
        return scenario.model_copy(update={"supplies": _changed(scenario.supplies, path, value)})

    return put


def _changed(node: Any, path: tuple[str | int, ...], value: Any) -> Any:
    """A copy of nested models, tables and lists with the figure at the end of the path set to a value."""
    if not path:
        return node.model_copy(update={"value": value})
    part, rest = path[0], path[1:]
    if isinstance(part, int):
        return (*node[:part], _changed(node[part], rest, value), *node[part + 1 :])
    if isinstance(node, dict):
        return FrozenDict({**node, part: _changed(node[part], rest, value)})
    return node.model_copy(update={part: _changed(getattr(node, part), rest, value)})
