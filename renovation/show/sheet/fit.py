"""How large the type of a wall sheet may be for all of it to stand on one page: heights counted from its words.

Counted on the safe side, for no reader's fonts are known: a letter as wide as in a wide font, lines that break early.
A browser test prints the sheets and holds them to one page.
"""

from collections.abc import Iterable, Sequence
from typing import TypeVar

from renovation.show.sheet.wall import Card, Check, Month, Wall

SIZES = tuple(size / 4 for size in range(54, 23, -1))
"""Points, from the largest down."""
WIDTH, HEIGHT = 193.0, 280.0
"""Millimetres of an A4 page inside its margins."""
POINT = 25.4 / 72
NARROW, WIDE = frozenset("iljtfrI.,:;'|!()[] -"), frozenset("mwMW%@…")
NARROW_LETTER, LETTER, CAPITAL, WIDE_LETTER = 0.29, 0.556, 0.69, 0.87
"""Widths, of the type's size, as in a plain sans; the style sets other fonts to the same."""
BOLD = 1.08
LEADING = 1.2
"""Height of a line, of the type's size: as the style says."""

COLUMNS, CARDS = 4, 3
"""Months and cards side by side."""
DRAWN = 1.85
"""Width of a drawing beside words, in ems."""
Part = TypeVar("Part")


def size_of(wall: Wall) -> float:
    """Points of the largest type with which the sheet stands on one page; the smallest there is where none does."""
    return next((size for size in SIZES if height(wall, size) <= HEIGHT), SIZES[-1])


def columns_of(parts: Sequence[object]) -> int:
    """How many stand side by side: all of few, else so many."""
    return min(len(parts), CARDS) or 1


def height(wall: Wall, points: float) -> float:
    """Millimetres that a sheet takes with type of a size."""
    em = points * POINT
    across = WIDTH / em
    name = 1.9 * _width(wall.name, BOLD) + 1.2 * _width(wall.season, BOLD) + 2.0
    head = 2.6 + (1.9 * LEADING * _lines(wall.name, across / 1.9, BOLD) if name > across else 0.0)
    titles = 1.9 * (3 + bool(wall.checks)) + 0.2
    marks = sum(_lines(said, across / 1.1 - 1.5, BOLD) * 1.1 * LEADING + 1.0 for said in wall.marks)
    cards = sum(max(map(_card, row)) + 0.4 for row in _rows(wall.cards, columns_of(wall.cards), across))
    notes = sum(_lines(said, across) * LEADING + 0.2 for said in (*wall.notes, wall.money_note))
    months = sum(max(map(_month, row)) + 0.1 for row in _rows(wall.months, COLUMNS, across))
    checks = max((_check(check, across / len(wall.checks) - 1.5) for check in wall.checks), default=0.0)
    below = max(_items(wall, across * 0.48 - 0.5), _cautions(wall, across * 0.52 - 1.5))
    return (head + titles + marks + cards + notes + months + checks + below + 1.4) * em


def _rows(parts: Sequence[Part], columns: int, across: float) -> Iterable[list[tuple[Part, float]]]:
    """Parts in rows, each with the width that it has, in ems."""
    for at in range(0, len(parts), columns):
        yield [(part, across / columns) for part in parts[at : at + columns]]


def _width(said: str, weight: float = 1.0) -> float:
    """Width of a text on one line, in ems."""
    return weight * sum(
        NARROW_LETTER if c in NARROW else WIDE_LETTER if c in WIDE else CAPITAL if c.isupper() else LETTER for c in said
    )


def _lines(said: str, across: float, weight: float = 1.0) -> int:
    """Lines that a text takes in a width in ems, broken at spaces, and within a word that is wider.

    Example:
        >>> _lines("Graft: 12 days", 10), _lines("Graft: 12 days", 5), _lines("", 5)
        (1, 2, 0)
    """
    count, left = 0, 0.0
    for word in said.split(" "):
        wide = _width(word, weight)
        if word and wide > left:
            count += max(1, -int(-wide // across))
            left = across - wide % across
        else:
            left -= wide
        left -= NARROW_LETTER * weight
    return count


def _card(placed: tuple[Card, float]) -> float:
    """Height of a card in ems."""
    card, across = placed
    beside = across - 5.3 - 2.6 * _width(card.trees, BOLD)
    where, how = 1.1 * LEADING * _lines(card.where, beside / 1.1, BOLD), LEADING * _lines(card.how, beside)
    return max(3.1, where + how) + 0.7


def _month(placed: tuple[Month, float]) -> float:
    """Height of a month in ems."""
    month, across = placed
    room = across - 0.8
    under = [(month.hands, 1.0), (month.money, BOLD)]
    taken = _drawn([said for _, said in month.works], room) + sum(
        max(1.5, 1.1 * _lines(said, room - DRAWN, weight)) + 0.1 for said, weight in under if said
    )
    return 1.1 * LEADING + taken + LEADING * _lines(month.also, room) + 0.8


def _drawn(works: Sequence[str], room: float) -> float:
    """Height in ems of works side by side, each with its drawing."""
    taken, left = 0.0, 0.0
    for said in works:
        wide = DRAWN + _width(said)
        if wide > left:
            taken += max(1.5, 1.1 * _lines(said, room - DRAWN)) + 0.1
            left = room
        left -= wide + 0.7
    return taken


def _check(check: Check, across: float) -> float:
    """Height of a look in ems."""
    said = LEADING * sum(_lines(line, across) for line in (*check.said, check.more))
    names = sum(LEADING * _lines(field.name, across, BOLD) + 0.2 for field in check.fields)
    rows = [f"{row.month}: {row.alive}  {row.expected}" for field in check.fields for row in field.rows]
    return 1.7 + said + names + sum(LEADING * _lines(row, across - 1.5) + 0.2 for row in rows) + 0.6


def _items(wall: Wall, across: float) -> float:
    """Height of what to buy, in ems."""
    rows = sum(_lines(f"{what} {by}", across - 0.6 - _width(cost)) for what, by, cost in wall.items)
    return LEADING * (rows + _lines(wall.more_items, across) + _lines(wall.total, across, BOLD)) + 0.2 * len(wall.items)


def _cautions(wall: Wall, across: float) -> float:
    """Height of the cautions in ems."""
    return sum(0.94 * (LEADING * _lines(said, across / 0.94) + 0.12) for said in wall.cautions) + 0.2
