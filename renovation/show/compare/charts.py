"""Charts of a comparison: pure functions of results, plain Vega-Lite for screen and printed report.

What they are drawn with stands in `drawing`. Every chart carries its finding in `description`. A way is told apart by
colour, dash and marker shape at once, and by its name at the end of its line.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from renovation.decide import Comparison, Outcome, Swing
from renovation.show import drawing as draw
from renovation.show import looks
from renovation.show.vega import Chart, Layer, Part, columns, encoding
from renovation.show.voice import Voice, at_head
from renovation.types import FloatArray, IndexArray
from renovation.words import Words


def crop_chart(
    comparison: Comparison,
    technique: str,
    words: Words,
    *,
    highest: float | None = None,
    height: int = 330,
) -> Chart:
    """Crop of one tree by month at the annual rate: old and new crown stacked, and the tree left alone.

    highest: top of the kg scale, so that several charts stand on the same one.
    """
    outcome = comparison.outcomes[technique]
    style = looks.look(comparison.scenario, technique)
    old, new, alone = (words(f"chart.crop.{part}") for part in ("old_crown", "new_crown", "left_alone"))
    drawn = _points(outcome)
    years = (drawn / 12).round(4)
    kg = {part: rate[drawn].round(4) for part, rate in _rates(outcome).items()}
    table = [
        row
        for place, (name, part) in enumerate(((old, "old"), (new, "new")))
        for row in columns(year=years, kg=kg[part], part=name, place=place)
    ]
    line = columns(year=years, kg=kg["alone"], line=alone)
    top = highest or most_kg([outcome])
    x, y = (
        draw.years_axis(0, comparison.scenario.appraisal.horizon_years, title=words("chart.years_axis")),
        draw.left_axis("kg:Q", [0.0, top], Part(tickCount=5, format=".2~f")),
    )
    tips = [
        encoding("year:Q", title=words("chart.tip.years"), format=".1f"),
        encoding("part:N", title=words("chart.tip.part")),
        encoding("kg:Q", title=words("chart.tip.kg"), format=".2f"),
    ]
    scale = Part(domain=[old, new], range=[draw.GREY, style.colour])
    areas = (
        Layer(table)
        .mark("area", opacity=0.7)
        .encode(
            x=x,
            y=y,
            color=encoding("part:N", scale=scale, legend=draw.legend_above(1, [old, new], symbolType="square")),
            order=encoding("place:Q"),
            tooltip=tips,
        )
    )
    dash = encoding(
        "line:N",
        scale=Part(domain=[alone], range=[[6, 4]]),
        legend=draw.line_legend(symbolStrokeColor=draw.INK),
    )
    beside = Layer(line).mark("line", strokeWidth=3, color=draw.INK)
    layers = [areas, beside.encode(x=x, y=y, strokeDash=dash, tooltip=[tips[0], tips[2]])]
    return draw.finish(words, layers, words("chart.crop.kg_axis"), crop_finding(comparison, technique, words), height)


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


def cumulative_cash_chart(
    comparison: Comparison,
    shown: Sequence[str],
    words: Words,
    *,
    before: Comparison | None = None,
    height: int = 430,
) -> Chart:
    """What the work has cost or brought so far: the farm's cash, with less without, added up by year.

    before: the comparison before a number was changed, drawn pale beneath.
    """
    voice = Voice.of(comparison.scenario, words)
    names = {key: words.name("technique", key, comparison.outcomes[key].label) for key in shown}
    drawn = {names[key]: style for key, style in looks.styles(comparison.scenario, shown).items()}
    series = {key: _by_year_end(comparison.outcomes[key].cumulative_cash) for key in shown}
    table = [
        {"year": year, "amount": amount, "way": names[key], "money": voice.money(amount)}
        for key, values in series.items()
        for year, amount in enumerate(values.tolist())
    ]
    years = comparison.scenario.appraisal.horizon_years
    were = {
        names[key]: _by_year_end(before.outcomes[key].cumulative_cash)[: years + 1]
        for key in shown
        if before is not None and key in before.outcomes
    }
    span = draw.span_of([*series.values(), *were.values(), np.zeros(1)])
    x = draw.years_axis(0, comparison.scenario.appraisal.horizon_years, title=words("chart.years_axis"))
    title = words("chart.cash.axis", currency=voice.sign)
    y = draw.left_axis("amount:Q", span, draw.money_axis(words, span))
    colour = encoding("way:N", scale=draw.of_ways(drawn, "colour"), legend=None)
    dash = encoding("way:N", scale=draw.of_ways(drawn, "dash"), legend=None)
    shape = encoding("way:N", scale=draw.of_ways(drawn, "shape"), legend=None)
    tips = [
        encoding("way:N", title=words("chart.tip.way")),
        encoding("year:Q", title=words("chart.tip.years")),
        encoding("money:N", title=words("chart.tip.so_far")),
    ]
    base = Layer(table)
    lines = base.mark("line", strokeWidth=3).encode(x=x, y=y, color=colour, strokeDash=dash, tooltip=tips)
    marked = Layer([row for row in table if row["year"] % 5 == 0])
    points = marked.mark("point", filled=True, size=110, opacity=1).encode(
        x=x, y=draw.no_axis("amount:Q", span), color=colour, shape=shape, tooltip=tips
    )
    ends = {names[key]: float(values[-1]) for key, values in series.items()}
    # each layer states the same span; only so may the names have an axis of their own
    rows = [row for name, was in were.items() for row in columns(year=np.arange(was.size), amount=was, way=name)]
    ghost = draw.ghost(rows, x, span, words("before.line"), color=colour, strokeDash=dash)
    layers = [draw.zero_line(span), *ghost, lines, points, draw.names_at_ends(ends, x, span, height)]
    return draw.finish(words, layers, title, cash_finding(comparison, shown, words), height, own_axes=True)


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
    names = {key: words.name("technique", key, comparison.scenario.techniques[key].label) for key in shown}
    drawn = {names[key]: style for key, style in looks.styles(comparison.scenario, shown).items()}
    table: list[Part] = [
        {"stand": stand, "way": names[key], "npv": value, "money": voice.exact_money(value)}
        for stand, row in by_stand.items()
        for key in shown
        if (value := row.get(key)) is not None
    ]
    domain = list(drawn)
    colour = encoding(
        "way:N",
        scale=draw.of_ways(drawn, "colour"),
        legend=draw.legend_above(columns=2),
    )
    shape = encoding(
        "way:N",
        scale=draw.of_ways(drawn, "shape"),
        legend=draw.legend_above(columns=2),
    )
    title = words("chart.npv.axis", currency=voice.sign)
    x = encoding("npv:Q", title=None, axis=draw.money_axis(words, [row["npv"] for row in table]))
    y = encoding("stand:N", sort=list(by_stand), title=None, axis=draw.names_axis(by_stand))
    offset = encoding("way:N", sort=domain, scale=Part(domain=domain, paddingOuter=0.4))
    tips = [
        encoding("stand:N", title=words("chart.tip.stand")),
        encoding("way:N", title=words("chart.tip.way")),
        encoding("money:N", title=words("chart.tip.npv")),
    ]
    base = Layer(table).encode(y=y, yOffset=offset, color=colour, tooltip=tips)
    stems = base.mark("rule", strokeWidth=4).encode(x=x, x2=Part(datum=0))
    heads = base.mark("point", filled=True, size=170, opacity=1).encode(x=x, shape=shape)
    zero = Layer(columns(npv=0.0)).mark("rule", color=draw.INK, strokeWidth=2).encode(x="npv:Q")
    finding = npv_finding(comparison, by_stand, words)
    height = len(by_stand) * (26 * len(shown) + 14) + 110
    return draw.finish(words, [zero, stems, heads], title, finding, height)


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
            said = {"way": voice.way_inside(best), "npv": voice.exact_money(npv)}
            parts.append(words("chart.npv.finding", stand=stand, **said))
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
    now = comparison.outcomes[technique].npv
    table: list[Part] = [
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
    drivers = [row["driver"] for row in table]
    style = looks.look(comparison.scenario, technique)
    y = encoding("driver:N", sort=drivers, title=None, axis=draw.names_axis(drivers))
    tips = [
        encoding("driver:N", title=words("chart.ranges.driver")),
        encoding("span:N", title=words("chart.ranges.npv")),
    ]
    title = words("chart.ranges.axis", currency=voice.sign)
    bars = (
        Layer(table)
        .mark("bar", size=20, color=style.colour, cornerRadius=3)
        .encode(
            x=encoding("low:Q", title=None, axis=draw.money_axis(words, [row["high"] for row in table])),
            x2="high:Q",
            y=y,
            tooltip=tips,
        )
    )
    lines = [
        Layer(columns(low=value)).mark("rule", color=draw.INK, strokeWidth=2, strokeDash=dash).encode(x="low:Q")
        for value, dash in ((0.0, [1, 0]), (now, [4, 4]))
    ]
    finding = ranges_finding(comparison, technique, swings, words)
    return draw.finish(words, [bars, *lines], title, finding, 46 * len(table) + 70)


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


def _rates(outcome: Outcome) -> dict[str, FloatArray]:
    """Crop of one tree at the annual rate, (T,) each: old and new crown, and the tree left alone."""
    return {
        "old": outcome.tree.old_rate[0],
        "new": outcome.tree.new_rate[0],
        "alone": outcome.left_alone.old_rate[0],
    }


EVERY, BENT = 3, 1e-3
"""Months between two points of a smooth curve; a bend of more than this share of the highest crop is drawn too."""


def _points(outcome: Outcome) -> IndexArray:
    """Project months that are drawn: every third, the last, and those at which a curve bends, with their neighbours.

    Between them no curve is further from a straight line than a thousandth of the highest crop or so.
    """
    rates = np.stack(list(_rates(outcome).values()))
    bent = np.abs(np.diff(rates, 2)).max(axis=0, initial=0.0) > BENT * rates.max()
    drawn = np.zeros(rates.shape[1], dtype=bool)
    drawn[::EVERY] = drawn[-1] = True
    for beside in range(3):
        drawn[beside : beside + bent.size] |= bent
    return np.flatnonzero(drawn)


def _early(yearly: FloatArray) -> int:
    """Years in which a trough of renovation lies: those up to the highest crop."""
    return max(1, int(np.argmax(yearly)) + 1)


def _by_year_end(running: FloatArray) -> FloatArray:
    """A running monthly sum read at 0 and at each year's end, (H + 1,)."""
    return np.concatenate([np.zeros(1), running[11::12]])
