"""`renovation sheet`: the sheet for the wall, a page a season."""

from argparse import Namespace
from datetime import date

from renovation.commands.plan import seconds
from renovation.commands.shared import Parser, Refused, read_scenario, refuse_output, whole_number, worded, write
from renovation.inputs import Scenario
from renovation.words import Words

ALL = "all"


def options(parser: Parser) -> None:
    """A file, where to write, which plan, which season, and a time limit."""
    parser.positional("file", "file")
    parser.switch("--expected", "expected")
    parser.valued("-o", "--output", name="path", key="sheet_output")
    parser.valued("--year", name="number", key="sheet_year")
    parser.valued("--seconds", name="number", key="seconds")


def do(args: Namespace, words: Words) -> str:
    """Look for the plan and write its sheet."""
    from renovation.decide.dossier import Dossier
    from renovation.show.plan.which import which_sentences
    from renovation.show.sheet import wall_sheet

    scenario = read_scenario(args, words)
    words = words.for_country(scenario.about.country)
    refuse_output(args, ".html", words)
    years = _years(args.year, scenario, words)
    with worded(words):
        found = Dossier(scenario, seconds=seconds(args, words), bolder=args.expected)
        content = wall_sheet(found.shown.plan, words, date.today(), years, bolder=found.shown_as == "expected")
        which = which_sentences(found.careful, words, bolder=args.expected)
    return "\n".join([*which, write(args.output, content, words)]) + "\n"


def _years(found: str | None, scenario: Scenario, words: Words) -> range:
    """The project years asked for, the first where none is; Refused for one that is not planned."""
    most = scenario.planning.years_of(scenario.appraisal.horizon_years)
    if found == ALL:
        return range(1, most + 1)
    year = 1 if found is None else whole_number(found)
    if year is None or not 1 <= year <= most:
        raise Refused(words("command.error.no_season", found=found, most=words.number(most)))
    return range(year, year + 1)
