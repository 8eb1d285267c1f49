"""`renovation demo`: the comparison of the invented demo farm, or its scenario file to start from."""

from argparse import Namespace

from renovation.commands.compare import TABLES, compared
from renovation.commands.shared import Parser, write
from renovation.inputs import demo_names, demo_scenario, scenario_folder
from renovation.words import Words


def options(parser: Parser) -> None:
    """Where to write the scenario file."""
    parser.valued("-o", "--output", name="path", key="output")
    parser.switch("--json", "json")


def do(args: Namespace, words: Words) -> str:
    """Compare on the demo farm, or write its scenario file."""
    if args.output is not None:
        text = (scenario_folder() / f"{demo_names()[0]}.toml").read_text("utf-8")
        return write(args.output, text, words) + "\n"
    scenario = demo_scenario()
    wanted = Namespace(file=None, csv=None, years=None, json=args.json)
    stand = scenario.comparison.stand or scenario.stands[0].name
    return compared(wanted, scenario, TABLES[0], stand, None, words)
