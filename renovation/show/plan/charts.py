"""Charts of the plan: the balance it leaves, what caution costs, when to start, when to renew.

As in `compare/charts` the finding stands in `description`, and series are told apart by colour, dash and shape at once.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from renovation.decide.plan import CautionPoint, Plan
from renovation.decide.replacement import RenewalCurve, StartCurve
from renovation.inputs import Scenario
from renovation.show import drawing as draw
from renovation.show import looks
from renovation.show.plan.sentences import caution_sentences, when_sentences
from renovation.show.vega import Chart, Layer, Part, Rows, columns, encoding
from renovation.show.voice import Voice
from renovation.types import FloatArray
from renovation.words import Words

Line = tuple[FloatArray, FloatArray, Sequence[str]]
"""Places along the bottom, amounts of money, and the places in words."""


def _lines(
    series: Mapping[str, Line],
    x: Part,
    voice: Voice,
    *,
    height: int,
    title: str,
    finding: str,
    across: str,
    floor: float = 0.0,
    points_every: int = 1,
    close: bool = False,
    drawn: Mapping[str, looks.Style] | None = None,
    were: Rows | None = None,
) -> Chart:
    """Lines of money, each named at its end; in a legend where their ends lie close together.

    drawn: how each line is drawn; None for a single one that stands for nothing else. were: a
    line as it ran before, by `year` and `amount` with its name in `line`.
    """
    drawn = drawn or dict.fromkeys(series, looks.PLANS[0])
    table = [
        row
        for name, (where, amounts, labels) in series.items()
        for row in columns(
            year=where,
            amount=amounts,
            line=name,
            place=np.arange(where.size),
            at=list(labels),
            money=[voice.money(amount) for amount in amounts.tolist()],
        )
    ]
    span = draw.span_of(
        [
            *(amounts for _, amounts, _ in series.values()),
            np.array([0.0, floor, *(row["amount"] for row in were or ())]),
        ]
    )

    # the dashes are those of the lines; round a small sign they would look like damage
    legend = draw.legend_above(columns=2, symbolStrokeWidth=0) if close else None
    colour = encoding("line:N", scale=draw.of_ways(drawn, "colour"), legend=legend)
    dash = encoding("line:N", scale=draw.of_ways(drawn, "dash"), legend=None)
    tips = [
        encoding("line:N", title=voice("chart.tip.part")),
        encoding("at:N", title=across),
        encoding("money:N", title=voice("chart.plan.money")),
    ]
    lines = (
        Layer(table)
        .mark("line", strokeWidth=2.5)
        .encode(
            x=x,
            y=draw.left_axis("amount:Q", span, draw.money_axis(voice.words, span)),
            color=colour,
            strokeDash=dash,
            tooltip=tips,
        )
    )
    marked = Layer([row for row in table if row["place"] % points_every == 0])
    points = marked.mark("point", filled=True, size=90, opacity=1).encode(
        x=x,
        y=draw.no_axis("amount:Q", span),
        color=colour,
        shape=encoding("line:N", scale=draw.of_ways(drawn, "shape"), legend=legend),
        tooltip=tips,
    )
    first = float(min(where[0] for where, _, _ in series.values()))
    ends = {name: float(amounts[-1]) for name, (_, amounts, _) in series.items()}
    layers: list[Any] = [draw.zero_line(span)]
    if floor > 0:
        ends[voice("chart.balance.floor")] = floor
        rule = Layer(columns(amount=floor))
        layers.append(rule.mark("rule", color=draw.GREY, strokeDash=[2, 3]).encode(y=draw.no_axis("amount:Q", span)))
    layers += [*draw.ghost(were or [], x, span, voice("before.line"), color=colour, strokeDash=dash), lines, points]
    if not close:
        layers.append(draw.names_at_ends(ends, x, span, height, first))
    return draw.finish(voice.words, layers, title, finding, height, own_axes=True)


def balance_chart(
    plan: Plan, words: Words, *, years: int | None = None, before: Plan | None = None, height: int = 380
) -> Chart:
    """The balance by month with the plan and without it, from the savings on, above the floor.

    years: only so many years from the first on; all where None. before: the plan before a number was changed, whose
    balance is drawn pale beneath.
    """
    voice = Voice.of(plan.scenario, words)
    problem, scenario = plan.problem, plan.scenario
    months = problem.months if years is None else min(12 * years, problem.months)
    savings = scenario.household.savings
    when = draw.calendar_time(scenario.appraisal.start, np.arange(months + 1.0))
    sides = {"with_plan": plan.account.balance, "without": plan.nothing.balance}
    if np.array_equal(plan.account.balance, plan.nothing.balance):
        sides = {"as_it_is": plan.nothing.balance}
    labels = [words("chart.balance.savings"), *(words.month(month) for month in problem.months_named[:months])]
    return _lines(
        {
            words(f"chart.balance.{side}"): (when, np.concatenate([[savings], balance[:months]]), labels)
            for side, balance in sides.items()
        },
        draw.calendar_axis(when),
        voice,
        height=height,
        title=words("chart.balance.axis", currency=voice.sign),
        finding=balance_finding(plan, words),
        across=words("chart.balance.end_of"),
        floor=scenario.household.floor,
        points_every=60 if months > 120 else 24,
        drawn={words(f"chart.balance.{side}"): looks.SIDES[side] for side in sides},
        were=[] if before is None else _were(before, when, words(f"chart.balance.{next(iter(sides))}")),
    )


def _were(before: Plan, when: FloatArray, name: str) -> Rows:
    """The balance of an earlier plan, in the months that are drawn."""
    amount = np.concatenate([[before.scenario.household.savings], before.account.balance])
    then = draw.calendar_time(before.scenario.appraisal.start, np.arange(float(amount.size)))
    drawn = (then >= when[0]) & (then <= when[-1])
    return columns(year=then[drawn], amount=amount[drawn], line=name)


def balance_finding(plan: Plan, words: Words) -> str:
    """The finding of the balance chart: the lowest point with the plan, and both ends."""
    voice = Voice.of(plan.scenario, words)
    return words(
        "chart.plan.balance",
        lowest=voice.money(float(plan.account.balance.min())),
        month=words.month(plan.problem.months_named[plan.deepest_month]),
        floor=voice.money(plan.scenario.household.floor),
        end=voice.money(float(plan.account.balance[-1])),
        without=voice.money(float(plan.nothing.balance[-1])),
    )


def caution_chart(plan: Plan, points: Sequence[CautionPoint], words: Words, *, height: int = 330) -> Chart | None:
    """What a higher floor costs against the lowest; None where fewer than two floors can be kept."""
    voice = Voice.of(plan.scenario, words)
    kept = [(point.floor, point.npv) for point in points if point.npv is not None]
    if len(kept) < 2:
        return None
    floors, npv = np.array(kept, dtype=np.float64).T
    cost = npv[0] - npv
    x = encoding(
        "year:Q",
        title=words("chart.plan.floor_axis", currency=voice.sign),
        scale=Part(domain=[float(floors[0]), float(floors[-1])], nice=False),
        axis=draw.money_axis(words, floors, grid=False),
    )
    labels = [voice.money(float(floor)) for floor in floors]
    return _lines(
        {words("chart.plan.cost"): (floors, cost, labels)},
        x,
        voice,
        height=height,
        title=words("chart.plan.cost_axis", currency=voice.sign),
        finding=" ".join(caution_sentences(plan, points, words)),
        across=words("chart.plan.floor"),
    )


def start_chart(scenario: Scenario, curves: Sequence[StartCurve], words: Words, *, height: int = 380) -> Chart | None:
    """NPV per tree of one stand by the year of starting; the ways worth most. None where no way has a start.

    curves: of one stand.
    """
    voice = Voice.of(scenario, words)
    shown = sorted((curve for curve in curves if curve.npv.size), key=lambda curve: -float(curve.npv.max()))[
        : looks.MOST
    ]
    if not shown:
        return None
    start = scenario.appraisal.start
    lines = {
        voice.way(curve.technique): (
            draw.calendar_time(start, np.array(curve.months, dtype=np.float64)),
            curve.npv,
            [words.month(month) for month in curve.calendar],
        )
        for curve in shown
    }
    edges = np.array([min(w[0] for w, _, _ in lines.values()), max(w[-1] for w, _, _ in lines.values()) + 0.5])
    return _lines(
        lines,
        draw.calendar_axis(edges),
        voice,
        height=height,
        title=words("chart.plan.start_axis", currency=voice.sign),
        finding=" ".join(when_sentences(scenario, curves, (), (), words)),
        across=words("chart.plan.start"),
        close=True,
        drawn={voice.way(curve.technique): looks.look(scenario, curve.technique) for curve in shown},
    )


def renewal_chart(
    scenario: Scenario, curves: Sequence[RenewalCurve], words: Words, *, height: int = 380
) -> Chart | None:
    """What a place is worth for ever if its tree is renewed at each age; from the age on at which it pays anything."""
    voice = Voice.of(scenario, words)
    best = sorted(curves, key=lambda curve: -curve.highest)[: looks.MOST]
    paying = [curve for curve in best if curve.highest > 0]
    if not paying:
        return None
    oldest = max(curve.lev.size for curve in paying)
    lines = {}
    for curve in paying:
        # young ages lose so much that they would press the rest of the curve flat
        first = int(np.argmax(curve.lev > 0))
        ages = np.arange(first + 1, curve.lev.size + 1, dtype=np.float64)
        lines[voice.way(curve.technique)] = (
            ages,
            curve.lev[first:],
            [words.number(int(age)) for age in ages],
        )
    youngest = min(float(ages[0]) for ages, _, _ in lines.values())
    x = draw.years_axis(youngest, float(oldest), 8, words("chart.plan.age"))
    return _lines(
        lines,
        x,
        voice,
        height=height,
        title=words("chart.plan.renewal_axis", currency=voice.sign),
        finding=" ".join(when_sentences(scenario, (), paying, (), words)),
        across=words("chart.plan.age"),
        points_every=10,
        close=True,
        drawn={voice.way(curve.technique): looks.look(scenario, curve.technique) for curve in paying},
    )


__all__ = ["balance_chart", "balance_finding", "caution_chart", "renewal_chart", "start_chart"]
