"""The season: what the family counted in it, and next year's farm."""

from contextlib import suppress
from datetime import date

import streamlit as st

from renovation.inputs import Scenario, ScenarioError, read_season, season_cells, season_csv
from renovation.money import LoanError
from renovation.screens.controls.sidebar import file_name
from renovation.screens.controls.text import plain
from renovation.screens.memory import cash as cash_results
from renovation.screens.memory import season as kept
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.screens.parts import followed, happened, head, next_year, season_form, wall
from renovation.show.season.blank import season_page
from renovation.show.voice import Voice
from renovation.words import Words

NOTE = "season_file"
YEAR = 12


def draw() -> None:
    """Draw the page."""
    farm, words = head.begin("screen.season.title")
    followed.draw(farm, words)
    st.markdown(words("screen.season.lead", month=words.month(farm.appraisal.start)))
    _works(farm, words)
    _tables(words)
    season_form.draw(farm, words)
    found = kept.in_hand(farm)
    if found is not None:
        record, as_planned = found
        happened.draw(farm, record, words, as_planned=as_planned)
        if farm.loans:
            st.caption(words("screen.season.loans_where"))
        next_year.draw(farm, record, words, as_planned=as_planned)


def _works(farm: Scenario, words: Words) -> None:
    """The season's works, drawn; none where a loan that cannot be is refused further down."""
    with suppress(LoanError):
        work = cash_results.family(farm).labour.work
        months = ({kind: float(days[month]) for kind, days in work.items()} for month in range(YEAR))
        wall.drawings(months, Voice.of(farm, words))


def _tables(words: Words) -> None:
    """The empty table to fill in elsewhere, and a filled one back."""
    farm = state.scenario()
    stem = f"{file_name(farm).removesuffix('.toml')}_season"
    with st.expander(words("screen.season.tables")):
        with st.container(horizontal=True):
            st.download_button(
                words("screen.season.blank_csv"),
                season_csv(season_cells(farm)),
                file_name=f"{stem}.csv",
                mime="text/csv",
                on_click="ignore",
                key=key_of("blank_csv"),
            )
            st.download_button(
                words("screen.season.blank_page"),
                lambda: season_page(farm, words, date.today()),
                file_name=f"{stem}.html",
                mime="text/html",
                on_click="ignore",
                key=key_of("blank_page"),
            )
        upload = key_of("season_upload")
        st.file_uploader(words("screen.season.upload"), type=["csv"], key=upload, on_change=_read, args=(upload,))
        if refused := state.memory("notes").get(NOTE):
            st.error("\n\n".join(map(plain, refused)))


def _read(key: str) -> None:
    """Keep the record of a file; say every mistake in it where it has any."""
    notes, upload = state.memory("notes"), st.session_state[key]
    notes.pop(NOTE, None)
    if upload is None:
        return
    try:
        record = read_season(upload.getvalue(), upload.name, state.scenario())
    except ScenarioError as error:
        notes[NOTE] = error.sentences(state.words())
        return
    kept.keep(record, as_planned=False)
