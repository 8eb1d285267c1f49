"""What was counted in a season, written into the rows of the farm's own table; any of them may stay empty."""

from collections.abc import Sequence
from itertools import groupby

import streamlit as st

from renovation.inputs import (
    Problem,
    Scenario,
    ScenarioError,
    month_count,
    read_decimal,
    season_cells,
    write_decimal,
    year_month,
)
from renovation.inputs.rows import Row
from renovation.inputs.season_csv import record_of
from renovation.inputs.season_table import FIGURES
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import in_columns, plain
from renovation.screens.memory import season as kept
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.voice import Voice
from renovation.words import Words

Cells = dict[str, str]
NAMES = ("stand", "technique", "start")
COUNTS = ("made", "taken", "given_up", "prepared")
GROUPS = {
    "beans": ("kg_sold", "price_per_kg"),
    "days": ("family_days", "hired_days"),
    "money": (
        "spent_on_supplies",
        "spent_on_wages",
        "spent_on_household",
        "spent_in_all",
        "other_income",
        "money_in_hand",
    ),
    "loans": ("loan_received", "loan_paid", "loan_owed"),
}
"""Parts of the form beside the trees, with the figures that stand in each."""
NOTE, OTHER = "season_form", "other"
YEAR = 12


def draw(farm: Scenario, words: Words) -> None:
    """The form, and beneath it what stands against what was written."""
    rows = season_cells(farm)
    with st.form(key_of("season_form"), border=True, enter_to_submit=False):
        _trees(farm, [row for row in rows if row["what"] in COUNTS], words)
        _other_trees(farm, words)
        for name, figures in GROUPS.items():
            found = [row for row in rows if row["what"] in figures]
            if found:
                st.markdown(f"**{words(f'screen.season.part.{name}')}**")
                _figures(farm, [row for row in found if not row["month"]], words)
            if by_month := [row for row in found if row["month"]]:
                with st.expander(words("screen.season.by_month")):
                    st.caption(words("screen.season.by_month_lead"))
                    _figures(farm, by_month, words)
        st.toggle(words("screen.season.as_planned"), key=key_of("season_as_planned"))
        st.form_submit_button(words("screen.season.take_in"), on_click=_take_in)
    if refused := state.memory("notes").get(NOTE):
        st.error("\n\n".join(map(plain, refused)))


def _figures(farm: Scenario, rows: Sequence[Cells], words: Words) -> None:
    """A field for each figure, three in a row."""
    for row in in_columns(rows, 3, stand="bottom"):
        st.text_input(plain(_label(row, farm, words)), key=_key(row), help=_help(row, words), autocomplete=NUMBER)


def _trees(farm: Scenario, rows: Sequence[Cells], words: Words) -> None:
    """Groups of trees, each under its name: what was made and took at each try, what was given up."""
    for names, group in groupby(rows, key=lambda row: tuple(row[name] for name in NAMES)):
        st.markdown(f"**{plain(_group(names, farm, words))}**")
        for row in in_columns(list(group), 4, stand="bottom"):
            st.text_input(plain(_count_label(row, words)), key=_key(row), help=_help(row, words), autocomplete=NUMBER)


def _other_trees(farm: Scenario, words: Words) -> None:
    """Trees that no row foresees: stand, way, month, made, took."""
    voice, first = Voice.of(farm, words), month_count(farm.appraisal.start)
    with st.expander(words("screen.season.other_trees")):
        columns = st.columns(3, vertical_alignment="bottom")
        columns[0].selectbox(
            words("field.Cohort.stand.label"), [stand.name for stand in farm.stands], key=_other_key("stand")
        )
        columns[1].selectbox(
            words("field.Cohort.technique.label"),
            list(farm.techniques),
            key=_other_key("technique"),
            format_func=voice.way,
        )
        columns[2].selectbox(
            words("field.Cohort.start.label"),
            [year_month(first + month) for month in range(YEAR)],
            key=_other_key("start"),
            format_func=words.month,
        )
        left, right = st.columns(2, vertical_alignment="bottom")
        left.text_input(words("field.Try.made.label"), key=_other_key("made"), autocomplete=NUMBER)
        right.text_input(words("field.Try.taken.label"), key=_other_key("taken"), autocomplete=NUMBER)


def _take_in() -> None:
    """Keep what was written where all of it can be read and fits the farm; else say what does not."""
    farm, words = state.scenario(), state.words()
    rows = [{**row, "value": row["value"] or _typed(_key(row), words)} for row in season_cells(farm)]
    names = {name: str(st.session_state[_other_key(name)]) for name in NAMES}
    for what in ("made", "taken"):
        rows.append({**rows[0], "what": what, **names, "try": "1", "value": _typed(_other_key(what), words)})
    notes = state.memory("notes")
    notes.pop(NOTE, None)
    try:
        record = record_of([Row(place, row) for place, row in enumerate(rows)], farm.about.name, farm)
    except ScenarioError as error:
        notes[NOTE] = [_said(problem, rows, farm, words) for problem in error.problems]
        return
    kept.keep(record, as_planned=bool(st.session_state[key_of("season_as_planned")]))


def _said(problem: Problem, rows: Sequence[Cells], farm: Scenario, words: Words) -> str:
    """A mistake with the label of its row in place of the line it would have in a file."""
    row, reason = rows[int(problem.key)], problem.facts["reason"]
    label = _label(row, farm, words)
    if row["what"] in COUNTS:
        label = f"{_group(tuple(row[name] for name in NAMES), farm, words)}, {_count_label(row, words)}"
    return words("screen.lender.in_field", field=label, why=reason.sentence(words))


def _typed(key: str, words: Words) -> str:
    """A number as it stands in a file; what cannot be read as it was typed."""
    text = str(st.session_state.get(key, "")).strip()
    try:
        return write_decimal(read_decimal(text, words=words)) if text else ""
    except ScenarioError:
        return text


def _key(row: Cells) -> str:
    """The key of a row's control: all that names it."""
    return key_of(".".join(("season", *(part for name, part in row.items() if name != "value"))))


def _other_key(field: str) -> str:
    return key_of(f"season.{OTHER}.{field}")


def _help(row: Cells, words: Words) -> str:
    """What a figure is."""
    figure = FIGURES[row["what"]]
    return words(f"field.{figure.model.__name__}.{figure.field}.help")


def _group(names: tuple[str, ...], farm: Scenario, words: Words) -> str:
    """A group of trees by stand, way and start."""
    stand, technique, start = names
    way = Voice.of(farm, words).way(technique)
    if not start:
        return words("screen.season.group_new", stand=stand, way=way)
    return words("screen.season.group", stand=stand, way=way, month=words.month(start))


def _count_label(row: Cells, words: Words) -> str:
    """A count of trees, with the number of its try."""
    label = words(f"season.what.{row['what']}")
    return words("screen.season.of_try", figure=label, number=row["try"]) if row["try"] else label


def _label(row: Cells, farm: Scenario, words: Words) -> str:
    """Any other figure, with the stand, way or loan that it is of."""
    label = words(f"season.what.{row['what']}")
    way = Voice.of(farm, words).way(row["technique"]) if row["technique"] else ""
    if row["month"]:
        label = words("season.in_month", figure=label, month=words.month(row["month"]))
    whose = row["stand"] or row["loan"] or way
    return words("screen.season.figure_of", figure=label, of=whose) if whose else label
