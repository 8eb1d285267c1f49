"""Sentences and tables of a lender's book."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from renovation.farms.booked import ALL, MONTH, Book
from renovation.show.farms.said import SHOWN, missing, way_of
from renovation.show.grid import Column, Table
from renovation.show.voice import Voice

BOOK = "book.csv"
FIGURES = ("missed", "missed_p90", "missed_worst_tenth")


def book_sentence(book: Book, voice: Voice) -> str:
    """What all instalments come to, in one sentence."""
    whole, farms = book.whole, voice("run.farms", n=book.farms)
    if not whole:
        return voice("run.book.none", farms=farms)
    counts = {name: _count(whole[name], voice) for name in ("instalments", *FIGURES)}
    return voice("run.book.head", farms=farms, share=voice.words.percent(whole["share_missed"], 1), **counts)


def book_notes(book: Book, told: Mapping[str, Any], labels: Mapping[str, str], voice: Voice) -> list[str]:
    """What else is to be known of the book: when the money is due, of how many farms it comes, what it leaves out."""
    said, whole = [], book.whole
    if whole:
        said.append(voice("run.book.outside", share=voice.words.percent(whole["share_outside_harvest"])))
    if book.worked < book.farms:
        facts = {"worked": voice("run.farms", n=book.worked), "farms": voice("run.farms", n=book.farms)}
        said.append(voice("run.book.sample", error=_count(whole.get("error_of_sample", 0.0), voice), **facts))
    way = told["options"].get("way")
    keys = ("as_it_is" if way is None else "as_way", "common", "chances")
    named = {} if way is None else {"way": way_of(way, labels, voice)}
    error = _count(whole.get("error_of_futures", 0.0), voice)
    common = voice.words.percent(told["options"]["draws"]["season"])
    facts = {"season": common, "error": error, "futures": voice.words.number(book.futures), **named}
    notes = [voice(f"run.book.{key}", **facts) for key in keys]
    return [*said, voice("run.book.file", file=BOOK), *missing(told, voice), *notes, voice("run.said.private")]


def prices_table(book: Book, voice: Voice) -> Table:
    """What is missed at the expected price and at lower ones."""
    rows = book.table[book.table["by"] == ALL]
    names = [voice("run.book.lower", share=voice.words.percent(1 - price)) for price in rows["price"]]
    names[:1] = [voice("run.book.price_expected")] * bool(names)  # the first is the whole price
    return _table("prices", "price", names, rows, voice)


def worst_months_table(book: Book, voice: Voice) -> Table:
    """The months in which most is missed at the expected price, in their order."""
    rows = book.of(MONTH).sort_values(["missed", "name"], ascending=[False, True], kind="stable")
    rows = rows[rows["missed"] > 0].head(SHOWN).sort_values("name")
    return _table("months", "month", [voice.words.month(str(name)) for name in rows["name"]], rows, voice)


def _table(title: str, first: str, names: list[str], rows: pd.DataFrame, voice: Voice) -> Table:
    keys = ("instalments", *FIGURES)
    heads = [Column(key, voice(f"run.book.{key}"), "left" if key == first else "right") for key in (first, *keys)]
    cells = zip(*(rows[key] for key in keys), strict=True)
    told = tuple((name, *(_count(cell, voice) for cell in some)) for name, some in zip(names, cells, strict=True))
    return Table(voice(f"run.book.{title}"), tuple(heads), told)


def _count(value: float, voice: Voice) -> str:
    """How many on average: whole from ten on, never 0 where there is some."""
    if 0 < value < 0.05:
        return voice("run.book.below", number=voice.words.number(0.1, 1))
    return voice.words.number(value, 0 if value == 0 or value >= 10 else 1)
