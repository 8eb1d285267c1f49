"""Charts of risk: pure functions of results, for screen and printed report.

As in `compare/charts`: the finding in `description`, text in the page's own ink, and nothing told by colour alone.
"""

from collections.abc import Sequence

import numpy as np

from renovation.decide.risk import Answers, Bar, RiskResult, Sensitivity
from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE, PLAN
from renovation.inputs import Scenario
from renovation.show import drawing as draw
from renovation.show import looks
from renovation.show.risk import answers
from renovation.show.risk import sentences as say
from renovation.show.vega import Chart, Layer, Part, Rows, columns, encoding
from renovation.show.voice import Voice
from renovation.words import Words

BARS_SHOWN = 10
"""Figures of a sensitivity chart: those that move the answer most."""
ROW = 58
"""Pixels of a bar with its name in rows and a line of text above it."""
NO_WAYS = {LEAVE: looks.LEFT_ALONE, **dict(zip((PLAN, EXPECTED, CAREFUL), looks.PLANS, strict=True))}
CRITICAL, OTHER = draw.COLOURS[1], draw.COLOURS[0]


def strategy_styles(scenario: Scenario, shown: Sequence[str]) -> dict[str, looks.Style]:
    """A style for each strategy: a way as on every page, plans apart from them, the farm as it is grey.

    At most four beside the farm as it is can be told apart: ValueError for more.
    """
    kept = [key for key in shown if key != LEAVE]
    if len(kept) > looks.MOST:
        raise ValueError(f"len(shown) = {len(kept)} > {looks.MOST}")
    return {key: NO_WAYS.get(key) or looks.look(scenario, key) for key in shown}


# What a strategy is worth


def worth_chart(result: RiskResult, words: Words, *, row: int = ROW) -> Chart:
    """What each strategy is worth against leaving the farm: eight of ten futures, the middle, as expected."""
    voice = Voice.of(result.scenario, words)
    kept = [answer for answer in result.answers.values() if answer.key != LEAVE]
    styles = strategy_styles(result.scenario, list(result.answers))
    names = {answer.key: voice.strategy(answer.key) for answer in kept}
    table: Rows = [
        {
            "way": names[answer.key],
            "low": answer.npv.p10.value,
            "middle": answer.npv.p50.value,
            "high": answer.npv.p90.value,
            "expected": answer.expected_npv,
            "tenth": answer.worst_tenth.value,
            "span": words(
                "chart.ranges.span",
                low=voice.money(answer.npv.p10.value),
                high=voice.money(answer.npv.p90.value),
            ),
            "half": voice.money(answer.npv.p50.value),
        }
        for answer in kept
    ]
    colour = encoding(
        "way:N",
        scale=Part(domain=list(names.values()), range=[styles[key].colour for key in names]),
        legend=None,
    )
    y = encoding("way:N", sort=list(names.values()), title=None, axis=draw.names_axis(names.values()))
    axis = draw.money_axis(words, [row[end] for row in table for end in ("low", "high")], 4)
    tips = [
        encoding("way:N", title=words("chart.tip.way")),
        encoding("span:N", title=words("chart.risk.eight_of_ten")),
        encoding("half:N", title=words("chart.risk.middle")),
    ]
    base = Layer(table).encode(y=y, tooltip=tips)
    bars = base.mark("bar", size=26, cornerRadius=3, opacity=0.55).encode(
        x=encoding("low:Q", title=None, axis=axis), x2="high:Q", color=colour
    )
    middles = base.mark("tick", size=34, thickness=4, color=draw.INK, aria=False).encode(x="middle:Q")
    tenths = base.mark("point", shape="cross", size=110, filled=True, color=draw.INK, opacity=1, aria=False).encode(
        x="tenth:Q"
    )
    stated = base.mark("point", shape="diamond", size=120, strokeWidth=2, color=draw.INK, opacity=1, aria=False).encode(
        x="expected:Q"
    )
    zero = Layer(columns(low=0.0)).mark("rule", color=draw.INK, strokeWidth=2).encode(x="low:Q")
    title = words("chart.risk.worth", currency=voice.sign)
    return draw.finish(
        words, [bars, zero, middles, tenths, stated], title, worth_finding(result, words), row * len(kept) + 120
    )


def worth_finding(result: RiskResult, words: Words) -> str:
    """The finding of the worth chart: where each strategy lies in eight of ten futures."""
    return " ".join(answers.worth(result, answer, words) for key, answer in result.answers.items() if key != LEAVE)


# The money in hand


def fan_span(result: RiskResult) -> list[float]:
    """One scale of money for the fans of every strategy."""
    return draw.span_of([answer.fan.ravel() for answer in result.answers.values()] + [np.zeros(1)])


def fan_chart(
    result: RiskResult, key: str, words: Words, *, span: list[float] | None = None, height: int = 420
) -> Chart:
    """Money in hand at each year's end: eight of ten futures, the middle one, and the middle of the farm as it is."""
    voice = Voice.of(result.scenario, words)
    scenario, answer = result.scenario, result.answers[key]
    alone = result.answers[LEAVE]
    span = span or fan_span(result)
    style = strategy_styles(scenario, list(result.answers))[key]
    years = np.arange(1, answer.fan.shape[1] + 1)
    low, middle, high = answer.fan
    table = columns(
        year=years,
        low=low,
        middle=middle,
        high=high,
        alone=alone.fan[1],
        when=[voice.year(int(year)) for year in years],
        said=[voice.money(float(value)) for value in middle],
        span=[
            words(
                "chart.ranges.span",
                low=voice.money(float(a)),
                high=voice.money(float(b)),
            )
            for a, b in zip(low, high, strict=True)
        ],
    )
    x = draw.years_axis(1, int(years[-1]), title=words("chart.years_axis"))
    tips = [
        encoding("when:N", title=words("chart.risk.year")),
        encoding("span:N", title=words("chart.risk.eight_of_ten")),
        encoding("said:N", title=words("chart.risk.middle")),
    ]
    names = [words("chart.risk.eight_of_ten"), words("chart.risk.middle")]
    base = Layer(table).encode(x=x, tooltip=tips)
    band = base.mark("area", opacity=0.35, color=style.colour).encode(
        y=draw.left_axis("low:Q", span, draw.money_axis(words, span)), y2="high:Q"
    )
    edges = [
        base.mark("line", strokeWidth=1.5, color=style.colour).encode(y=draw.no_axis(f"{end}:Q", span))
        for end in ("low", "high")
    ]
    line = base.mark("line", strokeWidth=3.5, color=style.colour).encode(y=draw.no_axis("middle:Q", span))
    layers = [band, *edges, draw.zero_line(span), line]
    title = words("chart.risk.fan", currency=voice.sign, band=names[0], line=names[1])
    if key != LEAVE:
        other = base.mark("line", strokeWidth=2.5, strokeDash=[7, 4], color=draw.INK)
        layers.append(other.encode(y=draw.no_axis("alone:Q", span)))
        title = words("chart.risk.fan_beside", currency=voice.sign)
    # each layer states the same span; only the first has an axis
    return draw.finish(words, layers, title, fan_finding(result, answer, words), height, own_axes=True)


def fan_finding(result: RiskResult, answer: Answers, words: Words) -> str:
    """The finding of a fan: how low the money falls, and where it lies at the end."""
    voice = Voice.of(result.scenario, words)
    low, _, high = (float(row[-1]) for row in answer.fan)
    end = words(
        "chart.risk.fan_end",
        low=voice.money(low),
        high=voice.money(high),
        year=voice.year(answer.fan.shape[1]),
    )
    return f"{answers.money_low(result, answer, words)} {end}"


# Chances by year


def chance_chart(result: RiskResult, key: str, words: Words, *, height: int = 330) -> Chart:
    """Chance by year of a year that spends more than it brings (bars) and of a missed instalment (diamonds)."""
    voice = Voice.of(result.scenario, words)
    scenario, answer = result.scenario, result.answers[key]
    style = strategy_styles(scenario, list(result.answers))[key]
    number = len(answer.gap_by_year)
    table = columns(
        year=list(range(1, number + 1)),
        when=[voice.year(year) for year in range(1, number + 1)],
        **{kind: [found.value for found in getattr(answer, f"{kind}_by_year")] for kind in ("gap", "missed")},
        **{
            f"{kind}_said": [answers.often(found, result.number, words) for found in getattr(answer, f"{kind}_by_year")]
            for kind in ("gap", "missed")
        },
    )
    labelled = [1, *range(5, number + 1, 5)]
    x = encoding("year:O", title=words("chart.years_axis"), axis=Part(values=labelled, labelAngle=0, ticks=False))
    when = encoding("when:N", title=words("chart.risk.year"))
    gap_tip = encoding("gap_said:N", title=words("chart.risk.gap"))
    base = Layer(table)
    y = draw.left_axis("gap:Q", [0.0, 1.0], Part(tickCount=5, format=".0%"))
    bars = base.mark("bar", color=style.colour, opacity=0.75).encode(x=x, y=y, tooltip=[when, gap_tip])
    layers, kind = [bars], "gap"
    if answer.strategy.loans:
        kind = "both"
        tips = [when, encoding("missed_said:N", title=words("chart.risk.missed"))]
        owed = Layer([row for row in table if row["missed"] > 0])
        marks = owed.mark("point", shape="diamond", filled=True, size=90, color=draw.INK, opacity=1)
        layers.append(marks.encode(x=x, y=draw.no_axis("missed:Q", [0.0, 1.0]), tooltip=tips))
    title = words(f"chart.risk.chances_{kind}")
    return draw.finish(words, layers, title, answers.chances(result, answer, words), height, own_axes=True)


# What an answer rests on


def bars_chart(found: Sensitivity, words: Words, only: int = BARS_SHOWN, *, row: int = ROW) -> Chart:
    """NPV with each figure at both ends of its range, the widest on top; critical figures and switching values told."""
    voice = Voice.of(found.comparison.scenario, words)
    kinds = {True: words("chart.risk.critical"), False: words("chart.risk.not_critical")}
    table = [_bar_row(found, bar, kinds, words) for bar in found.bars[:only] if bar.npv_low is not None and bar.width]
    drivers = [row["driver"] for row in table]
    y = encoding("driver:N", sort=drivers, title=None, axis=draw.names_axis(drivers))
    colour = encoding(
        "kind:N",
        scale=Part(domain=list(kinds.values()), range=[CRITICAL, OTHER]),
        legend=draw.legend_above(1, kinds.values()),
    )
    tips = [
        encoding("driver:N", title=words("chart.ranges.driver")),
        encoding("at_low:N", title=words("chart.risk.at_low")),
        encoding("at_high:N", title=words("chart.risk.at_high")),
        encoding("switch:N", title=words("risk.column.switching")),
    ]
    x = encoding(
        "left:Q",
        title=None,
        axis=draw.money_axis(words, [*(row["right"] for row in table), *(row["left"] for row in table)], 4),
    )
    base = Layer(table).encode(y=y, tooltip=tips)
    bars = base.mark("bar", size=16, cornerRadius=2).encode(x=x, x2="right:Q", color=colour)
    ends = base.mark("point", shape="circle", filled=True, size=70, color=draw.INK, opacity=1, aria=False).encode(
        x="npv_high:Q"
    )
    said = Layer([row for row in table if row["switch"]]).mark(
        "text", align="left", baseline="bottom", dy=-11, fontSize=13, color=draw.INK
    )
    switches = said.encode(y=y, x=Part(value=3), text="switch:N")
    lines = [
        Layer(columns(left=value)).mark("rule", color=draw.INK, strokeWidth=2, strokeDash=dash).encode(x="left:Q")
        for value, dash in ((0.0, [1, 0]), (found.npv, [4, 4]))
    ]
    title = words("chart.risk.bars", currency=voice.sign)
    return draw.finish(words, [bars, *lines, ends, switches], title, bars_finding(found, words), row * len(table) + 150)


def _bar_row(found: Sensitivity, bar: Bar, kinds: dict[bool, str], words: Words) -> Part:
    """One figure's bar: its two ends, whether it is critical, where the answer is nothing."""
    voice = Voice.of(found.comparison.scenario, words)
    low, high = float(bar.npv_low or 0.0), float(bar.npv_high or 0.0)
    name = say.driver_name(found, bar, words)
    return {
        "driver": words("chart.risk.marked", driver=name) if bar.critical else name,
        "left": min(low, high),
        "right": max(low, high),
        "npv_low": low,
        "npv_high": high,
        "kind": kinds[bar.critical],
        "switch": words("chart.risk.switch", at=say.switching_said(bar, words)) if bar.switching else "",
        "at_low": voice.money(low),
        "at_high": voice.money(high),
    }


def bars_finding(found: Sensitivity, words: Words) -> str:
    """The finding of the ranking: what moves the answer most, and which figures are critical."""
    return " ".join(say.rests_on(found, words))
