"""Odd farms that are accepted all the same: whatever the models let pass, drawn from a seed.

A sound farm gains sections that few farms have, then odd values at places that the models themselves list; what is
refused goes back to what it was. A new parameter, and a bound that moves, is so tried without a change here.
"""

import math
import random
from collections.abc import Iterator
from typing import Any, Literal, get_args, get_origin

from farm_files import FARMS, SMALL
from pydantic import ValidationError

from renovation.inputs import Scenario, default_techniques, load_scenario, read_scenario
from renovation.inputs.files import priced_technique
from renovation.inputs.quantities import month_count, year_month
from renovation.inputs.shapes import Shape, bounds, step

NAMES = (
    "Ñandú",
    "कोको",
    "مزرعة",
    "🌱" * 80,
    "e\u0301" * 40,
    "=1+1",
    "@a",
    "-1",
    "{x} %s {0}",
    '"a", b; c',
    "<b>&amp;</b>",
    "$a$ *b* _c_",
    "a.b[0]'c\\d",
    "a\nb\tc",
    "\u202ea\u200b",
    "é" * 80,
    "a" * 80,
    "1e5",
)
"""Names that steer a program where they are read as anything but letters."""
SMALLEST = (5e-324, 1e-300, 1e-12, 1e-6)
LARGEST = (1e3, 1e6, 1e9, 1e12)
ROUNDS = 60
FEWEST = 512
"""Futures of every farm, as few as can be: more of them take longer, and nothing else."""


def odd_farm(seed: int) -> Scenario:
    """An accepted farm of odd values; the same seed gives the same farm."""
    draw = random.Random(seed)
    data: Any = _base(draw)
    if draw.random() < 0.6:
        data = _sections(draw, data)
    data = _ways(draw, data)
    data = _accepted(draw, _span(draw, data), {}).model_dump()
    data["risk"]["draws"] = FEWEST
    places = [place for place in _places(data, Shape(Scenario)) if place[1].field != "draws"]
    pinned = sorted({(shape.model, shape.field) for _, shape in places})
    wanted = pinned[seed % len(pinned)]
    chosen = [place for place in places if (place[1].model, place[1].field) == wanted][:1]
    share = draw.choice((0.0, 0.02, 0.1, 0.5))
    few = draw.sample(places, min(len(places), draw.randint(1, 6)))
    chosen += [place for place in places if draw.random() < share] + few
    changes = {}
    for path, shape in chosen:
        if (value := _odd(draw, _at(data, path), shape)) is not None:
            changes[path] = value
    return _accepted(draw, data, changes)


# A farm to begin with


def _base(draw: random.Random) -> dict[str, Any]:
    """A farm that ships with the program, or one that states no more than it has to."""
    if draw.random() < 0.4:
        return read_scenario(SMALL, "small.toml").model_dump()
    return load_scenario(draw.choice(FARMS)).model_dump()


def _sections(draw: random.Random, data: dict[str, Any]) -> dict[str, Any]:
    """The same farm with sections that may stand in a file or not."""
    stand = data["stands"][0]
    first = month_count(data["appraisal"]["start"]) + draw.randint(0, 11)
    terms = {
        "payouts": draw.choice(
            (
                ({"month": year_month(first), "share": 1.0},),
                ({"month": year_month(first), "share": 1e-6}, {"month": year_month(first + 1), "share": 1.0}),
                tuple({"month": year_month(first + n), "share": 1 / 3} for n in (2, 0, 1)),
            )
        ),
        "rate_per_year": draw.choice((0.0, 1e-320, 0.12, 2.0)),
        "term_months": draw.choice((13, 24, 60, 120)),
        "grace_months": draw.choice((0, 1, 12)),
        "grace_interest": draw.choice(("paid", "added")),
        "repayment": draw.choice(("level", "equal_principal", "harvest")),
        "harvest_months": tuple(draw.sample(range(1, 13), draw.randint(1, 12))),
        "fee_share": draw.choice((0.0, 0.02, 0.999)),
    }
    way = next(iter(data["techniques"]))
    learning = {
        "form": draw.choice(("table", "wright", "crawford")),
        "table": ({"grafts_before": 0, "take": 0.2}, {"grafts_before": 100, "take": 0.6}),
    }
    records = tuple(
        {"technique": way, "made": made, "taken": made // 3} for made in (0, 40, 10_000_000)[: draw.randint(1, 3)]
    )
    chosen: dict[str, Any] = {
        "loan": {"name": "Offer", "limit": draw.choice((1.0, 1000.0, 1e12)), **terms},
        "learning": learning,
        "records": records,
        "scions_per_year": draw.choice((0.0, 10.0, (0.0, 5.0, 1e12))),
        "plants_per_year": draw.choice((0.0, 10.0, (3.0,))),
        "money_per_year": draw.choice((0.0, 1e3, (0.0, 1e12))),
        "most_share_per_year": draw.choice((1e-9, 0.1, 1.0)),
        "batch": {way: draw.choice((1, 10, 1_000_000))},
        "at_least_two_clones": True,
        "years": 1,
        "value_per_family_day": 0.0,
        "years_after_horizon": 1,
    }
    planning = {key: value for key, value in chosen.items() if draw.random() < 0.3}
    data = {**data, "planning": {**data["planning"], **planning}}
    if draw.random() < 0.5:
        data["loans"] = ({"name": "Bank", "amount": float(draw.choice((1, 1000, 10**12))), **terms},)
    if draw.random() < 0.3:
        data["risk"] = {
            **data["risk"],
            "price_path": "typed",
            "price_by_year": draw.choice(((0.05,), (20.0, 0.05), (1.0,) * 40)),
        }
    if draw.random() < 0.3:
        data["stands"] = tuple(
            {**stand, "name": f"Field {n}", "trees": draw.choice((1, 7, 1_000_000))}
            for n in range(draw.choice((1, 2, 9)))
        )
    return data


def _ways(draw: random.Random, data: dict[str, Any]) -> dict[str, Any]:
    """Any of the ways that ship, often one alone."""
    if draw.random() < 0.3:
        return data
    money = data["appraisal"]["currency"], data["appraisal"]["currency_per_usd"] or 1.0
    keys = draw.sample(sorted(default_techniques()), draw.choice((1, 1, 1, 2)))
    if all(default_techniques()[key].works_on == "empty places" for key in keys):
        keys.append("side_graft")  # a farm that can treat no tree is refused
    return {**data, "techniques": {key: priced_technique(key, *money) for key in keys}}


def _span(draw: random.Random, data: dict[str, Any]) -> dict[str, Any]:
    """Other years looked at: one only, as many as can be, the first and the last that a calendar has."""
    appraisal = dict(data["appraisal"])
    if draw.random() < 0.98:
        appraisal["horizon_years"] = draw.choices((1, 2, 3, 5, 40), (120, 60, 10, 8, 2))[0]
    if draw.random() < 0.3:
        years = appraisal["horizon_years"] + data["planning"]["years_after_horizon"]
        last = month_count("9999-12") + 1 - 12 * years
        moved = draw.choice((month_count("0001-01"), last, month_count(appraisal["start"]) + draw.randint(0, 11)))
        by = moved - month_count(appraisal["start"])
        return _moved({**data, "appraisal": appraisal}, by)
    return {**data, "appraisal": appraisal}


def _moved(node: Any, months: int) -> Any:
    """The same data with every year and month moved, where a calendar has it."""
    if isinstance(node, dict):
        return {key: _moved(below, months) for key, below in node.items()}
    if isinstance(node, tuple):
        return tuple(_moved(below, months) for below in node)
    if isinstance(node, str) and len(node) == 7 and node[4] == "-" and node.replace("-", "").isdecimal():
        return year_month(max(12, month_count(node) + months))
    return node


# Places and what may stand there


def _places(node: Any, shape: Shape, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Shape]]:
    """Every place of the data where a value, or a list of values, stands."""
    below = shape.or_else if shape.or_else is not None and isinstance(node, tuple) else shape
    if isinstance(node, dict) and (shape.is_model or shape.is_figure or shape.is_named):
        for key, value in node.items():
            if (inside := step(shape, key)) is not None:
                yield from _places(value, inside, (*path, key))
    elif isinstance(node, tuple) and below.is_list and node and isinstance(node[0], dict):
        for i, value in enumerate(node):
            yield from _places(value, step(shape, i) or shape, (*path, i))
    else:
        yield path, shape


def _at(node: Any, path: tuple[Any, ...]) -> Any:
    for part in path:
        node = node[part]
    return node


def _odd(draw: random.Random, value: Any, shape: Shape) -> Any:
    """Another value of the same kind; None for a place that is left alone."""
    if shape.or_else is not None and draw.random() < 0.5:
        fewest, most = shape.or_else.lengths
        count = draw.choice((max(1, fewest), most or 12))
        return tuple(_number(draw, step(shape, 0) or shape, float) for _ in range(count))
    if get_origin(shape.core) is Literal:
        return draw.choice(get_args(shape.core))
    if shape.core is bool:
        return not value
    if shape.core in (int, float):
        if shape.optional and value is not None and draw.random() < 0.1:
            return None
        return _number(draw, shape, shape.core)
    if shape.core is str and shape.field in ("name", "label", "note"):
        return draw.choice(NAMES)
    if isinstance(value, tuple) and value and all(isinstance(part, int | float) for part in value):
        kind = type(value[0])
        count = len(value) if shape.lengths[0] == shape.lengths[1] else draw.choice((1, len(value), 40))
        return tuple(_number(draw, shape, kind) for _ in range(count))
    if isinstance(value, tuple) and value and all(isinstance(part, tuple) for part in value):
        factor = draw.choice((0.0, 0.5, 1.0, 5.0))
        return tuple((age, min(5.0, share * factor)) for age, share in value)
    return None


def _number(draw: random.Random, shape: Shape, kind: type) -> float | int:
    """A number that the bounds of a place let pass: at an end, next to one, tiny or huge."""
    ends = bounds(shape)
    low, high = -1e12 if ends.lower is None else ends.lower, 1e12 if ends.upper is None else ends.upper
    if kind is int:
        return int(draw.choice((low, high, low + 1, high - 1, draw.randint(int(low), int(min(high, low + 50))))))
    first = math.nextafter(low, math.inf) if ends.lower_open else float(low)
    last = math.nextafter(high, -math.inf) if ends.upper_open else float(high)
    tried = (first, last, first, last, *SMALLEST, *LARGEST, draw.uniform(low, min(high, low + 10)), 0.0, 1.0)
    return draw.choice([number for number in tried if ends.holds(number)])


# What is refused goes back


def _accepted(draw: random.Random, data: dict[str, Any], changes: dict[tuple[Any, ...], Any]) -> Scenario:
    """The farm with all the changes that are accepted together, with none where these are not found in time."""
    for _ in range(ROUNDS):
        try:
            return Scenario.model_validate(_with(data, changes))
        except ValidationError as error:
            places = {_stripped(found["loc"], data) for found in error.errors(include_url=False)}
        if back := _near(changes, places):
            changes = {path: value for path, value in changes.items() if path not in back}
        else:
            data, gone = _without(data, places)
            changes = {path: value for path, value in changes.items() if path[0] not in gone}
            if not gone and changes:
                del changes[draw.choice(list(changes))]
    return Scenario.model_validate(data)


def _near(changes: dict[tuple[Any, ...], Any], places: set[tuple[Any, ...]]) -> set[tuple[Any, ...]]:
    """The changes at what is refused, above or below it; where there are none, those nearest to it."""
    for short in range(4):
        back = {
            path
            for place in places
            for path in changes
            if (cut := place[: max(1, len(place) - short)]) == path[: len(cut)] or place[: len(path)] == path
        }
        if back:
            return back
    return set()


def _stripped(place: tuple[Any, ...], data: Any) -> tuple[Any, ...]:
    """The part of a place that leads somewhere in the data."""
    kept: list[Any] = []
    for part in place:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            continue
        kept.append(part)
    return tuple(kept)


def _with(node: Any, changes: dict[tuple[Any, ...], Any], path: tuple[Any, ...] = ()) -> Any:
    """A copy of the data with the changes in it."""
    if path in changes:
        return changes[path]
    if isinstance(node, dict):
        return {key: _with(below, changes, (*path, key)) for key, below in node.items()}
    if isinstance(node, tuple):
        return tuple(_with(below, changes, (*path, i)) for i, below in enumerate(node))
    return node


def _without(data: dict[str, Any], places: set[tuple[Any, ...]]) -> tuple[dict[str, Any], set[str]]:
    """The farm without the sections in which something is refused, and which those are."""
    usual = {"plan": (), "loans": (), "under_way": (), "comparison": {}, "planning": {}, "risk": {}}
    gone = {place[0] for place in places if place and place[0] in usual}
    empty = Scenario.model_fields
    return {
        **data,
        **{key: empty[key].default.model_dump() if usual[key] == {} else () for key in gone},
        "stands": tuple({**stand, "techniques": None} for stand in data["stands"])
        if any(place[:1] == ("stands",) for place in places)
        else data["stands"],
    }, gone
