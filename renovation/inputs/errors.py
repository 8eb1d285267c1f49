"""Mistakes in what people state: found all at once, told in one sentence each, from the word catalogue.

A `Problem` is data; its sentence is made by `Problem.sentence(words)` from `error.<code>` and its facts.
"""

import difflib
import itertools
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from renovation.inputs.quantities import MOST, FrozenDict, in_currency
from renovation.words import Words

Path = tuple[str | int, ...]
MOST_TOLD = 20
"""So many mistakes are told; of the others the number."""
MOST_QUOTED = 80
"""So many characters of what was found are quoted."""
MOST_OF_A_KEY = 160
MOST_DIGITS = 10**4000
MOST_LISTED = 320
"""So many characters of a list of choices are told."""
BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True)
class Problem:
    """One mistake: the file, the key as a person writes it, what was found, and the facts of its sentence.

    `code` names the sentence: `error.<code>` in the word catalogue, or a full catalogue key where it has a
    dot. Facts named `months` are calendar months, `unit` is a declared unit, `first` and `last` a `YYYY-MM`;
    tuples are listed, numbers written in the language's way. The choice most like a fact named `like` is offered.
    """

    file: str
    key: str
    code: str
    found: str = ""
    facts: Mapping[str, Any] = FrozenDict()

    def sentence(self, words: Words) -> str:
        """Say the mistake in the language of `words`."""
        said: dict[str, Any] = {name: _say(words, name, fact) for name, fact in self.facts.items()}
        if "n" in self.facts:
            said["n"] = self.facts["n"]
        nearest = self.facts.get("near") or near(self.facts.get("like", ""), self.facts.get("choices", ()))
        said["near"] = words("error_part.near", near=nearest) if nearest else ""
        if "kind" in self.facts:
            said["accepted"] = _accepted(words, self.facts)
        key = self.code if "." in self.code else f"error.{self.code}"
        file = quoted(self.file) or words("error_part.this_scenario")
        return words(key, file=file, key=quoted(self.key, MOST_OF_A_KEY), found=quoted(self.found), **said)


class ScenarioError(Exception):
    """What is stated cannot be used: `problems` holds the first mistakes found, `more` the number of the others.

    Example:
        >>> from renovation.inputs import read_scenario
        >>> try:
        ...     read_scenario("", "empty.toml")
        ... except ScenarioError as error:
        ...     error.problems[0].code
        'empty_file'
    """

    def __init__(self, problems: Iterable[Problem], more: int = 0) -> None:
        """Hold the mistakes, each once."""
        found = tuple(dict.fromkeys(problems))
        self.problems, self.more = found[:MOST_TOLD], more + len(found[MOST_TOLD:])
        super().__init__(self.problems, self.more)

    def sentences(self, words: Words) -> list[str]:
        """One sentence for each mistake, and one for those that are not told."""
        told = [problem.sentence(words) for problem in self.problems]
        return [*told, words("error_part.more_mistakes", n=self.more)] if self.more else told

    def __str__(self) -> str:
        """The sentences in English, one a line."""
        return "\n".join(self.sentences(Words("en")))


def near(found: str, known: Iterable[str]) -> str:
    """The known name most like the one found, or nothing.

    Example:
        >>> near("side_grafft", ["side_graft", "bud_graft"])
        'side_graft'
    """
    if not 0 < len(found) <= MOST_QUOTED:
        return ""
    folded = {name.casefold(): name for name in map(str, known)}
    matches = difflib.get_close_matches(found.casefold(), folded, n=1, cutoff=0.75)
    return folded[matches[0]] if matches else ""


# Words of the parts of a sentence


def unit_words(words: Words, unit: str, currency: str) -> str:
    """Say a declared unit in words: `money/tree/year` is GHS per tree and year.

    Example:
        >>> unit_words(Words("en"), "money/tree/year", "GHS")
        'GHS per tree and year'
    """
    key, currency = f"unit_name.{unit}", words.currency_name(currency)
    return words(key, currency=currency) if key in words else in_currency(unit, currency)


def _say(words: Words, name: str, fact: Any) -> str:
    """Say one fact; a mistake within a mistake is said in its own sentence."""
    if isinstance(fact, Problem):
        return fact.sentence(words)
    if name == "months":
        return words.listing([words.month_name(month) for month in fact])
    if name in ("first", "last") and isinstance(fact, str):
        return words.month(fact) if len(fact) == 7 else fact  # no calendar goes beyond the year 9999
    if name == "technique":
        return words.name("technique", quoted(str(fact)))
    if isinstance(fact, tuple):
        return _listed(words, [quoted(str(entry)) for entry in fact])
    if isinstance(fact, int | float) and not isinstance(fact, bool):
        return words.number(fact)
    return quoted(str(fact))


def _listed(words: Words, choices: list[str]) -> str:
    """List choices, so many as a sentence holds, and say how many more there are."""
    long = itertools.accumulate(len(choice) + 2 for choice in choices)
    shown = sum(length <= MOST_LISTED for length in long)
    if shown < len(choices):
        choices = [*choices[:shown], words("error_part.more_choices", n=len(choices) - shown)]
    return words.listing(choices)


def _accepted(words: Words, facts: Mapping[str, Any]) -> str:
    """Say what is accepted at a place: its kind, its bounds and its unit."""
    kind = facts["kind"]
    if kind not in ("number", "whole"):
        return words(f"error_accepted.{kind}", **{k: _say(words, k, facts[k]) for k in ("choices",) if k in facts})
    lower, upper = facts.get("lower"), facts.get("upper")
    if lower is None or upper is None:
        span = ""
    elif upper >= MOST:
        span = words("error_range.lower_only", lower=words.number(lower))
    else:
        edges = {"lower": words.number(lower), "upper": words.number(upper)}
        opening = ("open" if facts["lower_open"] else "closed") + ("_open" if facts["upper_open"] else "_closed")
        span = words(f"error_range.{opening}", **edges)
    text = words(f"error_accepted.{kind}", span=span)
    if not facts.get("unit"):
        return text
    return words("error_part.with_unit", accepted=text, unit=unit_words(words, facts["unit"], facts["currency"]))


def quoted(text: str, most: int = MOST_QUOTED) -> str:
    """Text as a sentence quotes it: on one line, shortened in the middle.

    Example:
        >>> quoted("a\\nb"), quoted("0123456789", most=5)
        ('a b', '01…89')
    """
    if len(text) > most:
        text = text[: most // 2] + "…" + text[len(text) - (most - 1) // 2 :]
    return "".join(letter if letter.isprintable() else " " for letter in text)


def as_written(value: Any) -> str:
    """Show a value as a TOML file writes it, shortened.

    Example:
        >>> as_written(True), as_written("2,4"), as_written((1, 2.5))
        ('true', '"2,4"', '[1, 2.5]')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        shown = value if len(value) <= 60 else value[:57] + "…"
        return f'"{shown}"'
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    if isinstance(value, list | tuple):
        shown = ", ".join(as_written(entry) for entry in value[:14])
        return f"[{shown}{', …' if len(value) > 14 else ''}]"
    if isinstance(value, Mapping):
        return "{" + ", ".join(map(quoted, itertools.islice(map(str, value), 4))) + (", …}" if len(value) > 4 else "}")
    if isinstance(value, int) and abs(value) >= MOST_DIGITS:
        return hex(value)  # as it was written: no decimal number of so many digits is read
    return str(value)


# Where a mistake stands


def key_text(raw: Any, path: Sequence[str | int]) -> str:
    """Write a path as a person finds it in the file.

    Entries of a list go by their name where it is unique, else by number from 1; a path that goes on inside a
    bare value ends there.

    Example:
        >>> key_text({"stands": [{"name": "Lower field"}]}, ("stands", 0, "trees"))
        'stands "Lower field".trees'
    """
    text, node = "", raw
    for part in path:
        if isinstance(part, int):
            text += _entry_text(node, part)
            node = node[part] if isinstance(node, list | tuple) and part < len(node) else None
            continue
        if node is not None and not isinstance(node, Mapping):
            break
        text += ("." if text else "") + (part if BARE_KEY.fullmatch(part) else f'"{part}"')
        node = node.get(part) if node is not None else None
    return text


def _entry_text(entries: Any, position: int) -> str:
    """Name an entry of a list."""
    if isinstance(entries, list | tuple):
        names = [entry.get("name") if isinstance(entry, Mapping) else None for entry in entries]
        name = names[position] if position < len(names) else None
        if isinstance(name, str) and name.strip() and len(name) <= 80 and names.count(name) == 1:
            return f' "{name}"'
    return f"[{position + 1}]"


def each(value: Any) -> Iterator[tuple[int, Any]]:
    """Walk the entries of a list with their positions; nothing where it is no list."""
    return iter(enumerate(value)) if isinstance(value, list | tuple) else iter(())
