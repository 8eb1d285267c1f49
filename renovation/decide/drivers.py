"""Drivers: every figure that an answer rests on and that can be moved, declared once.

A driver has a name, a unit, the ends of its range, and a setter that puts it at another value and leaves all else as
it is. Break-even values, ranges, sensitivity, the map, lower prices of a loan and the hard cases all move figures by
these. Figures that a family states have no range of their own: they move 20 % down and up.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

from renovation.decide.belief import practice_of, takes_of_practice
from renovation.decide.held import begun_of
from renovation.decide.tries import with_facts_kept
from renovation.inputs import Figure, FrozenDict, Scenario, Technique, Treatment, declared, default_learning, models
from renovation.inputs.materials import bearing_from, bears_from
from renovation.inputs.notebook import range_of_guess

PRICE, WAGE, RATE = "price_per_kg", "wage_per_day", "discount_rate"
TAKE, CROP, BEARING = "take", "mature_crop", "months_to_bearing"
NEW_CROWN, OLD_CROWN = "new_crown", "old_crown"
ON_A_MAP = (PRICE, WAGE, CROP, TAKE, RATE, BEARING)
"""Drivers that a map may be drawn over."""
LOSSES = ("tree_loss_per_year", "pods_lost")
OF_THE_WAY = (TAKE, CROP, BEARING)
"""Those of them that belong to one way; the others are the farm's."""
SWING = 0.20
"""What a family states moves by this share of itself, down and up: common practice, no source."""

Form = Literal["line", "share_lost", "take", "rate", "smooth", "practice", "table", "curve", "count"]
Put = Callable[[Scenario, Any], Scenario]
Change = Callable[[Scenario], Scenario]
NO_END = float("inf")


@dataclass(frozen=True)
class Driver:
    """One figure: its range, how it is put at another value, and how the NPV depends on it.

    low, value, high: numbers, tables by year or curves, in `unit` (`money` stands for the currency). source: its source
    class; `own` for what the family states. put(scenario, value): the scenario with the figure at a value. form, of the
    NPV: `line`: linear. `share_lost`: linear in 1/(1 − value). `take`: a polynomial. `rate`: of a discount rate.
    `smooth`: to be searched. `practice`: so too, and takes follow from it, whatever is stated. `table`: linear in a
    factor on all entries. `curve`, `count`: no switching value.
    bounds: lowest and highest value there may be. wide: a range that shows the value with room on both sides.
    """

    name: str
    unit: str
    source: str
    low: Any
    value: Any
    high: Any
    put: Put
    form: Form
    bounds: tuple[float, float] = (0.0, NO_END)
    wide: tuple[float, float] = (0.0, 1.0)

    @property
    def fixed(self) -> bool:
        """Whether its range is its value alone."""
        return bool(self.low == self.value == self.high)

    def to(self, value: Any) -> Change:
        """The change that puts the figure at a value."""
        return lambda scenario: self.put(scenario, value)


# What the family states


def price(scenario: Scenario) -> Driver:
    """Today's price of a kg of dry beans before deductions; a price of wet beans moves in proportion."""

    def put(scenario: Scenario, value: float) -> Scenario:
        market, wet = scenario.market, scenario.market.wet_beans
        if wet is None:
            return _part("market", "price_per_kg")(scenario, value)
        dry = market.dry_price_per_kg
        moved = wet.price_per_kg * (value / dry) if dry else value * wet.dry_per_wet
        return _part("market", "wet_beans")(scenario, wet.model_copy(update={"price_per_kg": moved}))

    here = scenario.market.dry_price_per_kg
    found = _stated(PRICE, "Market", PRICE, here, put, wide=_around(here))
    return replace(found, **range_of_guess(scenario, f"market.{PRICE}"))


def wage(scenario: Scenario) -> Driver:
    """What a day of work costs."""
    here = scenario.household.wage_per_day
    found = _stated(WAGE, "Household", WAGE, here, _part("household", WAGE), wide=_around(here))
    return replace(found, **range_of_guess(scenario, f"household.{WAGE}"))


def discount_rate(scenario: Scenario) -> Driver:
    """The yearly rate at which later money counts less."""
    here = scenario.appraisal.discount_rate
    wide = (0.0, max(0.3, 2 * here))
    return _stated(RATE, "Appraisal", RATE, here, _part("appraisal", RATE), form="rate", wide=wide)


def stated(scenario: Scenario, stand: str) -> Iterator[Driver]:
    """What the family states: price, deductions, picking, wage, rate, and the figures of the compared stand."""
    market = scenario.market
    yield price(scenario)
    for field in ("deductions_per_kg", "harvest_days_per_kg"):
        found = _stated(field, "Market", field, getattr(market, field), _part("market", field))
        yield replace(found, **range_of_guess(scenario, f"market.{field}"))
    yield wage(scenario)
    yield discount_rate(scenario)
    yield from _of_stand(scenario, stand)


def _of_stand(scenario: Scenario, name: str) -> Iterator[Driver]:
    """Today's crop, its decline, and the upkeep of the trees that stand."""
    stand = scenario.stand(name)

    def of(field: str) -> Put:
        def put(scenario: Scenario, value: Any) -> Scenario:
            stands = tuple(
                one.model_copy(update={field: value}) if one.name == name else one for one in scenario.stands
            )
            return scenario.model_copy(update={"stands": stands})

        return put

    def crop(scenario: Scenario, value: Any) -> Scenario:
        return of("pods")(of("crop_per_tree")(scenario, value), None)

    forms: dict[str, Any] = {"decline_per_year": {"form": "smooth", "bounds": (-0.2, 0.6)}}
    forms |= {"tree_loss_per_year": {"form": "smooth", "bounds": (0.0, 0.9)}, "pods_lost": {"bounds": (0.0, 1.0)}}
    for field in ("crop_per_tree", "decline_per_year", "upkeep_days", "upkeep_inputs", *LOSSES):
        value = stand.kg_per_tree if field == "crop_per_tree" else getattr(stand, field)
        put = crop if field == "crop_per_tree" else of(field)
        called = f"old_{field}" if field in ("upkeep_days", "upkeep_inputs", *LOSSES) else field
        found = _stated(called, "Stand", field, value, put, **forms.get(field, {}))
        yield replace(found, **range_of_guess(scenario, f"stands.{scenario.stands.index(stand)}.{field}"))


def _stated(name: str, model: str, field: str, value: float, put: Put, form: Form = "line", **more: Any) -> Driver:
    """A figure that the family states: its declared unit, a fifth of itself down and up, within what there may be."""
    unit = declared(next(kind for kind in models() if kind.__name__ == model), field).unit
    least, most = more.get("bounds", (-NO_END, NO_END))
    low, high = sorted((value * (1 - SWING), value * (1 + SWING)))
    return Driver(name, unit, "own", max(low, least), value, min(high, most), put, form, **more)


def _around(here: float) -> tuple[float, float]:
    """A quarter to double of an amount of money."""
    return (0.25 * here, 2 * here) if here else (0.0, 1.0)


def _part(section: str, field: str) -> Put:
    """Set one field of one section of the scenario."""

    def put(scenario: Scenario, value: Any) -> Scenario:
        table = getattr(scenario, section).model_copy(update={field: value})
        return scenario.model_copy(update={section: table})

    return put


# What a technique's file states


def take(technique: Technique, key: str) -> Driver:
    """The share of grafts that take, or of plants that live, by project year."""
    return _figure(TAKE, technique.take, in_technique(key, (TAKE,)), "take")


def highest_take(technique: Technique) -> float:
    """The highest take that is the same in every year: times the factors of any attempt it is at most 1.

    Example:
        >>> from renovation.inputs import default_techniques
        >>> highest_take(default_techniques()["side_graft"])
        1.0
    """
    highest, _ = technique.highest_factor
    return min(1.0, 1 / highest) if highest > 0 else 1.0


def constant_take(technique: Technique, key: str) -> Driver:
    """A take that is the same in every year; its value is the mean of the years stated."""

    def put(scenario: Scenario, value: float) -> Scenario:
        return in_technique(key, (TAKE,))(scenario, (value,))

    table, highest = technique.take, highest_take(technique)
    low, here, high = (sum(entries) / len(entries) for entries in (table.low, table.value, table.high))
    return Driver(TAKE, "share", table.source, low, here, high, put, "take", (0.0, highest), (0.0, highest))


def mature_crop(technique: Technique, key: str) -> Driver:
    """What a tree of the new material bears when it is grown."""
    figure = technique.mature_crop
    wide = (min(figure.low, figure.value / 2), max(figure.high, figure.value * 1.5))
    return _figure(CROP, figure, in_technique(key, (CROP,)), "line", wide=wide)


def months_to_bearing(technique: Technique, key: str) -> Driver:
    """Months from establishment to the first bearing point of the new crown's table, which moves as a whole."""
    here = bears_from(technique.new_crown.value)

    def put(scenario: Scenario, value: float) -> Scenario:
        return in_technique(key, (NEW_CROWN,))(scenario, bearing_from(scenario.techniques[key].new_crown.value, value))

    ends = [bears_from(curve) for curve in (technique.new_crown.low, technique.new_crown.high)]
    wide, source = (max(0.0, here - 12), here + 36), technique.new_crown.source
    return Driver(BEARING, "months", source, min(ends), here, max(ends), put, "smooth", wide=wide)


def on_a_map(scenario: Scenario, key: str) -> dict[str, Driver]:
    """The drivers of a map, the technique's own being those of `key`; of the take the constant one."""
    technique = scenario.techniques[key]
    found = (
        price(scenario),
        wage(scenario),
        mature_crop(technique, key),
        constant_take(technique, key),
        discount_rate(scenario),
        months_to_bearing(technique, key),
    )
    return {driver.name: driver for driver in found}


def of_technique(technique: Technique, key: str) -> Iterator[Driver]:
    """The technique's own figures; a pruning has nothing to take."""
    forms: dict[str, Form] = {
        TAKE: "take",
        CROP: "line",
        NEW_CROWN: "curve",
        "shade": "line",
        "tree_loss_per_year": "smooth",
        "pods_lost": "line",
        "attempts": "count",
        "gap_months": "count",
        "upkeep_days": "table",
        "upkeep_inputs": "table",
    }
    not_there = (TAKE, "attempts", "gap_months") if technique.family == "prune" else ()
    for field, form in forms.items():
        if field not in not_there and (figure := getattr(technique, field)) is not None:
            put = in_technique(key, (field,))
            put = with_facts_kept(put, key, field) if form == "count" else put
            highest = {"shade": 1.0, "tree_loss_per_year": 0.9, "pods_lost": 1.0}.get(field, NO_END)
            yield _figure(field, figure, put, form, (0.0, highest))
    if technique.old_crown is not None:
        yield _figure(OLD_CROWN, technique.old_crown.curve, in_technique(key, (OLD_CROWN, "curve")), "curve")


def of_operations(technique: Technique, key: str) -> Iterator[Driver]:
    """Days of each operation, quantities of its supplies, shares lost before use; crops and shade beside, payments."""
    for name, operation in technique.operations.items():
        yield _figure(f"days.{name}", operation.days, in_technique(key, ("operations", name, "days")), "line")
        for item, use in operation.materials.items():
            place = ("operations", name, "materials", item)
            yield _figure(f"quantity.{name}.{item}", use.quantity, in_technique(key, (*place, "quantity")), "line")
            if use.loss_before_use is not None:
                put = in_technique(key, (*place, "loss_before_use"))
                yield _figure(f"lost.{name}.{item}", use.loss_before_use, put, "share_lost", (0.0, 1.0))
    for position, span in enumerate(technique.intercrop):
        for field in ("income", "days"):
            put = in_technique(key, ("intercrop", position, field))
            yield _figure(f"intercrop_{field}.{position + 1}", getattr(span, field), put, "line")
    for position, payment in enumerate(technique.payments):
        put = in_technique(key, ("payments", position, "amount"))
        yield _figure(f"payment.{position + 1}", payment.amount, put, "line")
    if (trees := technique.permanent_shade) is not None:
        at = "permanent_shade"
        yield _figure("permanent_crop_factor", trees.crop_factor, in_technique(key, (at, "crop_factor")), "line")
        yield _figure("permanent_income", trees.income, in_technique(key, (at, "income")), "table")
        yield _figure("permanent_days", trees.days, in_technique(key, (at, "days")), "table")


def of_supplies(scenario: Scenario, technique: Technique) -> Iterator[Driver]:
    """Unit costs of the supplies that the technique uses, prices and lives of its tools."""
    used = dict.fromkeys(item for operation in technique.operations.values() for item in operation.materials)
    for item in used:
        figure = scenario.supplies.items[item].unit_cost
        yield _figure(f"unit_cost.{item}", figure, _in_supplies(("items", item, "unit_cost")), "line")
    for name in technique.tools:
        tool = scenario.supplies.tools[name]
        yield _figure(f"tool_price.{name}", tool.price, _in_supplies(("tools", name, "price")), "line")
        yield _figure(f"tool_life.{name}", tool.lasts_years, _in_supplies(("tools", name, "lasts_years")), "count")


# What practice brings


def learning_rate(scenario: Scenario, treatments: Iterable[Treatment]) -> Driver | None:
    """How fast hands learn: the share of failures that each doubling of the grafts made leaves (method §10).

    The takes of the ways that learn follow from the grafts made on the treated trees, year by year. Its range is that
    of the defaults, widened to hold what the farm states. None where no treatment's way learns by a curve.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario("first_grafters")
        >>> found = learning_rate(farm, farm.plan)
        >>> found.low, found.value, found.high
        (0.73, 0.85, 0.95)
    """
    learning, shipped = scenario.planning.learning, default_learning().rate
    hands = practice_of(scenario, scenario.planning)
    begun = {} if hands is None else begun_of(scenario, hands, treatments)
    if learning is None or learning.form == "table" or not begun:
        return None

    def put(scenario: Scenario, rate: float) -> Scenario:
        scenario = _part("planning", "learning")(scenario, learning.model_copy(update={"rate": rate}))
        practice = practice_of(scenario, scenario.planning)
        assert practice is not None
        takes, _ = takes_of_practice(scenario, practice, begun)
        for key in begun:
            scenario = in_technique(key, (TAKE,))(scenario, takes)
        return scenario

    here, source = learning.rate, shipped.source if learning.rate == shipped.value else "own"
    low, high = min(shipped.low, here), max(shipped.high, here)
    return Driver("learning_rate", shipped.unit, source, low, here, high, put, "practice", (0.5, 1.0))


def drivers(scenario: Scenario, treatment: Treatment) -> Iterator[Driver]:
    """Every figure that the NPV of a treatment rests on and that has a range.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> [driver.name for driver in drivers(s, compare(s).outcomes["side_graft"].treatment)][:3]
        ['price_per_kg', 'deductions_per_kg', 'harvest_days_per_kg']
    """
    technique, key = scenario.techniques[treatment.technique], treatment.technique
    yield from (driver for driver in stated(scenario, treatment.stand) if driver.low != driver.high)
    if learned := learning_rate(scenario, [treatment]):
        yield learned
    for found in (of_technique(technique, key), of_operations(technique, key), of_supplies(scenario, technique)):
        yield from (driver for driver in found if driver.low != driver.high)


def _figure(
    name: str, figure: Figure[Any], put: Put, form: Form, bounds: tuple[float, float] = (0.0, NO_END), **more: Any
) -> Driver:
    """A figure with its own range."""
    return Driver(name, figure.unit, figure.source, figure.low, figure.value, figure.high, put, form, bounds, **more)


def in_technique(key: str, path: tuple[str | int, ...]) -> Put:
    """Set the value of the figure at a path below a technique."""

    def put(scenario: Scenario, value: Any) -> Scenario:
        changed = _changed(scenario.techniques[key], path, value)
        return scenario.model_copy(update={"techniques": FrozenDict({**scenario.techniques, key: changed})})

    return put


def _in_supplies(path: tuple[str | int, ...]) -> Put:
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
