"""The folder of many farms that the dashboard was started with: what its run comes to, and any of its farms.

Only whoever starts the dashboard names a folder. A visitor names none: a server must not read what a stranger asks for.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from renovation.screens.memory import state
from renovation.version import __version__
from renovation.words import languages

if TYPE_CHECKING:
    from renovation.farms.kept import Kept
    from renovation.show.farms.outcome import Outcome

FOLDER = "RENOVATION_FARMS"
"""The variable of the environment that names the folder."""


@dataclass(frozen=True, eq=False)
class Opened:
    """A finished run. kept: its farms, None where the folder does not hold them. villages: of `outcome.first`."""

    name: str
    told: Mapping[str, Any]
    outcome: "Outcome"
    kept: "Kept | None"
    villages: Mapping[str, str]

    @property
    def day(self) -> date:
        """When it was finished."""
        return datetime.fromisoformat(str(self.told["ended"])).date()


class Unopened(Exception):  # noqa: N818 - an event that the page words
    """The folder holds no run that can be shown; its text is the sentence."""


def folder() -> Path | None:
    """The folder that the dashboard was started with."""
    named = os.environ.get(FOLDER, "").strip()
    return Path(named) if named else None


def opened(place: Path) -> Opened:
    """The finished run in a folder. Errors: Unopened."""
    words, name = state.words(), place.absolute().name
    try:
        from renovation.farms.run import NotTheSame, read_note
    except ImportError:
        raise Unopened(words("screen.farms.no_library")) from None
    try:
        told = read_note(place)
    except NotTheSame:
        raise Unopened(words("screen.farms.no_run", folder=name)) from None
    if told.get("status") != "done":
        raise Unopened(words("screen.farms.not_finished", folder=name))
    if told.get("version") != __version__:
        raise Unopened(words("screen.farms.other_version", folder=name, found=told.get("version"), own=__version__))
    try:
        return _opened(str(place), str(told["ended"]), words.language, told)
    except (OSError, ValueError, KeyError, TypeError):
        raise Unopened(words("screen.farms.damaged", folder=name)) from None


@st.cache_resource(max_entries=len(languages()), show_spinner=False)
def _opened(place: str, ended: str, language: str, _told: Mapping[str, Any]) -> Opened:  # noqa: ARG001 - a key
    """The run of this end, once for all visitors of a language: a million farms take seconds."""
    from renovation.show.farms.outcome import outcome_of

    outcome = outcome_of(Path(place), _told, state.words())
    found = _kept(place, ended, _told)
    villages = found.villages(outcome.first["farm"]) if found else {}
    return Opened(Path(place).absolute().name, _told, outcome, found, villages)


@st.cache_resource(max_entries=1, show_spinner=False)
def _kept(place: str, ended: str, _told: Mapping[str, Any]) -> "Kept | None":  # noqa: ARG001 - part of the key
    """The farms themselves, once for all languages, where the folder holds them and what reads them is installed."""
    try:
        from renovation.farms.kept import NotKept, kept
    except ImportError:
        return None
    try:
        return kept(Path(place), _told)
    except NotKept:
        return None


def take_up(found: Opened, farm: str) -> bool:
    """Put one of the farms in hand, as a file is opened; whether it could be read."""
    from renovation.inputs import ScenarioError

    if found.kept is None:
        return False
    try:
        scenario = found.kept.farm(farm)
    except (KeyError, ScenarioError):
        return False
    state.take_up(scenario, state.words()("screen.farms.origin", farm=farm, folder=found.name), is_demo=False)
    return True
