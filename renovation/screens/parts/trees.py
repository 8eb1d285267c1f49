"""Every stand of the farm: its trees, crop, decline, upkeep and ground, and the ways that suit it."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, Stand
from renovation.screens.controls.fields import (
    Path,
    choice,
    field_words,
    free_name,
    numbers,
    several,
    switch,
    text_entry,
)
from renovation.screens.controls.text import bullets, plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.tally import whole_sentences
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]


def draw(farm: Scenario, words: Words) -> None:
    """Every stand in a box of its own, and a button for one more."""
    name_label, name_help = field_words("About", "name", words)
    text_entry(
        words("screen.numbers.farm_name"),
        farm.about.name,
        lambda name: {"about__name": name.strip(), "about__invented": False},
        name="about.name",
        help_text=name_help or name_label,
    )
    for position, stand in enumerate(farm.stands):
        with st.expander(
            words("screen.numbers.stand_head", name=plain(stand.name), trees=words("unit.trees", n=stand.trees)),
            expanded=position == 0,
            key=key_of(f"stand_box_{position}"),
        ):
            _stand(farm, position, stand, words)
    bullets(whole_sentences(farm, words))
    st.button(words("screen.numbers.add_stand"), on_click=_add_stand, key=key_of("add_stand"))


def _stand(farm: Scenario, position: int, stand: Stand, words: Words) -> None:
    """One stand: name, trees, crop, decline, upkeep, ground, ways."""
    at: Path = ("stands", position)
    if begun := stand.trees - farm.free_trees(stand.name):
        st.caption(words("unit.under_way", n=begun))
    left, middle, right = st.columns(3)
    with left:
        label, help_text = field_words("Stand", "name", words)
        text_entry(label, stand.name, _rename(position), name=f"stand.{position}.name", help_text=help_text)
        numbers(at, "trees", "empty_places", "hectares")
    with middle:
        _crop(position, stand, words)
    with right:
        numbers(at, "decline_per_year", "upkeep_days", "upkeep_inputs", "tree_loss_per_year", "pods_lost")
    label, help_text = field_words("Stand", "untouched", words)
    switch(
        label,
        stand.untouched,
        lambda on: {f"stands__{position}__untouched": on},
        name=f"stand.{position}.untouched",
        help_text=help_text,
    )
    _suited(farm, position, stand, words)
    if len(farm.stands) > 1:
        st.button(
            words("screen.numbers.remove_stand", name=plain(stand.name)),
            on_click=_remove_stand,
            args=(position,),
            key=key_of(f"remove_stand_{position}_{stand.name}"),
        )


def _crop(position: int, stand: Stand, words: Words) -> None:
    """Today's crop: in kilograms, or by counting pods."""
    at: Path = ("stands", position)
    counted = stand.pods is not None
    choice(
        words("screen.numbers.crop_by"),
        ["kg", "pods"],
        "pods" if counted else "kg",
        lambda way: _crop_by(position, way),
        name=f"stand.{position}.crop_by",
        say_option=lambda way: words(f"screen.numbers.crop_by_{way}"),
    )
    if not counted:
        numbers(at, "crop_per_tree")
        return
    numbers((*at, "pods"), "pods_per_tree", "pods_per_kg", "lost_share")
    st.caption(words("screen.numbers.pods_make", kg=words.number(stand.kg_per_tree, 2)))


def _crop_by(position: int, way: str) -> Changes:
    """Turn a crop stated one way into the other, keeping what it says as far as it can be kept."""
    stand = state.scenario().stands[position]
    at = f"stands__{position}__"
    if way == "kg":
        return {f"{at}crop_per_tree": round(stand.kg_per_tree, 4), f"{at}pods": None}
    pods = {"pods_per_tree": round(stand.kg_per_tree * 25.0, 2), "pods_per_kg": 25.0, "lost_share": 0.0}
    return {f"{at}crop_per_tree": None, f"{at}pods": pods}


def _rename(position: int) -> Callable[[str], Changes]:
    """Rename a stand wherever its name stands."""

    def put(name: str) -> Changes:
        farm, new = state.scenario(), name.strip()
        old = farm.stands[position].name
        changes: dict[str, Any] = {f"stands__{position}__name": new}
        if farm.comparison.stand == old:
            changes["comparison__stand"] = new
        for part in ("plan", "under_way"):
            for place, entry in enumerate(getattr(farm, part)):
                if entry.stand == old:
                    changes[f"{part}__{place}__stand"] = new
        return changes

    return put


def _suited(farm: Scenario, position: int, stand: Stand, words: Words) -> None:
    """Which ways suit a stand."""
    now = stand.techniques if stand.techniques is not None else tuple(farm.techniques)
    several(
        field_words("Stand", "techniques", words)[0],
        list(farm.techniques),
        now,
        _take_suited,
        position,
        name=f"stand.{position}.techniques",
        say_option=lambda way: Voice.of(farm, words).way(way),
    )
    if not now:
        st.caption(words("screen.numbers.no_way"))
    if stand.empty_places and all(farm.techniques[way].works_on == "trees" for way in now):
        st.caption(words("screen.numbers.no_way_for_gaps"))


def _take_suited(key: str, position: int) -> None:
    """Take the ways chosen for a stand; all of them is the same as naming none."""
    chosen = st.session_state[key]
    every = list(state.scenario().techniques)
    ways = None if len(chosen) == len(every) else tuple(way for way in every if way in chosen)
    state.say_problems(state.change({f"stands__{position}__techniques": ways}))


def _add_stand() -> None:
    """Add a stand like the first one, under a name of its own."""
    farm, words = state.scenario(), state.words()
    name = free_name("screen.numbers.new_stand", [stand.name for stand in farm.stands], words)
    new = farm.stands[0].model_copy(update={"name": name, "untouched": False})
    state.say_problems(state.change({"stands": (*farm.model_dump()["stands"], new.model_dump())}))


def _remove_stand(position: int) -> None:
    """Remove a stand, its trees under way, and what the plan and the comparison say of it."""
    farm = state.scenario()
    name = farm.stands[position].name
    data = farm.model_dump()
    changes: dict[str, Any] = {"stands": tuple(s for place, s in enumerate(data["stands"]) if place != position)}
    for part in ("plan", "under_way"):
        changes[part] = tuple(entry for entry in data[part] if entry["stand"] != name)
    if (farm.comparison.stand or farm.stands[0].name) == name:
        changes |= {"comparison__stand": None, "comparison__trees": None}
    state.say_problems(state.change(changes))
    state.redraw()
