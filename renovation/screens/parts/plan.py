"""The plan as it stands, row by row: which trees of which stand, by which way, from which month on."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, ScenarioError, Treatment, month_count, year_month
from renovation.inputs.scenario import Plot
from renovation.screens.controls import drivers
from renovation.screens.controls.fields import Place, choice, decimal_input
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]
Row = Mapping[str, Any]


def draw(farm: Scenario, words: Words) -> None:
    """Every row in a box of its own, and a button for one more."""
    st.markdown(words("screen.cash.plan_lead"))
    for position, row in enumerate(farm.plan):
        with st.expander(plain(_said(farm, row, words)), expanded=position == 0, key=key_of(f"work_box_{position}")):
            _row(farm, position, row, words)
    new = next_row(farm)
    if new is None:
        st.caption(words("screen.cash.all_planned"))
        return
    st.button(words("screen.cash.add", work=plain(_said(farm, new, words))), key=key_of("add_work"), on_click=_add)


def _said(farm: Scenario, row: Treatment, words: Words) -> str:
    """A row in words: trees, stand, way, month."""
    return words(
        "screen.cash.work",
        trees=words("unit.trees", n=row.trees),
        stand=row.stand,
        way=Voice.of(farm, words).way(row.technique),
        month=words.month(row.start),
    )


def _row(farm: Scenario, position: int, row: Treatment, words: Words) -> None:
    """One row: stand, way, trees, first month, and the way out."""
    left, right = st.columns(2)
    with left:
        stands = [stand.name for stand in farm.stands if not stand.untouched and suited(farm, stand.name)]
        _pick(words("screen.cash.stand"), stands, position, "stand", row.stand, str)
        at = Place(("plan", position, "trees"), put=_put(position, "trees"))
        decimal_input(words("screen.cash.trees"), at)
    with right:
        ways = suited(farm, row.stand)
        _pick(
            words("screen.cash.way"), ways, position, "technique", row.technique, lambda k: Voice.of(farm, words).way(k)
        )
        months = start_months(farm, row.technique)
        _pick(words("screen.cash.start"), months, position, "start", row.start, words.month)
    st.button(
        words("screen.cash.remove"),
        key=key_of(f"remove_work_{position}"),
        on_click=_remove,
        args=(position,),
    )


def _pick(
    label: str, options: list[str], position: int, field: str, now: str, say_option: Callable[[str], str]
) -> None:
    """One of the possible entries of a field; the one in force is always among them."""
    offered = options if now in options else [now, *options]
    put = _put(position, field)
    choice(label, offered, now, put, name=f"plan.{position}.{field}", say_option=say_option)


# What is possible


def suited(farm: Scenario, stand: str) -> list[str]:
    """Ways that suit a stand and can start within the years looked at.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> suited(demo_scenario(), "Gap field")
        ['rooted_cutting', 'grafted_seedling', 'air_layer', 'underplanting']
    """
    named = farm.stand(stand).techniques
    ways = farm.techniques if named is None else [way for way in named if way in farm.techniques]
    planted = farm.stand(stand).empty_places > 0
    here = [way for way in ways if planted or farm.techniques[way].works_on == "trees"]
    return [way for way in here if start_months(farm, way)]


def start_months(farm: Scenario, way: str) -> list[str]:
    """Months `YYYY-MM` in which a way may start: its own calendar months, its nursery not before month 0.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> start_months(demo_scenario(), "rooted_cutting")[0]
        '2027-09'
    """
    technique = farm.techniques[way]
    first = month_count(farm.appraisal.start)
    months = range(first - technique.earliest_month, first + farm.appraisal.months)
    allowed = technique.start_months or range(1, 13)
    return [year_month(month) for month in months if month % 12 + 1 in allowed]


def left_free(farm: Scenario, plot: Plot) -> int:
    """Trees or empty places of a plot that are not under way and that the plan leaves as they are."""
    if plot.stand.untouched:
        return 0
    here = [row for row in farm.plan if row.stand == plot.name]
    return plot.free - sum(row.trees for row in here if farm.techniques[row.technique].works_on == plot.works_on)


def next_row(farm: Scenario) -> Treatment | None:
    """The next row to offer: the trees, stand and way that the comparison weighs, else what is left of another stand.

    It starts in the way's first possible month after the plan's last start. None where every tree and empty place is
    planned.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> next_row(demo_scenario().changed(plan=())).trees
        200
    """
    weighed = drivers.compared_stand(farm)
    for plot in sorted(farm.plots, key=lambda one: (one.works_on != "trees", one.name != weighed)):
        free, name = left_free(farm, plot), plot.name
        ways = [key for key in suited(farm, name) if farm.techniques[key].works_on == plot.works_on]
        if free > 0 and ways:
            way = next((key for key in (farm.comparison.headline, farm.comparison.against) if key in ways), ways[0])
            months = start_months(farm, way)
            last = max((row.start for row in farm.plan if row.stand == name), default="")
            start = next((month for month in months if month > last), months[-1])
            return Treatment(stand=name, technique=way, trees=min(free, drivers.compared_trees(farm)), start=start)
    return None


# Changes


def _put(position: int, field: str) -> Callable[[Any], Changes]:
    """Turn what was chosen into the whole plan with that row changed, and kept possible."""

    def put(value: Any) -> Changes:
        farm, words = state.scenario(), state.words()
        row = {**farm.plan[position].model_dump(), field: value}
        said = [] if field == "trees" else _fit(farm, row, words)
        changes = {"plan": _with(farm, position, row)}
        if said and _holds(farm, changes):
            state.say_once("problems", said)
        return changes

    return put


def _fit(farm: Scenario, row: dict[str, Any], words: Words) -> list[str]:
    """Let the way suit the stand and the month suit the way; say what had to move."""
    said = []
    ways = suited(farm, row["stand"])
    if row["technique"] not in ways and ways:
        old, row["technique"] = row["technique"], ways[0]
        voice = Voice.of(farm, words)
        facts = {"old": voice.way_inside(old), "way": voice.way_inside(ways[0])}
        said.append(voice.sentence("screen.cash.way_changed", stand=row["stand"], **facts))
    months = start_months(farm, row["technique"])
    if row["start"] not in months and months:
        old, row["start"] = row["start"], next((month for month in months if month > row["start"]), months[-1])
        facts = {"old": words.month(old), "month": words.month(row["start"])}
        voice = Voice.of(farm, words)
        said.append(voice.sentence("screen.cash.moved", way=voice.way_inside(row["technique"]), **facts))
    return said


def _holds(farm: Scenario, changes: Changes) -> bool:
    """Whether the farm accepts these changes."""
    try:
        farm.changed(**changes)
    except ScenarioError:
        return False
    return True


def _with(farm: Scenario, position: int, row: Row) -> tuple[Row, ...]:
    """The plan with one row in another's place, as tables."""
    rows = [treatment.model_dump() for treatment in farm.plan]
    return (*rows[:position], row, *rows[position + 1 :])


def _add() -> None:
    """Add the row on offer."""
    farm = state.scenario()
    new = next_row(farm)
    if new is not None:
        state.say_problems(state.change({"plan": _with(farm, len(farm.plan), new.model_dump())}))


def _remove(position: int) -> None:
    """Take a row out."""
    rows = [row.model_dump() for place, row in enumerate(state.scenario().plan) if place != position]
    state.say_problems(state.change({"plan": tuple(rows)}))
    state.memory("refused").clear()
