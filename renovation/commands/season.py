"""`renovation season`: the season's record of a farm, as an empty table, and looked back upon once it is filled."""

from argparse import Namespace
from datetime import date
from functools import partial

from renovation.commands.shared import (
    Parser,
    Refused,
    asked,
    followed,
    refuse_output,
    told,
    usage,
    width,
    worded,
    write,
)
from renovation.inputs import Scenario
from renovation.words import Words

PRINTED = ".html"
TABLES = ("parts", "figures")
"""The tables that --csv may write, the first where none is named."""


def options(parser: Parser) -> None:
    """A file, what is wanted of its season, and where to write."""
    parser.positional("file", "file")
    parser.switch("--blank", "season_blank")
    parser.valued("-o", "--output", name="path", key="season_output")
    parser.valued("--record", name="path", key="record")
    parser.switch("--as-planned", "as_planned")
    parser.outputs(*TABLES)


def do(args: Namespace, words: Words) -> str:
    """Write the empty table of this farm's first year, or set its record beside what was expected."""
    farm, table = asked(args, words, *TABLES)
    words = words.for_country(farm.about.country)
    if args.blank == (args.record is not None):
        raise Refused(words("command.error.season_what", usage=usage(args.command, words)))
    return _blank(args, farm, words) if args.blank else _happened(args, farm, table, words)


def _blank(args: Namespace, farm: Scenario, words: Words) -> str:
    """A CSV, or a page to print."""
    from renovation.inputs import season_cells, season_csv
    from renovation.show.season.blank import season_page

    printed = (args.output or "").casefold().endswith(PRINTED)
    refuse_output(args, PRINTED if printed else ".csv", words)
    content = season_page(farm, words, date.today()) if printed else season_csv(season_cells(farm))
    return write(args.output, content, words) + "\n"


def _happened(args: Namespace, farm: Scenario, table: str, words: Words) -> str:
    """What was planned and what happened, and why the money differs."""
    from renovation.decide.dossier import Dossier
    from renovation.decide.happened import planned_and_happened
    from renovation.inputs import load_season
    from renovation.show.season import happened as shown

    record = load_season(args.record, farm)
    dossier = Dossier(farm)
    with worded(words):
        found = planned_and_happened(farm, record, as_planned=args.as_planned)
        plan = followed(dossier, words)
    rows = partial(shown.TABLES[table], found)
    return told(
        args,
        farm,
        words,
        rows,
        lambda: {"followed": dossier.followed, **found.as_dict()},
        lambda: "\n\n".join(filter(None, [plan, shown.happened_text(found, words, width())])),
    )
