"""`renovation workbook`: the spreadsheet for the lender."""

from argparse import Namespace
from datetime import date

from renovation.commands.shared import Parser, at_lower_prices, read_scenario, refuse_output, worded, write
from renovation.words import Words


def options(parser: Parser) -> None:
    """A file, and where to write."""
    parser.positional("file", "file")
    parser.valued("--price-lower", name="percent", key="price_lower")
    parser.valued("-o", "--output", name="path", key="workbook_output")
    parser.valued("--record", name="path", key="workbook_record")
    parser.switch("--as-planned", "as_planned")


def do(args: Namespace, words: Words) -> str:
    """Write the workbook."""
    from renovation.commands.report import signed_by
    from renovation.decide.dossier import Dossier
    from renovation.show.workbook import workbook_of

    scenario = at_lower_prices(args, read_scenario(args, words), words)
    words = words.for_country(scenario.about.country)
    refuse_output(args, ".xlsx", words)
    with worded(words):
        dossier = Dossier(scenario, signed=signed_by(args, scenario))
        content = workbook_of(dossier, words, date.today())
    return write(args.output, content, words) + "\n"
