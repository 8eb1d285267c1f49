"""`renovation next`: next year's farm from this year's and the season's record."""

from argparse import Namespace

from renovation.commands.shared import (
    Parser,
    Refused,
    followed,
    open_scenario,
    refuse_output,
    under_stamp,
    usage,
    worded,
    write,
)
from renovation.words import Words


def options(parser: Parser) -> None:
    """A file, its season's record, and where to write next year's file."""
    parser.positional("file", "file")
    parser.valued("--record", name="path", key="record")
    parser.switch("--as-planned", "as_planned")
    parser.valued("-o", "--output", name="path", key="next_output")


def do(args: Namespace, words: Words) -> str:
    """Write next year's file, and say line by line what was taken over and what was assumed."""
    from renovation.decide.dossier import Dossier
    from renovation.decide.next_year import next_year
    from renovation.inputs import load_season
    from renovation.show.season.next_year import next_file, next_text

    farm, text_read = open_scenario(args, words)
    words = words.for_country(farm.about.country)
    if args.record is None:
        raise Refused(words("command.error.missing_record", usage=usage(args.command, words)))
    refuse_output(args, ".toml", words)
    record = load_season(args.record, farm)
    with worded(words):
        found = next_year(farm, record, as_planned=args.as_planned)
        content = next_file(found, words, text_read)
        plan = followed(Dossier(found.farm), words)
    said = write(args.output, content, words)
    return under_stamp(found.farm, words, next_text(found, words), *filter(None, [plan]), said)
