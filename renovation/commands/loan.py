"""`renovation loan`: every loan of the scenario, judged on the money that the plan leaves."""

from argparse import Namespace

from renovation.commands.shared import (
    Parser,
    at_lower_prices,
    followed,
    read_scenario,
    stamp_of,
    under_stamp,
    width,
    worded,
)
from renovation.words import Words


def options(parser: Parser) -> None:
    """A file, and how the answer is given."""
    parser.positional("file", "file")
    parser.valued("--price-lower", name="percent", key="price_lower")
    parser.switch("--payments", "payments")
    parser.valued("--record", name="path", key="loan_record")
    parser.switch("--as-planned", "as_planned")
    parser.switch("--json", "json")


def do(args: Namespace, words: Words) -> str:
    """Say whether each instalment is due when there is money, and what loan would fit; and what became of those signed.

    That part stands first where the season's record is named, and last of a farm with loans under way.
    """
    from renovation.decide.after_signing import after_signing
    from renovation.decide.dossier import Dossier
    from renovation.inputs import load_season
    from renovation.show.cash.tables import loan_text
    from renovation.show.loans import signed
    from renovation.show.tidy import json_text

    scenario = at_lower_prices(args, read_scenario(args, words), words)
    words = words.for_country(scenario.about.country)
    record = None if args.record is None else load_season(args.record, scenario)
    with worded(words):
        found = after_signing(scenario, record, as_planned=args.as_planned)
        dossier = Dossier(scenario)
        if args.json:
            document = {"followed": dossier.followed, "lending": dossier.lending.as_dict()}
            document |= {"after_signing": found.as_dict()} if signed.shown(found) else {}
            return json_text({"stamp": stamp_of(scenario), **document}) + "\n"
        text = loan_text(dossier.lending, words, width(), with_payments=args.payments)
        after = signed.signed_text(found, words, width()) if signed.shown(found) else ""
        parts = [after, text] if record is not None else [text, after]
        text = "\n\n".join(filter(None, [followed(dossier, words), *parts]))
    return under_stamp(scenario, words, text)
