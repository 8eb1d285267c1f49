"""`renovation loan`: every loan of the scenario, judged on the money that the plan leaves."""

from argparse import Namespace

from renovation.commands.shared import Parser, followed, read_scenario, stamp_of, under_stamp, width, worded
from renovation.words import Words


def options(parser: Parser) -> None:
    """A file, and how the answer is given."""
    parser.positional("file", "file")
    parser.switch("--payments", "payments")
    parser.switch("--json", "json")


def do(args: Namespace, words: Words) -> str:
    """Say whether each instalment is due when there is money, and what loan would fit."""
    from renovation.decide.dossier import Dossier
    from renovation.show.cash.tables import loan_text
    from renovation.show.tidy import json_text

    scenario = read_scenario(args, words)
    with worded(words):
        dossier = Dossier(scenario)
        if args.json:
            document = {"followed": dossier.followed, "lending": dossier.lending.as_dict()}
            return json_text({"stamp": stamp_of(scenario), **document}) + "\n"
        text = loan_text(dossier.lending, words, width(), with_payments=args.payments)
        text = "\n\n".join(filter(None, [followed(dossier, words), text]))
    return under_stamp(scenario, words, text)
