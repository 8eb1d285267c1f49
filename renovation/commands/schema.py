"""`renovation schema`: the JSON schema of a scenario file."""

from argparse import Namespace

from renovation.commands.shared import Parser
from renovation.words import Words


def options(parser: Parser) -> None:
    """The schema command has no options of its own."""


def do(args: Namespace, words: Words) -> str:  # noqa: ARG001 - every command takes the same two
    """Write the schema."""
    from renovation.inputs import json_schema
    from renovation.show.tidy import json_text

    return json_text(json_schema(words)) + "\n"
