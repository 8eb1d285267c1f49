"""`renovation tally`: a stand walked through, from a table with a row a tree; its farm with a stand a class."""

from argparse import Namespace
from pathlib import Path

from renovation.commands.shared import (
    Parser,
    Refused,
    chosen,
    open_scenario,
    refuse_output,
    under_stamp,
    usage,
    width,
    write,
)
from renovation.words import Words


def options(parser: Parser) -> None:
    """A farm, a table, which stand, pods to a kilogram, where to write the farm."""
    parser.positional("file", "file")
    parser.positional("table_file", "tally_file")
    parser.valued("--stand", name="stand", key="tally_stand")
    parser.valued("--pods-per-kg", name="number", key="pods_per_kg")
    parser.valued("-o", "--output", name="path", key="tally_output")
    parser.switch("--json", "json")


def do(args: Namespace, words: Words) -> str:
    """Set out what was counted, and write the farm where that is asked for."""
    from renovation.commands.shared import stamp_of
    from renovation.inputs import write_scenario
    from renovation.inputs.tally import default_pods_per_kg, read_tally, walked
    from renovation.show import tally as show
    from renovation.show import tidy
    from renovation.show.grid import lines, render

    farm, text_read = open_scenario(args, words)
    words = words.for_country(farm.about.country)
    if args.table_file is None:
        raise Refused(words("command.error.missing_table", usage=usage(args.command, words)))
    if args.output is not None:
        refuse_output(args, ".toml", words)
    names = dict.fromkeys(name for stand in farm.stands for name in (stand.name, stand.part_of) if name)
    stand = next(iter(names))
    if args.stand is not None:
        stand = chosen(args.stand, names, "no_stand", words, file=args.file)
    path = Path(args.table_file)
    try:
        content = path.read_bytes()
    except OSError:
        raise Refused(words("command.error.unreadable_table", path=args.table_file)) from None
    tally = read_tally(content, path.name)
    pods_per_kg = _pods_per_kg(args, words) or default_pods_per_kg(farm, stand)
    walk = walked(farm, stand, tally, lambda key: words(f"tally.class.{key}"), pods_per_kg)
    written = [write(args.output, write_scenario(walk.farm, text_read), words)] if args.output else []
    if args.json:
        document = {"stand": walk.stand, "pods_per_kg": pods_per_kg, **tally.model_dump(mode="json")}
        return tidy.json_text({"stamp": stamp_of(farm), "tally": document}) + "\n"
    text = [
        lines(show.said(walk, words), width()),
        render(show.classes(walk, words), width()),
        render(show.histogram(tally, words), width()),
        *written,
    ]
    return under_stamp(farm, words, "\n\n".join(text))


def _pods_per_kg(args: Namespace, words: Words) -> float | None:
    """The pods to a kilogram asked for; None for the stand's own."""
    from renovation.inputs import Pods, ScenarioError, declared, read_decimal

    if args.pods_per_kg is None:
        return None
    shape = declared(Pods, "pods_per_kg")
    try:
        return read_decimal(args.pods_per_kg, shape)
    except ScenarioError:
        low, high = (words.number(float(end or 0)) for end in (shape.lower, shape.upper))
        raise Refused(words("tally.pods_per_kg_wrong", found=args.pods_per_kg, low=low, high=high)) from None
