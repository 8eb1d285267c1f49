"""What a finished run comes to: its one sentence, notes, tables, pictures, and the lists that stand in its folder."""

from collections.abc import Mapping
from dataclasses import dataclass
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
    """A run told. tables: the last one names who stands first. lists: by the name of the file they stand in."""

    group: Group | PlanGroup | Book
    head: str
    notes: list[str]
    tables: tuple[Table, ...]
    charts: tuple[Chart, ...]
    lists: dict[str, pd.DataFrame]
    voice: Voice

    def page(self, stamp: str) -> str:
        """The summary as one HTML file."""
        return summary(self.head, self.charts, self.tables[-1], self.notes, stamp, self.voice)


def compared(place: Path, told: Mapping[str, Any], words: Words) -> Outcome:
    """A comparison told."""
    group, voice, labels = group_of(place), voice_of(told, words), labels_of(told)
    tables = (said.ways_table(group, labels, voice), said.first_table(group, labels, voice))
    lists = {said.WHO: group.first}
    head, notes = said.sentence(group, voice), said.further(group, told, voice)
    return Outcome(group, head, notes, tables, charts_of(group, labels, voice), lists, voice)


def planned(place: Path, told: Mapping[str, Any], words: Words) -> Outcome:
    """Plans told."""
    group, voice, labels = plans_of(place), voice_of(told, words), labels_of(told)
    tables = (said.needs_table(group, labels, voice), said.plans_table(group, voice))
    lists = {said.WHO: group.first, said.MONTHS: group.months}
    head, notes = said.plan_sentence(group, voice), said.plan_notes(group, told, voice)
    return Outcome(group, head, notes, tables, plan_charts(group, labels, voice), lists, voice)


def booked(place: Path, told: Mapping[str, Any], words: Words) -> Outcome:
    """A lender's book told."""
    options, voice = told["options"], voice_of(told, words)
    book = book_of(place, options["strata"], options["draws"]["number"])
    tables = (lent.prices_table(book, voice), lent.worst_months_table(book, voice))
    head, notes = lent.book_sentence(book, voice), lent.book_notes(book, told, voice)
    return Outcome(book, head, notes, tables, book_charts(book, voice), {lent.BOOK: book.table}, voice)


def labels_of(told: Mapping[str, Any]) -> dict[str, str]:
    """The names that a run's templates give their own ways."""
    return {str(key): str(label) for key, label in told["options"]["labels"].items()}


def voice_of(told: Mapping[str, Any], words: Words) -> Voice:
    """The voice of a run: its language and the currency of its templates."""
    return Voice(words, str(told["options"]["currency"]))
