"""`renovation demo`: the comparison of the invented demo farm, or its scenario file to start from."""

from argparse import Namespace

from renovation.commands.compare import TABLES, compared
from renovation.commands.shared import Parser, write
from renovation.inputs import demo_scenario
from renovation.inputs.demos import FIRST_DEMO, demo_text
from renovation.words import Words


def options(parser: Parser) -> None:
    """Where to write the scenario file."""
    parser.valued("-o", "--output", name="path", key="output")
    parser.switch("--json", "json")


def do(args: Namespace, words: Words) -> str:
    """Compare on the demo farm, or write its scenario file."""
    scenario = demo_scenario(FIRST_DEMO, words.language)
    if args.output is not None:
        from renovation.inputs import write_scenario

        return write(args.output, write_scenario(scenario, demo_text(FIRST_DEMO, words.language)), words) + "\n"
    wanted = Namespace(file=None, csv=None, years=None, json=args.json)
    stand = scenario.comparison.stand or scenario.stands[0].name
    return compared(wanted, scenario, TABLES[0], stand, None, words)
