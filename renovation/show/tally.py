"""A walk in words: what was counted, the classes, the trees by pods in a table and drawn. Words under `tally.*`."""

import math

from renovation.inputs import Scenario, default_tree_classes
from renovation.inputs.tally import Tally, Walk, class_of
from renovation.show import drawing as draw
from renovation.show.grid import Column, Table
from renovation.show.vega import Chart, Layer, Part, encoding
from renovation.show.voice import Voice
from renovation.words import Words

WIDTH = 5
"""Pods that one bar of the histogram is wide: the published borders fall between bars."""


def said(walk: Walk, words: Words) -> list[str]:
    """What was counted, what of it differs from the file, where the borders are from."""
    voice, borders, tally = Voice.of(walk.farm, words), default_tree_classes(), walk.tally
    pods = sum(one.trees * one.pods_per_tree for one in tally.classes.values()) / tally.trees
    facts = {"stand": walk.stand, "trees": voice.trees(tally.trees), "pods": words.number(pods, 1)}
    empty = tally.empty_places
    head = words("tally.counted", places=words("unit.places", n=empty), **facts)
    lines = [head if empty else words("tally.counted_trees", **facts)]
    if few := sum(one <= borders.unproductive.value for one in tally.pods):
        share = words.percent(few / tally.trees)
        lines.append(words("tally.unproductive", share=share, border=words.number(borders.unproductive.value)))
    if walk.stated != tally.trees:
        lines.append(words("tally.not_as_stated", stated=voice.trees(walk.stated), trees=facts["trees"]))
    lines.append(words("tally.kilogram", pods=words.number(walk.pods_per_kg)))
    usual = {name: words.number(getattr(borders, name).value) for name in ("good", "average")}
    return [*lines, words("tally.borders", citation=borders.good.citation, **usual)]


def classes(walk: Walk, words: Words) -> Table:
    """Trees, their share, pods and kilograms a tree of each class; the kilograms before what disease takes."""
    rows = [
        (
            words(f"tally.class.{name}"),
            words.number(one.trees),
            words.percent(one.trees / walk.tally.trees),
            words.number(one.pods_per_tree, 1),
            words.number(one.pods_per_tree / walk.pods_per_kg, 2),
        )
        for name, one in walk.tally.classes.items()
    ]
    names = ("class", "trees", "share", "pods", "kg")
    return Table(words("tally.table.classes"), tuple(_column(name, words) for name in names), tuple(rows))


def bars(tally: Tally) -> dict[tuple[int, int], int]:
    """Trees by pods: 0, 1 to 4, then five by five; whole pods, a part of one counted down.

    Example:
        >>> from renovation.inputs.tally import tally_of
        >>> bars(tally_of((0, 3, 7, 9)))
        {(0, 0): 1, (1, 4): 1, (5, 9): 2}
    """
    if not tally.pods:
        return {}
    spans = [(0, 0), (1, WIDTH - 1)]
    spans += [(low, low + WIDTH - 1) for low in range(WIDTH, int(max(tally.pods)) + 1, WIDTH)]
    whole = [math.ceil(pods) if pods < 1 else int(pods) for pods in tally.pods]
    return {(low, high): sum(low <= pods <= high for pods in whole) for low, high in spans}


def histogram(tally: Tally, words: Words) -> Table:
    """Trees by pods."""
    rows = tuple((_bar(span, words), words.number(trees), _class(span, words)) for span, trees in bars(tally).items())
    headed = tuple(_column(name, words) for name in ("from_to", "trees", "class"))
    return Table(words("tally.table.histogram"), headed, rows)


def chart(walk: Walk, words: Words, *, height: int = 330) -> Chart:
    """Trees by pods, each bar in the colour of its class."""
    voice, found = Voice.of(walk.farm, words), bars(walk.tally)
    names = {span: _bar(span, words) for span in found}
    rows = [{"bar": names[span], "trees": trees, "class": _class(span, words)} for span, trees in found.items()]
    kinds = list(dict.fromkeys(_class(span, words) for span in found))
    shown = Part(labelAngle=0, labelOverlap=True)
    channels: Part = {
        "x": encoding("bar:N", title=words("tally.chart.pods"), sort=list(names.values()), axis=shown),
        "y": encoding("trees:Q", title=None, axis=Part(tickMinStep=1, tickCount=5)),
        "color": encoding("class:N", scale=draw.of_first(kinds, draw.COLOURS), legend=draw.legend_above(2)),
    }
    said = [
        words("tally.chart.one", trees=voice.trees(trees), bar=names[span]) for span, trees in found.items() if trees
    ]
    finding = words("tally.chart.finding", stand=walk.stand, bars=words.listing(said))
    return draw.finish(words, [Layer(rows).mark("bar").encode(**channels)], words("tally.chart.title"), finding, height)


def whole_sentences(scenario: Scenario, words: Words) -> list[str]:
    """Stands that were walked, each in all: trees, classes, kilograms a year."""
    voice = Voice.of(scenario, words)
    return [
        words(
            "tally.whole",
            stand=name,
            trees=voice.trees(sum(part.trees for part in parts)),
            n=words.number(len(parts)),
            kg=words.number(sum(part.kg_per_tree * scenario.free_trees(part.name) for part in parts), 0),
        )
        for name, parts in scenario.wholes.items()
    ]


def _bar(span: tuple[int, int], words: Words) -> str:
    low, high = (words.number(end) for end in span)
    return low if low == high else words("tally.table.bar", first=low, last=high)


def _class(span: tuple[int, int], words: Words) -> str:
    return words(f"tally.class.{class_of(span[0])}")


def _column(name: str, words: Words) -> Column:
    return Column(name, words(f"tally.table.{name}"), "left" if name in ("class", "from_to") else "right")
