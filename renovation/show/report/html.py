"""The report's HTML: elements, tables in parts that fit a page, charts as SVG; plain text is escaped on its way in."""

import copy
import re
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any, Self

from markupsafe import Markup

from renovation.show.grid import Table
from renovation.show.vega import Chart

ROOM = 104
"""Letters that fit side by side on a portrait page at the size of type of a table."""
ROOM_SMALL = 122
"""The same at the small size."""
PADDING = 2
"""Letters of white space that a column takes."""
COMFORTABLE, FIRST_COMFORTABLE = 14, 24
"""Letters beyond which a cell may be wrapped; the first column names the rows and gets more."""
LONG_WORD, BREAK_EVERY = 24, 12
"""A word of more letters may be broken, after each so many."""
MANY_COLUMNS = 10
"""From so many columns on they stand closer."""
KEPT_WHOLE, PART_KEPT_WHOLE = 12, 24
"""A table of so many rows or fewer stays on one page; so does a part of a table that is cut in columns."""
LEADING = ("year", "from_month")
"""Columns that stand before every part of a table that is cut in columns."""


class Html(Markup):
    """Text that is HTML already: plain text that joins it is escaped on the way.

    Quotes are written as `html.escape` writes them; control characters, which HTML does not know, give way to a sign.

    Example:
        >>> Html.escape("<b>") == "&lt;b&gt;" and Html.escape("\\x1b") == "\N{REPLACEMENT CHARACTER}"
        True
        >>> Html(" ").join(["1 < 2", Html("<b>so</b>")])
        Html('1 &lt; 2 <b>so</b>')
    """

    __slots__ = ()

    @classmethod
    def escape(cls, plain: Any, /) -> Self:
        """Plain text as HTML; what is HTML already stays as it is."""
        if isinstance(plain, Markup):
            return cls(plain)
        return cls(escape(_CONTROLS.sub("\N{REPLACEMENT CHARACTER}", str(plain))))


_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
"""What no page and no drawing may hold (XML 1.0, section 2.2), and what else HTML does not know."""


def tag(name: str, *inside: str, **attributes: str | None) -> Html:
    """An element with what is inside it; plain text is escaped, `class_` stands for class, None is left out.

    Example:
        >>> tag("p", "1 < 2", tag("b", "&"), class_="small")
        Html('<p class="small">1 &lt; 2<b>&amp;</b></p>')
    """
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{Html.escape(value)}"' for key, value in attributes.items() if value
    )
    return Html(f"<{name}{said}>{join(inside)}</{name}>")


def join(pieces: Iterable[str]) -> Html:
    """Pieces one after another, plain text escaped."""
    return Html().join(pieces)


def paragraphs(said: Iterable[str], class_: str | None = None) -> Html:
    """A paragraph for each sentence."""
    return join(tag("p", sentence, class_=class_) for sentence in said if sentence)


def bullets(said: Iterable[str], class_: str | None = None) -> Html:
    """A list with a point for each sentence; nothing where there is none."""
    points = [tag("li", sentence) for sentence in said if sentence]
    return tag("ul", *points, class_=class_) if points else Html("")


# Tables


def table(
    shown: Table,
    *,
    total: bool = False,
    marked: Iterable[str] = (),
    shares: Sequence[int] = (),
    small: bool = False,
) -> Html:
    """A table in as many parts as the page's width asks for; title and head repeat on every page.

    total: the last row sums the others. marked: a row with one of these cells is marked. shares: widths of the
    columns in percent, for a table of prose. small: in small type, as prose is.
    """
    cut = parts(shown, bool(shares))
    whole = KEPT_WHOLE if len(cut) == 1 else PART_KEPT_WHOLE
    looks = ["whole"] * (len(shown.rows) <= whole) + ["small"] * (small or bool(shares))
    return join(_part(shown, chosen, looks, set(marked), shares, total) for chosen in cut)


def parts(shown: Table, is_prose: bool = False) -> list[list[int]]:
    """Which columns stand side by side: all where they fit, else in parts, each with the leading columns.

    Example (four columns of 24 letters do not fit beside the first; two do):
        >>> from renovation.show.grid import Column
        >>> columns = tuple(Column(key, key * 24) for key in "abcde")
        >>> parts(Table("", columns, ()))
        [[0, 1, 2], [0, 3, 4]]
    """
    widths = [_width(shown, column) for column in range(len(shown.columns))]
    if is_prose or sum(widths) <= ROOM_SMALL:
        return [list(range(len(widths)))]
    leading = [place for place, column in enumerate(shown.columns) if column.key in LEADING] or [0]
    rest = [place for place in range(len(widths)) if place not in leading]
    room = ROOM - sum(widths[place] for place in leading)
    for number in range(2, len(rest)):
        cut = _shared_out(rest, widths, number)
        if all(sum(widths[place] for place in part) <= room for part in cut):
            return [[*leading, *part] for part in cut]
    return [[*leading, place] for place in rest]


def _shared_out(places: Sequence[int], widths: Sequence[int], number: int) -> list[list[int]]:
    """Columns in so many parts of like width, in order."""
    each = sum(widths[place] for place in places) / number
    cut: list[list[int]] = [[] for _ in range(number)]
    before = 0.0
    for place in places:
        cut[min(number - 1, int((before + widths[place] / 2) / each))].append(place)
        before += widths[place]
    return [part for part in cut if part]


def _width(shown: Table, column: int) -> int:
    """Letters that a column needs: its longest word, or what makes its longest cell comfortable, and some white."""
    cells = [row[column] for row in shown.rows]
    words = [word for cell in [shown.columns[column].heading, *cells] for word in cell.split(" ")]
    longest = min(max(map(len, words), default=0), LONG_WORD)
    comfortable = min(max(map(len, cells), default=0), FIRST_COMFORTABLE if column == 0 else COMFORTABLE)
    return PADDING + max(longest, comfortable)


def _part(
    shown: Table, chosen: Sequence[int], looks: Sequence[str], marked: set[str], shares: Sequence[int], total: bool
) -> Html:
    """Some columns of a table; the first heads each row."""
    columns = [Html(f'<col style="width:{share}%">') for share in shares]
    title = tag("tr", tag("th", shown.title, class_="title", colspan=str(len(chosen)), scope="colgroup"))
    names = (tag("th", _cell(shown.columns[c].heading), scope="col", class_=_side(shown, c)) for c in chosen)
    rows = []
    for number, row in enumerate(shown.rows):
        first, *others = chosen
        last = total and number == len(shown.rows) - 1
        cells = [
            tag("th", _cell(row[first]), scope="row", class_=_side(shown, first)),
            *(tag("td", _cell(row[c]), class_=_side(shown, c, row[c])) for c in others),
        ]
        rows.append(tag("tr", *cells, class_="total" if last else "own" if marked & set(row) else None))
    is_tight = sum(_width(shown, c) for c in chosen) > ROOM
    looks = [*looks, *["small"] * is_tight, *["dense"] * (len(chosen) >= MANY_COLUMNS)]
    return tag(
        "table",
        *([tag("colgroup", *columns)] if columns else []),
        tag("thead", title, tag("tr", *names)),
        tag("tbody", *rows),
        class_=" ".join(dict.fromkeys(looks)),
    )


def _cell(plain: str) -> Html:
    """A cell's text; a word that is too long for a column may be broken anywhere."""
    words = [
        Html("<wbr>").join(Html.escape(word[at : at + BREAK_EVERY]) for at in range(0, len(word), BREAK_EVERY))
        if len(word) > LONG_WORD
        else Html.escape(word)
        for word in plain.split(" ")
    ]
    return Html(" ").join(words)


def _side(shown: Table, column: int, cell: str = "") -> str | None:
    """The side that a cell stands on; a short one keeps to one line."""
    looks = [shown.columns[column].align] if shown.columns[column].align == "right" else []
    return " ".join(looks + (["short"] if 0 < len(cell) <= COMFORTABLE else [])) or None


# Charts

PADDING_OF_CHART = {"left": 8, "top": 5, "right": 24, "bottom": 5}
"""Room around a chart, in pixels: the reader's type may be wider than the one that it was measured with."""
_HIDDEN = re.compile(r'<text\b[^>]*\bopacity="0"[^>]*>[^<]*</text>')
"""Labels that had no room, drawn but not seen."""
_READ_ALOUD = re.compile(r'\saria-(?:label|roledescription)="[^"]*"')
"""What the drawing library says of its parts, in English: the finding above says it all."""
_IDS = re.compile(r'(\bid="|url\(#|href="#)')


def chart(drawn: Chart, name: str, width: int) -> Html:
    """A chart as inline SVG beneath its finding; `name` keeps its parts apart from those of other charts."""
    from vl_convert import vegalite_to_svg

    spec = copy.deepcopy(drawn.to_dict())
    finding, name = drawn.description, f"chart-{name}"
    spec.update(width=width, background=None, padding=PADDING_OF_CHART)
    spec.pop("description")
    spec["config"]["aria"] = False
    _in_full(spec)
    stand_ins = _StandIns()
    svg = vegalite_to_svg(_put_on(spec, stand_ins)).translate({ord(one): code for code, one in stand_ins.items()})
    svg = re.sub(r'\sxmlns(:xlink)?="[^"]*"', "", svg).replace("xlink:href", "href")
    svg = _READ_ALOUD.sub("", _HIDDEN.sub("", svg))
    svg = _IDS.sub(rf"\g<1>{name}-", svg)
    titled = f'<svg role="img" aria-labelledby="{name}"'
    return tag("figure", tag("figcaption", finding, id=name), Html(svg.replace("<svg", titled, 1)))


class _StandIns(dict[int, str]):
    """A sign of one half for each that is stored in two, such as pictures and some scripts of West Africa.

    A label too long for its place is cut at any half, and the program that draws ends where a half is left over.
    """

    def __missing__(self, code: int) -> str:
        if code > 0xFFFF:
            self[code] = chr(_PRIVATE + len(self))
            return self[code]
        return chr(code)


_PRIVATE = 0xE000
"""The first of 6400 signs that mean nothing by themselves."""


def _put_on(node: Any, stand_ins: _StandIns) -> Any:
    """A part with other signs in its texts; the program ends at a control character too."""
    if isinstance(node, dict):
        return {key: _put_on(value, stand_ins) for key, value in node.items()}
    if isinstance(node, list):
        return [_put_on(value, stand_ins) for value in node]
    return _CONTROLS.sub("\N{REPLACEMENT CHARACTER}", node).translate(stand_ins) if isinstance(node, str) else node


def _in_full(node: Any) -> None:
    """Write the numbers of an axis in full, where a screen shortens them to 1M or 1G."""
    if isinstance(node, dict):
        if node.get("format") == "~s":
            node |= {"format": ",.0f", "labelExpr": "datum.label"}
        for value in node.values():
            _in_full(value)
    elif isinstance(node, list):
        for value in node:
            _in_full(value)


def style_text(text: str) -> str:
    r"""A text as the content of a style rule: all but plain letters and digits escaped.

    Example:
        >>> style_text('1 "</style>')
        '"1\\20 \\22 \\3c \\2f style\\3e "'
    """
    return '"' + "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in text) + '"'
