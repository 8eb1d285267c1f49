"""The controls: each reads what a person types, says it back with its unit, and changes the farm or keeps it.

A number is typed as text and read by `read_decimal`, for a decimal comma means one half to half the world and
nothing to the other. What is refused leaves the last good value in force, and the page says so.
"""

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, ScenarioError, read_decimal, reading, unit_words, write_decimal
from renovation.inputs.shapes import Shape, bounds, locate, step
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import plain, why
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.guesses import guessed_range, why_guessed
from renovation.show.meant import meant
from renovation.words import Words

Path = tuple[str | int, ...]
Put = Callable[[Any], Mapping[str, Any]]


@dataclass(frozen=True)
class Place:
    """Where a number stands: its path in the scenario and, in its field, its unit and bounds.

    put: turns the value read into the changes of the scenario; the path itself where None. value: what stands there
    now; read from the path where None.
    """

    path: Path
    put: Put | None = None
    value: Any = None

    @property
    def shape(self) -> Shape:
        """What the model declares at this place."""
        found = locate(Scenario, self.path)
        assert found is not None, self.path
        return found

    @property
    def unit(self) -> str:
        """The unit that the model declares; empty where it declares none."""
        return self.shape.quantity.unit if self.shape.quantity else ""

    @property
    def factor(self) -> float:
        """What is typed is the stated value times this: a share is typed as percent."""
        return 100.0 if self.unit.startswith("share") else 1.0

    @property
    def whole(self) -> bool:
        """Whether only whole numbers are taken."""
        shape = self.shape
        return (step(shape, "value") or shape).core is int if shape.is_figure else shape.core is int

    def now(self) -> Any:
        """The value that stands here."""
        return self.on(state.scenario())

    def on(self, farm: Scenario) -> Any:
        """The value that stands here on a farm."""
        return self.value if self.value is not None else value_at(farm, self.path)

    def changes(self, value: Any) -> Mapping[str, Any]:
        """What to change in the scenario for this value."""
        return self.put(value) if self.put else {"__".join(map(str, self.path)): value}


def value_at(root: Any, path: Sequence[Any]) -> Any:
    """Follow a path through models, tables and tuples."""
    for part in path:
        is_entry = isinstance(root, dict | tuple)
        root = root[part] if is_entry else getattr(root, str(part))
    return root


def as_text(value: float, factor: float = 1.0, digits: int = 15, *, typed: bool = True) -> str:
    """Write a number as a person would type it, so that it is read again: no grouping, no needless digits.

    digits: significant ones at most; 17 tell any two numbers apart (IEEE 754), but show what binary numbers round.
    typed: in a box, and not in a link, which is read the same in any country.

    Example:
        >>> as_text(0.035, 100.0), as_text(1450), as_text(1.125), as_text(0.1 + 0.2)
        ('3.5', '1450', '1.1250', '0.3')
    """
    return write_decimal(float(f"{value:.{digits}g}"), state.words() if typed else None, per=factor)


def decimal_input(label: str, place: Place, *, name: str = "", help_text: str | None = None) -> None:
    """A number: typed with comma or point, said back beneath where that adds something, refused in one sentence.

    name: told apart where one place stands on a page twice.
    """
    key = key_of(f"{name}{'.'.join(map(str, place.path))}")
    now = place.now()
    _follow(key, "" if now is None else as_text(now, place.factor))
    st.text_input(plain(label), key=key, help=help_text, on_change=_read, args=(key, place), autocomplete=NUMBER)
    if not _refusal(key) and now is not None and adds(said := say(now, place), label, str(st.session_state[key])):
        st.caption(plain(said))
    if now is not None and (example := meant(state.scenario(), place.path, now, state.words())):
        st.caption(plain(example))
    path = ".".join(map(str, place.path))
    if range_said := guessed_range(state.scenario(), path, state.words()):
        st.caption(plain(range_said))
        why(state.words()("reasons.why"), why_guessed(state.scenario(), path), name=f"{name}{path}")


def adds(said: str, label: str, typed: str) -> bool:
    """Whether what is said of a number tells more than its label and what was typed do: another reading, a unit.

    A label names a unit where it holds the word that the unit begins with and the one that it ends with.

    Example:
        >>> adds("12 trees", "Trees", "12"), adds("12 trees", "Given up", "12")
        (False, True)
        >>> adds("3.5% a year", "Inflation, % a year", "3,5"), adds("3.5% a year", "Inflation, % a year", "3.5")
        (True, False)
    """
    typed = typed.strip()
    unit = _UNIT.findall(said.removeprefix(typed))
    named = all(word.casefold() in label.casefold() for word in unit[:1] + unit[-1:])
    return not (said.startswith(typed) and named)


_UNIT = re.compile(r"%|\w+")
"""The words of a unit."""


def field_words(model: str, field: str, words: Words) -> tuple[str, str]:
    """A field's name and meaning, in the screen's words where it has its own (percent in place of shares)."""
    own = f"screen.field.{model}.{field}"
    base = own if f"{own}.label" in words else f"field.{model}.{field}"
    return words(f"{base}.label"), words(f"{base}.help")


def number(place: Place) -> None:
    """A number under its field's own name."""
    label, help_text = field_words(place.shape.model, place.shape.field, state.words())
    decimal_input(label, place, help_text=help_text)


def numbers(at: Path, *fields: str) -> None:
    """Numbers that stand in one part of the farm, one beneath another."""
    for field in fields:
        number(Place((*at, field)))


def several_numbers(label: str, place: Place, *, help_text: str | None = None) -> None:
    """Numbers in a row, typed with spaces between them, refused in one sentence.

    A comma parts whole numbers too, but before three digits, where it may part thousands; of others it may be a
    decimal sign, unless a space stands behind it.
    """
    key = key_of(".".join(map(str, place.path)))
    _follow(key, _row_of(place))
    st.text_input(plain(label), key=key, help=help_text, on_change=_read_several, args=(key, place))
    _refusal(key)


def _row_of(place: Place) -> str:
    """The numbers that stand at a place, as they are typed."""
    factor = _entry(place, 0).factor
    parting = ", " if factor == 1.0 else "; "
    return parting.join(as_text(value, factor) for value in place.now())


def _entry(place: Place, number: int) -> Place:
    return Place((*place.path, number), value=0)


def _read_several(key: str, place: Place) -> None:
    """Take the numbers that were typed: change the farm, or keep it and say why."""
    parting = r"(?:[\s;]|,(?![0-9]{3}(?![0-9])))+" if _entry(place, 0).whole else r"(?:[\s;]|,(?=\s))+"
    typed = [part for part in re.split(parting, str(st.session_state[key])) if part]
    refused = state.memory("refused")
    refused.pop(key, None)
    values = []
    problems = []
    for number, part in enumerate(typed):
        value, sentence = read_number(part, _entry(place, number))
        values.append(value)
        problems += [sentence] if value is None else []
    problems = problems[:1] or state.change(place.changes(tuple(values)))
    if problems:
        kept = _row_of(place)
        form = "kept" if kept else "kept_nothing"
        refused[key] = state.words()(f"screen.refused.{form}", why=" ".join(problems), kept=kept)


def say(value: float, place: Place) -> str:
    """Say a value with its unit, as a person reads it."""
    words = state.words()
    farm = state.scenario()
    if place.factor != 1.0:
        shown = words.number(round(value * place.factor, 6))
        return words("read_as.percent_year" if place.unit.startswith("share/year") else "read_as.percent", n=shown)
    if f"unit.{place.unit}" in words:
        return words(f"unit.{place.unit}", n=value)
    unit = unit_words(words, place.unit, farm.appraisal.currency) if place.unit else ""
    digits = words.number(int(value)) if place.whole else words.number(round(float(value), 6))
    return words("read_as.number", n=digits, unit=unit)


def read_number(text: str, place: Place, *, typed: bool = True) -> tuple[float | int | None, str]:
    """Read a number for a place: the value, or the sentence that refuses it. typed: in a box, and not in a link."""
    words = state.words()
    try:
        found = read_decimal(text, per=place.factor, words=words if typed else None)
    except ScenarioError as error:
        return None, " ".join(error.sentences(words))
    if place.whole and found != int(found):
        return None, words("screen.refused.not_whole", entry=text.strip())
    limit = bounds(place.shape)
    value: float | int = int(found) if place.whole else found
    if not limit.holds(value):
        low, high = (None if edge is None else words.number(edge * place.factor) for edge in (limit.lower, limit.upper))
        form = "between" if low is not None and high is not None else "at_least" if low is not None else "at_most"
        return None, words(f"screen.refused.{form}", entry=text.strip(), low=low, high=high)
    return value, ""


def free_name(key: str, taken: Collection[str], words: Words) -> str:
    """A numbered name of the catalogue that none of these is, whatever letters are large."""
    known = {name.casefold() for name in taken}
    number = len(taken) + 1
    while words(key, n=number).casefold() in known:
        number += 1
    return words(key, n=number)


def _read(key: str, place: Place) -> None:
    """Take what was typed: change the farm, or keep it and say why."""
    text = str(st.session_state[key])
    refused = state.memory("refused")
    refused.pop(key, None)
    if not state.is_of_now(key) or text == state.memory("shown_text").get(key):
        return
    value, sentence = read_number(text, place)
    problems = [sentence] if value is None else state.change(place.changes(value))
    if not text.strip() and place.shape.optional and not state.change(place.changes(None)):
        problems = []
    if problems:
        still = place.now()
        kept = say(still, place) if still is not None else ""
        form = "kept" if kept else "kept_nothing"
        refused[key] = state.words()(f"screen.refused.{form}", why=" ".join(problems), kept=kept)


def echo(texts: Iterable[str]) -> None:
    """Say at the head of the page what numbers of a form were read as, where that does not go without saying."""
    state.say_once("read", [said for text in texts if (said := reading(text, state.words()))])


def _follow(key: str, text: str) -> None:
    """Let a control show the farm's value when that has changed elsewhere; leave alone what is being typed."""
    shown = state.memory("shown_text")
    stale = key not in st.session_state or (key in shown and shown[key] != text)
    if stale:
        state.memory("refused").pop(key, None)
    if stale or key not in shown:
        st.session_state[key] = text
    shown[key] = text


def choice(
    label: str,
    options: Sequence[Any],
    now: Any,
    put: Put,
    *,
    name: str,
    say_option: Callable[[Any], str] = str,
    help_text: str | None = None,
) -> None:
    """One of a few: the control shows the farm's choice and changes it."""
    key = key_of(name)
    _show(key, now)
    # the list itself is never read as formatting
    st.selectbox(
        plain(label), options, key=key, format_func=say_option, help=help_text, on_change=_choose, args=(key, put)
    )
    _refusal(key)


def several(
    label: str,
    options: Sequence[Any],
    now: Sequence[Any],
    take: Callable[..., None],
    *args: Any,
    name: str,
    say_option: Callable[[Any], str],
    help_text: str | None = None,
) -> None:
    """Any of a few: the control shows the farm's choice; `take(key, *args)` changes it."""
    key = key_of(name)
    _show(key, list(now))
    st.pills(
        plain(label),
        options,
        selection_mode="multi",
        key=key,
        format_func=lambda option: plain(say_option(option)),
        help=help_text,
        on_change=take,
        args=(key, *args),
    )
    _refusal(key)


def text_entry(label: str, now: str, put: Put, *, name: str, help_text: str | None = None, longest: int = 80) -> None:
    """A name or a note."""
    key = key_of(name)
    _follow(key, now)
    st.text_input(plain(label), key=key, help=help_text, max_chars=longest, on_change=_choose, args=(key, put))
    _refusal(key)


def switch(label: str, now: bool, put: Put, *, name: str, help_text: str | None = None) -> None:
    """Yes or no."""
    key = key_of(name)
    _show(key, now)
    st.toggle(plain(label), key=key, help=help_text, on_change=_choose, args=(key, put))
    _refusal(key)


def _show(key: str, now: Any) -> None:
    """Let a control show the farm's choice, when it is new and when that has changed elsewhere."""
    shown = state.memory("shown_text")
    if key not in st.session_state or shown.get(key) != now:
        st.session_state[key] = now
    shown[key] = now


def _choose(key: str, put: Put) -> None:
    """Take a choice: change the farm, or keep it and say why."""
    if not state.is_of_now(key):
        return
    refused = state.memory("refused")
    refused.pop(key, None)
    problems = state.change(put(st.session_state[key]))
    if problems:
        refused[key] = " ".join(problems)
        state.memory("shown_text").pop(key, None)


def _refusal(key: str) -> bool:
    """Show why what was typed or chosen was not taken; whether there was anything to show."""
    refusal = state.memory("refused").get(key)
    if refusal:
        st.error(plain(refusal))
    return bool(refusal)
