"""The season's record as a page to print and fill in with a pencil: the rows of its CSV, in words."""

from collections.abc import Mapping
from datetime import date

from renovation.inputs import Scenario, season_cells
from renovation.show.grid import Table, columns
from renovation.show.report.document import page_of
from renovation.show.report.html import Html, join, paragraphs, table, tag
from renovation.show.voice import Voice
from renovation.version import __version__
from renovation.words import Words

COLUMNS = ("figure", "stand", "way", "start", "number", "value")
WIDTHS = (26, 20, 20, 12, 6, 16)
"""Of the columns, in percent: the last is to be written in."""


def season_page(farm: Scenario, words: Words, day: date) -> str:
    """One HTML file, A4: what to count in the farm's first year, with room for each figure.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> "<script" in season_page(demo_scenario(), Words("en"), date(2026, 11, 29))
        False
    """
    facts = {"version": __version__, "digest": farm.digest, "date": words.day(day)}
    title = words("season.page.title", name=farm.about.name)
    body = [
        tag("h1", title),
        paragraphs([words("season.page.lead", month=words.month(farm.appraisal.start))]),
        table(blank_table(farm, words), shares=WIDTHS),
        tag("p", words("command.stamp", **facts), class_="small"),
    ]
    return page_of(title, Html(""), tag("main", join(body)), words)


def blank_table(farm: Scenario, words: Words) -> Table:
    """The rows of the empty table in words, the season itself left out; a loan stands where a stand would."""
    rows = tuple(_row(cells, farm, words) for cells in season_cells(farm) if cells["what"] != "season")
    return Table(words("season.page.table"), columns("season.column", COLUMNS, words), rows)


def _row(cells: Mapping[str, str], farm: Scenario, words: Words) -> tuple[str, ...]:
    voice = Voice.of(farm, words)
    way = voice.way(cells["technique"]) if cells["technique"] else ""
    start = words.month(cells["start"]) if cells["start"] else ""
    figure = words(f"season.what.{cells['what']}")
    if cells["month"]:
        figure = words("season.in_month", figure=figure, month=words.month(cells["month"]))
    return figure, cells["stand"] or cells["loan"], way, start, cells["try"], ""
