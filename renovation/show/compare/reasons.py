"""Why the figures of a way are what they are: the reasoning that the data files carry beside each figure."""

from renovation.inputs import Supplies, Technique, default_learning
from renovation.show.figures import named_figures, supplies_of
from renovation.words import Words


def reasons(technique: Technique, supplies: Supplies, words: Words) -> list[str]:
    """The reasoning behind a way's figures, in the order of the work; figures of one reasoning named together.

    Example:
        >>> from renovation.inputs import default_supplies, default_technique
        >>> any("53.2" in said for said in reasons(default_technique("side_graft"), default_supplies(), Words("en")))
        True
    """
    stated = named_figures(technique, supplies, words)
    for key in supplies_of(technique):
        if key in supplies.items:
            stated.append((words.name("item", key, supplies.items[key].label), supplies.items[key].unit_cost))
        elif key in supplies.tools:
            name = words.name("tool", key, supplies.tools[key].label)
            stated += [(name, supplies.tools[key].price), (name, supplies.tools[key].lasts_years)]
    if technique.family == "graft":
        stated += [(words(f"field.Learning.{name}.label"), figure) for name, figure in default_learning()]
    said: dict[str, dict[str, None]] = {}
    for name, figure in stated:
        if figure.because:
            said.setdefault(figure.because, {})[name] = None
    return [words("reasons.one", figures="; ".join(names), because=because) for because, names in said.items()]
