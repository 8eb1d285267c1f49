"""The farm in hand: one frozen scenario for each visitor, changed only as a whole and only to a sound one."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import streamlit as st

from renovation.farm import loan_schedule
from renovation.inputs import Problem, Scenario, ScenarioError, demo_names, demo_scenario, read_scenario
from renovation.inputs.demos import called, demo_text
from renovation.inputs.document import LONGEST_KEPT
from renovation.money.loan_terms import LoanError
from renovation.screens import jobs
from renovation.screens.memory import language
from renovation.show.loans.refused import refusal
from renovation.words import Words

_LEFT_OUT_TO_FIT: tuple[tuple[str, str, Any], ...] = (
    ("plan", "plan", ()),
    ("loans", "loans", ()),
    ("comparison.trees", "comparison__trees", None),
    ("comparison.stand", "comparison__stand", None),
    ("planning.years", "planning__years", None),
    ("planning.loan", "planning__loan", None),
)
"""What gives way, and is said to, where another change no longer agrees with it: key, changed key, and what then
stands in its place."""


ASIDE = ("question", "room", language.NAME)
"""What an address says beside a farm: which question is open, that the pages are shown to a room, the language."""


def words() -> Words:
    """The word catalogue of the screens, in the language of this visitor's pages.

    Numbers are read and written as in the country of the farm in hand.
    """
    farm: Scenario | None = st.session_state.get("scenario")
    return language.words(farm.about.country if farm else None)


def scenario() -> Scenario:
    """The farm in hand; the demo farm for a new visitor."""
    if "scenario" not in st.session_state:
        take_up(demo(demo_names()[0]), demo_names()[0], is_demo=True)
    farm: Scenario = st.session_state["scenario"]
    return farm


def demo(name: str) -> Scenario:
    """A demo farm by name, called as the language of the pages calls it."""
    return demo_scenario(name, words().language)


@dataclass(frozen=True, eq=False)
class InHand:
    """A farm with where it came from.

    origin: the demo farm's name, or the name of the file it came from. taken_up: the farm as it was then; None where
    that is not known any more, but that it was another. text: the file that it came from, as it was written; empty
    where it came from none, or one too long to be written over.
    """

    farm: Scenario
    origin: str
    is_demo: bool
    taken_up: Scenario | None
    text: str = ""

    @property
    def is_changed(self) -> bool:
        """Whether it is another than the one that was taken up."""
        return self.farm != self.taken_up

    def called(self, language: str) -> "InHand":
        """The same, a demo farm in the words of a language; itself where nothing is called otherwise."""
        farm = called(self.farm, self.origin, language) if self.is_demo else self.farm
        if farm is self.farm:
            return self
        before = self.taken_up and called(self.taken_up, self.origin, language)
        return replace(self, farm=farm, taken_up=before if self.is_changed else farm)


def in_hand() -> InHand:
    """The farm in hand, with where it came from."""
    farm = scenario()
    return InHand(farm, origin(), is_demo(), st.session_state["taken_up"], str(st.session_state.get("text", "")))


def take_up(farm: Scenario, name: str, *, is_demo: bool, text: str = "") -> None:
    """Put another farm in hand; every control starts again from it. One that was changed is kept to go back to.

    name: the demo farm's name, or the name of the file it came from. text: that file.
    """
    if "scenario" in st.session_state and in_hand().is_changed:
        leave(in_hand())
    _hold(InHand(farm, name, is_demo, farm, text if len(text) <= LONGEST_KEPT else ""))


def put_back(held: InHand, left: InHand | None) -> None:
    """Put in hand what was in hand before, and what could be gone back to then."""
    leave(left)
    _hold(held)


def go_back(held: InHand) -> None:
    """Put a farm that was left in hand again; the one now in hand is left for it where it was changed."""
    leave(in_hand() if in_hand().is_changed else None)
    _hold(held)


def _hold(held: InHand) -> None:
    """Let this be the farm in hand."""
    st.session_state["scenario"], st.session_state["taken_up"] = held.farm, held.taken_up
    st.session_state["text"] = held.text
    st.session_state["origin"], st.session_state["is_demo"] = held.origin, held.is_demo
    st.session_state["notes"] = {name: said for name, said in memory("notes").items() if name == "device"}
    jobs.drop()
    redraw()


def leave(held: InHand | None) -> None:
    """Keep a farm to be gone back to."""
    st.session_state["left"] = held


def left() -> InHand | None:
    """The farm that was changed and then left for another."""
    found: InHand | None = st.session_state.get("left")
    return found if found is not None and found.farm != scenario() else None


def is_untouched() -> bool:
    """Whether the farm in hand, if there is any yet, is as it was taken up."""
    return "scenario" not in st.session_state or not in_hand().is_changed


def origin() -> str:
    """The demo farm's name or the file's name."""
    return str(st.session_state.get("origin", ""))


def is_demo() -> bool:
    """Whether the farm in hand came with the program."""
    return bool(st.session_state.get("is_demo", False))


def text() -> str:
    """The file that the farm in hand came from, as it was written; empty where there is none to write over."""
    return demo_text(origin(), words().language) if is_demo() else str(st.session_state.get("text", ""))


def edition() -> int:
    """Counts the farms taken up: part of every control's key, so that no control outlives its farm."""
    return int(st.session_state.get("edition", 0))


def key_of(name: str) -> str:
    """A control's key: it ends with the farm it belongs to."""
    return f"{name}|{edition()}"


def is_of_now(key: str) -> bool:
    """Whether a control belongs to the farm in hand: a tap that comes late is no answer to another farm."""
    return key.rpartition("|")[2] == str(edition())


def memory(name: str) -> dict[str, Any]:
    """A table kept between two runs of the page: `refused`, `shown_text` or `notes`."""
    table: dict[str, Any] = st.session_state.setdefault(name, {})
    return table


def take_aside(asked: dict[str, str]) -> None:
    """Take up what an address says beside a farm, and leave the farm's part of it."""
    found = {name: asked.pop(name) for name in ASIDE if name in asked}
    st.session_state.update({**found, language.NAME: language.chosen()})


def in_room() -> bool:
    """Whether the pages are shown to a room."""
    return st.session_state.get("room") == "1"


def set_room(*, on: bool) -> None:
    """Show the pages to a room, or as on a desk."""
    st.session_state["room"] = "1" if on else ""


def say_once(name: str, sentences: list[str]) -> None:
    """Leave sentences to be shown until a run of the page has come to its end with them and a person goes on.

    A run is broken off by the next tap, and the browser's own part asks for runs of which nobody knows: neither takes
    a sentence away before it could be read.
    """
    memory("notes")[name] = sentences
    memory("shown_once").pop(name, None)


def said_once(name: str) -> list[str]:
    """The sentences left under this name; now they are shown."""
    memory("shown_once")[name] = True
    return list(memory("notes").get(name, ()))


def unsaid() -> None:
    """Leave nothing to be said, and draw every control anew: the pages are in another language now."""
    memory("notes").clear()
    redraw()


def unasked() -> None:
    """The run that begins was asked for by the browser's own part and not by a person."""
    memory("run")["unasked"] = True


def begin_run() -> None:
    """A run of the page begins: drop what the one before has shown, if it came to its end and a person goes on."""
    run, shown = memory("run"), memory("shown_once")
    if run.pop("ended", False) and not run.get("unasked", False):
        for name in shown:
            memory("notes").pop(name, None)
        shown.clear()


def end_run() -> None:
    """The run has come to its end."""
    st.session_state["run"] = {"ended": True}


def change(changes: Mapping[str, Any]) -> list[str]:
    """Change the farm in hand by dotted keys (`market__price_per_kg`); return what stands against it, if anything.

    Where only the file's plan, its loans, the years of planning or the number of compared trees stand against it,
    they give way and the page says so.
    """
    kept = dict(changes)
    left_out: list[str] = []
    while True:
        try:
            changed = scenario().changed(**kept)
        except ScenarioError as error:
            found = error.problems
            more = {key: (name, nothing) for name, key, nothing in _LEFT_OUT_TO_FIT if _all_under(found, name)}
            new = {key: pair for key, pair in more.items() if key not in kept}
            if not new:
                return list(dict.fromkeys(_say(problem) for problem in found))
            for key, (name, nothing) in new.items():
                kept[key] = nothing
                left_out.append(words()(f"screen.left_out.{name.replace('.', '_')}"))
            continue
        refused = _refused_loans(changed) if "loans" in changes else []
        if refused:
            return refused
        st.session_state["scenario"] = changed
        if left_out:
            say_once("left_out", left_out)
        return []


def _say(problem: Problem) -> str:
    """Say a mistake in a screen's words where it has any, else in those of a file."""
    key = f"screen.problem.{problem.code}"
    code = key if key in words() else problem.code
    return replace(problem, file=scenario().about.name, code=code).sentence(words())


def _refused_loans(farm: Scenario) -> list[str]:
    """What stands against the terms of a loan beyond what a scenario's reading can know."""
    try:
        for loan in farm.loans:
            loan_schedule(farm, loan)
    except LoanError as error:
        return [refusal(error, words())]
    return []


def _all_under(found: tuple[Problem, ...], name: str) -> bool:
    """Whether every mistake found stands in this part of the scenario or in another that may be left out."""
    names = [entry[0] for entry in _LEFT_OUT_TO_FIT]
    return all(any(_under(p.key, n) for n in names) for p in found) and any(_under(p.key, name) for p in found)


def _under(key: str, name: str) -> bool:
    return key == name or key.startswith((f"{name}.", f"{name}[", f"{name} "))


def open_file(content: bytes, name: str) -> list[str]:
    """Take up a scenario file; return its mistakes and keep the farm in hand where it has any."""
    try:
        farm = read_scenario(content, name)
    except ScenarioError as error:
        return error.sentences(words())
    take_up(farm, name, is_demo=False, text=content.decode("utf-8"))
    return []


def damaged(name: str) -> Problem:
    """What is said of packed letters that are cut or changed."""
    return Problem(name, "", "packed_damaged")


def say_problems(problems: list[str]) -> None:
    """Leave what stands against a change to be said at the head of the page."""
    if problems:
        say_once("problems", problems)


def reread(farm: Scenario) -> None:
    """Put a re-read version of the same farm in hand."""
    st.session_state["scenario"] = farm
    redraw()


def redraw() -> None:
    """Let every control start again from the farm in hand."""
    st.session_state["edition"] = edition() + 1
    st.session_state["refused"] = {}
    st.session_state["shown_text"] = {}
