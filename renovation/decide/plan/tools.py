"""The columns of the tools: the months in which a piece may be bought, and the needs that a purchase must cover.

Tools with the same life and the same months of need are one; a tool is bought only in months that its rule can reach; a
need that another need implies has no row.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from renovation.decide.plan.columns import ToolNeed
from renovation.types import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class ToolColumns:
    """Tools merged by life and need: columns are months of purchase."""

    price: FloatArray
    month: IntArray
    cover: tuple[tuple[int, int, int], ...]
    """(group, first column, column after the last) whose purchases serve one need of the group."""
    lasting: tuple[tuple[int, int], ...]
    """(first column, column after the last) of which one piece at most is bought while it lasts."""
    asked_by: tuple[tuple[int, ...], ...]
    """For each column the groups that need the tool in its month."""
    first: IntArray
    """(N,) first column that serves a need; needs that the same purchases serve are one."""
    after: IntArray
    """(N,) the column after the last that serves it."""
    asks: BoolArray
    """(N, G) the groups that have the need."""

    def served(self, bought: FloatArray) -> FloatArray:
        """Pieces that serve each need, (N,), of pieces bought by column, (K,)."""
        so_far = np.concatenate([[0.0], np.cumsum(bought)])
        found: FloatArray = so_far[self.after] - so_far[self.first]
        return found


def tool_columns(needs: Sequence[ToolNeed]) -> ToolColumns:
    """Merge tools that are bought together, and find the months and needs that matter."""
    merged: dict[tuple[float, bytes], tuple[float, ToolNeed]] = {}
    for tool in needs:
        key = (tool.life_months, tool.need.tobytes())
        price, _ = merged.get(key, (0.0, tool))
        merged[key] = (price + tool.price, tool)
    prices: list[float] = []
    month: list[int] = []
    cover: list[tuple[int, int, int]] = []
    lasting: list[tuple[int, int]] = []
    asked_by: list[tuple[int, ...]] = []
    spans: list[tuple[int, int, BoolArray]] = []
    for total, tool in merged.values():
        when = _reachable(tool)
        cover += [(g, a + len(month), b + len(month)) for g, a, b in _needed_windows(tool, when)]
        first = np.searchsorted(when, np.array(when) - tool.life_months, side="right")
        lasting += [(int(a) + len(month), b + len(month) + 1) for b, a in enumerate(first)]
        asked_by += [tuple(np.flatnonzero(tool.need[:, at]).tolist()) for at in when]
        spans += [(a + len(month), b + len(month), asks) for a, b, asks in _shared_needs(tool, when)]
        prices += [total] * len(when)
        month += when
    groups = needs[0].need.shape[0] if needs else 0
    return ToolColumns(
        price=np.array(prices),
        month=np.array(month, dtype=np.int64),
        cover=tuple(cover),
        lasting=tuple(lasting),
        asked_by=tuple(asked_by),
        first=np.array([a for a, _, _ in spans], dtype=np.int64),
        after=np.array([b for _, b, _ in spans], dtype=np.int64),
        asks=np.array([asks for *_, asks in spans], dtype=bool).reshape(len(spans), groups),
    )


def _reachable(tool: ToolNeed) -> list[int]:
    """Months in which the rule can buy a tool: first needs, and first needs after a life, of any group."""
    months = tool.need.shape[1]
    later = np.full((tool.need.shape[0], months + 1), months)  # the first need of each group from a month on
    later[:, :-1] = np.where(tool.need, np.arange(months), months)
    later = np.minimum.accumulate(later[:, ::-1], axis=1)[:, ::-1]
    seen: set[int] = {months}
    waiting = np.unique(later[:, 0]).tolist()
    while waiting:
        month = waiting.pop()
        if month not in seen:
            seen.add(month)
            waiting += np.unique(later[:, int(np.ceil(min(months, month + tool.life_months)))]).tolist()
    seen.remove(months)
    return sorted(seen)


def _needed_windows(tool: ToolNeed, when: list[int]) -> list[tuple[int, int, int]]:
    """For each group the windows of purchases that serve a need and contain no other such window."""
    found = []
    for group, row in enumerate(tool.need):
        needs = np.flatnonzero(row)
        first = np.searchsorted(when, needs - tool.life_months, side="right")
        after = np.searchsorted(when, needs, side="right")
        windows = np.unique(np.stack([first, after], axis=1), axis=0)
        # both ends rise together, so a window holds another only if it shares an end with a neighbour
        holds = np.append(windows[1:, 1] == windows[:-1, 1], False)[: len(windows)]
        holds[1:] |= windows[1:, 0] == windows[:-1, 0]
        found += [(group, a, b) for a, b in windows[~holds].tolist()]
    return found


def _shared_needs(tool: ToolNeed, when: list[int]) -> list[tuple[int, int, BoolArray]]:
    """Spans of purchases that serve a month's need of a tool, and who has it: (first, after, (G,))."""
    months = np.flatnonzero(tool.need.any(axis=0))
    first = np.searchsorted(when, months - tool.life_months, side="right")
    after = np.searchsorted(when, months, side="right")
    found: dict[tuple[int, int], BoolArray] = {}
    for span, month in zip(zip(first.tolist(), after.tolist(), strict=True), months, strict=True):
        found[span] = found.get(span, False) | tool.need[:, month]
    return [(a, b, asks) for (a, b), asks in found.items()]
