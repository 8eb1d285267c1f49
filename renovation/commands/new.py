"""`renovation new`: a farm of one's own, asked for question by question, or an empty file to fill in."""

import sys
from argparse import Namespace
from collections.abc import Mapping
from datetime import date
from typing import Any

from renovation.commands.shared import Parser, Refused, refuse_output, under_stamp, write
from renovation.inputs import Scenario, ScenarioError, reading
from renovation.inputs.errors import near
from renovation.inputs.notebook import QUESTIONS, Entry, Question, Row, Unanswered, answered, new_farm, read_entry
from renovation.inputs.tally import CLASSES
from renovation.words import Words
from renovation.words.folding import folded


def options(parser: Parser) -> None:
    """Where to write the farm, and whether as an empty file."""
    parser.valued("-o", "--output", name="path", key="new_output")
    parser.switch("--blank", "new_blank")


def do(args: Namespace, words: Words) -> str:
    """Ask, or set out an empty file; write it. The end of what is typed ends it with nothing written."""
    from renovation.inputs import write_scenario
    from renovation.inputs.blank import blank_file
    from renovation.show.guesses import counted, held

    refuse_output(args, ".toml", words)
    if args.blank:
        return "\n".join([write(args.output, blank_file(words), words), words("notebook.blank_written")]) + "\n"
    farm = new_farm(date.today().strftime("%Y-%m"), words("notebook.farm_name"), words("notebook.field_name", n=1))
    _tell(words("notebook.lead"), words("notebook.empty_goes_on", back=words("notebook.back").lower()))
    place = 0
    try:
        while place < len(QUESTIONS):
            words = words.for_country(farm.about.country)
            question, progress = QUESTIONS[place], words("notebook.progress", n=place + 1, of=len(QUESTIONS))
            _tell("", progress, *(words(f"notebook.{part}.{question.name}") for part in ("question", "why")))
            _tell(*held(farm, question, words))
            try:
                farm, place = _asked(farm, question, words), place + 1
            except _Back:
                place = max(0, place - 1)
    except EOFError:
        _tell("")
        raise Refused(words("notebook.ended")) from None
    said = write(args.output, write_scenario(farm), words)
    return under_stamp(farm, words, *filter(None, [counted(farm, words), said]))


class _Back(Exception):  # noqa: N818 - the name says what is wanted
    """The question before is wanted again."""


def _input(label: str, words: Words) -> str:
    """What is typed on a line. Errors: _Back where that is the word for going back, EOFError at the end of input."""
    typed = input(f"{label} ").strip()
    if folded(typed) == folded(words("notebook.back")):
        raise _Back
    return typed


def _tell(*sentences: str) -> None:
    """Sentences at once, a line each: the next thing is waited for."""
    sys.stdout.write("".join(f"{sentence}\n" for sentence in sentences))
    sys.stdout.flush()


def _asked(farm: Scenario, question: Question, words: Words) -> Scenario:
    """The farm with a question answered; asked again where the answer cannot be."""
    while True:
        try:
            return answered(farm, question, _rows(farm, question, words))
        except Unanswered as missing:
            _tell(words("notebook.missing", what=words(f"notebook.entry.{missing.entry}")))
        except ScenarioError as error:
            _tell(*error.sentences(words))


def _rows(farm: Scenario, question: Question, words: Words) -> list[Row]:
    """What is typed for a question: a line of entries, or line after line until one begins empty.

    What few can tell is asked for at the end, of all lines, where somebody says yes.
    """
    measure = ""
    if question.measures:
        names = {one: words(f"notebook.measure.{one}") for one in question.measures}
        measure = _chosen(words("notebook.measure.ask"), names, words) or question.measures[0]
    entries = question.of_measure(measure)
    first, *others = [entry for entry in entries if not entry.aside]
    rows: list[dict[str, Any]] = []
    while question.many or not rows:
        begun = _typed(farm, question, first, len(rows), words)
        if begun is None and (question.many or not others):
            break
        rows.append(
            {first.name: begun} | {entry.name: _typed(farm, question, entry, len(rows), words) for entry in others}
        )
    told = [row for row in rows if any(value is not None for value in row.values())]
    if not any(entry.needed for entry in entries):
        told = rows or [{}]
    if told and (rest := [entry for entry in entries if entry.aside]) and _wanted(question, words):
        for number, row in enumerate(told):
            row |= {entry.name: _typed(farm, question, entry, number, words) for entry in rest}
    called = {one: words(f"tally.class.{one}") for one in CLASSES}
    return [{**row, **({"measure": measure, "called": called} if measure else {})} for row in told]


def _wanted(question: Question, words: Words) -> bool:
    """Whether what few can tell is to be asked for: yes may be typed in full or by its first letter."""
    yes = words("notebook.yes")
    asked = words("notebook.aside_too", what=words(f"notebook.aside.{question.name}"), yes=yes)
    return folded(_input(asked, words)) in (folded(yes), folded(yes[:1]))


def _typed(farm: Scenario, question: Question, entry: Entry, row: int, words: Words) -> Any:
    """One entry, asked again until it can be read; None where it is left empty."""
    label = words(f"notebook.entry.{entry.name}")
    if question.many:
        label = words(f"notebook.line.{question.name}", what=label, n=row + 1)
    if entry.kind == "choice":
        return _chosen(label, {one: words.name("window", one) for one in entry.options}, words)
    if entry.kind == "month":
        label = words("notebook.month_like", what=label, month=farm.appraisal.start)
    elif entry.kind == "number" and entry.declared.unit.startswith("money"):
        label = words("notebook.in_money", what=label, money=farm.appraisal.currency)
    while True:
        try:
            found = read_entry(entry, typed := _input(f"{label}:", words), farm.appraisal.currency, words)
        except ScenarioError as error:
            _tell(*error.sentences(words))
            continue
        if entry.kind == "number" and (said := reading(typed, words)):
            _tell(said)
        return found


def _chosen(label: str, options: Mapping[str, str], words: Words) -> str | None:
    """One of a few by its number or its name, with or without its accents; None where nothing is typed.

    options: what each is called in the language; what it is called in a file is read too.
    """
    numbered = {str(number): option for number, option in enumerate(options, start=1)}
    known = numbered | {folded(name): option for option, said in options.items() for name in (option, said)}
    shown = ", ".join(f"{number} {options[option]}" for number, option in numbered.items())
    while True:
        typed = _input(f"{words('notebook.choice', what=label, options=shown)}:", words)
        if not typed or folded(typed) in known:
            return known.get(folded(typed))
        nearest = near(typed, options.values())
        like = {"found": typed, "near": nearest or ""}
        _tell(words("notebook.choice_near" if nearest else "notebook.choice_unknown", **like))
