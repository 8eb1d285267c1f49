"""`renovation check`: whether a scenario file is sound, and what it holds."""

from argparse import Namespace

from renovation.commands.shared import Parser, read_scenario, stamp_line, width
from renovation.words import Words


def options(parser: Parser) -> None:
    """A file."""
    parser.positional("file", "file")


def do(args: Namespace, words: Words) -> str:
    """Say that a scenario is sound and what it holds; a mistake is refused by its reading."""
    from renovation.show.terminal import check_text

    scenario = read_scenario(args, words)
    words = words.for_country(scenario.about.country)
    return "\n".join([stamp_line(scenario, words), check_text(scenario, words, width())]) + "\n"
