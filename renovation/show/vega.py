"""The words of Vega-Lite that the charts speak, as plain tables: a drawing costs what its points cost.

Nothing is checked here: the tests hold every chart to the schema of Vega-Lite, where a check on each visit of a page
would take longer than all else on it.
"""

from dataclasses import dataclass, field, replace
from typing import Any

from renovation.words import Words

Part = dict[str, Any]
"""A table of properties, as Vega-Lite names them: a scale, an axis, a legend."""
Rows = list[Part]
"""What is drawn, a table a point: numbers and texts by column."""
_TYPES = {"Q": "quantitative", "N": "nominal", "O": "ordinal"}
_SECOND = ("x2", "y2")
"""Channels that take the type of the first of their kind."""


def encoding(of: str, **more: Any) -> Part:
    """What a channel shows: a column and its kind (`kg:Q`, `part:N`, `year:O`), and its other properties.

    Example:
        >>> encoding("kg:Q", title=None)
        {'title': None, 'field': 'kg', 'type': 'quantitative'}
    """
    name, _, kind = of.rpartition(":")
    return {**more, "field": name, "type": _TYPES[kind]}


@dataclass(frozen=True)
class Layer:
    """One layer of a chart: its rows, its mark, what its channels show. Each call gives a new one."""

    rows: Rows
    look: Part = field(default_factory=dict)
    channels: Part = field(default_factory=dict)

    def mark(self, kind: str, **look: Any) -> "Layer":
        """The same rows, drawn by a mark of this kind and look."""
        return replace(self, look={"type": kind, **look})

    def encode(self, **channels: Any) -> "Layer":
        """The same rows with these channels too, each an encoding or a column and its kind."""
        said = {name: encoding(shown) if isinstance(shown, str) else shown for name, shown in channels.items()}
        for name in _SECOND:
            if name in said:
                said[name] = {key: value for key, value in said[name].items() if key != "type"}
        return replace(self, channels={**self.channels, **said})

    def to_dict(self) -> Part:
        """The layer as Vega-Lite reads it."""
        return {"data": {"values": self.rows}, "mark": self.look, "encoding": self.channels}


@dataclass(frozen=True)
class Chart:
    """Layers on one another. title: what is counted, row by row. description: what the chart finds."""

    layers: tuple[Layer, ...]
    title: Part
    description: str
    properties: Part

    def larger(self, times: float) -> "Chart":
        """The same chart with type, marks and height so many times as large."""
        layers = tuple(
            replace(layer, look=_larger(layer.look, times), channels=_larger(layer.channels, times))
            for layer in self.layers
        )
        return replace(self, layers=layers, properties=_larger(self.properties, times))

    def to_dict(self, *, named: bool = True) -> Part:
        """The chart as Vega-Lite reads it; named: with its title and what it finds."""
        said = {"title": self.title, "description": self.description} if named else {}
        return {
            "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
            **self.properties,
            **said,
            "layer": [layer.to_dict() for layer in self.layers],
        }


_SIZES = {
    *("height", "size", "fontSize", "strokeWidth", "thickness", "dx", "dy", "minExtent"),
    *("labelFontSize", "titleFontSize", "labelLimit", "labelPadding", "symbolSize", "symbolStrokeWidth"),
}


def _larger(part: Any, times: float, name: str = "") -> Any:
    """A part with every number of it that is counted in pixels so many times as large."""
    if isinstance(part, dict):
        return {key: _larger(value, times, key) for key, value in part.items()}
    if isinstance(part, list):
        return [_larger(value, times) for value in part]
    return part * times if name in _SIZES and isinstance(part, int | float) else part


def locale_of(words: Words) -> Part:
    """How Vega writes numbers, as d3 names the parts; no chart counts on an axis of dates.

    Example:
        >>> locale_of(Words("es", "PE"))["number"]
        {'decimal': '.', 'thousands': ',', 'grouping': [3], 'currency': ['', ''], 'percent': '%'}
    """
    last, between = words.groups()
    number = Part(
        decimal=words.decimal_sign(),
        thousands=words.group_sign(),
        grouping=[last] if last == between else [last, *[between] * 8],
        currency=["", ""],
        percent=words.percent_sign(),
    )
    return Part(number=number)


def columns(**named: Any) -> Rows:
    """Rows of columns: arrays and lists of one length; a text or a number stands in each row.

    Example:
        >>> columns(year=[1.0, 2.0], part="old crown")
        [{'year': 1.0, 'part': 'old crown'}, {'year': 2.0, 'part': 'old crown'}]
    """
    plain = {name: values.tolist() if hasattr(values, "tolist") else values for name, values in named.items()}
    rows = max((len(values) for values in plain.values() if isinstance(values, list)), default=1)
    whole = [values if isinstance(values, list) else [values] * rows for values in plain.values()]
    return [dict(zip(plain, row, strict=True)) for row in zip(*whole, strict=True)]
