"""The sidebar: which farm, what is compared, and the numbers that decide; drawn on every page."""

import re

import streamlit as st

from renovation.inputs import Scenario, demo_names, month_count, write_scenario, year_month
from renovation.inputs.quantities import LAST_MONTH
from renovation.screens.controls import drivers, language, room, share
from renovation.screens.controls.begin import begin_button
from renovation.screens.controls.fields import choice, decimal_input
from renovation.screens.controls.text import plain
from renovation.screens.memory import before, device, history, state
from renovation.screens.memory.state import key_of
from renovation.show.voice import Voice
from renovation.words import Words
from renovation.words.folding import folded

_YEARS_OF_START = 10
"""Start months offered: this many years from the farm's own on."""
_LEFT = ""
"""Stands in the list for the farm that was changed and then left for another."""


def draw() -> None:
    """Draw all of it."""
    words = state.words()
    history.speak()
    history.note()
    before.note()
    with st.sidebar:
        language.draw(words)
        _which_farm(words)
        _take_back(words)
        farm = state.scenario()
        st.subheader(words("screen.sidebar.compared"))
        _compared(farm, words)
        st.subheader(words("screen.sidebar.drivers"))
        _drivers(farm, words)
        st.caption(words("screen.sidebar.more"))
        room.draw(words)


def _which_farm(words: Words) -> None:
    """Choose a farm that came with the program, open a file, save this one."""
    options = [*demo_names()] if state.is_demo() else [state.origin(), *demo_names()]
    if state.left() is not None:
        options.append(_LEFT)
    key = key_of("farm")
    st.session_state.setdefault(key, state.origin())
    names = {name: _farm_name(name, words) for name in options}
    st.selectbox(
        words("screen.sidebar.farm"),
        options,
        key=key,
        format_func=lambda name: names.get(name, name),
        on_change=_choose_farm,
        args=(key,),
    )
    begin_button("sidebar")
    with st.expander(words("screen.sidebar.files")):
        upload = key_of("upload")
        st.file_uploader(
            words("screen.sidebar.open"),
            type=["toml"],
            key=upload,
            on_change=_open_file,
            args=(upload,),
            help=words("screen.sidebar.open_help"),
        )
        farm, text = state.scenario(), state.text()
        st.download_button(
            words("screen.sidebar.save"),
            lambda: write_scenario(farm, text),
            file_name=file_name(farm),
            mime="application/toml",
            on_click="ignore",
            help=words("screen.sidebar.save_help"),
            width="stretch",
        )
        share.draw(farm, words)
        if device.is_kept():
            st.caption(words("screen.device.kept"))
            st.button(words("screen.device.forget"), on_click=device.forget, width="stretch")


def _take_back(words: Words) -> None:
    """Take back the last change, or do again what was taken back; each button names it."""
    for name, do in (("back", history.take_back), ("again", history.do_again)):
        what = history.last(name)
        label = words(f"change.{name}", what=what) if what else words(f"change.{name}_nothing")
        told = plain(words("change.help", n=history.MOST))
        st.button(plain(label), key=f"history.{name}", on_click=do, disabled=not what, help=told, width="stretch")


def _farm_name(name: str, words: Words) -> str:
    """Name a farm in the list: demo farms are called invented."""
    left = state.left()
    if name == _LEFT and left is not None:
        return words("screen.sidebar.left_farm", name=left.farm.about.name)
    if not state.is_demo() and name == state.origin():
        return name
    return words("farm.invented", name=state.demo(name).about.name)


def _choose_farm(key: str) -> None:
    """Take up the chosen farm; one that is in hand already is not begun again."""
    name = st.session_state[key]
    left = state.left()
    if not state.is_of_now(key) or (state.is_demo() and name == state.origin()):
        return
    if name == _LEFT and left is not None:
        state.go_back(left)
    elif name in demo_names():
        drivers.set_beside([])
        state.take_up(state.demo(name), name, is_demo=True)


def _open_file(key: str) -> None:
    """Open the file; where it has mistakes say them all and keep the farm in hand."""
    state.memory("notes").pop("upload", None)
    upload = st.session_state[key]
    if upload is None:
        return
    kept = state.scenario().about.name
    problems = state.open_file(upload.getvalue(), upload.name)
    if problems:
        head = state.words()("screen.upload.refused", name=upload.name, kept=kept)
        state.memory("notes")["upload"] = [head, *problems]
    else:
        drivers.set_beside([])
        said = [state.words()("screen.upload.opened", name=upload.name)]
        state.say_once("opened", said if state.text() else [*said, state.words()("screen.upload.long")])


def file_name(farm: Scenario) -> str:
    """A plain file name made of the farm's name.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> [file_name(demo_scenario("third_year", language)) for language in ("en", "fr")]
        ['third_year.toml', 'troisieme_annee.toml']
    """
    return (re.sub(r"[^a-z0-9]+", "_", folded(farm.about.name)).strip("_") or "farm") + ".toml"


def _compared(farm: Scenario, words: Words) -> None:
    """The stand, how many of its trees, and the two ways of the headline."""
    names = [stand.name for stand in farm.stands]
    choice(
        words("screen.sidebar.stand"),
        names,
        drivers.compared_stand(farm),
        lambda name: {"comparison__stand": name, "comparison__trees": None},
        name="stand",
    )
    there = farm.free_trees(drivers.compared_stand(farm))
    decimal_input(
        words("screen.sidebar.trees"),
        drivers.places(farm)["trees"],
        name="sidebar.",
        help_text=words("screen.sidebar.trees_help", there=words("unit.trees", n=there)),
    )
    ways = [key for key, way in farm.techniques.items() if way.works_on == "trees"]
    for field in ("headline", "against"):
        now = getattr(farm.comparison, field)
        other = farm.comparison.against if field == "headline" else farm.comparison.headline
        offered = [key for key in ways if key != other]
        choice(
            words(f"screen.sidebar.{field}"),
            offered if now in offered else [now, *offered],
            now,
            lambda key, field=field: {f"comparison__{field}": key},  # type: ignore[misc]
            name=field,
            say_option=lambda key: Voice.of(farm, words).way(key),
        )


def _drivers(farm: Scenario, words: Words) -> None:
    """Price, wage, take, rate, years and the first month."""
    found = drivers.places(farm)
    way = Voice.of(farm, words).way(farm.comparison.headline)
    kind = farm.techniques[farm.comparison.headline].family if farm.comparison.headline in farm.techniques else ""
    for name in ("price", "wage", "first_take", "later_take", "rate", "years"):
        if name in found:
            label = words(f"screen.sidebar.{name}", way=way)
            help_key = f"screen.sidebar.{name}_help"
            if name.endswith("take"):
                help_key = f"screen.sidebar.{name}_help_{kind}"
            help_text = words(help_key) if help_key in words else None
            decimal_input(label, found[name], name=f"sidebar.{name}.", help_text=help_text)
    start = month_count(farm.appraisal.start)
    first = min(start, month_count(f"{farm.appraisal.start[:4]}-01"))
    choice(
        words("screen.sidebar.start"),
        [year_month(m) for m in range(first, min(first + 12 * _YEARS_OF_START, month_count(LAST_MONTH) + 1))],
        farm.appraisal.start,
        lambda month: {"appraisal__start": month},
        name="start",
        say_option=words.month,
    )
