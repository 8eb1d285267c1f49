"""`renovation copy`: a way copied under a name of one's own, in a new file of the farm."""

from argparse import Namespace

from renovation.commands.shared import (
    Parser,
    Refused,
    chosen,
    open_scenario,
    refuse_output,
    under_stamp,
    usage,
    write,
)
from renovation.words import Words


def options(parser: Parser) -> None:
    """A file, the way to copy, the name of the copy, and where to write the farm."""
    parser.positional("file", "file")
    parser.valued("--way", name="key", key="copy_way")
    parser.valued("--name", name="name", key="copy_name")
    parser.valued("-o", "--output", name="path", key="copy_output")


def do(args: Namespace, words: Words) -> str:
    """Write the farm with the copy among the ways that it weighs; say where to change its figures."""
    from renovation.inputs import write_scenario
    from renovation.inputs.own_ways import copied
    from renovation.show.figures import origin_sentence

    farm, text_read = open_scenario(args, words)
    words = words.for_country(farm.about.country)
    if args.way is None or args.name is None:
        raise Refused(words("command.error.missing_copy", usage=usage(args.command, words)))
    refuse_output(args, ".toml", words)
    key, changes = copied(farm, chosen(args.way, farm.techniques, "no_technique", words), args.name, words)
    made = farm.changed(**changes)
    said = write(args.output, write_scenario(made, text_read), words)
    return under_stamp(made, words, origin_sentence(made, key, words), words("command.copy.change", key=key), said)
