"""Charts of the household's cash and the work: pure functions of results, for screen and printed report.

As in `compare/charts` the finding stands in `description`, and series are told apart by colour, dash and shape at once.
"""

import textwrap
from collections.abc import Mapping
from typing import Any

import numpy as np

from renovation.farm import HouseholdCash, Labour
from renovation.inputs import Scenario
from renovation.show import drawing as draw
from renovation.show import looks
from renovation.show.cash.sentences import deepest, short, spends_more
from renovation.show.plan.work_calendar import planned_kinds
from renovation.show.vega import Chart, Layer, Part, Rows, columns, encoding
from renovation.show.voice import Voice
from renovation.types import FloatArray
from renovation.words import Words

SHADE = "#D98C5F"
"""The ground of a year that spends more than it brings."""
LETTERS_OF_LEGEND = 30
"""Letters in a row of a legend that names years: as many as a telephone has room for."""
BY_WHOM = {"family": draw.COLOURS[0], "hired": "#E8B26A", "short": "#8C1D18"}
SHOWN_YEARS = 5
"""Years of work by month that can still be told apart."""


def balance_chart(
    cash: HouseholdCash,
    words: Words,
    *,
    years: int | None = None,
    before: HouseholdCash | None = None,
    height: int = 380,
) -> Chart:
    """The balance by month with the plan and without it, from the savings on; years that spend more are shaded.

    years: only so many years from the first on; all where None. before: the cash before a number was changed, whose
    balance with the plan is drawn pale beneath.
    """
    voice = Voice.about(cash, words)
    sides = {"with_plan": cash.with_plan, "without": cash.without}
    if np.array_equal(cash.with_plan.balance, cash.without.balance):
        sides = {"as_it_is": cash.without}
    names = {key: words(f"chart.balance.{key}") for key in sides}
    months = cash.with_plan.balance.size if years is None else min(12 * years, cash.with_plan.balance.size)
    when = draw.calendar_time(cash.start, np.arange(months + 1.0))
    series = {key: np.concatenate([[side.savings], side.balance[:months]]) for key, side in sides.items()}
    labels = [words("chart.balance.savings"), *(words.month(month) for month in cash.months[:months])]
    table = [row for key, values in series.items() for row in _rows(names[key], when, values, labels, cash, words)]
    were = [] if before is None else _were(before, when, next(iter(names.values())))
    span = draw.span_of([*series.values(), np.array([0.0, cash.with_plan.floor, *(row["amount"] for row in were)])])
    x = draw.calendar_axis(when)
    drawn = {name: looks.SIDES[key] for key, name in names.items()}

    base = Layer(table)
    tips = [
        encoding("side:N", title=words("chart.tip.part")),
        encoding("month:N", title=words("chart.balance.end_of")),
        encoding("money:N", title=words("chart.balance.balance")),
    ]
    colour = encoding("side:N", scale=draw.of_ways(drawn, "colour"), legend=None)
    dash = encoding("side:N", scale=draw.of_ways(drawn, "dash"), legend=None)
    shape = encoding("side:N", scale=draw.of_ways(drawn, "shape"), legend=None)
    y = draw.left_axis("amount:Q", span, draw.money_axis(words, span))
    lines = base.mark("line", strokeWidth=2.5).encode(x=x, y=y, color=colour, strokeDash=dash, tooltip=tips)
    spaced = Layer([row for row in table if row["project_month"] % (60 if months > 120 else 24) == 0])
    points = spaced.mark("point", filled=True, size=90, opacity=1).encode(
        x=x, y=draw.no_axis("amount:Q", span), color=colour, shape=shape, tooltip=tips
    )
    ends = {names[key]: float(values[-1]) for key, values in series.items()}
    if cash.with_plan.floor > 0:
        ends[words("chart.balance.floor")] = cash.with_plan.floor
    layers = [
        *_shaded_years(cash, months // 12, x, words),
        draw.zero_line(span),
        *draw.ghost(were, x, span, words("before.line"), color=colour, strokeDash=dash),
        *_floor_line(cash, span),
        lines,
        points,
        draw.names_at_ends(ends, x, span, height, float(when[0])),
    ]
    title = words("chart.balance.axis", currency=voice.sign)
    return draw.finish(words, layers, title, balance_finding(cash, words), height, own_axes=True)


def balance_finding(cash: HouseholdCash, words: Words) -> str:
    """The finding of the balance chart: short years with the plan, lowest point, shaded years, short without."""
    side = cash.with_plan
    said = [short(cash, side, words), deepest(cash, words), spends_more(cash, side, words)]
    return " ".join([*said, short(cash, cash.without, words)])


def _were(before: HouseholdCash, when: FloatArray, name: str) -> Rows:
    """The balance with the plan before, in the months that are drawn."""
    side = before.with_plan
    amount = np.concatenate([[side.savings], side.balance])
    then = draw.calendar_time(before.start, np.arange(float(amount.size)))
    drawn = (then >= when[0]) & (then <= when[-1])
    return columns(year=then[drawn], amount=amount[drawn], side=name)


def _rows(
    name: str, when: FloatArray, values: FloatArray, labels: list[str], cash: HouseholdCash, words: Words
) -> Rows:
    """One line's points; the first stands for the savings at the start."""
    voice = Voice.about(cash, words)
    return columns(
        year=when,
        amount=values,
        side=name,
        project_month=np.arange(when.size),
        month=labels,
        money=[voice.money(value) for value in values.tolist()],
    )


def _shaded_years(cash: HouseholdCash, last: int, x: Part, words: Words) -> list[Any]:
    """A shade behind the years up to `last` that spend more than they bring with the plan, named in a legend."""
    voice = Voice.about(cash, words)
    years = tuple(year for year in cash.with_plan.gap_years if year <= last)
    if not years:
        return []
    name = words("chart.balance.spends_more", years=voice.years(years))
    first = draw.calendar_time(cash.start, 12.0 * (np.array(years) - 1))
    table = columns(year=first, until=first + 1, what=name)
    rows = textwrap.wrap(name, LETTERS_OF_LEGEND, break_long_words=False)
    legend = draw.legend_above(symbolType="square", symbolOpacity=0.4, labelExpr=draw.literal(rows))
    legend["labelLimit"] = 640
    # a channel of its own, so that the two lines keep their colours
    ground = encoding("what:N", scale=Part(domain=[name], range=[SHADE]), legend=legend)
    return [Layer(table).mark("rect", opacity=0.4).encode(x=x, x2="until:Q", fill=ground)]


def _floor_line(cash: HouseholdCash, span: list[float]) -> list[Any]:
    """The balance that the family will not go below, where it is above 0."""
    if cash.with_plan.floor <= 0:
        return []
    floor = Layer(columns(amount=cash.with_plan.floor))
    return [floor.mark("rule", color=draw.GREY, strokeDash=[2, 3]).encode(y=draw.no_axis("amount:Q", span))]


def labour_chart(labour: Labour, words: Words, *, years: int = SHOWN_YEARS, height: int = 360) -> Chart:
    """Days of work by month in the first years: by the family, by hired hands, and beyond all hands."""
    months = min(12 * years, labour.days.size)
    parts = {
        "family": labour.family_days,
        "hired": labour.hired_days - labour.short_days,
        "short": labour.short_days,
    }
    kept = [key for key, days in parts.items() if key == "family" or days[:months].any()]
    table = _stacked({key: parts[key][:months] for key in kept}, labour, words)
    top = float(max(labour.days[:months].max(), labour.family_days_available[:months].max())) * 1.05 or 1.0
    domain = [words(f"chart.labour.{key}") for key in kept]
    edges = draw.calendar_time(labour.start, np.array([0.0, months]))
    bars = (
        Layer(table)
        .mark("rect", stroke="#FFFFFF", strokeWidth=0.5)
        .encode(
            x=draw.calendar_axis(edges),
            x2="until:Q",
            y=_days_axis("from:Q", top),
            y2="to:Q",
            color=encoding(
                "who:N",
                scale=Part(domain=domain, range=[BY_WHOM[key] for key in kept]),
                legend=draw.legend_above(columns=2, symbolType="square", symbolStrokeWidth=0),
            ),
            tooltip=[
                encoding("month:N", title=words("chart.labour.month")),
                encoding("who:N", title=words("chart.tip.part")),
                encoding("days:Q", title=words("chart.labour.days"), format=".1f"),
            ],
        )
    )
    layers = [bars, _family_line(labour, months, top, words)]
    return draw.finish(words, layers, words("chart.labour.axis"), labour_finding(labour, months, words), height)


def _family_line(labour: Labour, months: int, top: float, words: Words) -> Layer:
    """The days that the family has, a dashed step through the months."""
    when = draw.calendar_time(labour.start, np.arange(months + 1.0))
    days = labour.family_days_available[:months]
    name = words("chart.labour.available")
    table = columns(year=when, available=np.append(days, days[-1]), line=name)
    legend = draw.line_legend(symbolStrokeColor=draw.INK)
    legend["orient"] = "bottom"  # beside the names of the bars there is no room on a telephone
    dash = encoding("line:N", scale=Part(domain=[name], range=[[6, 4]]), legend=legend)
    line: Layer = Layer(table).mark("line", interpolate="step-after", color=draw.INK, strokeWidth=2)
    y = _days_axis("available:Q", top)
    return line.encode(x=draw.calendar_axis(when[[0, -1]]), y=y, strokeDash=dash)


def _days_axis(field: str, top: float) -> Part:
    """The left axis of days, with room kept for three digits: the first drawing may measure too few."""
    axis = Part(tickCount=5, format="~f", minExtent=34)
    return encoding(field, title=None, scale=Part(domain=[0.0, top], nice=False), axis=axis)


def _stacked(parts: Mapping[str, FloatArray], labour: Labour, words: Words) -> Rows:
    """Days of each kind of hands on top of those before, one row per month and kind that has days."""
    months = len(next(iter(parts.values())))
    when = draw.calendar_time(labour.start, np.arange(months, dtype=np.float64))
    names = [words.month(month) for month in labour.months[:months]]
    below = np.zeros(months)
    table: list[Part] = []
    for key, days in parts.items():
        to = below + days
        who = words(f"chart.labour.{key}")
        rows = columns(year=when, until=when + 1 / 12, to=to, days=days, who=who, month=names)
        table += [{**row, "from": low} for row, low in zip(rows, below.tolist(), strict=True) if row["days"] > 0]
        below = to
    return table


def labour_finding(labour: Labour, months: int, words: Words) -> str:
    """The finding of the labour chart: its busiest month, and how many of its months lack hands."""
    voice = Voice.about(labour, words)
    top = int(np.argmax(labour.days[:months]))
    short = sum(month < months for month in labour.short_months)
    said = words(
        "chart.labour.finding",
        month=words.month(labour.months[top]),
        days=voice.days(float(labour.days[top])),
        hired=voice.days(float(labour.hired_days[top])),
    )
    return " ".join([said, words("chart.labour.months_short", n=short)] if short else [said])


def work_chart(labour: Labour, scenario: Scenario, first: int, months: int, words: Words) -> Chart:
    """Each kind of work in its months from project month `first` on: the larger the dot, the more days."""
    voice = Voice.of(scenario, words)
    kinds = planned_kinds(labour, first, months)
    names = {kind: voice.work(kind) for kind in kinds}
    until = min(first + months, labour.days.size)
    when = draw.calendar_time(labour.start, np.arange(first, until, dtype=np.float64) + 0.5).tolist()
    table = [
        {
            "project_month": month,
            "kind": names[kind],
            "days": float(labour.work[kind][month]),
            "month": words.month(labour.months[month]),
            "year": when[month - first],
        }
        for kind in kinds
        for month in range(first, until)
        if labour.work[kind][month] > 0
    ]
    axis = draw.names_axis(names.values())
    axis["labelOverlap"] = False
    dots = (
        Layer(table)
        .mark("circle", color=draw.COLOURS[0], opacity=0.85, stroke=draw.INK, strokeWidth=0.5)
        .encode(
            x=draw.calendar_axis(draw.calendar_time(labour.start, np.array([first, until], dtype=np.float64))),
            y=encoding("kind:N", sort=list(names.values()), title=None, axis=axis),
            size=encoding("days:Q", scale=Part(rangeMin=12, rangeMax=700), legend=None),
            tooltip=[
                encoding("kind:N", title=words("cash.column.kind")),
                encoding("month:N", title=words("chart.labour.month")),
                encoding("days:Q", title=words("chart.labour.days"), format=".1f"),
            ],
        )
    )
    finding = work_finding(labour, scenario, first, months, words)
    return draw.finish(words, [dots], words("chart.work.axis"), finding, 40 * len(kinds) + 20)


def work_finding(labour: Labour, scenario: Scenario, first: int, months: int, words: Words) -> str:
    """The finding of the work chart: each kind of the plan's work, its days and its busiest month."""
    voice = Voice.of(scenario, words)
    said = []
    for kind in planned_kinds(labour, first, months):
        days = labour.work[kind][first : first + months]
        facts = {"days": voice.days(float(days.sum())), "top": voice.days(float(days.max()))}
        month = words.month(labour.months[first + int(np.argmax(days))])
        said.append(words("chart.work.kind", kind=voice.work(kind), month=month, **facts))
    return " ".join(said)


__all__ = [
    "SHADE",
    "balance_chart",
    "balance_finding",
    "labour_chart",
    "labour_finding",
    "work_chart",
    "work_finding",
]
