"""The summary of a run: one A4 page with one sentence, four pictures, and who stands first; nothing is fetched."""

from collections.abc import Sequence
from importlib import resources

from renovation.show.grid import Table
from renovation.show.report.document import file_of
from renovation.show.report.html import Html, bullets, chart, tag
from renovation.show.vega import Chart
from renovation.show.voice import Voice

WIDTH = 400
"""Pixels of a picture's plot."""


def summary(head: str, charts: Sequence[Chart], table: Table, notes: Sequence[str], stamp: str, voice: Voice) -> str:
    """One HTML file. head: the one sentence. notes: what else is to be known."""
    style = resources.files("renovation.show.farms").joinpath("page.css").read_text("utf-8")
    pictures = [chart(drawn, f"farms-{place}", WIDTH) for place, drawn in enumerate(charts)]
    body = tag(
        "section",
        tag("h1", voice("run.title")),
        tag("p", head, class_="head"),
        tag("div", *pictures, class_="pictures"),
        _table(table),
        bullets(notes),
        tag("footer", stamp),
        class_="farms-page",
    )
    return file_of(voice("run.title"), Html(style), body, voice.words)


def _table(shown: Table) -> Html:
    """The table, names to the left and figures to the right."""
    sides = ["right" if column.align == "right" else None for column in shown.columns]
    heads = [
        tag("th", column.heading, scope="col", class_=side) for column, side in zip(shown.columns, sides, strict=True)
    ]
    rows = [
        tag("tr", *(tag("td", cell, class_=side) for cell, side in zip(row, sides, strict=True))) for row in shown.rows
    ]
    return tag("table", tag("caption", shown.title), tag("thead", tag("tr", *heads)), tag("tbody", *rows))
