"""A form for one entry more of a list of the farm: its numbers are typed together and read together."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from renovation.screens.controls.fields import Path, Place, echo, field_words, read_number
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of


@dataclass(frozen=True)
class NewEntry:
    """One entry more: a loan, a record.

    name: in the keys of its controls. at: where the list stands. number: the entry's place in it, from 0. fields: its
    numbers.
    """

    name: str
    at: Path
    number: int
    fields: tuple[str, ...]

    def box(self) -> DeltaGenerator:
        """The form that its controls stand in."""
        return st.form(key_of(f"{self.name}_{self.number}"), border=True, enter_to_submit=False)

    def key(self, field: str) -> str:
        """The key of a control in the form."""
        return key_of(f"{self.name}_{self.number}.{field}")

    def draw(self, columns: Sequence[DeltaGenerator]) -> None:
        """A control for each number, column by column."""
        for place, field in enumerate(self.fields):
            label, help_text = self._words(field)
            columns[place % len(columns)].text_input(label, key=self.key(field), help=help_text, autocomplete=NUMBER)

    def read(self) -> tuple[dict[str, Any], list[str]]:
        """What could be read, by the name of its field, and what is wrong with the others."""
        words = state.words()
        values: dict[str, Any] = {}
        said = []
        echo(st.session_state[self.key(field)] for field in self.fields)
        for field in self.fields:
            values[field], refusal = read_number(st.session_state[self.key(field)], self._place(field))
            if refusal:
                label, _ = self._words(field)
                said.append(words("screen.lender.in_field", field=label, why=refusal))
        return values, said

    def _place(self, field: str) -> Place:
        """Where a number goes."""
        return Place((*self.at, self.number, field))

    def _words(self, field: str) -> tuple[str, str]:
        """A number's name and meaning."""
        return field_words(self._place(field).shape.model, field, state.words())

    def settle(self, refused: Sequence[str]) -> None:
        """Keep in mind why the entry was not added; nothing where it was."""
        notes = state.memory("notes")
        notes.pop(self.name, None)
        if refused:
            notes[self.name] = refused

    def say_refusal(self) -> None:
        """Say beneath the form why the entry was not added."""
        refused = state.memory("notes").get(self.name)
        if refused:
            st.error("\n\n".join(map(plain, refused)))
