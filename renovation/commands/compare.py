"""`renovation compare`: the ways of renewing the same trees, side by side."""

from argparse import Namespace
from functools import partial
from pathlib import Path
from typing import Any

from renovation.commands.shared import Parser, Refused, asked, chosen, told, width
from renovation.inputs import Scenario
from renovation.inputs.techniques import MOST_MATERIALS
from renovation.words import Words

TABLES = ("years", "measures")
"""The tables that --csv may write, the first where none is named."""


def options(parser: Parser) -> None:
    """A file, a stand and a number of trees, and how the answer is given."""
    parser.positional("file", "file")
    parser.valued("--stand", name="stand", key="stand")
    parser.valued("--trees", name="trees", key="trees")
    parser.valued("--way", name="key", key="materials_way")
    parser.valued("--materials", name="clones", key="materials")
    parser.option("--years", nargs="?", const="", metavar=parser.words("command.name_key"), help=parser.say("years"))
    parser.outputs(*TABLES)


def do(args: Namespace, words: Words) -> str:
    """Compare the ways on one stand's trees."""
    scenario, table = asked(args, words, *TABLES)
    words = words.for_country(scenario.about.country)
    file = Path(args.file).name
    if args.stand is not None:
        chosen(args.stand, [stand.name for stand in scenario.stands], "no_stand", words, file=file)
    stand = args.stand or scenario.comparison.stand or scenario.stands[0].name
    if not scenario.free_trees(stand):
        raise Refused(words("error.nothing_left_to_compare", file=file, key="--stand", found=stand))
    trees = _trees(args, scenario, stand, words)
    if args.materials is not None or args.way is not None:
        return _with_materials(args, scenario, table, stand, trees, words)
    return compared(args, scenario, table, stand, trees, words)


def compared(args: Namespace, scenario: Scenario, table: str, stand: str, trees: int | None, words: Words) -> str:
    """The comparison as text, or as JSON or CSV where that is asked for."""
    from renovation.decide import compare, npv_per_tree, ranges
    from renovation.decide.practise import practise_first
    from renovation.show import tidy

    shown = _years_shown(args.years, scenario, words)
    comparison = compare(scenario, stand, trees)

    def document() -> dict[str, Any]:
        swings = {key: ranges(comparison, key) for key in comparison.outcomes}
        return tidy.compare_document(comparison, swings, npv_per_tree(scenario), practise_first(comparison))

    def text() -> str:
        from renovation.show.terminal import compare_text

        return compare_text(comparison, words, width(), shown)

    rows = partial(tidy.TABLES[table], comparison)
    return told(args, scenario, words, rows, document, text)


def _with_materials(
    args: Namespace, scenario: Scenario, table: str, stand: str, trees: int | None, words: Words
) -> str:
    """One way with each of some clones as text, or as JSON or CSV where that is asked for."""
    from renovation.decide.materials import compare_materials, known_materials, takes_materials
    from renovation.show import tidy
    from renovation.show.voice import Voice

    known = known_materials(scenario)
    way = chosen(args.way or scenario.compared_pair[0], scenario.techniques, "no_technique", words)
    named = [name.strip() for name in (args.materials or "").split(",") if name.strip()]
    names = [chosen(name, known, "no_material", words) for name in dict.fromkeys(named)]
    if not names:
        raise Refused(words("command.error.no_material_named", known=", ".join(known)))
    if len(names) > MOST_MATERIALS:
        raise Refused(words("command.error.too_many_materials", n=words.number(len(names))))
    if not takes_materials(scenario, way):
        raise Refused(words("command.error.no_new_crown", way=Voice.of(scenario, words).way(way)))
    found = compare_materials(scenario, way, names, stand, trees)

    def text() -> str:
        from renovation.show.terminal import materials_text

        return materials_text(found, words, width())

    rows = partial(tidy.TABLES[table], found.together)
    return told(args, scenario, words, rows, lambda: {"materials": found.as_dict()}, text)


def _trees(args: Namespace, scenario: Scenario, stand: str, words: Words) -> int | None:
    """The number of trees asked for; None for the scenario's choice."""
    if args.trees is None:
        return None
    if not (args.trees.isascii() and args.trees.isdigit() and len(args.trees) < 10):
        raise Refused(words("command.error.trees_not_number", found=args.trees))
    trees, has = int(args.trees), scenario.free_trees(stand)
    if not 1 <= trees <= has:
        facts = {"found": args.trees, "stand": stand, "has": words("unit.trees", n=has), "most": words.number(has)}
        raise Refused(words("command.error.too_many_trees", **facts))
    return trees


def _years_shown(wanted: str | None, scenario: Scenario, words: Words) -> tuple[str, ...]:
    """The techniques whose year tables are shown: none unless asked for, every one where none is named."""
    if wanted is None:
        return ()
    if wanted == "":
        return tuple(scenario.techniques)
    return (chosen(wanted, scenario.techniques, "no_technique", words),)
