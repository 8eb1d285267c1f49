"""`renovation report`: the printed report for the lender."""

import time
from argparse import Namespace
from datetime import date
from typing import TYPE_CHECKING

from renovation.commands.shared import Parser, careful_of, read_scenario, refuse_output, worded, write
from renovation.inputs import Scenario
from renovation.words import Words

if TYPE_CHECKING:
    from renovation.decide.happened import Happened
    from renovation.decide.plan import Plan

SECONDS = 10
"""How long a report waits for a plan."""


def options(parser: Parser) -> None:
    """A file, where to write, and what is set out beside the plan as stated."""
    parser.positional("file", "file")
    parser.valued("-o", "--output", name="path", key="report_output")
    parser.switch("--plan", "report_plan", seconds=str(SECONDS))
    parser.switch("--robust", "report_robust")
    parser.valued("--record", name="path", key="report_record")
    parser.switch("--as-planned", "as_planned")


def do(args: Namespace, words: Words) -> str:
    """Write the report, and say so where the plan was not found in time."""
    from renovation.show.report import report

    scenario = read_scenario(args, words)
    refuse_output(args, ".html", words)
    with worded(words):
        planned = _found_in_time(scenario) if args.plan else None
        careful = careful_of(scenario) if args.robust else None
        text = report(scenario, words, date.today(), planned, careful, _happened(args, scenario))
    said = [words("command.done.stated_plan", seconds=str(SECONDS))] if args.plan and planned is None else []
    return "\n".join([write(args.output, text, words), *said]) + "\n"


def _happened(args: Namespace, scenario: Scenario) -> "Happened | None":
    """The season looked back upon, where its record is named."""
    if args.record is None:
        return None
    from renovation.decide.happened import planned_and_happened
    from renovation.inputs import load_season

    return planned_and_happened(scenario, load_season(args.record, scenario), as_planned=args.as_planned)


def _found_in_time(scenario: Scenario) -> "Plan | None":
    """The plan where it is found and proven in the seconds that a report waits for it; else None."""
    from renovation.decide.plan import learned_plan

    ends = time.monotonic() + SECONDS
    found = learned_plan(scenario, cancel=lambda: time.monotonic() > ends).plan
    return found if found.solution.status == "proven" else None
