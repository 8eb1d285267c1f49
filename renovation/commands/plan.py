"""`renovation plan`: how many trees this year, what holds the plan back, and this year's sheet."""

from argparse import Namespace
from functools import partial

from renovation.commands.shared import Parser, Refused, asked, told, width, worded
from renovation.words import Words

TABLES = ("starts", "months", "years", "calendar", "shopping", "looks", "cash")
"""The tables that --csv may write, the first where none is named."""
MOST_SECONDS = 3600


def options(parser: Parser) -> None:
    """A file, which plan, a time limit, and how the answer is given."""
    parser.positional("file", "file")
    parser.switch("--expected", "expected")
    parser.switch("--why", "why")
    parser.valued("--seconds", name="number", key="seconds")
    parser.outputs(*TABLES)


def do(args: Namespace, words: Words) -> str:
    """Look for the plan and set out its first year."""
    from renovation.decide.dossier import Dossier
    from renovation.show.plan import text as plan_text
    from renovation.show.plan.which import which_sentences

    scenario, table = asked(args, words, *TABLES)
    words = words.for_country(scenario.about.country)
    found = Dossier(scenario, seconds=seconds(args, words), bolder=args.expected)
    with worded(words):
        document = found.as_dict("shown", "plan", "yardsticks", "sheet", "repairs", "robust")
        document["limits"] = found.as_dict("limits")["limits"] if args.why else None
    text = partial(
        plan_text.plan_text,
        found.shown,
        found.yardsticks,
        found.limits if args.why else None,
        found.sheet,
        words,
        width(),
        found.repairs,
        which_sentences(found.careful, words, bolder=args.expected),
        found.plan,
        why=args.why,
    )
    rows = partial(plan_text.plan_rows, found.shown, found.sheet)
    return told(args, scenario, words, lambda stamp: rows(stamp)[table], lambda: document, text)


def seconds(args: Namespace, words: Words) -> float | None:
    """The time limit asked for; None for the scenario's choice."""
    if args.seconds is None:
        return None
    if not (args.seconds.isascii() and args.seconds.isdigit() and 1 <= int(args.seconds[:6]) <= MOST_SECONDS):
        raise Refused(words("command.error.seconds", found=args.seconds, most=words.number(MOST_SECONDS)))
    return float(args.seconds)
