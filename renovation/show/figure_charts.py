"""A figure drawn: the curve of a crown as its table states it, with the ends of its range."""

from collections.abc import Sequence
from dataclasses import replace

from renovation.show import drawing as draw
from renovation.show.vega import Chart, Layer, Part, encoding
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
            legend=draw.legend_above(),
        ),
    }
    dash = encoding("which:N", scale=Part(domain=domain, range=list(draw.DASHES[:3])), legend=draw.line_legend())
    lines = Layer(table).mark("line", strokeWidth=2.5).encode(**channels, strokeDash=dash)
    dots = Layer([row for row in table if row["which"] == labels["value"]]).mark(
        "point", filled=True, size=70, opacity=1
    )
    finding = words("chart.curve.finding", name=name, points=curve_in_words(points, words))
    chart = draw.finish([lines, dots.encode(**channels)], words("chart.curve.share"), finding, height)
    # in a narrow drawing the highest label is set without being measured
    return replace(chart, properties=Part(chart.properties, padding=Part(left=14, right=5, top=5, bottom=5)))


def curve_in_words(points: Points, words: Words) -> str:
    """Say a curve point by point, for those who do not see it."""
    return words.listing(
        [
            words("chart.curve.point", age=words.number(float(age)), share=words.percent(float(share)))
            for age, share in points
        ]
    )
