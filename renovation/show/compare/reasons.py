"""Why figures are what they are: the reasoning that the data files and a farm's own file carry beside each figure."""

from collections.abc import Iterable
from typing import Any

from renovation.inputs import Figure, Scenario, Supplies, Technique, default_learning
from renovation.show.figures import named_figures, supplies_of
from renovation.show.grid import Table, columns
from renovation.words import Words

Named = tuple[str, Figure[Any]]


def reasons(technique: Technique, supplies: Supplies, words: Words) -> list[str]:
    """The reasoning behind a way's figures, in the order of the work; figures of one reasoning named together.

    Example:
        >>> from renovation.inputs import default_supplies, default_technique
        >>> any("53.2" in said for said in reasons(default_technique("side_graft"), default_supplies(), Words("en")))
        True
    """
    said = _together(_stated(technique, supplies, words))
    return [
        words("reasons.one", figures="; ".join(names), because=words.reason(because)) for because, names in said.items()
    ]


def all_reasons(scenario: Scenario, words: Words) -> Table:
    """Each reasoning behind a farm's figures once: the figures that it holds for, their ways, and why.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> all_reasons(demo_scenario(), Words("en")).rows[1][:2]
        ('Months between tries', 'Side graft')
    """
    ways: dict[str, dict[str, None]] = {}
    stated: list[Named] = []
    for key, technique in scenario.techniques.items():
        figures = _stated(technique, scenario.supplies, words)
        stated += figures
        for because in _together(figures):
            ways.setdefault(because, {})[words.name("technique", key, technique.label)] = None
    every, together = len(scenario.techniques), _together(stated)
    held = {key: words("cell.all_ways") if len(of) == every else ", ".join(of) for key, of in ways.items()}
    rows = tuple(("; ".join(names), held[because], words.reason(because)) for because, names in together.items())
    return Table(words("reasons.title"), columns("column", ("figure", "applies_to", "because"), words), rows)


def _together(stated: Iterable[Named]) -> dict[str, dict[str, None]]:
    """The names of the figures that each reasoning holds for."""
    said: dict[str, dict[str, None]] = {}
    for name, figure in stated:
        if figure.because:
            said.setdefault(figure.because, {})[name] = None
    return said


def _stated(technique: Technique, supplies: Supplies, words: Words) -> list[Named]:
    """Every figure that a way rests on by name: its own, its supplies' and tools', of a graft how hands get better."""
    stated: list[Named] = list(named_figures(technique, supplies, words))
    for key in supplies_of(technique):
        if key in supplies.items:
            stated.append((words.name("item", key, supplies.items[key].label), supplies.items[key].unit_cost))
        elif key in supplies.tools:
            name = words.name("tool", key, supplies.tools[key].label)
            stated += [(name, supplies.tools[key].price), (name, supplies.tools[key].lasts_years)]
    if technique.family == "graft":
        stated += [(words(f"field.Learning.{name}.label"), figure) for name, figure in default_learning()]
    return stated
