"""`renovation techniques`: the ways with range, unit and source of every default figure."""

from argparse import Namespace
from datetime import date

from renovation.commands.shared import Parser, chosen, width
from renovation.inputs import default_supplies, default_techniques
from renovation.version import __version__
from renovation.words import Words


def options(parser: Parser) -> None:
    """A way."""
    parser.positional("key", "key")
    parser.switch("--json", "json")


def do(args: Namespace, words: Words) -> str:
    """List the ways, or every figure of one."""
    techniques, supplies = default_techniques(), default_supplies()
    if args.key is not None:
        techniques = {args.key: techniques[chosen(args.key, techniques, "no_technique", words)]}
    if args.json:
        from renovation.show.tidy import json_text

        tables = {key: technique.model_dump(mode="json") for key, technique in techniques.items()}
        return json_text({"techniques": tables, "supplies": supplies.model_dump(mode="json")}) + "\n"
    from renovation.show.terminal import technique_text, techniques_text

    head = words("command.stamp_plain", version=__version__, date=words.day(date.today()))
    if args.key is None:
        body = techniques_text(techniques, words, width())
    else:
        body = technique_text(args.key, techniques[args.key], supplies, words, width())
    return f"{head}\n\n{body}\n"
