"""What a finished run comes to: its one sentence, notes, tables, pictures, and the lists that stand in its folder."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from renovation.farms.booked import Book, book_of
from renovation.farms.group import Group, group_of
from renovation.farms.planned import PlanGroup, plans_of
from renovation.show.farms import book as lent
from renovation.show.farms import said
from renovation.show.farms.charts import book_charts, charts_of, plan_charts
from renovation.show.farms.page import summary
from renovation.show.grid import Table
from renovation.show.vega import Chart
from renovation.show.voice import Voice
from renovation.words import Words


@dataclass(frozen=True)
class Outcome:
    """A run told.

    tables: the last one stands on the summary; but for a book it names who stands first. lists: by the name of the
    file they stand in. listed: rows of `first` as a table; None of a book, which puts no farm first.
    """

    group: Group | PlanGroup | Book
    head: str
    notes: list[str]
    tables: tuple[Table, ...]
    charts: tuple[Chart, ...]
    lists: dict[str, pd.DataFrame]
    voice: Voice
    labels: Mapping[str, str]
    listed: Callable[[pd.DataFrame], Table] | None

    @property
    def first(self) -> pd.DataFrame:
        """The farms, those who gain most first; none of a book."""
        return pd.DataFrame({"farm": []}) if isinstance(self.group, Book) else self.group.first

    def way(self, key: str) -> str:
        """A way by its name."""
        return said.way_of(key, self.labels, self.voice)

    def page(self, stamp: str) -> str:
        """The summary as one HTML file."""
        return summary(self.head, self.charts, self.tables[-1], self.notes, stamp, self.voice)


def outcome_of(place: Path, told: Mapping[str, Any], words: Words) -> Outcome:
    """What a finished run comes to, by what it was asked; numbers as the country of its templates writes them."""
    words = words.for_country(told["options"].get("country"))
    return {"plan": planned, "book": booked}.get(told["command"], compared)(place, told, words)


def compared(place: Path, told: Mapping[str, Any], words: Words) -> Outcome:
    """A comparison told."""
    group, voice, labels = group_of(place), voice_of(told, words), labels_of(told)
    listed = partial(said.first_table, labels=labels, voice=voice)
    tables = (said.ways_table(group, labels, voice), listed(group.first.head(said.SHOWN)))
    lists = {said.WHO: group.first}
    head, notes = said.sentence(group, voice), said.further(group, told, voice)
    return Outcome(group, head, notes, tables, charts_of(group, labels, voice), lists, voice, labels, listed)


def planned(place: Path, told: Mapping[str, Any], words: Words) -> Outcome:
    """Plans told."""
    group, voice, labels = plans_of(place), voice_of(told, words), labels_of(told)
    listed = partial(said.plans_table, voice=voice)
    tables = (said.needs_table(group, labels, voice), listed(group.first.head(said.SHOWN)))
    lists = {said.WHO: group.first, said.MONTHS: group.months}
    head, notes = said.plan_sentence(group, voice), said.plan_notes(group, told, voice)
    return Outcome(group, head, notes, tables, plan_charts(group, labels, voice), lists, voice, labels, listed)


def booked(place: Path, told: Mapping[str, Any], words: Words) -> Outcome:
    """A lender's book told."""
    options, voice = told["options"], voice_of(told, words)
    book = book_of(place, options["strata"], options["draws"]["number"])
    tables = (lent.prices_table(book, voice), lent.worst_months_table(book, voice))
    labels = labels_of(told)
    head, notes = lent.book_sentence(book, voice), lent.book_notes(book, told, labels, voice)
    lists = {lent.BOOK: book.table}
    return Outcome(book, head, notes, tables, book_charts(book, voice), lists, voice, labels, listed=None)


def labels_of(told: Mapping[str, Any]) -> dict[str, str]:
    """The names that a run's templates give their own ways."""
    return {str(key): str(label) for key, label in told["options"]["labels"].items()}


def voice_of(told: Mapping[str, Any], words: Words) -> Voice:
    """The voice of a run: its language and the currency of its templates."""
    return Voice(words, str(told["options"]["currency"]))
