"""Four pictures of many farms compared: which way where, who gains, how soon it is paid back, how much money is out."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from renovation.farms.booked import MONTH, Book
from renovation.farms.group import Group, farms_for
from renovation.farms.planned import PlanGroup
from renovation.inputs import month_count
from renovation.show import drawing as draw
from renovation.show.farms.said import way_of
from renovation.show.vega import Chart, Layer, Part, columns, encoding
from renovation.show.voice import Voice, at_head
from renovation.types import FloatArray

if TYPE_CHECKING:
    import pandas as pd

BARS, POINTS = 12, 200
"""Steps of a distribution, and points of a line, at most."""
MOST_DRAWN = 0.98
"""A distribution is drawn up to here; what lies beyond stands in its last bar."""


def charts_of(group: Group, labels: Mapping[str, str], voice: Voice, height: int = 190) -> tuple[Chart, ...]:
    """The four pictures, in their order."""
    return (
        ways_chart(group, labels, voice, height),
        gains_chart(group.gains, voice, height),
        payback_chart(group, voice, height),
        out_chart(group, voice, height),
    )


def plan_charts(group: PlanGroup, labels: Mapping[str, str], voice: Voice, height: int = 190) -> tuple[Chart, ...]:
    """The four pictures of plans: trees by way, what they are worth, money and hired days by month."""
    names = [way_of(key, labels, voice) for key in group.ways]
    counts = list(group.ways.values())
    finding = voice("run.chart.no_trees_finding")
    if names:
        facts = {"trees": voice.words.number(counts[0]), "all": voice.trees(group.trees)}
        finding = voice("run.chart.trees_finding", way=at_head(names[0]), **facts)
    return (
        _bars(voice, names, counts, voice("run.chart.trees"), finding, height),
        gains_chart(group.worth, voice, height),
        _by_month(group.need("money"), "money", voice, height),
        _by_month(group.need("hired"), "hired", voice, height),
    )


def book_charts(book: Book, voice: Voice, height: int = 190) -> tuple[Chart, ...]:
    """Two pictures of a lender's book: instalments missed by month, on average and in the worst tenth of futures."""
    months = book.of(MONTH).set_index("name")
    shown = (("missed", "missed"), ("missed_worst_tenth", "missed_worst"))
    return tuple(_by_month(months[column].astype(float), kind, voice, height) for column, kind in shown)


def ways_chart(group: Group, labels: Mapping[str, str], voice: Voice, height: int) -> Chart:
    """Stands by the way that is worth most there."""
    names = [way_of(key, labels, voice) for key in group.ways]
    counts = [stands for stands, _ in group.ways.values()]
    finding = voice("run.chart.no_way_finding")
    if names:
        facts = {"stands": voice.words.number(counts[0]), "all": voice("unit.stands", n=group.stands)}
        finding = voice("run.chart.ways_finding", way=at_head(names[0]), **facts)
    return _bars(voice, names, counts, voice("run.chart.ways"), finding, height)


def _bars(voice: Voice, names: list[str], counts: list[int], title: str, finding: str, height: int) -> Chart:
    """A bar a way."""
    bars = (
        Layer(columns(way=names, count=counts) if names else [])
        .mark("bar", color=draw.COLOURS[0])
        .encode(
            x=encoding("count:Q", title=None, axis=Part(tickMinStep=1, tickCount=4, format=",d")),
            y=encoding("way:N", title=None, sort=None, axis=draw.names_axis(names)),
        )
    )
    return draw.finish(voice.words, [bars], title, finding, height)


def _by_month(need: "pd.Series[float]", kind: str, voice: Voice, height: int) -> Chart:
    """What all farms need, a bar a month."""
    months, amounts = [str(month) for month in need.index], need.to_numpy()
    finding = voice(f"run.chart.no_{kind}_finding")
    if len(months):
        most = int(np.argmax(amounts))
        said = _amount(float(amounts[most]), kind, voice)
        finding = voice(f"run.chart.{kind}_finding", month=voice.words.month(months[most]), most=said)
    years = np.array([month_count(month) / 12 for month in months])
    axis = draw.money_axis(voice.words, amounts.tolist()) if kind == "money" else Part(tickCount=4, format=",d")
    rows = columns(year=years, end=years + 1 / 12, amount=amounts) if months else []
    bars = (
        Layer(rows)
        .mark("bar", color=draw.COLOURS[0])
        .encode(
            x=encoding("year:Q", bin="binned", title=None, axis=Part(grid=False, tickMinStep=1, format="d")),
            x2="end:Q",
            y=encoding("amount:Q", title=None, axis=axis),
        )
    )
    return draw.finish(voice.words, [bars], voice(f"run.chart.{kind}"), finding, height)


def _amount(amount: float, kind: str, voice: Voice) -> str:
    """What there is most of in a month: money, days, or instalments."""
    if kind == "money":
        return voice.money(amount)
    return voice.days(amount) if kind == "hired" else voice.words.number(amount, 1)


def gains_chart(gains: FloatArray, voice: Voice, height: int) -> Chart:
    """What the first so many farms gain together. gains: (F,), the highest first."""
    places = np.unique(np.round(np.linspace(0, gains.size, POINTS)).astype(int))
    sums = np.concatenate([[0.0], np.cumsum(gains)])
    span = draw.span_of([sums, np.zeros(1)])
    line = (
        Layer(columns(farms=places, gain=sums[places]))
        .mark("line", strokeWidth=2.5, color=draw.COLOURS[0])
        .encode(
            x=encoding("farms:Q", title=voice("run.chart.farms"), axis=Part(grid=False, tickMinStep=1, tickCount=4)),
            y=draw.left_axis("gain:Q", span, draw.money_axis(voice.words, sums.tolist())),
        )
    )
    finding = voice("run.chart.no_gains_finding")
    if half := farms_for(gains, 0.5):
        finding = voice("run.chart.gains_finding", half=voice("run.farms", n=half))
    return draw.finish(voice.words, [line], voice("run.chart.gains"), finding, height)


def payback_chart(group: Group, voice: Voice, height: int) -> Chart:
    """Stands by the years until their way is paid back."""
    known = group.paybacks[~np.isnan(group.paybacks)]
    finding = voice("run.chart.no_payback_finding")
    if known.size:
        half = round(float(np.quantile(np.nan_to_num(group.paybacks, nan=np.inf), 0.5, method="higher")), 1)
        finding = voice("run.chart.payback_finding", years=voice("unit.years", n=half)) if half < np.inf else finding
    bars = _distribution(known, Part(title=voice("run.chart.years"), axis=Part(grid=False, tickCount=5)), whole=True)
    return draw.finish(voice.words, [bars], voice("run.chart.payback"), finding, height)


def out_chart(group: Group, voice: Voice, height: int) -> Chart:
    """Farms by the money that is out at the deepest."""
    out = group.out[group.out > 0]
    finding = voice("run.chart.no_out_finding")
    if out.size:
        half, most = (voice.money(float(np.quantile(out, share))) for share in (0.5, 0.9))
        finding = voice("run.chart.out_finding", half=half, most=most)
    axis = draw.money_axis(voice.words, out.tolist() or [1.0], 4, grid=False)
    bars = _distribution(out, Part(title=None, axis=axis), whole=False)
    return draw.finish(voice.words, [bars], voice("run.chart.out"), finding, height)


def _distribution(values: FloatArray, along: Part, *, whole: bool) -> Layer:
    """Bars of how many lie in each step; the last holds all beyond. whole: steps of whole units."""
    top = float(np.quantile(values, MOST_DRAWN)) if values.size else 1.0
    step = max(np.ceil(top / BARS), 1.0) if whole else top / BARS or 1.0
    ends = np.arange(BARS + 1) * step
    counts = np.histogram(np.minimum(values, ends[-1]), ends)[0]
    drawn = max(int(np.flatnonzero(counts).max(initial=0)) + 1, 1)
    rows = columns(low=ends[:drawn], high=ends[1 : drawn + 1], count=counts[:drawn])
    return (
        Layer(rows)
        .mark("bar", color=draw.COLOURS[0], binSpacing=1)
        .encode(
            x=encoding("low:Q", bin="binned", **along),
            x2="high:Q",
            y=encoding("count:Q", title=None, axis=Part(tickMinStep=1, tickCount=4, format=",d")),
        )
    )
