"""Charts of a comparison: pure functions of results, plain Vega-Lite for screen and printed report.

What they are drawn with stands in `drawing`. Every chart carries its finding in `description`. A way is told apart by
colour, dash and marker shape at once, and by its name at the end of its line.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from renovation.decide import Comparison, Outcome, Swing
from renovation.show.drawing import (
    COLOURS,
    DASHES,
    GREY,
    INK,
    SHAPES,
    Chart,
    finish,
    left_axis,
    legend_above,
    line_legend,
    money_axis,
    names_at_ends,
    names_axis,
    no_axis,
    span_of,
    zero_line,
)
from renovation.show.voice import Voice, at_head
from renovation.types import FloatArray
from renovation.words import Words

Points = Sequence[tuple[float, float]]
MOST_SHOWN = len(COLOURS)


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
    x, y = _years_axis(comparison, words), left_axis("kg:Q", [0.0, top], alt.Axis(tickCount=5, format=".2~f"))
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
            color=alt.Color("part:N", scale=scale, legend=legend_above(symbolType="square")),
            order=alt.Order("place:Q"),
            tooltip=tips,
        )
    )
    dash = alt.StrokeDash(
        "line:N",
        scale=alt.Scale(domain=[alone], range=[[6, 4]]),
        legend=line_legend(symbolStrokeColor=INK),
    )
    beside = alt.Chart(line).mark_line(strokeWidth=3, color=INK)
    layers = [areas, beside.encode(x=x, y=y, strokeDash=dash, tooltip=[tips[0], tips[2]])]
    return finish(layers, words("chart.crop.kg_axis"), crop_finding(comparison, technique, words), height)


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
    voice = Voice.of(comparison.scenario, words)
    looks = styles(comparison, shown)
    names = {key: words.name("technique", key, comparison.outcomes[key].label) for key in looks}
    series = {key: _by_year_end(comparison.outcomes[key].cumulative_cash) for key in looks}
    table = pd.concat(
        [
            pd.DataFrame(
                {
                    "year": np.arange(len(values)),
                    "amount": values,
                    "way": names[key],
                    "money": [voice.money(float(value)) for value in values],
                }
            )
            for key, values in series.items()
        ]
    )
    span = span_of([*series.values(), np.zeros(1)])
    x = _years_axis(comparison, words)
    title = words("chart.cash.axis", currency=voice.sign)
    y = left_axis("amount:Q", span, money_axis(span))
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
        x=x, y=no_axis("amount:Q", span), color=colour, shape=shape, tooltip=tips
    )
    ends = {names[key]: float(values[-1]) for key, values in series.items()}
    # each layer states the same span; only so may the names have an axis of their own
    layers = [zero_line(span), lines, points, names_at_ends(ends, x, span, height)]
    return finish(layers, title, cash_finding(comparison, shown, words), height, own_axes=True)


def cash_finding(comparison: Comparison, shown: Sequence[str], words: Words) -> str:
    """The finding of the cash chart: for each way the most money out, and where it ends."""
    voice = Voice.of(comparison.scenario, words)
    parts = []
    for key in shown:
        outcome = comparison.outcomes[key]
        deepest, month = outcome.most_money_out
        parts.append(
            words(
                "chart.cash.finding" if deepest < 0 else "chart.cash.finding_never_out",
                way=words.name("technique", key, outcome.label),
                deepest=voice.money(-deepest),
                year=month // 12 + 1,
                end=voice.money(float(outcome.cumulative_cash[-1])),
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
    voice = Voice.of(comparison.scenario, words)
    looks = styles(comparison, shown)
    names = {key: words.name("technique", key, comparison.scenario.techniques[key].label) for key in looks}
    rows = [
        {"stand": stand, "way": names[key], "npv": value, "money": voice.exact_money(value)}
        for stand, row in by_stand.items()
        for key in looks
        if (value := row.get(key)) is not None
    ]
    table = pd.DataFrame(rows, columns=["stand", "way", "npv", "money"])
    domain = [names[key] for key in looks]
    colour = alt.Color(
        "way:N",
        scale=alt.Scale(domain=domain, range=[s.colour for s in looks.values()]),
        legend=legend_above(columns=2),
    )
    shape = alt.Shape(
        "way:N",
        scale=alt.Scale(domain=domain, range=[s.shape for s in looks.values()]),
        legend=legend_above(columns=2),
    )
    title = words("chart.npv.axis", currency=voice.sign)
    x = alt.X("npv:Q", title=None, axis=money_axis(table["npv"]))
    y = alt.Y("stand:N", sort=list(by_stand), title=None, axis=names_axis(by_stand))
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
    return finish([zero, stems, heads], title, finding, height)


def npv_finding(comparison: Comparison, by_stand: Mapping[str, Mapping[str, float | None]], words: Words) -> str:
    """The finding of the NPV chart: for each stand the way worth most, or that leaving it is worth more."""
    voice = Voice.of(comparison.scenario, words)
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
            parts.append(words("chart.npv.finding", stand=stand, way=way, npv=voice.exact_money(npv)))
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
    voice = Voice.of(comparison.scenario, words)
    now = comparison.outcomes[technique].measures.npv
    rows = [
        {
            "driver": at_head(words(f"compare.driver.{swing.driver}")),
            "low": swing.span[0],
            "high": swing.span[1],
            "span": words(
                "chart.ranges.span",
                low=voice.money(swing.span[0]),
                high=voice.money(swing.span[1]),
            ),
        }
        for swing in sorted(swings, key=lambda swing: (swing.driver != "together", -swing.width))
        if swing.span
    ]
    table = pd.DataFrame(rows, columns=["driver", "low", "high", "span"])
    looks = styles(comparison, [technique])[technique]
    y = alt.Y("driver:N", sort=list(table["driver"]), title=None, axis=names_axis(table["driver"]))
    tips = [
        alt.Tooltip("driver:N", title=words("chart.ranges.driver")),
        alt.Tooltip("span:N", title=words("chart.ranges.npv")),
    ]
    title = words("chart.ranges.axis", currency=voice.sign)
    bars = (
        alt.Chart(table)
        .mark_bar(size=20, color=looks.colour, cornerRadius=3)
        .encode(
            x=alt.X("low:Q", title=None, axis=money_axis(table["high"])),
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
    return finish([bars, *lines], title, finding, 46 * len(rows) + 70)


def ranges_finding(comparison: Comparison, technique: str, swings: Sequence[Swing], words: Words) -> str:
    """The finding of the ranges chart: what moves the result most, and whether it can turn it below zero."""
    voice = Voice.of(comparison.scenario, words)
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
        low=voice.money(low),
        high=voice.money(high),
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
            legend=legend_above(),
        ),
    }
    dash = alt.StrokeDash("which:N", scale=alt.Scale(domain=domain, range=list(DASHES[:3])), legend=line_legend())
    lines = alt.Chart(table).mark_line(strokeWidth=2.5).encode(**encoding, strokeDash=dash)
    dots = alt.Chart(table[table["which"] == labels["value"]]).mark_point(filled=True, size=70, opacity=1)
    finding = words("chart.curve.finding", name=name, points=curve_in_words(points, words))
    return finish([lines, dots.encode(**encoding)], words("chart.curve.share"), finding, height)


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


def _years_axis(comparison: Comparison, words: Words) -> alt.X:
    """Project years along the bottom."""
    horizon = comparison.scenario.appraisal.horizon_years
    return alt.X(
        "year:Q",
        title=words("chart.years_axis"),
        scale=alt.Scale(domain=[0, horizon], nice=False),
        axis=alt.Axis(grid=False, tickMinStep=1, tickCount=6, format="d"),
    )
