"""`renovation sensitivity`: what the answers of the compared ways rest on, figure by figure."""

from argparse import Namespace
from functools import partial

from renovation.commands.shared import Parser, asked, chosen, told, width
from renovation.words import Words

BARS_SHOWN = 10


def options(parser: Parser) -> None:
    """A file and a way, and how the answer is given."""
    parser.positional("file", "file")
    parser.valued("--way", name="key", key="way")
    parser.switch("--all", "all_bars")
    parser.outputs()


def do(args: Namespace, words: Words) -> str:
    """Move one figure at a time through its range, for the ways of the headline or the one named."""
    from renovation.decide import compare
    from renovation.decide.risk import sensitivity
    from renovation.show.risk import tables

    scenario, _ = asked(args, words)
    words = words.for_country(scenario.about.country)
    comparison = compare(scenario)
    if args.way is None:
        ways = [key for key in (comparison.headline, comparison.against) if key]
    else:
        ways = [chosen(args.way, comparison.outcomes, "no_technique", words)]
    found = [sensitivity(comparison, way) for way in ways]
    rows = partial(tables.bar_rows, found)
    document = {"sensitivity": [one.as_dict() for one in found]}
    text = tables.sensitivity_text(found, words, width(), None if args.all else BARS_SHOWN)
    return told(args, scenario, words, rows, lambda: document, lambda: text)
