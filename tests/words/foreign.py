"""English that was left in a text of another language: on a page, a printed sheet, in an answer of the command line.

A word is English where English says it and the other language's catalogue never does; to the catalogue's words come
those that grammar needs and those that libraries say by themselves. Words that both languages have ("plan", "simple")
count only as part of a phrase that the English catalogue holds and the other does not. Names of columns and commands
("month"), which a sentence of any language may quote, count where they stand beside other words than in such a
sentence. What somebody typed (`typed` lists it for a scenario), code, names of files and options are cut out first.
"""

import json
import re
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from html import unescape
from itertools import pairwise
from pathlib import Path

from pydantic import BaseModel

import renovation.defaults
from renovation.commands import COMMANDS
from renovation.inputs import json_schema, models, parameter_table
from renovation.words import Words
from renovation.words.reasons import said_again

DEFAULTS = Path(renovation.defaults.__file__).parent
WORD = re.compile(r"(?<!\w)[^\W\d_]+(?:['’][^\W\d_]+)*(?!\w)")
CUT = " · "
"""In the place of what was cut out: no run goes on beyond it."""
TOKEN = re.compile(rf"{WORD.pattern}|·")
CODE = re.compile(
    r"""[A-Z]{2}\\?\$ | \$[A-Z]{2}\b                 # a sign of a currency
      | \brenovation(?:\ [a-z]+\b)?                 # the program and a command of it
      | (?<!\w)--?[a-z][\w-]*                      # an option
      | [\w.]+\ =\ (?:"[^"]*"|[\d.]+)             # a key set to a value
      | \S*[\w)\]][_=][\w("\[]\S* | \[[\w.]+\]     # a key, a key with its value, a table of a file
      | \b\w+(?:\.\w+)+ | \S*/\S+                  # a name of a file, a path, an address
    """,
    re.VERBOSE,
)
SLOT = re.compile(r"\{\w+(?:[:!][^}]*)?\}")
SAID_ALOUD = re.compile(r"""\s(?:alt|title|aria-label|aria-roledescription|placeholder)=(?:"([^"]*)"|'([^']*)')""")
GRAMMAR = """
the of and which that this these those is are was were be been has have had not with from into than then they their
there where when while would could should must may might each every between against your you we our its it by for at or
if but because without within about above below after before until
"""
LIBRARIES = """
usage positional optional arguments options show message exit error following required expected invalid choice
unrecognized default true false none null value values type string array objects items field input should valid warning
failed file page sheet table total chart axis title unknown untitled loading running
"""
_QUOTED = """
month tree trees farm stand pods made taken season price value low high start take all check compare show invent every
times empty what
"""
QUOTED = frozenset(_QUOTED.split())
"""Names of columns and commands: no words of the other languages, yet in their sentences."""
FREE = frozenset({"name", "label", "note", "notes", "citation", "because", "stand", "about", "place", "currency"})
"""Fields of a scenario that hold what somebody typed."""
Phrase = tuple[str, ...]


def english_in(text: str, language: str, own: Iterable[str] = ()) -> list[str]:
    """Each run of English words in a text of another language, in order; `own` is what somebody typed, word for word.

    Example:
        >>> english_in("El saldo: money runs short en mayo.", "es")
        ['money runs short']
        >>> english_in("El saldo de Old field en mayo.", "es", ["Old field"])
        []
    """
    said = ["", *(word.casefold() for word in TOKEN.findall(_ours(text, own))), ""]
    english, beside = vocabulary("en"), _beside_quoted(language)
    foreign, runs = _foreign(language), list[str]()
    run, caught = list[str](), False
    for before, word, after in zip(said, said[1:], [*said[2:], ""], strict=False):
        if word in english:
            run.append(word)
            quoted = word in QUOTED and not {(before, word), (word, after)} & beside
            caught = caught or word in foreign or quoted
            continue
        if caught or _holds_phrase(run, language):
            runs.append(" ".join(run))
        run, caught = [], False
    return runs


def untranslated(language: str) -> dict[str, str]:
    """Entries of a catalogue that say three words or more exactly as English does."""
    english, other = entries("en"), entries(language)
    same = {key: text for key in english for text in set(english[key]) & set(other.get(key, ()))}
    return {key: text for key, text in same.items() if len(WORD.findall(CODE.sub(" ", SLOT.sub(" ", text)))) > 2}


def read_aloud(html: str) -> str:
    """What a page of HTML says, its drawings' texts and what is only read aloud with it."""
    body = re.sub(r"<(style|script)\b.*?</\1>", " ", html, flags=re.DOTALL)
    aloud = [one or other for one, other in SAID_ALOUD.findall(body)]
    return unescape("\n".join([re.sub(r"<[^>]*>", " ", body), *aloud]))


def typed(model: object) -> set[str]:
    """What somebody typed into a scenario: its names, labels, notes and sources, wherever they stand."""
    return set(_typed(model.model_dump() if isinstance(model, BaseModel) else model, "")) - set(said_again("es"))


@cache
def shipped() -> frozenset[str]:
    """What the program's own figures rest on: citations, as their sources write them."""
    files = [file for file in DEFAULTS.rglob("*.toml") if file.name != "notebook.toml"]
    told = {text for file in files for text in _typed(tomllib.loads(file.read_text("utf-8")), "")}
    declared = (parameter.declared for parameter in parameter_table())
    return frozenset(told | {one.citation for one in declared}) - set(said_again("es"))


@cache
def keys() -> frozenset[str]:
    """Names that a scenario file, an answer in JSON or a table writes in every language, and those of the commands."""
    fields = {name for model in models() for name in model.model_fields}
    ways = {text for file in DEFAULTS.rglob("*.toml") for text in _keys(tomllib.loads(file.read_text("utf-8")))}
    choices = re.findall(r'"(?:enum|const)": (\[[^]]*\]|"[^"]*")', json.dumps(json_schema(Words("en"))))
    return frozenset({*fields, *ways, *COMMANDS, *re.findall(r'"([^"]*)"', " ".join(choices))})


def _keys(node: object) -> Iterator[str]:
    if isinstance(node, dict):
        for name, below in node.items():
            yield str(name)
            yield from _keys(below)
    elif isinstance(node, list):
        for below in node:
            yield from _keys(below)


def _typed(node: object, key: str) -> Iterator[str]:
    if isinstance(node, dict):
        for name, below in node.items():
            yield from _typed(below, str(name))
    elif isinstance(node, list | tuple):
        for below in node:
            yield from _typed(below, key)
    elif isinstance(node, str) and (key in FREE or " " in node):
        yield node


def _ours(text: str, own: Iterable[str]) -> str:
    """The text without what somebody typed, and without code."""
    text = " ".join(text.split())
    for name in _longest_first(frozenset(own)):
        if name in text:  # most are not, and that is found out fast
            text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", CUT, text)
    return CODE.sub(CUT, text)


@cache
def _longest_first(own: frozenset[str]) -> list[str]:
    return sorted({" ".join(name.split()) for name in own} - {""}, key=len, reverse=True)


@cache
def entries(language: str) -> dict[str, tuple[str, ...]]:
    """Every sentence of a catalogue by key, all its plural forms."""
    found = dict(Words(language)._entries)
    return {key: (entry,) if isinstance(entry, str) else tuple(entry.values()) for key, entry in found.items()}


def _phrases(text: str) -> Iterator[Phrase]:
    """The words of a sentence between its places for facts."""
    for piece in CODE.sub("\0", SLOT.sub("\0", text)).split("\0"):
        yield tuple(word.casefold() for word in WORD.findall(piece))


@cache
def vocabulary(language: str) -> frozenset[str]:
    """Every word that a catalogue says, code aside; of English also those of grammar and of libraries."""
    more = f"{GRAMMAR} {LIBRARIES}".split() if language == "en" else ()
    texts = (text for forms in entries(language).values() for text in forms)
    return frozenset(more) | {word for text in texts for phrase in _phrases(text) for word in phrase}


@cache
def _foreign(language: str) -> frozenset[str]:
    """English words that the language never says."""
    said = [Words(language).month_name(at, wide) for at in range(1, 13) for wide in ("wide", "abbreviated")]
    return vocabulary("en") - vocabulary(language) - {month.casefold().strip(".") for month in said}


@cache
def _beside_quoted(language: str) -> frozenset[tuple[str, str]]:
    """Names of columns and commands with the word before or behind them, as sentences of the language quote them."""
    said = (phrase for forms in entries(language).values() for text in forms for phrase in _phrases(text))
    pairs = (pair for phrase in said for pair in pairwise(phrase))
    return frozenset(pair for pair in pairs if QUOTED & set(pair))


@cache
def _english_phrases(language: str) -> dict[str, frozenset[Phrase]]:
    """Phrases of three words and more that English says and the language does not, by their first word."""
    other = " | ".join(
        " ".join(phrase) for forms in entries(language).values() for t in forms for phrase in _phrases(t)
    )
    found: dict[str, set[Phrase]] = {}
    for forms in entries("en").values():
        for phrase in (phrase for text in forms for phrase in _phrases(text)):
            if len(phrase) > 2 and " ".join(phrase) not in other:
                found.setdefault(phrase[0], set()).add(phrase)
    return {word: frozenset(phrases) for word, phrases in found.items()}


def _holds_phrase(run: list[str], language: str) -> bool:
    known = _english_phrases(language)
    return any(
        tuple(run[at : at + len(phrase)]) == phrase for at, word in enumerate(run) for phrase in known.get(word, ())
    )
