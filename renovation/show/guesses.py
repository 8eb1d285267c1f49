"""What is guessed of a farm, in words: figure by figure, and how many there are."""

import re
from collections.abc import Iterable, Iterator

from renovation.decide import Comparison, compare
from renovation.decide.guesses import telling
from renovation.inputs import Figure, Scenario, unit_words
from renovation.inputs.defaults import default_notebook
from renovation.inputs.guesses import at
from renovation.inputs.notebook import Question
from renovation.inputs.scenario import twelve
from renovation.inputs.shapes import Shape, locate
from renovation.show.figures import source_cell
from renovation.show.meant import meant
from renovation.words import Words


def _steps(path: str) -> list[str | int]:
    return [int(part) if part.isdecimal() else part for part in path.split(".")]


def _shape(path: str) -> Shape:
    found = locate(Scenario, _steps(path))
    assert found is not None, path
    return found


def figure_name(farm: Scenario, path: str, words: Words, *, of_all: bool = False) -> str:
    """What a figure is called, and of which field it is where there are several; of no field where of all alike.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> figure_name(demo_scenario(), "stands.1.trees", Words("en"))
        'Trees, House field'
    """
    shape = _shape(path)
    name = words(f"field.{shape.model}.{shape.field}.label")
    parts = path.split(".")
    if parts[0] == "stands" and len(farm.stands) > 1 and not of_all:
        return words("notebook.of_field", figure=name, stand=farm.stands[int(parts[1])].name)
    return name


def amount(farm: Scenario, path: str, value: float, words: Words) -> str:
    """A figure with its unit, as a person reads it; a share as percent."""
    quantity = _shape(path).quantity
    unit = quantity.unit if quantity else ""
    if unit.startswith("share"):
        return words.rate(value)
    said = unit_words(words, unit, farm.appraisal.currency) if unit else ""
    return words("notebook.value_unit", value=words.number(value), unit=said).strip()


def _bounds(farm: Scenario, path: str, words: Words) -> dict[str, str]:
    """The ends of a guess, the unit said once."""
    guess = farm.guessed[path]
    low, high = (amount(farm, path, end, words) for end in (guess.low, guess.high))
    unit = high.removeprefix(words.number(guess.high))
    return {"low": low.removesuffix(unit) if unit != high else low, "high": high}


def figure_sentence(farm: Scenario, path: str, words: Words, *, of_all: bool = False) -> str:
    """A figure as it stands, and that it is guessed where it is, with its range. of_all: of every field alike."""
    name, value = figure_name(farm, path, words, of_all=of_all), at(farm, path)
    if isinstance(value, tuple):
        value = sum(twelve(value)) / len(value)
    said = amount(farm, path, value, words)
    if path not in farm.guessed:
        return words("notebook.held_told", figure=name, value=said)
    return words("notebook.held_guess", figure=name, value=said, **_bounds(farm, path, words))


def guessed_range(farm: Scenario, path: str, words: Words) -> str:
    """That a figure is our guess, and between which ends; empty where somebody has said it."""
    return words("notebook.our_guess", **_bounds(farm, path, words)) if path in farm.guessed else ""


def counted(farm: Scenario, words: Words) -> str:
    """How many figures are guessed; empty where none is."""
    return words("notebook.guesses", n=len(farm.guessed)) if farm.guessed else ""


def summary(comparison: Comparison, words: Words) -> str:
    """How many figures are guessed, and which two move the worth of the first way most; empty where none is."""
    farm = comparison.scenario
    if not farm.guessed or comparison.headline is None:
        return counted(farm, words)
    named = [figure_name(farm, path, words) for path, swing in telling(comparison, comparison.headline) if swing.width]
    if not named:
        return counted(farm, words)
    which = "telling_both" if len(named) > 1 else "telling_one"
    return f"{counted(farm, words)} {words(f'notebook.{which}', figures=words.listing(named[:2]))}"


def guessed_lines(farm: Scenario, words: Words) -> list[str]:
    """The summary, and each guessed figure with its range; none where nothing is guessed."""
    if not farm.guessed:
        return []
    stand = farm.comparison.stand or farm.stands[0].name
    head = summary(compare(farm), words) if farm.free_trees(stand) else counted(farm, words)
    return [head, *guesses(farm, words)]


def marked_name(farm: Scenario, path: str, name: str, words: Words) -> str:
    """A figure's name, marked where it is guessed."""
    return words("notebook.named_guess", figure=name) if path in farm.guessed else name


def marked_value(farm: Scenario, path: str, value: str, words: Words) -> str:
    """A figure as a table says it, with the range of our guess where it is one; the unit stands beside it."""
    guess = farm.guessed.get(path)
    if guess is None:
        return value
    shares = (shape := _shape(path).quantity) is not None and shape.unit.startswith("share")
    low, high = (words.rate(end) if shares else words.number(end) for end in (guess.low, guess.high))
    return words("notebook.value_guess", value=value, low=low, high=high)


def source_of(farm: Scenario, path: str, otherwise: str, words: Words) -> str:
    """Whose figure it is: our guess with its range, else what is said otherwise."""
    if path not in farm.guessed:
        return otherwise
    return words("notebook.in_table", **_bounds(farm, path, words))


def reasoned(farm: Scenario, words: Words) -> list[str]:
    """Each guess with its range, the class of its source and why it is so; once where all fields are alike."""
    said = []
    for sentence, path in _sentences(farm, farm.guessed, words):
        figure = _shipped(farm, path)
        if figure is None:
            said.append(sentence)
            continue
        facts = {"source": source_cell(figure, words), "because": words.reason(figure.because)}
        said.append(words("notebook.with_why", figure=sentence, **facts))
    return said


def why_guessed(farm: Scenario, path: str) -> str:
    """Why a figure that is guessed is what it is; empty where somebody has said it, or where it has no reason."""
    figure = _shipped(farm, path) if path in farm.guessed else None
    return figure.because if figure else ""


def _shipped(farm: Scenario, path: str) -> Figure[float] | None:
    """The figure of the program behind a guess."""
    notebook = default_notebook()
    if path == "appraisal.currency_per_usd":
        return notebook.per_usd.get(farm.appraisal.currency.lower())
    figure: Figure[float] | None = getattr(notebook.figures, path.rpartition(".")[2], None)
    return figure


def most_telling(comparison: Comparison, words: Words) -> list[str]:
    """The two guesses that move the worth of the first way most, from where to where, and whether they turn it."""
    if comparison.headline is None or not comparison.scenario.guessed:
        return []
    farm, said = comparison.scenario, []
    for path, swing in telling(comparison, comparison.headline)[:2]:
        if swing.span is None or not swing.width:
            continue
        ends = {"low": words.money(swing.span[0], farm.appraisal.currency, 0)}
        ends["high"] = words.money(swing.span[1], farm.appraisal.currency, 0)
        turns = "telling_turns" if swing.span[0] < 0 < swing.span[1] else "telling"
        said.append(words(f"notebook.{turns}", figure=figure_name(farm, path, words), **ends))
    return said


def held(farm: Scenario, question: Question, words: Words) -> list[str]:
    """What the farm holds now of that which a question asks, where it is a number; once where all fields are alike."""
    return sentences(farm, _paths(farm, question), words)


def guesses(farm: Scenario, words: Words) -> list[str]:
    """Every figure that is guessed, with its range; once where all fields are alike."""
    return sentences(farm, farm.guessed, words)


def _example(farm: Scenario, path: str, words: Words) -> str:
    """What a rate among the figures means, as a sentence that follows; empty for another figure."""
    value = at(farm, path)
    example = meant(farm, _steps(path), value, words) if isinstance(value, int | float) else ""
    return f" {example}" if example else ""


def sentences(farm: Scenario, paths: Iterable[str], words: Words) -> list[str]:
    """Figures in sentences, in the order of their paths; of several fields once where all are alike."""
    return [sentence for sentence, _ in _sentences(farm, paths, words)]


def _sentences(farm: Scenario, paths: Iterable[str], words: Words) -> Iterator[tuple[str, str]]:
    """Each sentence with the path, or the first of the paths, of which it speaks."""
    by_figure: dict[str, list[str]] = {}
    for path in paths:
        by_figure.setdefault(re.sub(r"\.[0-9]+\.", ".*.", path), []).append(path)
    for group in by_figure.values():
        alike = {(at(farm, path), farm.guessed.get(path)) for path in group}
        if len(alike) == 1 and len(group) == len(farm.stands):
            sentence = figure_sentence(farm, group[0], words, of_all=True) + _example(farm, group[0], words)
            yield sentence, group[0]
        else:
            yield from ((figure_sentence(farm, path, words) + _example(farm, path, words), path) for path in group)


def _paths(farm: Scenario, question: Question) -> Iterator[str]:
    """The numbers that a question answers."""
    for pattern in question.answers:
        places = range(len(farm.stands)) if "*" in pattern else (0,)
        for place in places:
            path = pattern.replace("*", str(place))
            value = at(farm, path)
            if path.endswith("empty_places") and not value:
                continue
            if isinstance(value, int | float) or (isinstance(value, tuple) and value and isinstance(value[0], float)):
                yield path
