"""Charts of a comparison: pure functions of results, plain Vega-Lite for screen and printed report.

Text and lines of reference take the colour that the page around the drawing writes in, so that one chart serves
light, dark and paper. Every chart carries its finding in `description`. A way is told apart by colour,
dash and marker shape at once, and by its name at the end of its line.
"""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np
import numpy.typing as npt
import pandas as pd

from renovation.decide import Comparison, Outcome, Swing
from renovation.words import Words

FloatArray = npt.NDArray[np.float64]
Points = Sequence[tuple[float, float]]
Chart = alt.LayerChart

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7")
DASHES: tuple[list[int], ...] = ([1, 0], [9, 4], [3, 3], [12, 4, 3, 4])
SHAPES = ("circle", "square", "triangle-up", "diamond")
GREY = "#666666"
INK = "currentColor"
"""Text and lines of reference: whatever colour the page around the drawing writes in."""
MOST_SHOWN = len(COLOURS)

_TYPE = 15
_ROW_OF_LABEL = 20
"""Pixels that one row of text needs."""
_FRAME = 130
"""Pixels of a chart's height that its title and its bottom axis take where it is fitted to a page."""
_LETTERS = 14
"""Letters in a row before a name at a line's end is broken."""
_LETTERS_OF_TITLE = 42
"""Letters in a row of what is counted: as many as a telephone shows."""


@dataclass(frozen=True)
class Style:
    """How one way is drawn: colour, dash pattern, marker shape."""

    colour: str
    dash: list[int]
    shape: str


def styles(comparison: Comparison, shown: Sequence[str]) -> dict[str, Style]:
    """Give each shown technique a style of its own, the same as long as its company allows.

    The headline pair takes the first two styles; others keep the place of their turn in the scenario, moved
    on where that is taken. At most four techniques can be told apart: ValueError for more.
    """
    if len(shown) > MOST_SHOWN:
        raise ValueError(f"len(shown) = {len(shown)} > {MOST_SHOWN}")
    pair = [key for key in (comparison.headline, comparison.against) if key]
    order = pair + [key for key in comparison.scenario.techniques if key not in pair]
    taken: dict[int, str] = {}
    for key in sorted(shown, key=order.index):
        place = order.index(key) % MOST_SHOWN
        while place in taken:
            place = (place + 1) % MOST_SHOWN
        taken[place] = key
    return {key: Style(COLOURS[place], DASHES[place], SHAPES[place]) for place, key in taken.items()}


def crop_chart(
    comparison: Comparison,
    technique: str,
    words: Words,
    *,
    style: Style | None = None,
    highest: float | None = None,
    height: int = 330,
) -> Chart:
    """Crop of one tree by month at the annual rate: old and new crown stacked, and the tree left alone.

    highest: top of the kg scale, so that several charts stand on the same one.
    """
    outcome = comparison.outcomes[technique]
    style = style or Style(COLOURS[0], DASHES[0], SHAPES[0])
    old, new, alone = (words(f"chart.crop.{part}") for part in ("old_crown", "new_crown", "left_alone"))
    years = _month_ends(outcome) / 12
    parts = {old: outcome.tree.old_rate[0], new: outcome.tree.new_rate[0]}
    table = pd.concat([pd.DataFrame({"year": years, "kg": kg, "part": part}) for part, kg in parts.items()])
    line = pd.DataFrame({"year": years, "kg": outcome.left_alone.old_rate[0], "line": alone})
    top = highest or most_kg([outcome])
    x, y = _years_axis(comparison, words), _axis_y("kg:Q", [0.0, top], alt.Axis(tickCount=5, format=".2~f"))
    tips = [
        alt.Tooltip("year:Q", title=words("chart.tip.years"), format=".1f"),
        alt.Tooltip("part:N", title=words("chart.tip.part")),
        alt.Tooltip("kg:Q", title=words("chart.tip.kg"), format=".2f"),
    ]
    scale = alt.Scale(domain=[old, new], range=[GREY, style.colour])
    areas = (
        alt.Chart(table.assign(place=table["part"].map({old: 0, new: 1})))
        .mark_area(opacity=0.7)
        .encode(
            x=x,
            y=y,
            color=alt.Color("part:N", scale=scale, legend=_legend(symbolType="square")),
            order=alt.Order("place:Q"),
            tooltip=tips,
        )
    )
    dash = alt.StrokeDash(
        "line:N",
        scale=alt.Scale(domain=[alone], range=[[6, 4]]),
        legend=_line_legend(symbolStrokeColor=INK),
    )
    beside = alt.Chart(line).mark_line(strokeWidth=3, color=INK)
    layers = [areas, beside.encode(x=x, y=y, strokeDash=dash, tooltip=[tips[0], tips[2]])]
    return _finish(layers, words("chart.crop.kg_axis"), crop_finding(comparison, technique, words), height)


def most_kg(outcomes: Sequence[Outcome]) -> float:
    """Top of a kg scale that holds every one of these trees, treated and left alone; at least 0.1."""
    tops = [max((o.tree.old_rate[0] + o.tree.new_rate[0]).max(), o.left_alone.old_rate[0].max()) for o in outcomes]
    return float(max([0.1, *tops]) * 1.05)


def crop_finding(comparison: Comparison, technique: str, words: Words) -> str:
    """The finding of a crop chart: today's crop, and the lowest and highest yearly crop with their years."""
    outcome = comparison.outcomes[technique]
    with_plan = outcome.crop_by_year.sum(axis=1)
    lowest, highest = int(np.argmin(with_plan[: _early(with_plan)])), int(np.argmax(with_plan))
    return words(
        "chart.crop.finding",
        way=words.name("technique", technique, outcome.label),
        today=words.number(float(outcome.left_alone.old_rate[0, 0]), 2),
        lowest=words.number(float(with_plan[lowest]), 2),
        lowest_year=lowest + 1,
        highest=words.number(float(with_plan[highest]), 2),
        highest_year=highest + 1,
        alone=words.number(float(outcome.left_alone.old_kg[0, -12:].sum()), 2),
        last_year=len(with_plan),
    )


def cumulative_cash_chart(comparison: Comparison, shown: Sequence[str], words: Words, *, height: int = 430) -> Chart:
    """What the work has cost or brought so far: the farm's cash, with less without, added up by year."""
    looks = styles(comparison, shown)
    names = {key: words.name("technique", key, comparison.outcomes[key].label) for key in looks}
    series = {key: _by_year_end(comparison.outcomes[key].cumulative_cash) for key in looks}
    currency = comparison.scenario.appraisal.currency
    table = pd.concat(
        [
            pd.DataFrame(
                {
                    "year": np.arange(len(values)),
                    "amount": values,
                    "way": names[key],
                    "money": [words.round_money(float(value), currency) for value in values],
                }
            )
            for key, values in series.items()
        ]
    )
    span = _span([*series.values(), np.zeros(1)])
    x = _years_axis(comparison, words)
    title = words("chart.cash.axis", currency=words.currency_sign(currency))
    y = _axis_y("amount:Q", span, _money_axis(span))
    domain = [names[key] for key in looks]
    colour = alt.Color("way:N", scale=alt.Scale(domain=domain, range=[s.colour for s in looks.values()]), legend=None)
    dash = alt.StrokeDash("way:N", scale=alt.Scale(domain=domain, range=[s.dash for s in looks.values()]), legend=None)
    shape = alt.Shape("way:N", scale=alt.Scale(domain=domain, range=[s.shape for s in looks.values()]), legend=None)
    tips = [
        alt.Tooltip("way:N", title=words("chart.tip.way")),
        alt.Tooltip("year:Q", title=words("chart.tip.years")),
        alt.Tooltip("money:N", title=words("chart.tip.so_far")),
    ]
    base = alt.Chart(table)
    lines = base.mark_line(strokeWidth=3).encode(x=x, y=y, color=colour, strokeDash=dash, tooltip=tips)
    marked = alt.Chart(table[table["year"] % 5 == 0])
    points = marked.mark_point(filled=True, size=110, opacity=1).encode(
        x=x, y=_no_axis("amount:Q", span), color=colour, shape=shape, tooltip=tips
    )
    ends = {names[key]: float(values[-1]) for key, values in series.items()}
    names_at_ends = _names_at_ends(ends, x, span, height)
    # each layer states the same span; only so may the names have an axis of their own
    layers = [_zero_line(span), lines, points, names_at_ends]
    return _finish(layers, title, cash_finding(comparison, shown, words), height, own_axes=True)


def cash_finding(comparison: Comparison, shown: Sequence[str], words: Words) -> str:
    """The finding of the cash chart: for each way the most money out, and where it ends."""
    currency = comparison.scenario.appraisal.currency
    parts = []
    for key in shown:
        outcome = comparison.outcomes[key]
        deepest, month = outcome.most_money_out
        parts.append(
            words(
                "chart.cash.finding" if deepest < 0 else "chart.cash.finding_never_out",
                way=words.name("technique", key, outcome.label),
                deepest=words.round_money(-deepest, currency),
                year=month // 12 + 1,
                end=words.round_money(float(outcome.cumulative_cash[-1]), currency),
                last_year=comparison.scenario.appraisal.horizon_years,
            )
        )
    return " ".join(parts)


def npv_chart(
    comparison: Comparison,
    by_stand: Mapping[str, Mapping[str, float | None]],
    shown: Sequence[str],
    words: Words,
) -> Chart:
    """NPV of one tree by stand, one marker per shown technique on a line from zero.

    by_stand: what `npv_per_tree` returns. A technique that a stand does not allow has no marker.
    """
    looks = styles(comparison, shown)
    names = {key: words.name("technique", key, comparison.scenario.techniques[key].label) for key in looks}
    currency = comparison.scenario.appraisal.currency
    rows = [
        {"stand": stand, "way": names[key], "npv": value, "money": words.money(value, currency)}
        for stand, row in by_stand.items()
        for key in looks
        if (value := row.get(key)) is not None
    ]
    table = pd.DataFrame(rows, columns=["stand", "way", "npv", "money"])
    domain = [names[key] for key in looks]
    colour = alt.Color(
        "way:N",
        scale=alt.Scale(domain=domain, range=[s.colour for s in looks.values()]),
        legend=_legend(columns=2),
    )
    shape = alt.Shape(
        "way:N",
        scale=alt.Scale(domain=domain, range=[s.shape for s in looks.values()]),
        legend=_legend(columns=2),
    )
    title = words("chart.npv.axis", currency=words.currency_sign(currency))
    x = alt.X("npv:Q", title=None, axis=_money_axis(table["npv"]))
    y = alt.Y("stand:N", sort=list(by_stand), title=None, axis=_names_axis(by_stand))
    offset = alt.YOffset("way:N", sort=domain, scale=alt.Scale(domain=domain, paddingOuter=0.4))
    tips = [
        alt.Tooltip("stand:N", title=words("chart.tip.stand")),
        alt.Tooltip("way:N", title=words("chart.tip.way")),
        alt.Tooltip("money:N", title=words("chart.tip.npv")),
    ]
    base = alt.Chart(table).encode(y=y, yOffset=offset, color=colour, tooltip=tips)
    stems = base.mark_rule(strokeWidth=4).encode(x=x, x2=alt.datum(0))
    heads = base.mark_point(filled=True, size=170, opacity=1).encode(x=x, shape=shape)
    zero = alt.Chart(pd.DataFrame({"npv": [0.0]})).mark_rule(color=INK, strokeWidth=2).encode(x="npv:Q")
    finding = npv_finding(comparison, by_stand, words)
    height = len(by_stand) * (26 * len(looks) + 14) + 110
    return _finish([zero, stems, heads], title, finding, height)


def npv_finding(comparison: Comparison, by_stand: Mapping[str, Mapping[str, float | None]], words: Words) -> str:
    """The finding of the NPV chart: for each stand the way worth most, or that leaving it is worth more."""
    currency = comparison.scenario.appraisal.currency
    parts = []
    for stand, row in by_stand.items():
        best = worth_most(row)
        npv = row[best] if best else None
        if best is None or npv is None:
            parts.append(words("chart.npv.finding_no_way", stand=stand))
        elif npv <= 0:
            parts.append(words("chart.npv.finding_leave", stand=stand))
        else:
            way = words.name("technique", best, comparison.scenario.techniques[best].label)
            parts.append(words("chart.npv.finding", stand=stand, way=way, npv=words.money(npv, currency)))
    return " ".join(parts)


def worth_most(row: Mapping[str, float | None]) -> str | None:
    """The way worth most on a stand; None where none can be weighed.

    Example:
        >>> worth_most({"bud_graft": 2.0, "side_graft": 3.5, "air_layer": None})
        'side_graft'
    """
    values = {key: value for key, value in row.items() if value is not None}
    return max(values, key=lambda key: values[key], default=None)


def ranges_chart(comparison: Comparison, technique: str, swings: Sequence[Swing], words: Words) -> Chart:
    """How far the NPV of one way moves when each figure goes to the ends of its range; the widest on top."""
    currency = comparison.scenario.appraisal.currency
    now = comparison.outcomes[technique].measures.npv
    rows = [
        {
            "driver": _capital(words(f"compare.driver.{swing.driver}")),
            "low": swing.span[0],
            "high": swing.span[1],
            "span": words(
                "chart.ranges.span",
                low=words.round_money(swing.span[0], currency),
                high=words.round_money(swing.span[1], currency),
            ),
        }
        for swing in sorted(swings, key=lambda swing: (swing.driver != "together", -swing.width))
        if swing.span
    ]
    table = pd.DataFrame(rows, columns=["driver", "low", "high", "span"])
    looks = styles(comparison, [technique])[technique]
    y = alt.Y("driver:N", sort=list(table["driver"]), title=None, axis=_names_axis(table["driver"]))
    tips = [
        alt.Tooltip("driver:N", title=words("chart.ranges.driver")),
        alt.Tooltip("span:N", title=words("chart.ranges.npv")),
    ]
    title = words("chart.ranges.axis", currency=words.currency_sign(currency))
    bars = (
        alt.Chart(table)
        .mark_bar(size=20, color=looks.colour, cornerRadius=3)
        .encode(
            x=alt.X("low:Q", title=None, axis=_money_axis(table["high"])),
            x2="high:Q",
            y=y,
            tooltip=tips,
        )
    )
    lines = [
        alt.Chart(pd.DataFrame({"low": [value]})).mark_rule(color=INK, strokeWidth=2, strokeDash=dash).encode(x="low:Q")
        for value, dash in ((0.0, [1, 0]), (now, [4, 4]))
    ]
    finding = ranges_finding(comparison, technique, swings, words)
    return _finish([bars, *lines], title, finding, 46 * len(rows) + 70)


def ranges_finding(comparison: Comparison, technique: str, swings: Sequence[Swing], words: Words) -> str:
    """The finding of the ranges chart: what moves the result most, and whether it can turn it below zero."""
    currency = comparison.scenario.appraisal.currency
    way = words.name("technique", technique, comparison.outcomes[technique].label)
    alone = [swing for swing in swings if swing.driver != "together" and swing.span]
    if not alone:
        return words("chart.ranges.finding_none", way=way)
    widest = max(alone, key=lambda swing: swing.width)
    low, high = widest.span or (0.0, 0.0)
    return words(
        "chart.ranges.finding",
        way=way,
        driver=words(f"compare.driver.{widest.driver}"),
        low=words.round_money(low, currency),
        high=words.round_money(high, currency),
    )


def curve_chart(name: str, points: Points, low: Points, high: Points, words: Words, *, height: int = 330) -> Chart:
    """A crown curve as its table states it, share by age in months, with the ends of its range."""
    labels = {kind: words(f"chart.curve.{kind}") for kind in ("value", "low", "high")}
    kinds = {"value": points, "low": low, "high": high}
    rows = [
        {"age": age, "share": share, "which": labels[kind]} for kind, curve in kinds.items() for age, share in curve
    ]
    table = pd.DataFrame(rows, columns=["age", "share", "which"])
    domain = list(labels.values())
    encoding: dict[str, Any] = {
        "x": alt.X("age:Q", title=words("chart.curve.age"), axis=alt.Axis(grid=False)),
        "y": alt.Y("share:Q", title=None, axis=alt.Axis(format=".0%", tickCount=5)),
        "color": alt.Color(
            "which:N",
            scale=alt.Scale(domain=domain, range=[COLOURS[0], COLOURS[1], COLOURS[2]]),
            legend=_legend(),
        ),
    }
    dash = alt.StrokeDash("which:N", scale=alt.Scale(domain=domain, range=list(DASHES[:3])), legend=_line_legend())
    lines = alt.Chart(table).mark_line(strokeWidth=2.5).encode(**encoding, strokeDash=dash)
    dots = alt.Chart(table[table["which"] == labels["value"]]).mark_point(filled=True, size=70, opacity=1)
    finding = words("chart.curve.finding", name=name, points=curve_in_words(points, words))
    return _finish([lines, dots.encode(**encoding)], words("chart.curve.share"), finding, height)


def curve_in_words(points: Points, words: Words) -> str:
    """Say a curve point by point, for those who do not see it."""
    return words.listing(
        [
            words("chart.curve.point", age=words.number(float(age)), share=words.percent(float(share)))
            for age, share in points
        ]
    )


def _month_ends(outcome: Outcome) -> FloatArray:
    """(T,) project months, counted from 0."""
    return np.arange(outcome.tree.old_rate.shape[1], dtype=np.float64)


def _early(yearly: FloatArray) -> int:
    """Years in which a trough of renovation lies: those up to the highest crop."""
    return max(1, int(np.argmax(yearly)) + 1)


def _by_year_end(running: FloatArray) -> FloatArray:
    """A running monthly sum read at 0 and at each year's end, (H + 1,)."""
    return np.concatenate([np.zeros(1), running[11::12]])


def _span(series: Sequence[FloatArray]) -> list[float]:
    """Lowest and highest of all series with a margin, never empty."""
    low = float(min(values.min() for values in series))
    high = float(max(values.max() for values in series))
    margin = 0.06 * (high - low) or 1.0
    return [low - margin, high + margin]


def _years_axis(comparison: Comparison, words: Words) -> alt.X:
    """Project years along the bottom."""
    horizon = comparison.scenario.appraisal.horizon_years
    return alt.X(
        "year:Q",
        title=words("chart.years_axis"),
        scale=alt.Scale(domain=[0, horizon], nice=False),
        axis=alt.Axis(grid=False, tickMinStep=1, tickCount=6, format="d"),
    )


def _axis_y(field: str, domain: list[float], axis: alt.Axis) -> alt.Y:
    """A left axis on a fixed span; what it counts stands in the chart's title."""
    return alt.Y(field, title=None, scale=alt.Scale(domain=domain, nice=False), axis=axis)


def _money_axis(values: Iterable[float], ticks: int = 5, **more: Any) -> alt.Axis:
    """An axis of money: in full, in thousands and millions where that is too long, or with decimals; nothing is 0."""
    largest = max(map(abs, values), default=0.0)
    form = "~s" if largest >= 1e5 else ",.0f" if largest >= 10 else ",.2~f"
    return alt.Axis(tickCount=ticks, format=form, labelExpr="datum.value ? datum.label : '0'", **more)


def _no_axis(field: str, domain: list[float]) -> alt.Y:
    """The same span without an axis, for a layer beside the one that has it."""
    return alt.Y(field, axis=None, scale=alt.Scale(domain=domain, nice=False))


def _zero_line(span: list[float]) -> Any:
    """The line of no change."""
    zero = alt.Chart(pd.DataFrame({"amount": [0.0]}))
    return zero.mark_rule(color=INK, strokeWidth=2).encode(y=_no_axis("amount:Q", span))


def _names_axis(names: Iterable[str]) -> alt.Axis:
    """Names down the left side, whole."""
    return alt.Axis(labelLimit=180, labelExpr=_broken(names), ticks=False, labelPadding=8)


def _broken(names: Iterable[str]) -> str:
    """A Vega expression that gives each name in rows."""
    return " : ".join([*(f"datum.label === {name!r} ? {_rows(name, 18)!r}" for name in names), "datum.label"])


def _capital(text: str) -> str:
    """Begin with a capital letter."""
    return text[:1].upper() + text[1:]


def spread(places: Mapping[str, float], gap: float, low: float, high: float) -> dict[str, float]:
    """Move labels apart until each has `gap` to its neighbours, as near their places as the span allows.

    Example:
        >>> spread({"a": 1.0, "b": 1.1}, 0.5, 0.0, 3.0)
        {'a': 0.8, 'b': 1.3}
    """
    names = sorted(places, key=lambda name: places[name])
    blocks: list[tuple[float, list[str]]] = []
    for name in names:
        middle, members = places[name], [name]
        while blocks and middle - blocks[-1][0] < gap * (len(members) + len(blocks[-1][1])) / 2:
            before, above = blocks.pop()
            middle = (before * len(above) + middle * len(members)) / (len(above) + len(members))
            members = above + members
        half = gap * len(members) / 2
        blocks.append((min(max(middle, low + half), max(high - half, low + half)), members))
    placed = {}
    for middle, members in blocks:
        for turn, name in enumerate(members):
            placed[name] = round(middle + gap * (turn - (len(members) - 1) / 2), 10)
    return placed


def _names_at_ends(ends: Mapping[str, float], x: alt.X, span: list[float], height: int, first: float = 0.0) -> Any:
    """Names at the right, each at its line's end: an axis, so that text takes the theme's colour and has room.

    first: where the horizontal axis begins; an unseen point there carries the axis.
    """
    rows = max(len(_rows(name)) for name in ends)
    gap = (span[1] - span[0]) * _ROW_OF_LABEL * rows / (height - _FRAME)
    placed = spread(ends, gap, *span)
    axis = alt.Axis(
        orient="right",
        values=list(placed.values()),
        labelExpr=_label_for(placed, gap),
        labelFontSize=_TYPE,
        labelLimit=220,
        labelPadding=8,
        labelOverlap=False,
        labelBaseline="middle",
        grid=False,
        ticks=False,
        domain=False,
    )
    table = pd.DataFrame({"year": [first], "end": [span[0]]})
    y = alt.Y("end:Q", title=None, scale=alt.Scale(domain=span, nice=False), axis=axis)
    return alt.Chart(table).mark_point(opacity=0).encode(x=x, y=y)


def _label_for(placed: Mapping[str, float], gap: float) -> str:
    """A Vega expression that turns a place on the axis back into the name that stands there."""
    tests = [f"abs(datum.value - ({place!r})) < {gap / 4!r} ? {_rows(name)!r}" for name, place in placed.items()]
    return " : ".join([*tests, "''"])


def _rows(name: str, letters: int = _LETTERS) -> list[str]:
    """Break a long name at its spaces into rows of at most so many letters where words allow."""
    return textwrap.wrap(name, letters, break_long_words=False) or [name]


def _legend(columns: int | None = None, **more: Any) -> alt.Legend:
    """A legend above the chart, large enough for a projector."""
    return alt.Legend(
        title=None,
        orient="top",
        labelFontSize=_TYPE,
        symbolSize=180,
        labelLimit=260,
        columns=columns or 0,
        **more,
    )


def _line_legend(**more: Any) -> alt.Legend:
    """A legend whose signs are short pieces of line, dashes and all."""
    return _legend(symbolType="M-1,0L1,0", symbolStrokeWidth=3, **more)


def _finish(layers: Sequence[Any], title: str, finding: str, height: int, *, own_axes: bool = False) -> Chart:
    """Lay the layers together; set the size, the type, what is counted, and the finding.

    own_axes: each layer has its own vertical axis. Everything is set at once: each later change would copy it all.
    """
    text: dict[str, Any] = {"labelColor": INK, "titleColor": INK}
    axis = alt.AxisConfig(labelFontSize=_TYPE, titleFontSize=_TYPE, titleFontWeight="normal", labelLimit=220, **text)
    rows = textwrap.wrap(title, _LETTERS_OF_TITLE)
    more: dict[str, Any] = {}
    if own_axes:
        more["resolve"] = alt.Resolve(scale=alt.ScaleResolveMap(y="independent"))
    return alt.LayerChart(
        layer=list(layers),
        width="container",
        height=height,
        description=finding,
        title=alt.Title(rows, anchor="start", fontSize=_TYPE, fontWeight="normal", offset=10, color=INK),
        config=alt.Config(axis=axis, legend=alt.LegendConfig(**text), view=alt.ViewConfig(strokeWidth=0)),
        **more,
    )
