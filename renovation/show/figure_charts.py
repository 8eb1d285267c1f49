"""A figure drawn: the curve of a crown with the ends of its range, a rate over the years, the crop by month."""

from collections.abc import Sequence
from dataclasses import replace

from renovation.show import drawing as draw
from renovation.show.meant import HUNDRED, YEARS
from renovation.show.vega import Chart, Layer, Part, encoding
from renovation.show.voice import Voice
from renovation.words import Words

Points = Sequence[tuple[float, float]]
"""Age in months and share of a grown crown."""


def curve_chart(name: str, points: Points, low: Points, high: Points, words: Words, *, height: int = 330) -> Chart:
    """A crown curve as its table states it, share by age in months, with the ends of its range."""
    labels = {kind: words(f"chart.curve.{kind}") for kind in ("value", "low", "high")}
    kinds = {"value": points, "low": low, "high": high}
    table = [
        {"age": age, "share": share, "which": labels[kind]} for kind, curve in kinds.items() for age, share in curve
    ]
    domain = list(labels.values())
    channels: Part = {
        "x": encoding("age:Q", title=words("chart.curve.age"), axis=Part(grid=False)),
        "y": encoding("share:Q", title=None, axis=Part(format=".0%", tickCount=5)),
        "color": encoding(
            "which:N",
            scale=Part(domain=domain, range=[draw.COLOURS[0], draw.COLOURS[1], draw.COLOURS[2]]),
            legend=draw.legend_above(None, domain),
        ),
    }
    scale = Part(domain=domain, range=list(draw.DASHES[:3]))
    dash = encoding("which:N", scale=scale, legend=draw.line_legend(names=domain))
    lines = Layer(table).mark("line", strokeWidth=2.5).encode(**channels, strokeDash=dash)
    dots = Layer([row for row in table if row["which"] == labels["value"]]).mark(
        "point", filled=True, size=70, opacity=1
    )
    finding = words("chart.curve.finding", name=name, points=curve_in_words(points, words))
    return _with_room(draw.finish(words, [lines, dots.encode(**channels)], words("chart.curve.share"), finding, height))


def _with_room(chart: Chart) -> Chart:
    """The same with room at the left: in a narrow drawing the highest label is set without being measured."""
    return replace(chart, properties=Part(chart.properties, padding=Part(left=14, right=5, top=5, bottom=5)))


def curve_in_words(points: Points, words: Words) -> str:
    """Say a curve point by point, for those who do not see it."""
    return words.listing(
        [
            words("chart.curve.point", age=words.number(float(age)), share=words.percent(float(share)))
            for age, share in points
        ]
    )


RATE_YEARS = 20
"""Years over which a rate is drawn."""
SMALL = 200
"""Height of a small drawing beside a number."""


def discount_chart(rate: float, currency: str, words: Words) -> Chart:
    """What a hundred of money is worth today by the year in which it comes: 100/(1 + r)^t."""
    voice = Voice(words, currency)
    values = [HUNDRED / (1 + rate) ** year for year in range(RATE_YEARS + 1)]
    facts = {"sum": voice.money(HUNDRED), "now": voice.money(values[YEARS]), "years": voice.whole_years(YEARS)}
    finding = words("meant.chart.worth_finding", **facts)
    return _by_year(values, words("meant.chart.worth", **facts), finding, words)


def _by_year(values: Sequence[float], title: str, finding: str, words: Words) -> Chart:
    """One line from now on, a number a year, the point that the finding names marked."""
    rows = [{"year": year, "amount": value} for year, value in enumerate(values)]
    channels: Part = {
        "x": encoding("year:Q", title=words("meant.chart.years"), axis=Part(grid=False, tickCount=5)),
        "y": encoding("amount:Q", title=None, scale=Part(domain=[0, HUNDRED]), axis=Part(tickCount=5)),
    }
    line = Layer(rows).mark("line", strokeWidth=2.5, color=draw.COLOURS[0]).encode(**channels)
    named = Layer([rows[YEARS]]).mark("point", filled=True, size=70, opacity=1, color=draw.COLOURS[0])
    return _with_room(draw.finish(words, [line, named.encode(**channels)], title, finding, SMALL))


def season_chart(shares: Sequence[float], words: Words) -> Chart:
    """The share of the year's crop in each of the twelve calendar months, a bar a month."""
    names = [words.month_name(month, "abbreviated") for month in range(1, 13)]
    rows = [{"month": name, "share": share} for name, share in zip(names, shares, strict=True)]
    bars = Layer(rows).mark("bar", color=draw.COLOURS[0])
    bars = bars.encode(
        x=encoding("month:O", title=None, sort=names, axis=Part(labelAngle=-90)),
        y=encoding("share:Q", title=None, axis=Part(format=".0%", tickCount=4)),
    )
    most = max(range(12), key=lambda month: shares[month])
    finding = words("meant.chart.season_finding", month=words.month_name(most + 1), share=words.percent(shares[most]))
    return draw.finish(words, [bars], words("meant.chart.season"), finding, SMALL)
