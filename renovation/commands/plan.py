"""`renovation plan`: how many trees this year, what holds the plan back, and this year's sheet."""

from argparse import Namespace
from functools import partial

from renovation.commands.shared import Parser, Refused, asked, told, width, worded
from renovation.words import Words

TABLES = ("starts", "months", "years", "calendar", "shopping", "looks", "cash")
"""The tables that --csv may write, the first where none is named."""
MOST_SECONDS = 3600


def options(parser: Parser) -> None:
    """A file, a time limit, and how the answer is given."""
    parser.positional("file", "file")
    parser.switch("--why", "why")
    parser.valued("--seconds", name="number", key="seconds")
    parser.outputs(*TABLES)


def do(args: Namespace, words: Words) -> str:
    """Look for the plan and set out its first year."""
    from renovation.decide.plan import learned_plan, repairs, sheet, why_not_more, yardsticks
    from renovation.show.plan import text as plan_text

    scenario, table = asked(args, words, *TABLES)
    with worded(words):
        learned = learned_plan(scenario, time_limit_seconds=seconds(args, words))
    laid_out, rules = sheet(learned.plan), yardsticks(learned.plan)
    limits = why_not_more(learned.plan) if args.why else None
    mending = repairs(learned.plan) if learned.plan.broken else None
    document = {
        "plan": learned.as_dict(),
        "yardsticks": [rule.as_dict() for rule in rules],
        "limits": None if limits is None else [limit.as_dict() for limit in limits],
        "sheet": laid_out.as_dict(),
        "repairs": None if mending is None else [repair.as_dict() for repair in mending],
    }
    text = partial(plan_text.plan_text, learned, rules, limits, laid_out, words, width(), mending)
    rows = partial(plan_text.plan_rows, learned, laid_out)
    return told(args, scenario, words, lambda stamp: rows(stamp)[table], lambda: document, text)


def seconds(args: Namespace, words: Words) -> float | None:
    """The time limit asked for; None for the scenario's choice."""
    if args.seconds is None:
        return None
    if not (args.seconds.isascii() and args.seconds.isdigit() and 1 <= int(args.seconds[:6]) <= MOST_SECONDS):
        raise Refused(words("command.error.seconds", found=args.seconds, most=words.number(MOST_SECONDS)))
    return float(args.seconds)
