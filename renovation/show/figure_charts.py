"""A figure drawn: the curve of a crown as its table states it, with the ends of its range."""

from collections.abc import Sequence
from typing import Any

import altair as alt
import pandas as pd

from renovation.show import drawing as draw
from renovation.words import Words

Points = Sequence[tuple[float, float]]
"""Age in months and share of a grown crown."""


def curve_chart(name: str, points: Points, low: Points, high: Points, words: Words, *, height: int = 330) -> draw.Chart:
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
            scale=alt.Scale(domain=domain, range=[draw.COLOURS[0], draw.COLOURS[1], draw.COLOURS[2]]),
            legend=draw.legend_above(),
        ),
    }
    dash = alt.StrokeDash(
        "which:N", scale=alt.Scale(domain=domain, range=list(draw.DASHES[:3])), legend=draw.line_legend()
    )
    lines = alt.Chart(table).mark_line(strokeWidth=2.5).encode(**encoding, strokeDash=dash)
    dots = alt.Chart(table[table["which"] == labels["value"]]).mark_point(filled=True, size=70, opacity=1)
    finding = words("chart.curve.finding", name=name, points=curve_in_words(points, words))
    return draw.finish([lines, dots.encode(**encoding)], words("chart.curve.share"), finding, height)


def curve_in_words(points: Points, words: Words) -> str:
    """Say a curve point by point, for those who do not see it."""
    return words.listing(
        [
            words("chart.curve.point", age=words.number(float(age)), share=words.percent(float(share)))
            for age, share in points
        ]
    )
