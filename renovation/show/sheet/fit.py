"""How large the type of a wall sheet may be for all of it to stand on one page: heights counted from its words.

Counted by the widths of a plain sans, to which the style sets other fonts too, and a little on the safe side. A browser
test prints the sheets, holds them to one page, and holds the counted height close above the real one.
"""

from collections.abc import Iterable, Sequence
from typing import TypeVar

from renovation.decide.plan import Plan, Sheet
from renovation.show.letters import BOLD, lines, width
from renovation.show.sheet.baskets import Basket
from renovation.show.sheet.months import Month
from renovation.show.sheet.wall import ROOMS, Card, Check, Field, Wall, wall_of
from renovation.words import Words

LEAST = 10.0
"""Points of type that is read at arm's length; before it gets smaller, more stands in sums."""
SIZES = tuple(size / 4 for size in range(64, 23, -1))
"""Points, from the largest down."""
WIDTH, HEIGHT = 193.0, 280.5
"""Millimetres of an A4 page inside its margins."""
POINT = 25.4 / 72
LEADING = 1.2
"""Height of a line, of the type's size: as the style says."""

CARDS = 4
"""Cards side by side, at most."""
BELOW, NARROWEST = 3, 16.0
"""Columns in which what to buy and the cautions may run on, at most, and how narrow in ems."""
DRAWN = 1.9
"""Width of a drawing beside words, in ems, with what is left free."""
TITLE = 1.2
"""Type of a title, in ems."""
BETWEEN = 0.8
"""Between parts side by side, in ems."""
SHORT_HEAD = 6.0
"""Ems of a column's head up to which it stands on one line."""
Part = TypeVar("Part")


def fitted(plan: Plan, laid_out: Sheet, words: Words) -> tuple[Wall, float]:
    """The fullest sheet of a season that stands on one page in type that is read at arm's length, and its points.

    Where even the barest takes more, it stands in smaller type.
    """
    for room in ROOMS:
        wall = wall_of(plan, laid_out, words, room)
        size = size_of(wall)
        if size >= LEAST:
            break
    return wall, size


def size_of(wall: Wall) -> float:
    """Points of the largest type with which the sheet stands on one page; the smallest there is where none does."""
    return next((size for size in SIZES if height(wall, size) <= HEIGHT), SIZES[-1])


def height(wall: Wall, points: float) -> float:
    """Millimetres that a sheet takes with type of a size."""
    em = points * POINT
    return sum(parts_of(wall, WIDTH / em).values()) * em


def parts_of(wall: Wall, across: float) -> dict[str, float]:
    """Height of each part in ems, in a width in ems."""
    name = 1.9 * width(wall.name, BOLD) + width(wall.invented) + 1.2 * width(wall.season, BOLD) + 3.0
    return {
        "header": 2.55 + (1.2 * LEADING if name > across else 0.0),
        "marks": sum(lines(said, across / 1.1 - 1.5, BOLD) * 1.1 * LEADING + 0.9 for said in wall.marks),
        "head": _head_and_notes(wall, across) + 0.42,
        "cards": _cards(wall.cards, columns_of(wall, across), across),
        "months": _months(wall, across),
        "months_note": LEADING * lines(wall.months_note, across) + 0.3,
        "checks": _checks(wall, across) if wall.checks else 0.0,
        "below": _below(wall, across),
        "footer": 1.28,
    }


def columns_of(wall: Wall, across: float) -> int:
    """How many cards stand side by side: as many as take the least height, in a width in ems."""
    most = min(len(wall.cards), CARDS)
    return min(range(1, most + 1), key=lambda columns: _cards(wall.cards, columns, across), default=1)


def columns_below(wall: Wall, across: float) -> int:
    """In how many columns shopping and cautions run on: as take the least height, in a width in ems."""
    fit = [n for n in range(1, BELOW + 1) if n <= 2 or _wide(across, n) >= NARROWEST]
    if not wall.priced:
        return min(fit, key=lambda columns: _balanced(_cautions(wall, across, columns), columns))
    return min(fit, key=lambda columns: _run_on(wall, across, columns))


def column_widths(wall: Wall) -> tuple[float, list[float]]:
    """Ems for the months' names and for each column of figures; the works have what is left."""
    names = max(width(month.name, BOLD) for month in wall.months) + 0.7
    figures = [
        max(_head(column.name), *(width(month.figures[at], BOLD) for month in wall.months)) + 0.7
        for at, column in enumerate(wall.columns)
    ]
    return names, figures


def looks_width(wall: Wall) -> float:
    """Ems for the names of the looks."""
    return max((width(check.name, BOLD) for check in wall.checks), default=0.0) + 0.7


def _head(said: str) -> float:
    """Width of a column's head: one line where it is short, else its longest word."""
    whole = width(said, BOLD)
    return whole if whole <= SHORT_HEAD else max(width(word, BOLD) for word in said.split(" "))


# Parts, in ems


def _rows(parts: Sequence[Part], columns: int, across: float) -> Iterable[list[tuple[Part, float]]]:
    """Parts in rows, each with the width that it has."""
    for at in range(0, len(parts), columns):
        yield [(part, across / columns) for part in parts[at : at + columns]]


def _head_and_notes(wall: Wall, across: float) -> float:
    """The number of trees, and what is said beside or below it."""
    head = TITLE * width(wall.head, BOLD), TITLE * LEADING * lines(wall.head, across / TITLE, BOLD)
    return _flow([head, *((width(said), LEADING * lines(said, across)) for said in wall.notes)], across, 1.2, 0.0)


def _cards(cards: Sequence[Card], columns: int, across: float) -> float:
    return sum(max(map(_card, row)) + 0.4 for row in _rows(cards, columns, across)) - 0.4 * bool(cards)


def _card(placed: tuple[Card, float]) -> float:
    card, across = placed
    beside = across - 5.6 - 2.6 * width(card.trees, BOLD)
    if beside < 4:
        return 1000.0
    where, how = 1.1 * LEADING * lines(card.where, beside / 1.1, BOLD), LEADING * lines(card.how, beside)
    return max(3.0, where + how) + 0.62


def _flow(parts: Iterable[tuple[float, float]], room: float, between: float, gap: float = 0.1) -> float:
    """Height of parts, each wide and high, side by side in lines.

    Example (two stand in the first line, the third in the next):
        >>> _flow([(4, 1), (5, 2), (4, 1)], 10, 0.5, 0.1)
        3.1
    """
    taken, left, tall = 0.0, 0.0, 0.0
    for wide, high in parts:
        if tall == 0.0 or wide > left:
            taken, left, tall = taken + tall + gap * bool(tall), room, high
        left, tall = left - wide - between, max(tall, high)
    return taken + tall


def _months(wall: Wall, across: float) -> float:
    """The table: its head, and a row for each month."""
    names, figures = column_widths(wall)
    room = across - names - sum(figures) - 0.1
    heads = (lines(column.name, wide - 0.6, BOLD) for wide, column in zip(figures, wall.columns, strict=True))
    title = TITLE * lines(wall.work, (names + room) / TITLE, BOLD) + lines(wall.few, names + room)
    head = max(1.7 + 1.1 * max(heads, default=1), LEADING * title)
    return head + 0.5 + sum(max(LEADING, _works(month, room)) + 0.23 for month in wall.months)


def _works(month: Month, room: float) -> float:
    """Works, each with its drawing, and the others in a line of words."""
    drawn = [(DRAWN + width(said), max(1.5, 1.1 * lines(said, room - DRAWN))) for _, said in month.works]
    return _flow([*drawn, *[(width(month.also), 1.1 * lines(month.also, room))] * bool(month.also)], room, BETWEEN)


def _checks(wall: Wall, across: float) -> float:
    """Looks: a row each, with what lives and the boxes of its fields."""
    room = across - looks_width(wall) - 0.1
    return _title(wall.look, across) + 0.3 + sum(_check(check, room) + 0.23 for check in wall.checks)


def _check(check: Check, room: float) -> float:
    said = [(DRAWN + width(line), max(1.5, 1.1 * lines(line, room - DRAWN))) for _, line in check.said]
    boxes = [part for field in check.fields for part in _boxes(field, room)]
    more = [(width(check.more), LEADING * lines(check.more, room))] * bool(check.more)
    return _flow([*said, *boxes, *more], room, BETWEEN)


def _boxes(field: Field, room: float) -> Iterable[tuple[float, float]]:
    """The boxes of a field, its name with the first."""
    name = width(field.name, BOLD) + 0.5
    for row in field.rows:
        wide = name + width(f"{row.month}{row.trees} {row.expected}") + 3.4
        yield wide, 1.42 if wide <= room else 1.42 + LEADING * (lines(field.name, room - 12.0, BOLD) - 1)
        name = 0.0


def _below(wall: Wall, across: float) -> float:
    """What to buy and the cautions: run on in columns of like height, or the one above the other."""
    columns = columns_below(wall, across)
    more = LEADING * lines(wall.more_items, across)
    if wall.priced:
        return _run_on(wall, across, columns)
    named = sum(_named(basket, across) for basket in wall.baskets)
    titles = _title(wall.buy, across) + _title(wall.beware, across)
    return titles + named + more + _balanced(_cautions(wall, across, columns), columns)


def _run_on(wall: Wall, across: float, columns: int) -> float:
    """A line for each thing to buy, then the cautions, in columns of like height."""
    things, cautions = _listed(wall, across, columns), _cautions(wall, across, columns)
    buy, beware = (_title(said, _wide(across, columns)) for said in (wall.buy, wall.beware))
    if not things:  # a title keeps to what follows it
        return _balanced([buy + beware + cautions[0], *cautions[1:]], columns)
    return _balanced([buy + things[0], *things[1:], beware + cautions[0], *cautions[1:]], columns)


def _title(said: str, across: float) -> float:
    """Height of a title with a drawing."""
    return TITLE * LEADING * lines(said, across / TITLE - 1.8, BOLD) + 0.45


def _wide(across: float, columns: int) -> float:
    """Width of one of so many columns."""
    return (across - 1.4 * (columns - 1)) / columns


def _listed(wall: Wall, across: float, columns: int) -> list[float]:
    """A line for each thing to buy, a month with its first."""
    wide, blocks = _wide(across, columns), []
    for basket in wall.baskets:
        head = 1.1 * LEADING * lines(basket.by, wide / 1.1, BOLD)
        for what, cost in basket.items:
            blocks.append(head + LEADING * lines(what, wide - 2.6 - width(cost)) + 0.2)
            head = 0.0
    return [*blocks, *[LEADING * lines(wall.more_items, wide)] * bool(wall.more_items)]


def _named(basket: Basket, across: float) -> float:
    """Things side by side after their month."""
    things = ((1.45 + width(what), LEADING * lines(what, across - 1.5) + 0.1) for what, _ in basket.items)
    return _flow([(width(basket.by, BOLD), LEADING + 0.1), *things], across, 1.0, 0.0)


def _cautions(wall: Wall, across: float, columns: int) -> list[float]:
    wide = _wide(across, columns)
    return [LEADING * lines(said, wide - 1.3) + 0.15 for said in wall.cautions]


def _balanced(blocks: Sequence[float], columns: int) -> float:
    """The least height of columns in which blocks run on, none of them cut.

    Example:
        >>> _balanced([3, 1, 2, 2], 2), _balanced([3, 1, 2, 2], 3)
        (4, 3)
    """
    if columns == 1 or len(blocks) <= 1:
        return sum(blocks)
    return min(max(sum(blocks[:at]), _balanced(blocks[at:], columns - 1)) for at in range(1, len(blocks) + 1))
