"""The twelve months of a wall sheet: the plan's work by days, and a figure for each of what every month has."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from renovation.decide.plan import MonthOfWork
from renovation.show import pictures
from renovation.show.plan.work_calendar import EVERY_YEAR
from renovation.show.voice import LEAST_DAYS, Voice
from renovation.words import Words

WHOLE_DAYS = 5
"""From here on days are whole, below it they are halves."""
DIGITS = 3
"""Of a sum to have in hand, rounded up."""
LEAST_MONEY = 0.5
HANDS, MONEY, SALES = "hands", "money", "sales"
"""Columns: who works, money to have, what of it only the month's own sales bring."""


@dataclass(frozen=True)
class Column:
    """A column of figures beside the works: its drawing, its name, whether it stands out."""

    picture: str
    name: str
    strong: bool = False


@dataclass(frozen=True)
class Month:
    """A month: works of the plan with a drawing each, others in a line, and a figure for each column."""

    name: str
    works: tuple[tuple[str, str], ...]
    also: str
    figures: tuple[str, ...]


def month_name(month: str, words: Words, width: Literal["wide", "abbreviated"] = "wide") -> str:
    """A month of the season by its name alone: twelve months have twelve names."""
    return words.month_name(int(month[-2:]), width)


def planned(month: MonthOfWork) -> dict[str, float]:
    """Days of the works that come with the plan, the longest first."""
    return {kind: days for kind, days in month.work.items() if kind not in EVERY_YEAR}


def _figures(month: MonthOfWork) -> dict[str, float]:
    """What has a column: the work of every year, hands, money to have, what of it only sales of the month bring."""
    return {
        **{kind: month.work.get(kind, 0.0) for kind in reversed(EVERY_YEAR)},
        HANDS: month.family_days + month.hired_days,
        MONEY: month.in_hand,
        SALES: month.short_until_sales,
    }


def keys_of(months: Sequence[MonthOfWork]) -> list[str]:
    """The columns that have a figure in some month, by their keys."""
    return [key for key in _figures(months[0]) if any(_least(key) <= _figures(month)[key] for month in months)]


def _least(column: str) -> float:
    return LEAST_MONEY if column in (MONEY, SALES) else LEAST_DAYS


def column_of(key: str, voice: Voice) -> Column:
    """A column by its key."""
    name = voice(f"sheet.column.{key}", sign=voice.sign)
    if key in EVERY_YEAR:
        return Column(pictures.of_work(key), name)
    return Column(pictures.sign("hands" if key == HANDS else "money"), name, key == MONEY)


def month_of(
    month: MonthOfWork, columns: Sequence[str], most: int, little: float, voice: Voice, *, cut: bool = False
) -> Month:
    """One month: the plan's work by days, `most` works with a drawing, and the figures of its columns.

    Works of less than `little` days are named only. cut: the month's name in few letters.
    """
    words, own = voice.words, planned(month)
    drawn = [kind for kind, days in own.items() if days >= little][:most]
    others = [
        _work(kind, days, little, voice) for kind, days in own.items() if days >= LEAST_DAYS and kind not in drawn
    ]
    figures = _figures(month)
    return Month(
        month_name(month.month, words, "abbreviated" if cut else "wide"),
        tuple((pictures.of_work(kind), _work(kind, own[kind], little, voice)) for kind in drawn),
        voice("sheet.also", works=words.listing(others)) if others else "",
        tuple(_hands(month, voice) if key == HANDS else _figure(key, figures[key], words) for key in columns),
    )


def _figure(column: str, amount: float, words: Words) -> str:
    """A figure of a column; of work nothing where there is none."""
    if amount < _least(column):
        return words.number(0) if column == MONEY else ""
    return words.number(rounded_up(amount)) if column in (MONEY, SALES) else _days(amount, words)


def _hands(month: MonthOfWork, voice: Voice) -> str:
    """Days of the family and, where there are some, of hired hands."""
    family, hired = (
        _days(days, voice.words) if days >= LEAST_DAYS else "" for days in (month.family_days, month.hired_days)
    )
    return voice("sheet.hired", family=family or voice.words.number(0), hired=hired) if hired else family


def _work(kind: str, days: float, little: float, voice: Voice) -> str:
    """A kind of work, in fewer words where the sheet has such, and its days where they are some."""
    short = f"sheet.short.{kind}"
    name = voice(short) if short in voice.words else voice.work(kind)
    return voice("sheet.work", work=name, days=_days(days, voice.words)) if days >= little else name


def _days(days: float, words: Words) -> str:
    """A number of days: whole from five on, else halves, and never 0 where there is some."""
    return words.number(round(days) if days >= WHOLE_DAYS else max(0.5, round(2 * days) / 2))


def rounded_up(amount: float) -> int:
    """A sum to have in hand, to three digits and whole units, never less than what is needed.

    Example:
        >>> rounded_up(5542429), rounded_up(1635.2), rounded_up(31.3), rounded_up(0.5)
        (5550000, 1640, 32, 1)
    """
    step = int(10 ** max(0, math.floor(math.log10(amount)) + 1 - DIGITS))
    return math.ceil(amount / step - 1e-9) * step
