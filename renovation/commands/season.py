"""`renovation season`: the season's record of a farm, as an empty table to fill in."""

from argparse import Namespace
from datetime import date

from renovation.commands.shared import Parser, Refused, read_scenario, refuse_output, usage, write
from renovation.words import Words

PRINTED = ".html"


def options(parser: Parser) -> None:
    """A file, what is wanted of its season, and where to write."""
    parser.positional("file", "file")
    parser.switch("--blank", "season_blank")
    parser.valued("-o", "--output", name="path", key="season_output")


def do(args: Namespace, words: Words) -> str:
    """Write the empty table of this farm's first year: a CSV, or a page to print."""
    from renovation.inputs import season_cells, season_csv
    from renovation.show.season.blank import season_page

    farm = read_scenario(args, words)
    if not args.blank:
        raise Refused(words("command.error.season_what", usage=usage(args.command, words)))
    printed = (args.output or "").casefold().endswith(PRINTED)
    refuse_output(args, PRINTED if printed else ".csv", words)
    content = season_page(farm, words, date.today()) if printed else season_csv(season_cells(farm))
    return write(args.output, content, words) + "\n"
