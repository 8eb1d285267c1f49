"""`renovation new`: a farm of one's own, asked for question by question, or an empty file to fill in."""

import sys
from argparse import Namespace
from collections.abc import Sequence
from datetime import date
from typing import Any

from renovation.commands.shared import Parser, Refused, refuse_output, under_stamp, write
from renovation.inputs import Scenario, ScenarioError
from renovation.inputs.errors import near
from renovation.inputs.notebook import QUESTIONS, Entry, Question, Row, Unanswered, answered, new_farm, read_entry
from renovation.words import Words


def options(parser: Parser) -> None:
    """Where to write the farm, and whether as an empty file."""
    parser.valued("-o", "--output", name="path", key="new_output")
    parser.switch("--blank", "new_blank")


def do(args: Namespace, words: Words) -> str:
    """Ask, or set out an empty file; write it. The end of what is typed ends it with nothing written."""
    from renovation.inputs import write_scenario
    from renovation.inputs.blank import blank_file
    from renovation.show.guesses import counted

    refuse_output(args, ".toml", words)
    if args.blank:
        return "\n".join([write(args.output, blank_file(words), words), words("notebook.blank_written")]) + "\n"
    farm = new_farm(date.today().strftime("%Y-%m"), words("notebook.farm_name"), words("notebook.field_name", n=1))
    _tell(words("notebook.lead"), words("notebook.empty_goes_on"))
    try:
        for place, question in enumerate(QUESTIONS, start=1):
            progress = words("notebook.progress", n=place, of=len(QUESTIONS))
            _tell("", progress, *(words(f"notebook.{part}.{question.name}") for part in ("question", "why")))
            farm = _asked(farm, question, words)
    except EOFError:
        raise Refused(words("notebook.ended")) from None
    said = write(args.output, write_scenario(farm), words)
    return under_stamp(farm, words, *filter(None, [counted(farm, words), said]))


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
    """What is typed for a question: a line of entries, or line after line until one begins empty."""
    measure = ""
    if question.measures:
        names = {words(f"notebook.measure.{one}"): one for one in question.measures}
        measure = names.get(_chosen(words("notebook.measure.ask"), [*names], words) or "", "")
        if not measure:
            return []
    rows: list[Row] = []
    while True:
        first, *others = question.of_measure(measure)
        begun = _typed(farm, question, first, len(rows), words)
        if begun is None and (question.many or not others):
            return rows
        row = {first.name: begun} | {entry.name: _typed(farm, question, entry, len(rows), words) for entry in others}
        rows.append({**row, "measure": measure} if measure else row)
        if not question.many:
            return rows


def _typed(farm: Scenario, question: Question, entry: Entry, row: int, words: Words) -> Any:
    """One entry, asked again until it can be read; None where it is left empty."""
    label = words(f"notebook.entry.{entry.name}")
    if question.many:
        label = words("notebook.entry_of_row", what=label, n=row + 1)
    if entry.kind == "choice":
        return _chosen(label, entry.options, words)
    if entry.kind == "month":
        label = words("notebook.month_like", what=label, month=farm.appraisal.start)
    while True:
        try:
            return read_entry(entry, input(f"{label}: "), farm.appraisal.currency)
        except ScenarioError as error:
            _tell(*error.sentences(words))


def _chosen(label: str, options: Sequence[str], words: Words) -> str | None:
    """One of a few names, large or small letters; None where nothing is typed."""
    known = {option.casefold(): option for option in options}
    while True:
        typed = input(f"{words('notebook.choice', what=label, options=', '.join(options))}: ").strip()
        if not typed or typed.casefold() in known:
            return known.get(typed.casefold())
        nearest = near(typed, [*options])
        like = {"found": typed, "near": nearest or ""}
        _tell(words("notebook.choice_near" if nearest else "notebook.choice_unknown", **like))
