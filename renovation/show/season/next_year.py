"""Next year's farm in words: line by line what was taken over and what was assumed, and its file with these lines."""

from collections.abc import Callable
from typing import Any

from renovation.decide.cohorts import Note
from renovation.decide.next_year import NextYear
from renovation.inputs import Scenario, write_scenario
from renovation.show.guesses import counted
from renovation.show.voice import Voice
from renovation.words import Words

CROP_DIGITS = 3
COUNT_DIGITS = 1


def note_sentences(found: NextYear, words: Words, *, assumed: bool) -> list[str]:
    """The notes of one kind, in their order; the currency and the names are those of the new farm.

    Example:
        >>> from renovation.decide.next_year import next_year
        >>> from renovation.inputs import SeasonRecord, demo_scenario
        >>> farm = demo_scenario("few_hands")
        >>> found = next_year(farm, SeasonRecord(season=farm.appraisal.start, money_in_hand=90000.0))
        >>> note_sentences(found, Words("en"), assumed=False)[-1]
        'Money in hand: FCFA\\xa090,000, as counted.'
    """
    voice = Voice.of(found.farm, words)
    return [_said(note, found.farm, voice) for note in found.notes if note.assumed is assumed]


def next_text(found: NextYear, words: Words) -> str:
    """Both lists under their heads, and how many figures are still guesses, for the terminal."""
    parts = []
    for head, assumed in (("taken_over", False), ("assumed", True)):
        lines = note_sentences(found, words, assumed=assumed)
        parts += [words(f"next.{head}"), *(f"- {line}" for line in lines), ""] if lines else []
    return "\n".join([*parts, *([counted(found.farm, words), ""] if found.farm.guessed else [])])


def next_file(found: NextYear, words: Words, over: str = "") -> str:
    """Next year's scenario file, under comments that say what was taken over and what was assumed.

    over: the text of this year's file, whose comments and order stay, but for what was said so at its own head.

    Example:
        >>> from renovation.decide.next_year import next_year
        >>> from renovation.inputs import SeasonRecord, demo_scenario, read_scenario
        >>> farm = demo_scenario("few_hands")
        >>> found = next_year(farm, SeasonRecord(season=farm.appraisal.start, money_in_hand=90000.0))
        >>> read_scenario(next_file(found, Words("en")), "next.toml") == found.farm
        True
    """
    head = words("next.file_head", name=found.farm.about.name)
    lines = [head, "", *next_text(found, words).splitlines()]
    printable = ["".join(letter if letter.isprintable() else " " for letter in line) for line in lines]
    notes = "\n".join(f"# {line}".rstrip() for line in printable).rstrip("#\n ")
    _, end, rest = over.partition("\n\n")
    body = rest if end and over.startswith(notes.partition("\n")[0] + "\n") else over
    return f"{notes}\n\n{write_scenario(found.farm, body)}"


def _said(note: Note, farm: Scenario, voice: Voice) -> str:
    """One note as a sentence."""
    facts = {name: _SAY.get(name, _count)(fact, voice) for name, fact in note.facts.items() if name != "technique"}
    if "technique" in note.facts:
        facts["way"] = voice.way(note.facts["technique"])
    if "inflation" in facts:
        facts["share"] = facts.pop("inflation")
    key = f"next.note.{note.code.replace('.', '_')}"
    if note.code.startswith("crop."):
        stand = farm.stand(note.facts["stand"])
        unit = "pods/tree/year" if stand.pods else "kg/tree/year"
        facts["unit"] = voice.words(f"unit_name.{unit}")
        facts["n"] = voice.words.number(round(note.facts["n"], CROP_DIGITS))
    elif "n" in note.facts:
        facts["n"] = round(note.facts["n"], COUNT_DIGITS)
    return voice.sentence(key, **facts)


def _count(fact: Any, voice: Voice) -> str:
    return voice.words.number(round(fact, COUNT_DIGITS))


def _text(fact: Any, _: Voice) -> str:
    return str(fact)


def _month(fact: Any, voice: Voice) -> str:
    return voice.words.month(fact)


def _share(fact: Any, voice: Voice) -> str:
    return voice.words.percent(fact)


def _money(fact: Any, voice: Voice) -> str:
    return voice.exact_money(fact or 0.0)


_SAY: dict[str, Callable[[Any, Voice], str]] = {
    "stand": _text,
    "loan": _text,
    "start": _month,
    "month": _month,
    "due": lambda fact, voice: _month(fact, voice) if isinstance(fact, str) else _money(fact, voice),
    "share": _share,
    "inflation": _share,
    "money": _money,
    "paid": _money,
    "owed": _money,
    "price": _money,
}
