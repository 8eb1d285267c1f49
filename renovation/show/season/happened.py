"""Planned and happened in words: sentences, the figures side by side, the causes of the difference (`happened.*`)."""

from collections.abc import Mapping

from renovation.decide.happened import UNEXPLAINED, Figure, Happened
from renovation.show.grid import Table, blank, columns, digits_of, lines, render
from renovation.show.tidy import Row, tail
from renovation.show.voice import Voice
from renovation.words import Words, smallest_unit

MOST_NAMED = 2
"""Causes that the sentence names."""
DIGITS = {"kg": 1, "days": 1}


def happened_sentences(found: Happened, words: Words) -> list[str]:
    """Money in hand beside what was expected, what moved it most, and what no cause explains.

    Example:
        >>> from renovation.decide.happened import planned_and_happened
        >>> from renovation.inputs import SeasonRecord, demo_scenario
        >>> farm = demo_scenario("few_hands").changed(plan=(), loans=())
        >>> found = planned_and_happened(farm, SeasonRecord(season=farm.appraisal.start, price_per_kg=1800.0))
        >>> happened_sentences(found, Words("en"))[1]
        'What moved it most: the price (-FCFA\\xa0321,999).'
    """
    voice = Voice.of(found.farm, words)
    unit = smallest_unit(voice.currency)
    small = abs(found.difference) < unit / 2
    case = "same" if small else "less" if found.difference < 0 else "more"
    money = {"planned": found.planned, "happened": found.happened, "difference": abs(found.difference)}
    said = [
        voice(
            f"happened.{'counted' if found.counted else 'reckoned'}_{case}",
            **{name: voice.money(sum_) for name, sum_ in money.items()},
        )
    ]
    told = [part for part in found.parts if abs(part.money) >= unit / 2 and part.cause != UNEXPLAINED]
    if told:
        most = sorted(told, key=lambda part: -abs(part.money))[:MOST_NAMED]
        causes = [
            voice("happened.one_cause", cause=voice(f"happened.cause.{part.cause}"), money=voice.money(part.money))
            for part in most
        ]
        said.append(voice("happened.most", causes=words.listing(causes)))
    left = found.parts[-1].money
    if abs(left) >= unit / 2:
        said.append(voice("happened.unexplained", money=voice.money(left)))
    return said


def figures_table(found: Happened, words: Words) -> Table:
    """Each figure beside its expectation; a dash where it was not counted."""
    voice = Voice.of(found.farm, words)
    keys = ("figure", "planned", "happened", "difference")
    rows = tuple(_figure_row(figure, voice) for figure in found.figures)
    return Table(words("happened.table.figures"), columns("happened.column", keys, words, keys[1:]), rows)


def parts_table(found: Happened, words: Words) -> Table:
    """What each cause adds to the money at the end or takes from it; the difference in all last."""
    voice = Voice.of(found.farm, words)
    digits = digits_of([part.money for part in found.parts])
    sums = [*((part.cause, part.money) for part in found.parts), ("total", found.difference)]
    rows = tuple(
        (voice.sentence(f"happened.cause.{cause}"), words.number(_rounded(money, digits), digits))
        for cause, money in sums
    )
    title = words("happened.table.parts", currency=voice.sign)
    return Table(title, columns("happened.column", ("cause", "money"), words, ("money",)), rows)


def happened_notes(words: Words) -> list[str]:
    """How the causes are told apart, and what is taken as expected."""
    return [words("happened.in_turn"), words("happened.assumed")]


def happened_text(found: Happened, words: Words, width: int) -> str:
    """All of it for the terminal."""
    parts = [
        lines(happened_sentences(found, words), width),
        render(parts_table(found, words), width),
        render(figures_table(found, words), width),
        lines(happened_notes(words), width),
    ]
    return "\n\n".join(parts)


def figure_rows(found: Happened, stamped: Mapping[str, str]) -> list[Row]:
    """One row per figure: its name, what it is of, what was expected and what happened."""
    return [{**figure.as_dict(), **tail(stamped)} for figure in found.figures]


def part_rows(found: Happened, stamped: Mapping[str, str]) -> list[Row]:
    """One row per cause."""
    return [{"cause": part.cause, "money": part.money, **tail(stamped)} for part in found.parts]


TABLES = {"parts": part_rows, "figures": figure_rows}
"""The tables that may be written as CSV, by name."""


def _figure_row(figure: Figure, voice: Voice) -> tuple[str, ...]:
    words = voice.words
    name, of = words(f"happened.figure.{figure.name}", currency=voice.sign), figure.loan
    if figure.technique is not None:
        of = words("happened.figure.way", stand=figure.stand, way=voice.way(figure.technique))
    if of is not None:
        name = words("happened.figure.of", figure=name, of=of)
    known = [figure.planned] if figure.happened is None else [figure.planned, figure.happened]
    digits = _digits(figure, known)
    shown = [words.number(_rounded(value, digits), digits) for value in known]
    apart = words.number(_rounded(known[-1], digits) - _rounded(figure.planned, digits), digits)
    happened, difference = (blank(words), blank(words)) if figure.happened is None else (shown[1], apart)
    return name, shown[0], happened, difference


def _digits(figure: Figure, known: list[float]) -> int:
    """Decimals of a figure: trees that were expected are not whole."""
    if figure.unit == "trees":
        return 0 if all(value == round(value) for value in known) else 1
    return DIGITS.get(figure.unit, digits_of(known) if any(known) else 0)


def _rounded(value: float, digits: int) -> float:
    """A number as it is shown, never minus nothing."""
    return round(value, digits) + 0.0
