"""The wall sheet as one HTML file: a page a season, no script, nothing fetched, black on white."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from importlib import resources

from renovation.decide.plan import Plan, replay, sheet
from renovation.show import pictures
from renovation.show.report.document import file_of
from renovation.show.report.html import Html, bullets, join, paragraphs, tag
from renovation.show.sheet.baskets import Basket
from renovation.show.sheet.fit import (
    POINT,
    WIDTH,
    column_widths,
    columns_below,
    columns_of,
    fitted,
    looks_width,
    size_of,
)
from renovation.show.sheet.months import Column, Month
from renovation.show.sheet.wall import Card, Check, Row, Wall
from renovation.version import __version__
from renovation.words import Words


def wall_sheet(plan: Plan, words: Words, day: date, years: Iterable[int] = (1,), *, bolder: bool = False) -> str:
    """One HTML file with a page for each of these project years of a plan.

    bolder: whether it is marked as the sheet of the bolder plan. Raises ValueError for a year outside the horizon, as
    `sheet` does.

    Example:
        >>> from renovation.decide.plan import make_plan
        >>> from renovation.inputs import Planning, demo_scenario
        >>> text = wall_sheet(make_plan(demo_scenario(), Planning(years=1, gap=0.01)), Words("en"), date(2026, 11, 29))
        >>> text.startswith("<!DOCTYPE html>"), "<script" in text
        (True, False)
    """
    replayed = replay(plan)
    facts = {"version": __version__, "digest": plan.scenario.digest, "date": words.day(day)}
    stamp = words("command.stamp", **facts)
    walls = [fitted(plan, sheet(plan, year, replayed), words) for year in years]
    if bolder:
        marked = [replace(wall, marks=(words("sheet.bolder"), *wall.marks)) for wall, _ in walls]
        walls = [(wall, size_of(wall)) for wall in marked]
    style = resources.files("renovation.show.sheet").joinpath("sheet.css").read_text("utf-8")
    title = words("sheet.title", name=plan.scenario.about.name, season=walls[0][0].season)
    return file_of(title, Html(style), join(_page(wall, size, stamp) for wall, size in walls), words)


def drawing(name: str) -> Html:
    """A drawing, hidden from a reader aloud: the words beside it say the same."""
    return Html(pictures.svg(name).replace("<svg", '<svg aria-hidden="true"', 1))


def _page(wall: Wall, points: float, stamp: str) -> Html:
    """One season."""
    invented = [tag("p", wall.invented, class_="invented")] if wall.invented else []
    across = WIDTH / points / POINT
    cards = _side_by_side(map(_card, wall.cards), columns_of(wall, across))
    checks = tag(
        "table",
        tag("colgroup", tag("col", style=f"width:{looks_width(wall):.2f}em"), tag("col")),
        tag("tbody", *map(_check, wall.checks)),
    )
    return tag(
        "section",
        tag("header", tag("h1", wall.name), *invented, tag("p", wall.season, class_="season")),
        paragraphs(wall.marks, class_="mark"),
        tag("div", tag("h2", wall.head), paragraphs(wall.notes), class_="head"),
        *[cards] * bool(wall.cards),
        _months(wall),
        tag("p", wall.months_note, class_="note"),
        *[_titled("look", wall.look), checks] * bool(wall.checks),
        _below(wall, columns_below(wall, across)),
        tag("footer", stamp),
        class_="sheet",
        style=f"font-size:{points:g}pt",
    )


def _side_by_side(parts: Iterable[Html], columns: int) -> Html:
    """Parts in so many columns of one width."""
    return tag("div", *parts, class_="parts", style=f"grid-template-columns:repeat({columns},1fr)")


def _titled(sign: str, said: str) -> Html:
    """A title with its drawing."""
    return tag("h2", drawing(pictures.sign(sign)), said)


def _card(card: Card) -> Html:
    how = tag("div", tag("b", card.where), tag("div", card.how))
    return tag("div", drawing(card.picture), tag("span", card.trees, class_="figure"), how, class_="card")


def _months(wall: Wall) -> Html:
    """A row for each month."""
    names, figures = column_widths(wall)
    widths = [f"width:{names:.2f}em", None, *(f"width:{wide:.2f}em" for wide in figures)]
    title = tag("div", wall.work, class_="title")
    few = [tag("div", wall.few)] if wall.few else []
    heads = [
        tag("th", drawing(column.picture), tag("div", column.name), scope="col", class_="figures")
        for column in wall.columns
    ]
    return tag(
        "table",
        tag("colgroup", *(tag("col", style=width) for width in widths)),
        tag("thead", tag("tr", tag("th", title, *few, colspan="2", class_="title"), *heads)),
        tag("tbody", *(_month(month, wall.columns) for month in wall.months)),
        class_="months",
    )


def _month(month: Month, columns: Iterable[Column]) -> Html:
    works = [_line(picture, said) for picture, said in month.works]
    also = [tag("div", month.also, class_="line")] if month.also else []
    figures = [
        tag("td", figure, class_="figures strong" if column.strong else "figures")
        for figure, column in zip(month.figures, columns, strict=True)
    ]
    return tag("tr", tag("th", month.name, scope="row"), tag("td", tag("div", *works, *also, class_="works")), *figures)


def _below(wall: Wall, columns: int) -> Html:
    """What to buy and the cautions: run on in columns, or the one above the other."""
    buy = _titled("buy", wall.buy)
    things = [
        *(map(_listed, wall.baskets) if wall.priced else map(_named, wall.baskets)),
        paragraphs([wall.more_items]),
    ]
    beware, cautions = _titled("beware", wall.beware), bullets(wall.cautions)
    style = f"columns:{columns}"
    if wall.priced:
        return tag("div", buy, *things, beware, cautions, class_="below", style=style)
    return join([buy, *things, beware, tag("div", cautions, class_="below", style=style)])


def _line(picture: str, said: str) -> Html:
    """Words beside a drawing."""
    return tag("div", drawing(picture), tag("span", said), class_="line")


def _check(check: Check) -> Html:
    said = [_line(picture, line) for picture, line in check.said]
    boxes = [_row(row, field.name if row is field.rows[0] else "") for field in check.fields for row in field.rows]
    more = [tag("span", check.more)] if check.more else []
    return tag("tr", tag("th", check.name, scope="row"), tag("td", tag("div", *said, *boxes, *more, class_="works")))


def _row(row: Row, field: str) -> Html:
    """A box to write a number in, between its month and the trees; the first after the name of its field."""
    name = [tag("b", field), " "] if field else []
    box = tag("span", row.month, tag("span", class_="write"), row.trees, " ", row.expected, class_="whole")
    return tag("span", *name, box)


def _listed(basket: Basket) -> Html:
    """What to buy by a month, a line each with a box to tick."""
    items = [_item(what, tag("span", cost, class_="cost")) for what, cost in basket.items]
    return join([*[tag("h3", basket.by)] * bool(basket.by), *items])


def _named(basket: Basket) -> Html:
    """What to buy by a month, side by side."""
    head = tag("b", basket.by, class_="item")
    return tag("div", head, *(_item(what) for what, _ in basket.items), class_="items")


def _item(what: str, *cost: Html) -> Html:
    return tag("div", tag("span", class_="box"), tag("span", what), *cost, class_="item")
