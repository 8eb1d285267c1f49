"""A chart written as plain tables is what altair, the reference, writes for the same words."""

import altair as alt
import pandas as pd

from renovation.show import drawing
from renovation.show.vega import Layer, Part, columns, encoding
from renovation.words import Words


def test_a_layer_is_what_altair_writes():
    table = pd.DataFrame({"year": [1.0, 2.0], "kg": [0.5, 0.75], "part": "old"})
    theirs = (
        alt.Chart(table)
        .mark_area(opacity=0.7)
        .encode(
            x=alt.X("year:Q", title=None, scale=alt.Scale(domain=[0, 2], nice=False)),
            y=alt.Y("kg:Q", axis=alt.Axis(format="~s")),
            y2="year:Q",
            color=alt.Color("part:N", legend=None),
            x2=alt.datum(0),
        )
        .to_dict()
    )
    ours = Layer(columns(year=[1.0, 2.0], kg=[0.5, 0.75], part="old")).mark("area", opacity=0.7)
    ours = ours.encode(
        x=encoding("year:Q", title=None, scale=Part(domain=[0, 2], nice=False)),
        y=encoding("kg:Q", axis=Part(format="~s")),
        y2="year:Q",
        color=encoding("part:N", legend=None),
        x2=Part(datum=0),
    )
    written = ours.to_dict()
    assert written["mark"] == theirs["mark"]
    assert written["encoding"] == theirs["encoding"]
    assert written["data"]["values"] == next(iter(theirs["datasets"].values()))


def test_what_is_drawn_on_from_a_layer_leaves_the_layer_as_it_was():
    base = Layer(columns(year=1.0, kg=2.0)).encode(x="year:Q")
    base.mark("line").encode(y="kg:Q")
    assert (base.look, list(base.channels)) == ({}, ["x"])


def test_a_page_hears_title_and_finding_beside_the_drawing():
    layer = Layer(columns(year=1.0)).mark("point").encode(x="year:Q")
    chart = drawing.finish(Words("en"), [layer], "Years", "One year.", 200)
    assert {"title", "description"} <= set(chart.to_dict())
    assert not {"title", "description"} & set(chart.to_dict(named=False))
    alt.LayerChart.from_dict(chart.to_dict())
