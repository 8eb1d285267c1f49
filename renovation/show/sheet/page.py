"""The wall sheet as one HTML file: a page a season, no script, nothing fetched, black on white."""

from collections.abc import Iterable
from datetime import date
from importlib import resources

from renovation.decide.plan import Plan, replay, sheet
from renovation.show import pictures
from renovation.show.report.document import file_of
from renovation.show.report.html import Html, bullets, join, paragraphs, tag
from renovation.show.sheet.fit import columns_of, size_of
from renovation.show.sheet.wall import LINE, Card, Check, Month, Row, Wall, wall_of
from renovation.version import __version__
from renovation.words import Words


def wall_sheet(plan: Plan, words: Words, day: date, years: Iterable[int] = (1,)) -> str:
    """One HTML file with a page for each of these project years of a plan.

    Raises ValueError for a year outside the horizon, as `sheet` does.

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
    walls = [wall_of(plan, sheet(plan, year, replayed), words) for year in years]
    style = resources.files("renovation.show.sheet").joinpath("sheet.css").read_text("utf-8")
    title = words("sheet.title", name=plan.scenario.about.name, season=walls[0].season)
    return file_of(title, Html(style), join(_page(wall, stamp, words) for wall in walls), words)


def drawing(name: str) -> Html:
    """A drawing, hidden from a reader aloud: the words beside it say the same."""
    return Html(pictures.svg(name).replace("<svg", '<svg aria-hidden="true"', 1))


def _page(wall: Wall, stamp: str, words: Words) -> Html:
    """One season."""
    invented = [tag("p", wall.invented, class_="invented")] if wall.invented else []
    columns = [tag("div", _titled("buy", "sheet.buy", words), _items(wall), class_="buy")]
    columns.append(tag("div", _titled("beware", "sheet.beware", words), bullets(wall.cautions), class_="beware"))
    checks = []
    if wall.checks:
        checks.append(_titled("look", "sheet.checks", words))
        checks.append(_side_by_side(map(_check, wall.checks), columns_of(wall.checks)))
    return tag(
        "section",
        tag("header", tag("h1", wall.name), *invented, tag("p", wall.season, class_="season")),
        paragraphs(wall.marks, class_="mark"),
        tag("h2", wall.head, class_="head"),
        _side_by_side(map(_card, wall.cards), columns_of(wall.cards)) if wall.cards else "",
        paragraphs(wall.notes),
        tag("h2", words("sheet.months")),
        tag("div", *map(_month, wall.months), class_="months"),
        tag("p", wall.money_note, class_="note"),
        *(
            [_titled("look", "sheet.checks", words), _side_by_side(map(_check, wall.checks), columns_of(wall.checks))]
            * bool(wall.checks)
        ),
        tag("div", *columns, class_="below"),
        tag("footer", stamp),
        class_="sheet",
        style=f"font-size:{size_of(wall):g}pt",
    )


def _side_by_side(parts: Iterable[Html], columns: int) -> Html:
    """Parts in so many columns of one width."""
    return tag("div", *parts, class_="parts", style=f"grid-template-columns:repeat({columns},1fr)")


def _titled(sign: str, key: str, words: Words) -> Html:
    """A title with its drawing."""
    return tag("h2", drawing(pictures.sign(sign)), words(key))


def _card(card: Card) -> Html:
    how = tag("div", tag("b", card.where), tag("div", card.how))
    return tag("div", drawing(card.picture), tag("span", card.trees, class_="figure"), how, class_="card")


def _month(month: Month) -> Html:
    works = tag("div", *(_line(picture, said) for picture, said in month.works), class_="works")
    also = [tag("p", month.also)] if month.also else []
    money = [_line(pictures.sign("money"), month.money, "strong")] if month.money else []
    hands = _line(pictures.sign("hands"), month.hands, "hands")
    return tag("div", tag("h3", month.name), works, *also, hands, *money, class_="month")


def _line(picture: str, said: str, class_: str | None = None) -> Html:
    return tag("div", drawing(picture), tag("span", said), class_=" ".join(["line", class_ or ""]).strip())


def _check(check: Check) -> Html:
    fields = [
        tag("div", *[tag("b", field.name)] * bool(field.name), *map(_row, field.rows), class_="field")
        for field in check.fields
    ]
    more = [tag("p", check.more)] if check.more else []
    return tag(
        "div", tag("h3", drawing(check.picture), check.name), paragraphs(check.said), *fields, *more, class_="check"
    )


def _row(row: Row) -> Html:
    said = tag("span", tag("b", row.month), " ", _written(row.alive), " ", row.expected)
    return tag("div", tag("span", class_="box"), said, class_="row")


def _written(said: str) -> Html:
    """A text in which the room for a number is a line to write on."""
    before, room, after = said.partition(LINE)
    return join([before, *[tag("span", class_="write")] * bool(room), after])


def _items(wall: Wall) -> Html:
    rows = [
        tag("tr", tag("td", what, " ", tag("small", by)), tag("td", cost, class_="right"))
        for what, by, cost in wall.items
    ]
    more = [tag("p", wall.more_items)] if wall.more_items else []
    return join([tag("table", tag("tbody", *rows)) if rows else Html(""), *more, tag("p", tag("b", wall.total))])
