"""What every chart is drawn with: colours, axes, legends, names at line ends, and what finishes it.

Text and lines of reference take the colour that the page around the drawing writes in, so that one chart serves
light, dark and paper.
"""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from renovation.inputs import month_count
from renovation.show import looks
from renovation.show.vega import Chart, Layer, Part, Rows, columns, encoding, locale_of
from renovation.types import FloatArray
from renovation.words import Words

COLOURS, DASHES, SHAPES = looks.COLOURS[: looks.MOST], looks.DASHES[: looks.MOST], looks.SHAPES[: looks.MOST]
"""For what is no way, in turn."""
GREY = "#666666"
INK = "currentColor"
"""Text and lines of reference: whatever colour the page around the drawing writes in."""

PALE = 0.6
"""How much of a line's colour is left of it as it ran before."""

_ESCAPED = str.maketrans({"\\": "\\\\", "'": "\\'", "\n": "\\n", "\r": "\\r", "\u2028": "\\u2028", "\u2029": "\\u2029"})
"""What ends a text in an expression, or the line that it stands in."""
_TYPE = 15
_ROW_OF_LABEL = 20
"""Pixels that one row of text needs."""
_FRAME = 130
"""Pixels of a chart's height that its title and its bottom axis take where it is fitted to a page."""
_LETTERS = 14
"""Letters in a row before a name at a line's end is broken."""
SHORTENED = 1e5
"""From which number on an axis counts in thousands or millions."""
_LETTERS_OF_TITLE = 42
_LETTERS_OF_LEGEND = 34
"""Letters in a row of what is counted: as many as a telephone shows."""


def of_first(domain: Sequence[str], in_turn: Sequence[Any]) -> Part:
    """A scale that gives the names of a domain the first colours, dashes or shapes."""
    return Part(domain=list(domain), range=list(in_turn[: len(domain)]))


def of_ways(series: Mapping[str, looks.Style], part: str) -> Part:
    """A scale that gives each named series its own colour, dash or shape.

    Example:
        >>> of_ways({"Plan": looks.PLANS[0]}, "shape")
        {'domain': ['Plan'], 'range': ['circle']}
    """
    return Part(domain=list(series), range=[getattr(style, part) for style in series.values()])


def calendar_time(start: str, months: FloatArray) -> FloatArray:
    """Calendar time in years at so many months after the first: 2027.5 is the start of July 2027.

    Example:
        >>> calendar_time("2027-01", np.array([0.0, 18.0])).tolist()
        [2027.0, 2028.5]
    """
    return np.asarray((month_count(start) + months) / 12)


def calendar_axis(when: FloatArray) -> Part:
    """Calendar years along the bottom, from the first place of `when` to its last."""
    return years_axis(float(when[0]), float(when[-1]), 8)


def years_axis(first: float, last: float, ticks: int = 6, title: str | None = None) -> Part:
    """Whole years along the bottom: of the calendar, of the project or of a tree's age."""
    axis = Part(grid=False, tickMinStep=1, tickCount=ticks, format="d")
    return encoding("year:Q", title=title, scale=Part(domain=[first, last], nice=False), axis=axis)


def span_of(series: Sequence[FloatArray]) -> list[float]:
    """Lowest and highest of all series with a margin, never empty."""
    low = float(min(values.min() for values in series))
    high = float(max(values.max() for values in series))
    margin = 0.06 * (high - low) or 1.0
    return [low - margin, high + margin]


def left_axis(field: str, domain: list[float], axis: Part) -> Part:
    """A left axis on a fixed span; what it counts stands in the chart's title."""
    return encoding(field, title=None, scale=Part(domain=domain, nice=False), axis=axis)


def money_axis(words: Words, values: Iterable[float], ticks: int = 5, **more: Any) -> Part:
    """An axis of money or other numbers: in full, in thousands or millions, or with decimals; nothing is 0."""
    largest = max(map(abs, values), default=0.0)
    form = "~s" if largest >= SHORTENED else ",.0f" if largest >= 10 else ",.2~f"
    label = _shortened(words, largest) if largest >= SHORTENED else "datum.label"
    return Part(tickCount=ticks, format=form, labelExpr=f"datum.value ? {label} : '0'", **more)


def _shortened(words: Words, largest: float) -> str:
    """A Vega expression for a number in thousands or millions, by their sign in the language.

    A sign for a thousand millions is read in many ways: M is one of them in Indonesia, and a million elsewhere.
    """
    size, unit = words.short_unit(6 if largest >= 1e6 else 3)
    return f"format(datum.value / {size!r}, ',.3~f') + {literal(unit)}"


def no_axis(field: str, domain: list[float]) -> Part:
    """A left scale on a fixed span, its axis not drawn: for a layer beside the one whose axis is."""
    return encoding(field, axis=None, scale=Part(domain=domain, nice=False))


def zero_line(span: list[float]) -> Any:
    """A line across the chart at 0."""
    zero = Layer(columns(amount=0.0))
    return zero.mark("rule", color=INK, strokeWidth=2).encode(y=no_axis("amount:Q", span))


def ghost(rows: Rows, x: Part, span: list[float], name: str, **channels: Part) -> list[Layer]:
    """Lines as they ran before, pale beneath those of now, named once below the lowest of their ends; none of no rows.

    rows: by `year` and `amount`.
    """
    if not rows:
        return []
    y = no_axis("amount:Q", span)
    lines: Layer = Layer(rows).mark("line", opacity=PALE, strokeWidth=2)
    last = max(row["year"] for row in rows)
    end = min((row for row in rows if row["year"] == last), key=lambda row: row["amount"])
    said = Layer([{**end, "was": name}]).mark(
        "text", align="right", baseline="top", dy=8, fontSize=_TYPE, fontStyle="italic", color=INK
    )
    return [lines.encode(x=x, y=y, **channels), said.encode(x=x, y=y, text="was:N")]


def names_axis(names: Iterable[str]) -> Part:
    """An axis of names down the left side, each broken in rows rather than cut short."""
    return Part(labelLimit=180, labelExpr=_broken(names), ticks=False, labelPadding=8)


def _broken(names: Iterable[str], letters: int = 18) -> str:
    """A Vega expression that gives each name in rows."""
    return " : ".join(
        [*(f"datum.label === {literal(name)} ? {literal(in_rows(name, letters))}" for name in names), "datum.label"]
    )


def spread(places: Mapping[str, float], gap: float, low: float, high: float) -> dict[str, float]:
    """Move labels apart until each has `gap` to its neighbours, as near their places as the span allows.

    Example:
        >>> spread({"a": 1.0, "b": 1.1}, 0.5, 0.0, 3.0)
        {'a': 0.8, 'b': 1.3}
    """
    names = sorted(places, key=lambda name: places[name])
    blocks: list[tuple[float, list[str]]] = []
    for name in names:
        middle, members = places[name], [name]
        while blocks and middle - blocks[-1][0] < gap * (len(members) + len(blocks[-1][1])) / 2:
            before, above = blocks.pop()
            middle = (before * len(above) + middle * len(members)) / (len(above) + len(members))
            members = above + members
        half = gap * len(members) / 2
        blocks.append((min(max(middle, low + half), max(high - half, low + half)), members))
    placed = {}
    for middle, members in blocks:
        for turn, name in enumerate(members):
            placed[name] = round(middle + gap * (turn - (len(members) - 1) / 2), 10)
    return placed


def row_of_text(span: list[float], height: int) -> float:
    """How much of an axis one row of text takes."""
    return (span[1] - span[0]) * _ROW_OF_LABEL / (height - _FRAME)


def names_at_ends(ends: Mapping[str, float], x: Part, span: list[float], height: int, first: float = 0.0) -> Any:
    """Names at the right, each at its line's end: an axis, so that text takes the theme's colour and has room.

    first: where the horizontal axis begins; an unseen point there carries the axis.
    """
    rows = max(len(in_rows(name)) for name in ends)
    gap = row_of_text(span, height) * rows
    placed = spread(ends, gap, *span)
    axis = Part(
        orient="right",
        values=list(placed.values()),
        labelExpr=_label_for(placed, gap),
        labelFontSize=_TYPE,
        labelLimit=220,
        labelPadding=8,
        labelOverlap=False,
        labelBaseline="middle",
        grid=False,
        ticks=False,
        domain=False,
    )
    table = columns(year=first, end=span[0])
    y = encoding("end:Q", title=None, scale=Part(domain=span, nice=False), axis=axis)
    return Layer(table).mark("point", opacity=0).encode(x=x, y=y)


def _label_for(placed: Mapping[str, float], gap: float) -> str:
    """A Vega expression that turns a place on the axis back into the name that stands there."""
    tests = [
        f"abs(datum.value - ({place!r})) < {gap / 4!r} ? {literal(in_rows(name))}" for name, place in placed.items()
    ]
    return " : ".join([*tests, "''"])


def literal(text: str | Sequence[str]) -> str:
    r"""A text, or several, as a Vega expression says it, whatever signs it holds.

    Example:
        >>> print(literal("Ana's \\ field"), literal(["a", "b"]))
        'Ana\'s \\ field' ['a', 'b']
    """
    return f"'{text.translate(_ESCAPED)}'" if isinstance(text, str) else f"[{', '.join(map(literal, text))}]"


def in_rows(name: str, letters: int = _LETTERS) -> list[str]:
    """Break a long name at its spaces into rows of at most so many letters where words allow."""
    return textwrap.wrap(name, letters, break_long_words=False) or [name]


def legend_above(columns: int | None = None, names: Iterable[str] = (), **more: Any) -> Part:
    """A legend above the chart, large enough for a projector.

    names: what it may say; where one is too long for a phone's width, they are broken in rows rather than cut short.
    """
    if max(map(len, names := list(names)), default=0) > _LETTERS_OF_LEGEND:
        more["labelExpr"] = _broken(names, _LETTERS_OF_LEGEND)
    return Part(
        title=None,
        orient="top",
        labelFontSize=_TYPE,
        symbolSize=180,
        labelLimit=260,
        columns=columns or 0,
        **more,
    )


def line_legend(**more: Any) -> Part:
    """A legend whose signs are short pieces of line, dashes and all."""
    return legend_above(symbolType="M-1,0L1,0", symbolStrokeWidth=3, **more)


def finish(
    words: Words, layers: Sequence[Any], title: str, finding: str, height: int, *, own_axes: bool = False
) -> Chart:
    """The chart of some layers, with its size, its type, what it counts (`title`) and what it shows (`finding`).

    words: axes and what a mark says when it is pointed at write numbers as these do.

    own_axes: each layer has its own vertical axis.
    """
    text: Part = {"labelColor": INK, "titleColor": INK}
    axis = Part(labelFontSize=_TYPE, titleFontSize=_TYPE, titleFontWeight="normal", labelLimit=220, **text)
    properties = Part(
        width="container",
        height=height,
        config=Part(axis=axis, legend=Part(text), view=Part(strokeWidth=0), locale=locale_of(words)),
    )
    if own_axes:
        properties["resolve"] = Part(scale=Part(y="independent"))
    rows = textwrap.wrap(title, _LETTERS_OF_TITLE)
    said = Part(text=rows, anchor="start", fontSize=_TYPE, fontWeight="normal", offset=10, color=INK)
    return Chart(tuple(layers), said, finding, properties)
