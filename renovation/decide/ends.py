"""Ends of a range: numbers, tables by year and curves."""

from typing import Any

End = float | tuple[float, ...] | None


def plain(end: Any) -> End:
    """A number or a table by year; None for a curve.

    Example:
        >>> plain(2), plain((0.25, 0.5)), plain(((0, 0.0), (24, 1.0)))
        (2.0, (0.25, 0.5), None)
    """
    if isinstance(end, tuple):
        return None if end and isinstance(end[0], tuple) else end
    return float(end)


def times(value: Any, factor: float) -> Any:
    """A number, a table or a curve's shares, times a factor.

    Example:
        >>> times(3.0, 2), times((0.1, 0.2), 2), times(((24, 0.5),), 2)
        (6.0, (0.2, 0.4), ((24, 1.0),))
    """
    if not isinstance(value, tuple):
        return value * factor
    return tuple((entry[0], entry[1] * factor) if isinstance(entry, tuple) else entry * factor for entry in value)
