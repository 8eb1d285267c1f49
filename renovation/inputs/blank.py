"""An empty scenario file: each key with what it is for, its unit and bounds, and no figure that anybody made up."""

import re
from collections.abc import Iterator

from renovation.inputs.declared import Parameter, parameter_table
from renovation.inputs.defaults import default_techniques
from renovation.inputs.errors import unit_words
from renovation.words import Words

SECTIONS = ("about", "appraisal", "household", "market", "stands[]", "loans[]", "planning", "planning.records[]")
NEEDED = SECTIONS[:5]
"""Sections without which there is no farm; the others are commented out."""


def blank_file(words: Words) -> str:
    """The whole file: its sections in their order, every key commented out until it is known.

    Only the list of ways is filled in. Reading it as it is refuses what is missing, sentence by sentence.
    """
    ways = ", ".join(f'"{key}"' for key, way in default_techniques().items() if way.works_on == "trees")
    parts = [f"# {words('notebook.blank_head')}", f"# {words('field.File.consider.help')}\nconsider = [{ways}]"]
    return "\n\n".join([*parts, *("\n".join(_section(name, words)) for name in SECTIONS)]) + "\n"


def _section(name: str, words: Words) -> Iterator[str]:
    """The head of a section and its keys."""
    bare = name.removesuffix("[]")
    head = f"[[{bare}]]" if name.endswith("[]") else f"[{bare}]"
    yield head if name in NEEDED else f"# {head}"
    for row in parameter_table():
        key = row.key.removeprefix(f"{name}.")
        if row.key.startswith(f"{name}.") and re.fullmatch(r"[a-z_]+(\.[a-z_]+)?", key):
            yield from _key(key, row, words)


def _key(key: str, row: Parameter, words: Words) -> Iterator[str]:
    """What a key means, its unit and bounds, what holds without it, and the key."""
    said = row.declared
    unit = unit_words(words, said.unit, words("field.Appraisal.currency.label")) if said.unit else ""
    low, high = (None if end is None or abs(end) >= 1e12 else words.number(end) for end in (said.lower, said.upper))
    ends = f"{low or '…'} – {high or '…'}" if low is not None or high is not None else ""
    facts = ", ".join(filter(None, [unit, ends]))
    yield f"# {words(said.help_key)}{f' ({facts})' if facts else ''}"
    default = said.default
    known = isinstance(default, int | float) and not isinstance(default, bool)
    yield f"# {key} = {default}" if known else f"# {key} = "
