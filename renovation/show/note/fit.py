"""How much smaller a page of the note has to be set to stand on one page: its height counted from its elements.

Widths are those of `show/letters.py`, sizes those of `note.css`. A browser test prints the notes and
holds them to two pages.
"""

from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from renovation.show.letters import BOLD, lines, width
from renovation.show.report.html import Html

ACROSS, DOWN = 178 * 72 / 25.4, 273 * 72 / 25.4
"""Points of an A4 page inside the note's margins."""
SAFE = 0.985
"""Of the height, what may be filled: the count is not exact."""
SCALES = tuple(1 - step / 50 for step in range(31))
"""From as it is down to two fifths of it."""
TYPE, TABLE, CELL = 9.5, 8.5, 8.0
"""Points of plain type and of a table's, and of the white space beside a cell."""
LOOKS = {"h2": (11.0, 7.0), "p": (TYPE, 0.0), "li": (TYPE, 0.0), "caption": (TABLE, 3.0), "footer": (8.0, 6.0)}
"""Points of type, and of what is left free with it."""
CLASSES = {"fill": (TYPE, 9.5), "small": (8.0, 0.0), "invented": (TYPE, 7.5), "name": (13.0, 0.0)}
LEADING, LEADING_OF_TABLE = 1.3, 1.2


def scale_of(page: Html) -> float:
    """The largest scale at which a page stands on one: 1 where it does as it is, the smallest there is where none does.

    Example:
        >>> scale_of(Html("<section><p>Short</p></section>"))
        1.0
    """
    read = ElementTree.fromstring(page)
    fitting = (scale for scale in SCALES if height(read, ACROSS / scale) * scale <= DOWN * SAFE)
    return next(fitting, SCALES[-1])


def height(read: Element, across: float) -> float:
    """Points that an element takes in a width in points."""
    kind, of = read.tag, read.get("class") or ""
    if kind == "header":
        title, name = read
        beside = across - 18 * width(_said(title), BOLD) - TYPE
        return 1.5 + max(18 * 1.25, height(name, beside))
    if kind == "figure":
        return 6 + TYPE * LEADING * lines(_said(read[0]), across / TYPE) + _drawn(read[1], across)
    if kind == "table":
        return 3 + _table(read, across)
    if of == "two":
        return max((height(part, across / 2 - 12) for part in read), default=0.0)
    if kind in LOOKS:
        size, free = CLASSES.get(of, LOOKS[kind])
        weight = BOLD if of == "name" or kind in ("h2", "caption") or read.find("strong") is not None else 1.0
        return free + size * LEADING * lines(_said(read), across / size, weight)
    if kind == "b":
        return TYPE * LEADING
    inside = across - (15 if of == "box" else 13 if kind == "ul" else 0)
    return (14 if of == "box" else 0) + sum(height(part, inside) for part in read)


def _said(read: Element) -> str:
    """The words of an element."""
    return "".join(read.itertext())


def _drawn(svg: Element, across: float) -> float:
    """A picture's height: no wider than the page."""
    wide, high = (float(svg.get(side, "0")) * 0.75 for side in ("width", "height"))
    return high * across / max(wide, across) + LEADING


def _table(read: Element, across: float) -> float:
    """A table's height: a row has that of its highest cell, a column a width between its longest word and cell."""
    rows = [[(_said(cell), BOLD if cell.tag == "th" else 1.0) for cell in row] for row in read.iter("tr")]
    columns = list(zip(*rows, strict=True))
    most = [max(width(said, weight) for said, weight in cells) for cells in columns]
    least = [max(width(word, weight) for said, weight in cells for word in said.split(" ")) for cells in columns]
    least[0] = max(width(said, weight) for said, weight in columns[0][1:]) if len(rows) > 1 else least[0]
    room = across / TABLE - len(columns) * CELL / TABLE
    share = min(1.0, max(0.0, room - sum(least)) / ((sum(most) - sum(least)) or 1.0))
    wide = [low + (high - low) * share + 1e-6 for low, high in zip(least, most, strict=True)]
    lined = sum(
        max(lines(said, across, weight) for (said, weight), across in zip(row, wide, strict=True)) or 1 for row in rows
    )
    caption = read.find("caption")
    named = 0.0 if caption is None else height(caption, across)
    return named + lined * TABLE * LEADING_OF_TABLE + len(rows) * 3.0
