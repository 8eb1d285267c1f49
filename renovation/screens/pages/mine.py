"""My farm: ten questions, one at a time, each answer put into the farm in hand at once."""

from functools import partial
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, ScenarioError, month_count, write_decimal, year_month
from renovation.inputs.defaults import default_notebook
from renovation.inputs.notebook import QUESTIONS, Entry, Question, Row, Unanswered, read_entry, told_before, unanswered
from renovation.inputs.tally import CLASSES
from renovation.screens.controls.begin import ask, begin_button, go_to, stands_out
from renovation.screens.controls.fields import echo
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import bullets, plain, small
from renovation.screens.memory import results, state
from renovation.screens.memory.state import key_of
from renovation.screens.parts import search
from renovation.show.guesses import counted, guesses, held, most_telling
from renovation.words import Words
from renovation.words.folding import folded

NAMES = tuple(question.name for question in QUESTIONS)
DONE = "done"
ROWS = {"number": 3}
"""Lines that stand ready of a measure; one more comes with a button."""
ADDED = ("rows", "tally")
"""Measures in which fields are added to those that were told."""
_MONTHS_BACK = 60


def draw() -> None:
    """Draw the question that stands in the address, or what there is at the end."""
    words, farm = state.words(), state.scenario()
    if farm.about.invented:
        st.title(words("screen.page.mine"), anchor=False)
        st.markdown(words("notebook.lead"))
        st.info(words("notebook.invented"))
        begin_button("mine")
        return
    name = st.session_state.get("question", NAMES[0])
    if name in NAMES:
        _question(farm, QUESTIONS[NAMES.index(name)], words)
    else:
        _done(farm, words)


def _question(farm: Scenario, question: Question, words: Words) -> None:
    """One question: where we are, what is asked and why, what stands now, the lines to fill in."""
    name, place = question.name, NAMES.index(question.name)
    st.caption(plain(words("notebook.progress", n=place + 1, of=len(NAMES))))
    st.header(words(f"notebook.question.{name}"), anchor=False)
    st.markdown(words(f"notebook.why.{name}"))
    for sentence in state.said_once("question"):
        st.error(plain(sentence))
    measure = _measure(question, words)
    told = told_before(farm, question)
    before, after = ([], len(told)) if measure in ADDED else (told, 0)
    count = max(len(before), ROWS.get(measure, 1)) + state.memory("rows").get(key_of(f"{name}.{measure}"), 0)
    count = count if question.many else 1
    several = question.many and count + after > 1
    entries = question.of_measure(measure)
    with st.form(key_of(f"question.{name}.{measure}"), border=False, enter_to_submit=count * len(entries) == 1):
        for aside in (False, True):
            lines = [(row, entry) for row in range(count) for entry in entries if entry.aside == aside]
            if not lines:
                continue
            with st.expander(words(f"notebook.aside.{name}")) if aside else st.container():
                for row, entry in lines:
                    label = words(f"notebook.entry.{entry.name}")
                    if several:
                        label = words(f"notebook.line.{name}", what=label, n=row + 1 + after)
                    held_before = before[row].get(entry.name) if row < len(before) else None
                    _entry(farm, entry, _key(name, measure, row, entry.name), label, held_before, words)
        st.form_submit_button(
            words("notebook.next"), type=stands_out(), width="stretch", on_click=_next, args=(name, measure, count)
        )
    if question.many:
        more, key = words(f"notebook.another.{name}"), key_of(f"another.{name}")
        st.button(more, width="stretch", key=key, on_click=_another, args=(f"{name}.{measure}",))
    with st.container(horizontal=True):
        if place:
            back = words("notebook.back")
            st.button(back, width="stretch", key=key_of(f"back.{name}"), on_click=ask, args=(NAMES[place - 1],))
        skip, then = words("notebook.skip"), (*NAMES, DONE)[place + 1]
        st.button(skip, width="stretch", key=key_of(f"skip.{name}"), on_click=ask, args=(then,))
    small(held(farm, question, words))


def _measure(question: Question, words: Words) -> str:
    """In which measure the crop is told; empty where there is one only."""
    if not question.measures:
        return ""
    chosen = st.pills(
        words("notebook.measure.ask"),
        question.measures,
        default=question.measures[0],
        required=True,
        key=key_of(f"measure.{question.name}"),
        format_func=lambda one: words(f"notebook.measure.{one}"),
    )
    return str(chosen or question.measures[0])


def _key(question: str, measure: str, row: int, entry: str) -> str:
    return key_of(".".join(filter(None, ("question", question, measure, str(row), entry))))


def _entry(farm: Scenario, entry: Entry, key: str, label: str, told: Any, words: Words) -> None:
    """One line to fill in, as it was told before where it was; the money or the unit stands with its name."""
    if entry.kind in ("choice", "country"):
        options = sorted(entry.options, key=lambda option: folded(_named(option, words)))
        window, home = farm.market.season.window, farm.about.country
        elsewhere = home != default_notebook().countries.get(window or "")
        now = {"country": window, "home": home if elsewhere else None}.get(entry.name)
        place, none = options.index(now) if now in options else None, words("notebook.not_chosen")
        named = partial(_named, words=words)
        st.selectbox(plain(label), options, place, key=key, placeholder=none, format_func=named)
    elif entry.kind == "month":
        first = month_count(farm.appraisal.start)
        months = [year_month(month) for month in range(first - 1, max(first - _MONTHS_BACK, 12), -1)]
        place = months.index(told) if told in months else None
        say, none = words.month, words("notebook.not_chosen")
        st.selectbox(plain(label), months, place, key=key, placeholder=none, format_func=say)
    elif entry.kind == "text":
        st.text_input(plain(label), told or "", key=key, max_chars=80)
    else:
        if entry.declared.unit.startswith("money"):
            label = words("notebook.in_money", what=label, money=farm.appraisal.currency)
        text = "" if told is None else write_decimal(told, words, per=entry.factor)
        st.text_input(plain(label), text, key=key, autocomplete=NUMBER)


def _named(option: str, words: Words) -> str:
    """A country by its name in the language; a currency as it stands."""
    return words.country_name(option) if len(option) == 2 else words.name("window", option)


def _next(name: str, measure: str, count: int) -> None:
    """Put an answer into the farm and go on; stay where it cannot be, and say why."""
    farm, words = state.scenario(), state.words()
    question = QUESTIONS[NAMES.index(name)]
    rows: list[Row] = []
    said: list[str] = []
    numbers: list[str] = []
    for row in range(count):
        told: dict[str, Any] = {"measure": measure} if measure else {}
        if measure == "tally":
            told["called"] = {one: words(f"tally.class.{one}") for one in CLASSES}
        for entry in question.of_measure(measure):
            typed = st.session_state.get(_key(name, measure, row, entry.name)) or ""
            try:
                told[entry.name] = read_entry(entry, str(typed), farm.appraisal.currency, words)
                numbers += [str(typed)] * (entry.kind == "number")
            except ScenarioError as error:
                said += [f"{words(f'notebook.entry.{entry.name}')}: {' '.join(error.sentences(words))}"]
        rows.append(told)
    if not said:
        said = _put(farm, question, rows, words)
    if said:
        state.say_once("question", said)
    else:
        echo(numbers)
        ask((*NAMES, DONE)[NAMES.index(name) + 1])


def _put(farm: Scenario, question: Question, rows: list[Row], words: Words) -> list[str]:
    """Change the farm by an answer; what stands against it."""
    try:
        changes = question.changes(farm, rows)
    except Unanswered as missing:
        return [words("notebook.missing", what=words(f"notebook.entry.{missing.entry}"))]
    except ScenarioError as error:
        return error.sentences(words)
    return state.change(changes) if changes else []


def _another(lines: str) -> None:
    """One line more of a question in a measure."""
    rows = state.memory("rows")
    rows[key_of(lines)] = rows.get(key_of(lines), 0) + 1


def _to_plan() -> None:
    """Have the plan made, and go where it is shown."""
    search.begin()
    go_to("plan")


def _done(farm: Scenario, words: Words) -> None:
    """What is still guessed, the way to the plan, and a way back to each question."""
    st.title(words("notebook.done"), anchor=False)
    left = [question for question in QUESTIONS if unanswered(farm, question)]
    if left:
        names = words.listing([words(f"notebook.short.{question.name}") for question in left])
        st.markdown(plain(words("notebook.left", questions=names)))
    else:
        st.markdown(words("notebook.done_all"))
    if farm.guessed:
        st.markdown(plain(counted(farm, words)))
        bullets(most_telling(results.compared(farm), words))
        with st.expander(words("notebook.all_guesses")):
            bullets(guesses(farm, words))
    st.button(
        words("notebook.to_plan"),
        width="stretch",
        type=stands_out(),
        key=key_of("to_plan"),
        on_click=_to_plan,
    )
    with st.expander(words("notebook.all_questions")):
        for question in QUESTIONS:
            name = words(f"notebook.question.{question.name}")
            st.button(name, width="stretch", key=key_of(f"ask.{question.name}"), on_click=ask, args=(question.name,))
            bullets(held(farm, question, words))
