"""The map of which way wins, drawn and said: areas, tie lines, the farm's own point, and how far a win holds."""

from typing import Any

import numpy as np

from renovation.decide.drivers import OF_THE_WAY, TAKE
from renovation.decide.risk import Axis, WinMap, values_where_equal
from renovation.decide.risk.map import NO_WAY
from renovation.decide.risk.strategy import LEAVE
from renovation.show import drawing as draw
from renovation.show import looks
from renovation.show.figures import figure_cell, figure_unit
from renovation.show.risk.sentences import map_said
from renovation.show.vega import Chart, Layer, Part, Rows, columns, encoding
from renovation.show.voice import Voice, at_head
from renovation.types import BoolArray, FloatArray
from renovation.words import Words

LETTER = 1 / 32
"""The share of a telephone's map that one letter of a name takes; areas too narrow are named in the legend only."""
HALF_NAME = 3
"""Cells above and below the middle of a name of two lines."""
OWN_POINT = 260


def map_chart(found: WinMap, words: Words, *, height: int = 560) -> Chart:
    """Which way is worth most at every pair of values; dotted where two tie; a diamond at the farm's own numbers."""
    voice = Voice.of(found.comparison.scenario, words)
    winners = sorted((k for k, share in found.shares.items() if share > 0), key=lambda k: -found.shares[k])
    names = {key: voice.strategy(key or LEAVE) for key in winners}
    colours = _colours(found)
    table = _cells(found, names, words)
    x, y = encoding("x:Q", **_scale(found.x, words)), encoding("y:Q", **_scale(found.y, words))
    tips = [
        encoding("way:N", title=words("chart.risk.wins")),
        encoding("at_x:N", title=at_head(driver_name(found, found.x, words))),
        encoding("at_y:N", title=at_head(driver_name(found, found.y, words))),
        encoding("worth:N", title=words("chart.risk.worth_all")),
    ]
    scale = Part(domain=list(names.values()), range=[colours[key] for key in winners])
    colour = encoding("way:N", scale=scale, legend=draw.legend_above(columns=2, symbolType="square"))
    # a shared edge drawn twice would show as a line: the areas are solid, and lightened together
    areas = Layer(table).mark("rect", opacity=0.55).encode(x=x, x2="x2:Q", y=y, y2="y2:Q", color=colour, tooltip=tips)
    ties = [{"x": float(x), "y": float(y)} for line in found.lines for x, y in line.points]
    dots = Layer(ties).mark("point", shape="circle", filled=True, size=14, color=draw.INK, opacity=1).encode(x=x, y=y)
    layers = [areas, dots, *_names(found, names, x, y), *_own_point(found, x, y, words)]
    title = words(
        "chart.risk.map",
        x=_axis_name(found, found.x, words),
        y=_axis_name(found, found.y, words),
    )
    return draw.finish(words, layers, title, map_finding(found, words), height)


def map_finding(found: WinMap, words: Words) -> str:
    """The finding of the map: who wins at the farm's own numbers, how far that holds, and over how much of the map."""
    return " ".join(map_answer(found, words))


def map_answer(found: WinMap, words: Words) -> list[str]:
    """The winner at the farm's own numbers first, then between which values it keeps winning, then the areas."""
    voice = Voice.of(found.comparison.scenario, words)
    comparison = found.comparison
    if comparison.best is None:
        own = words("risk.map.own.leave")
    else:
        worth = comparison.outcomes[comparison.best].npv
        money = voice.money(worth)
        way = voice.strategy_inside(comparison.best)
        own = words("risk.map.own.way", way=way, money=money)
    return [own, *(holds(found, axis, words) for axis in (found.x, found.y)), map_said(found, words)[-1]]


def holds(found: WinMap, axis: Axis, words: Words) -> str:
    """Between which values of one driver the winner keeps winning, all else as stated."""
    driver = driver_name(found, axis, words)
    if axis.own is None:
        return words("risk.map.no_own", driver=driver)
    low, high = winning_range(found, axis)
    facts = {end: _value(axis, value, words) for end, value in (("low", low), ("high", high)) if value is not None}
    kind = "_".join(facts) or "always"
    ends = {"least": _value(axis, axis.limits[0], words), "most": _value(axis, axis.limits[1], words)}
    value = _value(axis, axis.own, words)
    if not axis.unit.startswith("share"):
        unit = figure_unit(axis.unit, found.comparison.scenario.appraisal.currency, words)
        value = words("read_as.number", n=value, unit=unit)
    now = words("risk.map.now.take" if axis.driver == TAKE else "risk.map.now.one", now=value)
    return words(f"risk.map.holds.{kind}", driver=driver, now=now, **ends, **facts)


def winning_range(found: WinMap, axis: Axis) -> tuple[float | None, float | None]:
    """The nearest values of one driver, below and above the farm's own, at which the winner ties with another.

    All else is as stated, and the search goes to the edges of the map; None where the winner holds to the edge.
    """
    comparison, best, own = found.comparison, found.comparison.best, axis.own
    if own is None:
        return None, None
    rivals = [key for key in comparison.outcomes if key != best]
    pairs = [(best, key) for key in [*rivals, None]] if best else [(key, None) for key in rivals]
    ties = [
        value
        for first, second in pairs
        if first is not None
        for value in values_where_equal(
            comparison, axis.driver, first, second, limits=axis.limits, headline=found.headline
        )
    ]
    low = max((value for value in ties if value <= own), default=None)
    high = min((value for value in ties if value > own), default=None)
    return low, high


def _colours(found: WinMap) -> dict[str | None, str]:
    """Each way as on every page, the farm as it is grey; each area bears its name as well."""
    comparison = found.comparison
    return {None: draw.GREY, **{key: looks.look(comparison.scenario, key).colour for key in comparison.outcomes}}


def _cells(found: WinMap, names: dict[str | None, str], words: Words) -> Rows:
    """One row per point of the map: the rectangle round it, who wins there, and by what."""
    voice = Voice.of(found.comparison.scenario, words)
    keys = [*found.techniques, None]
    (left, right), (low, high) = _edges(found.x), _edges(found.y)
    top = np.maximum(found.npv.max(axis=0), 0.0)
    at_x = [_value(found.x, float(value), words) for value in found.x.places]
    at_y = [_value(found.y, float(value), words) for value in found.y.places]
    return [
        {
            "x": float(left[i]),
            "x2": float(right[i]),
            "y": float(low[j]),
            "y2": float(high[j]),
            "way": names[keys[found.best[i, j]]],
            "at_x": at_x[i],
            "at_y": at_y[j],
            "worth": voice.money(float(top[i, j])),
        }
        for i in range(found.x.places.size)
        for j in range(found.y.places.size)
    ]


def _edges(axis: Axis) -> tuple[FloatArray, FloatArray]:
    """Halfway to the neighbours on both sides, within the map."""
    between = (axis.places[1:] + axis.places[:-1]) / 2
    low, high = axis.limits
    return np.concatenate([[low], between]), np.concatenate([between, [high]])


def _names(found: WinMap, names: dict[str | None, str], x: Part, y: Part) -> list[Layer]:
    """The name of each larger area, at its widest place."""
    layers = []
    for key, name in names.items():
        place = NO_WAY if key is None else found.techniques.index(key)
        middle, row, width = _widest(found.best == place)
        lines = draw.in_rows(name)
        if width / found.x.places.size < LETTER * max(map(len, lines)):
            continue
        across = float(np.interp(middle, np.arange(found.x.places.size), found.x.places))
        at = columns(x=across, y=float(found.y.places[row]), name="\n".join(lines))
        text = Layer(at).mark("text", fontSize=15, fontWeight="bold", color=draw.INK, lineBreak="\n")
        layers.append(text.encode(x=x, y=y, text="name:N"))
    return layers


def _widest(inside: BoolArray) -> tuple[float, int, int]:
    """The widest place of an area with room for two lines: its middle, in cells across; its row; its width in cells.

    Of equally wide ones the middle one; a width of 0 where there is no room.

    Example:
        >>> _widest(np.ones((4, 9), dtype=bool))
        (1.5, 4, 4)
    """
    runs = []
    for row in range(HALF_NAME, inside.shape[1] - HALF_NAME):
        across = np.flatnonzero(inside[:, row - HALF_NAME : row + HALF_NAME + 1].all(axis=1))
        for run in np.split(across, np.flatnonzero(np.diff(across) > 1) + 1):
            if run.size:
                runs.append((float(run[0] + run[-1]) / 2, row, run.size))
    width = max((run[2] for run in runs), default=0)
    equal = [run for run in runs if run[2] == width]
    return equal[len(equal) // 2] if equal else (0.0, 0, 0)


def _own_point(found: WinMap, x: Part, y: Part, words: Words) -> list[Layer]:
    """A diamond at the farm's own numbers, where they lie on the map."""
    if found.x.own is None or found.y.own is None:
        return []
    for axis in (found.x, found.y):
        low, high = axis.limits
        if not low <= float(axis.own or 0.0) <= high:
            return []
    at = columns(x=found.x.own, y=found.y.own, name=words("chart.risk.own_point"))
    base = Layer(at).encode(x=x, y=y)
    mark = base.mark("point", shape="diamond", size=OWN_POINT, filled=True, fill="#FFFFFF", stroke="#000000", opacity=1)
    name = base.mark("text", dy=-18, fontSize=15, fontWeight="bold", color=draw.INK).encode(text="name:N")
    return [mark.encode(tooltip=[encoding("name:N", title=words("chart.risk.own_numbers"))]), name]


def _scale(axis: Axis, words: Words) -> dict[str, Any]:
    """The whole range of a driver, shares as percent."""
    low, high = axis.limits
    share = axis.unit.startswith("share")
    return {
        "title": None,
        "scale": Part(domain=[low, high], nice=False, zero=False),
        "axis": Part(grid=False, tickCount=5, format=".0%") if share else draw.money_axis(words, [high], grid=False),
    }


def _axis_name(found: WinMap, axis: Axis, words: Words) -> str:
    """A driver with its unit: percent where it is a share."""
    name = driver_name(found, axis, words)
    if axis.unit.startswith("share"):
        return words("chart.risk.axis_percent", name=name)
    unit = figure_unit(axis.unit, found.comparison.scenario.appraisal.currency, words)
    return words("chart.risk.axis_unit", name=name, unit=unit)


def driver_name(found: WinMap, axis: Axis, words: Words) -> str:
    """A driver in a sentence, with the way it belongs to where it is not the farm's."""
    voice = Voice.of(found.comparison.scenario, words)
    name = words(f"risk.axis.{axis.driver}")
    if axis.driver not in OF_THE_WAY:
        return name
    return words("risk.map.of_way", driver=name, way=voice.strategy_inside(found.headline))


def _value(axis: Axis, value: float, words: Words) -> str:
    """A driver's value in words: percent for shares, whole months, else three figures."""
    if axis.unit.startswith("share"):
        return words.rate(round(value, 3))
    return figure_cell(round(value, 1) if axis.unit == "months" else value, axis.unit, words)
