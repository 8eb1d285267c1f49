"""`renovation note`: the credit note of two pages, with the report as its appendix where that is asked for."""

from argparse import Namespace
from datetime import date

from renovation.commands.shared import Parser, read_scenario, refuse_output, worded, write
from renovation.words import Words


def options(parser: Parser) -> None:
    """A file, where to write, and whether the report stands behind the note."""
    parser.positional("file", "file")
    parser.valued("-o", "--output", name="path", key="note_output")
    parser.switch("--appendix", "note_appendix")


def do(args: Namespace, words: Words) -> str:
    """Write the note."""
    from renovation.decide.dossier import Dossier
    from renovation.show import note

    scenario = read_scenario(args, words)
    refuse_output(args, ".html", words)
    with worded(words):
        made = (note.with_appendix if args.appendix else note.note_of)(Dossier(scenario), words, date.today())
    return write(args.output, made, words) + "\n"
