"""The harvest season, and seasons from named country windows (data: `renovation/defaults/seasons.toml`)."""

import difflib
import tomllib
from functools import cache
from importlib import resources
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from renovation.inputs.quantities import (
    CalendarMonth,
    Figure,
    FrozenDict,
    Model,
    Name,
    Named,
    Quantity,
    Share,
    problem,
)

Months = Annotated[tuple[CalendarMonth, ...], Field(min_length=1, max_length=12), Quantity("months")]
Region = Literal["africa", "elsewhere"]


class Season(Model):
    """Twelve harvest shares, January to December, summing to 1 (method §2)."""

    shares: Annotated[tuple[Share, ...], Field(min_length=12, max_length=12), Quantity("share of the year's crop")]
    window: Name | None = None
    """The named country window they were made from, if any."""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if abs(sum(self.shares) - 1) > 1e-6:
            raise problem("shares_not_one", found=f"{sum(self.shares):g}")
        return self


class Window(Model):
    """The calendar months of a country's main and mid harvest, and whose mid share it takes."""

    main: Months
    mid: Months
    mid_share: Region


class WindowsSource(Model):
    """Where the windows come from."""

    source: Literal["published"]
    citation: str


class Seasons(Model):
    """The whole file of harvest windows."""

    windows_source: WindowsSource
    mid_share: Annotated[Named[Figure[Share]], Quantity("share")]
    windows: Annotated[dict[Name, Window], AfterValidator(FrozenDict)]


@cache
def seasons() -> Seasons:
    """Read the default harvest windows, once."""
    text = resources.files("renovation.defaults").joinpath("seasons.toml").read_text("utf-8")
    tables = tomllib.loads(text)
    for window in tables["windows"].values():
        window["main"], window["mid"] = tuple(window["main"]), tuple(window["mid"])
    return Seasons.model_validate(tables)


def window_names() -> tuple[str, ...]:
    """List the countries that have a harvest window, in alphabetical order.

    Example:
        >>> window_names()[:3]
        ('Brazil', 'Cameroon', 'Colombia')
    """
    return tuple(sorted(seasons().windows))


def season_from_window(name: str, mid_share: float | None = None) -> Season:
    """Make twelve harvest shares from a country's window, spread evenly inside main and mid months.

    share[month] = (1 − mid) / months of the main window, or mid / months of the mid window, or 0.
    `mid_share` (0 … 1) stands in place of the default share of the mid harvest. Windows as published by the
    International Cocoa Organization; the even spread is an assumption.

    Errors: a `problem` of code `unknown_window` where the name has no window, `out_of_bounds` where
    `mid_share` is not a share.

    Example:
        >>> season_from_window("Ghana", mid_share=0.16).shares[:5]
        (0.12, 0.12, 0.12, 0.0, 0.04)
    """
    window = seasons().windows.get(name)
    if window is None:
        near = difflib.get_close_matches(name, window_names(), n=1)
        raise problem("unknown_window", found=name, near=near[0] if near else "", choices=", ".join(window_names()))
    mid = seasons().mid_share[window.mid_share].value if mid_share is None else mid_share
    if not 0 <= mid <= 1:
        raise problem("out_of_bounds", found=f"{mid:g}", accepted="0 – 1")
    shares = [0.0] * 12
    for month in window.main:
        shares[month - 1] += (1 - mid) / len(window.main)
    for month in window.mid:
        shares[month - 1] += mid / len(window.mid)
    return Season(shares=tuple(shares), window=name)
