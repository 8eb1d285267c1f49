"""`renovation cash`: the household's cash with the plan and without, and the work by month."""

from argparse import Namespace
from functools import partial

from renovation.commands.shared import Parser, asked, followed, told, width, worded
from renovation.words import Words

TABLES = ("months", "years", "labour")
"""The tables that --csv may write, the first where none is named."""


def options(parser: Parser) -> None:
    """A file, and how the answer is given."""
    parser.positional("file", "file")
    parser.outputs(*TABLES)


def do(args: Namespace, words: Words) -> str:
    """Say when money runs short and whether there are hands enough."""
    from renovation.decide.dossier import Dossier
    from renovation.show.cash import tables

    scenario, table = asked(args, words, *TABLES)
    words = words.for_country(scenario.about.country)
    dossier = Dossier(scenario)
    with worded(words):
        cash, labour, plan = dossier.cash, dossier.labour, followed(dossier, words)
    rows = partial(tables.cash_rows, cash, labour)
    document = {"followed": dossier.followed, "cash": cash.as_dict(), "labour": labour.as_dict()}
    text = "\n\n".join(filter(None, [plan, tables.cash_text(cash, labour, scenario, words, width())]))
    return told(args, scenario, words, lambda stamp: rows(stamp)[table], lambda: document, lambda: text)
