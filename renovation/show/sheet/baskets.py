"""What to buy on a wall sheet, by the month in which it must be there."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from renovation.decide.plan import ToBuy
from renovation.show.plan.sheet_sentences import amount_of
from renovation.show.sheet.months import month_name
from renovation.show.voice import Voice
from renovation.words import Words

COUNTED_UNITS = ("piece", "plant")
"""Units that go without saying."""
ROUNDED_FROM = 10
"""Amounts that are measured, from here on in whole units, rounded up."""


@dataclass(frozen=True)
class Basket:
    """What to buy by one month: what and its cost, or no cost where the month bears that of all."""

    by: str
    items: tuple[tuple[str, str], ...]


def baskets_of(
    shopping: Sequence[ToBuy], most: int, voice: Voice, *, priced: bool = True
) -> tuple[tuple[Basket, ...], str]:
    """By month: a line for each supply, one for the tools; a sentence for those beyond the most."""
    words = voice.words
    months: dict[str, list[tuple[str, float]]] = {}
    tools: dict[str, list[ToBuy]] = {}
    for item in shopping:
        month = item.months[0] if item.months else ""
        lines = months.setdefault(month, [])
        if item.kind == "tool":
            tools.setdefault(month, []).append(item)
        else:
            lines.append((voice("sheet.bought", name=_name(item, words), amount=_amount(item, words)), item.cost))
    for month, mine in tools.items():
        said = [_tool(item, voice) for item in mine]
        months[month].append((voice("sheet.tools", tools=words.listing(said)), math.fsum(item.cost for item in mine)))
    baskets, left, unsaid = [], most, list[float]()
    for month in sorted(months):
        shown = months[month][:left]
        unsaid += [cost for _, cost in months[month][left:]]
        left -= len(shown)
        if shown:
            cost = voice.money(math.fsum(cost for _, cost in shown))
            by = (
                voice(f"sheet.by{'' if priced else '_for'}", month=month_name(month, words), cost=cost) if month else ""
            )
            baskets.append(Basket(by, tuple((what, voice.money(cost) if priced else "") for what, cost in shown)))
    more = voice("sheet.more_items", n=len(unsaid), cost=voice.money(math.fsum(unsaid))) if unsaid else ""
    return tuple(baskets), more


def _tool(item: ToBuy, voice: Voice) -> str:
    """A tool, with how many where they are more than one."""
    name = _name(item, voice.words)
    return name if item.quantity == 1 else voice("sheet.tool", name=name, n=voice.words.number(item.quantity))


def _name(item: ToBuy, words: Words) -> str:
    return words.name(item.kind, item.key, item.label)


def _amount(item: ToBuy, words: Words) -> str:
    """How much to get: pieces as a bare number, measured amounts by the sign on the bag, large ones rounded up."""
    if item.unit in COUNTED_UNITS:
        return words.number(item.quantity)
    quantity = math.ceil(item.quantity) if item.quantity >= ROUNDED_FROM else item.quantity
    short = f"sheet.unit.{item.unit}"
    return (
        words(short, n=words.number(quantity)) if short in words else amount_of(replace(item, quantity=quantity), words)
    )
