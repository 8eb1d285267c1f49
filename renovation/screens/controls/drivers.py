"""The few numbers that decide: drawn in the sidebar on every page, and carried by a link."""

from collections.abc import Mapping

import streamlit as st

from renovation.decide.learners import learners_of
from renovation.inputs import Scenario, Technique, default_techniques, demo_names
from renovation.inputs.demos import names_in
from renovation.screens.controls.fields import Place, as_text, read_number, value_at
from renovation.screens.controls.overrides import own_entry, weighed_too
from renovation.screens.memory import language, state
from renovation.show.held import taught
from renovation.words import Words, language_of

MOST_BESIDE = 2
"""Ways shown beside the headline pair: four in all can be told apart."""


def places(farm: Scenario) -> dict[str, Place]:
    """The deciding numbers by the name they carry in a link."""
    wet = farm.market.wet_beans is not None
    found = {
        "trees": Place(("comparison", "trees"), value=compared_trees(farm)),
        "price": Place(("market", "wet_beans", "price_per_kg") if wet else ("market", "price_per_kg")),
        "wage": Place(("household", "wage_per_day")),
        "rate": Place(("appraisal", "discount_rate")),
        "years": Place(("appraisal", "horizon_years")),
    }
    headline = farm.comparison.headline
    technique = farm.techniques.get(headline)
    if technique is not None and technique.family != "prune":
        found |= _takes(farm, headline, technique)
    return found


def _takes(farm: Scenario, way: str, technique: Technique) -> dict[str, Place]:
    """Where the take of beginners and that of practised hands stand: none where they follow from counts or a table."""
    learning = farm.planning.learning
    if learning is not None and learning.form != "table" and way in learners_of(farm, learning):
        ends = {"first_take": "first_take", "later_take": "highest_take"}
        return {name: Place(("planning", "learning", field)) for name, field in ends.items()}
    if taught(farm, way):
        return {}
    path, take = ("techniques", way, "take"), technique.take.value
    last = {"later_take": len(take) - 1} if len(take) > 1 else {}
    places = {"first_take": 0, **last}
    return {name: Place(path, put=own_entry(path, entry), value=take[entry]) for name, entry in places.items()}


def compared_stand(farm: Scenario) -> str:
    """The stand that the compare page looks at."""
    return farm.comparison.stand or farm.stands[0].name


def compared_trees(farm: Scenario) -> int:
    """How many of its trees are compared."""
    there = farm.free_trees(compared_stand(farm))
    return min(farm.comparison.trees or there, there)


# The link


def read_link() -> None:
    """Take up what a link says, once for each visitor, before any control is drawn; say what it asks in vain."""
    if "link_read" in st.session_state:
        return
    st.session_state["link_read"] = True
    asked = {name: st.query_params[name] for name in st.query_params}
    words = state.words()
    tag = asked.get(language.NAME, "")
    said = [words("screen.link.no_language", found=tag)] if tag and not language_of(tag) else []
    state.take_aside(asked)
    farm_name = asked.pop("farm", demo_names()[0])
    if farm_name not in demo_names():
        said.append(words("screen.link.no_farm", found=farm_name))
        farm_name = demo_names()[0]
    state.take_up(state.demo(farm_name), farm_name, is_demo=True)
    said += _take_choices(asked, words)
    for name, text in asked.items():
        said += _take_number(name, text, words)
    if said:
        state.say_once("link", said)


def _take_choices(asked: dict[str, str], words: Words) -> list[str]:
    """Take up the stand, the two ways, the start month and the ways beside of a link; the ways are weighed too."""
    found = {name: asked.pop(name) for name in _CHOICES if name in asked}
    if "stand" in found:  # a link may come from another language
        found["stand"] = names_in(state.origin(), words.language).get(found["stand"], found["stand"])
    beside = [way for way in asked.pop("beside", "").split(",") if way]
    ways = [found[name] for name in ("first", "against") if name in found] + beside[:MOST_BESIDE]
    state.change(weighed_too(state.scenario(), *(way for way in ways if way in default_techniques())))
    said = []
    if _refused(found):  # together, for two ways that change places are at no moment the same; else one by one
        for name, choice in found.items():
            if _refused({name: choice}):
                said.append(words("screen.link.not_taken", what=words(f"screen.link.name.{name}"), found=choice))
    known = [way for way in beside if way in state.scenario().techniques]
    if known != beside or len(known) > MOST_BESIDE:
        what = words("screen.link.name.beside")
        said.append(words("screen.link.not_taken", what=what, found=", ".join(beside)))
    set_beside(known[:MOST_BESIDE])
    return said


_CHOICES = {
    "stand": "comparison__stand",
    "first": "comparison__headline",
    "against": "comparison__against",
    "start": "appraisal__start",
}
_WITH = {"trees": "stand", "first_take": "first", "later_take": "first"}
"""Numbers that belong to a choice: a link that makes the choice says them too."""


def _refused(found: Mapping[str, str]) -> bool:
    """Take up choices of a link; whether anything stands against them."""
    trees = {"comparison__trees": None} if "stand" in found else {}
    return bool(state.change({**{_CHOICES[name]: choice for name, choice in found.items()}, **trees}))


def _take_number(name: str, text: str, words: Words) -> list[str]:
    """Take up one number of a link."""
    place = places(state.scenario()).get(name)
    if place is None:
        return [words("screen.link.unknown", found=name)]
    value, refusal = read_number(text, place, typed=False)
    problems = [refusal] if value is None else state.change(place.changes(value))
    if not problems:
        return []
    what = words(f"screen.link.name.{name}")
    return [words("screen.link.out_of_range", what=what, found=text, why=" ".join(problems))]


def link() -> Mapping[str, str]:
    """What the address says: what differs from the demo farm; nothing of a farm from a file, nor of a family's own."""
    return _link(state.scenario()) if state.is_demo() else {}


def write_link() -> None:
    """Let the address say it, and what it says beside the farm."""
    beside_it = {name: st.session_state[name] for name in state.ASIDE if st.session_state.get(name)}
    wanted = {**link(), **beside_it}
    if dict(st.query_params) != wanted:
        st.query_params.from_dict(wanted)


def _link(farm: Scenario) -> Mapping[str, str]:
    """The parts of a link to the farm in hand."""
    base = state.demo(state.origin())
    link = {} if state.origin() == demo_names()[0] else {"farm": state.origin()}
    for name, key in _CHOICES.items():
        path = tuple(key.split("__"))
        now = compared_stand(farm) if name == "stand" else value_at(farm, path)
        before = compared_stand(base) if name == "stand" else value_at(base, path)
        if now != before:
            link[name] = str(now)
    usual = {name: place.on(base) for name, place in places(base).items()}
    for name, place in places(farm).items():
        now = place.on(farm)
        if _WITH.get(name) in link or now != usual.get(name):
            link[name] = as_text(now, place.factor, digits=17, typed=False)
    if beside():
        link["beside"] = ",".join(beside())
    return link


# The ways shown beside the pair


def beside() -> list[str]:
    """The ways to show beside the headline pair."""
    return list(st.session_state.get("beside", []))


def set_beside(keys: list[str]) -> None:
    """Choose the ways to show beside the headline pair."""
    st.session_state["beside"] = keys
