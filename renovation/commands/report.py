"""`renovation report`: the credit note of two pages, with the whole report as its appendix where that is asked for."""

from argparse import Namespace
from datetime import date
from typing import TYPE_CHECKING

from renovation.commands.plan import seconds
from renovation.commands.shared import Parser, at_lower_prices, read_scenario, refuse_output, worded, write
from renovation.inputs import Scenario
from renovation.words import Words

if TYPE_CHECKING:
    from renovation.decide.after_signing import AfterSigning
    from renovation.decide.happened import Happened


def options(parser: Parser) -> None:
    """A file, where to write, whether the appendix stands behind the note, and what it sets out."""
    parser.positional("file", "file")
    parser.valued("--price-lower", name="percent", key="price_lower")
    parser.valued("-o", "--output", name="path", key="report_output")
    parser.switch("--appendix", "report_appendix")
    parser.switch("--plan", "report_plan")
    parser.switch("--expected", "report_expected")
    parser.valued("--seconds", name="number", key="seconds")
    parser.switch("--robust", "report_robust")
    parser.valued("--record", name="path", key="report_record")
    parser.switch("--as-planned", "as_planned")


def do(args: Namespace, words: Words) -> str:
    """Write the note; what only the appendix sets out brings it along."""
    from renovation.decide.dossier import Dossier
    from renovation.show import note

    scenario = at_lower_prices(args, read_scenario(args, words), words)
    words = words.for_country(scenario.about.country)
    refuse_output(args, ".html", words)
    limit = seconds(args, words)
    with worded(words):
        dossier = Dossier(
            scenario,
            seconds=limit,
            bolder=args.expected,
            year_is_stated=not (args.plan or args.expected),
            prints_careful=args.robust,
            happened=_happened(args, scenario),
            signed=signed_by(args, scenario),
        )
        whole = args.appendix or args.plan or args.expected or args.robust or args.record is not None
        text = (note.with_appendix if whole else note.note_of)(dossier, words, date.today())
    return write(args.output, text, words) + "\n"


def signed_by(args: Namespace, scenario: Scenario) -> "AfterSigning | None":
    """The loans after signing, where the season's record is named."""
    if args.record is None:
        return None
    from renovation.decide.after_signing import after_signing
    from renovation.inputs import load_season

    return after_signing(scenario, load_season(args.record, scenario), as_planned=args.as_planned)


def _happened(args: Namespace, scenario: Scenario) -> "Happened | None":
    """The season looked back upon, where its record is named."""
    if args.record is None:
        return None
    from renovation.decide.happened import planned_and_happened
    from renovation.inputs import load_season

    return planned_and_happened(scenario, load_season(args.record, scenario), as_planned=args.as_planned)
