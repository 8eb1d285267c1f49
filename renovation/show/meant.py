"""What a number means, in a sentence with an example, where it is asked for: a rate, a share, days on a tree, a curve.

No sentence stands here: each function chooses a key of the catalogue (`meant.*`) and its facts.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from renovation.inputs import Figure, Scenario
from renovation.inputs.shapes import locate
from renovation.show.curves import by_year_sentence, curve_sentence
from renovation.show.voice import Voice
from renovation.words import Words

Path = Sequence[str | int]
HUNDRED = 100
"""Trees, grafts or units of money of which an example speaks."""
YEARS = 5
"""Years over which a decline is told."""
NEW, OLD = 0.0, 1.0
"""What a new and an old crown bear ahead of the first point of their curve."""


def meant(farm: Scenario, path: Path, value: float, words: Words) -> str:
    """What a number of a farm means; empty where its name says it.

    path: where it stands in the scenario. value: the number itself.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> meant(demo_scenario(), ("appraisal", "discount_rate"), 0.1, Words("en"))
        '$100 a year from now is worth $90.91 today.'
        >>> meant(demo_scenario(), ("household", "savings"), 500.0, Words("en"))
        ''
    """
    shape = locate(Scenario, path)
    key = f"{shape.model}.{shape.field}" if shape else ""
    if key not in _FIELDS:
        return ""
    return words(f"meant.{key}", **_FIELDS[key](value, Voice.of(farm, words), farm))


_OfField = Callable[[float, Voice, Scenario], dict[str, str]]


def _grows(value: float, voice: Voice, _: Scenario) -> dict[str, str]:
    return {"sum": voice.money(HUNDRED), "later": voice.money(HUNDRED * (1 + value))}


def _shrinks(value: float, voice: Voice, _: Scenario) -> dict[str, str]:
    return {"sum": voice.money(HUNDRED), "now": voice.money(HUNDRED / (1 + value))}


def _part(value: float, voice: Voice, _: Scenario) -> dict[str, str]:
    return {"sum": voice.money(HUNDRED), "part": voice.money(HUNDRED * value)}


def _of_hundred(value: float, voice: Voice, _: Scenario) -> dict[str, str]:
    return {"all": voice.words.number(HUNDRED), "n": _count(HUNDRED * value, voice.words)}


def _decline(value: float, voice: Voice, _: Scenario) -> dict[str, str]:
    left = _count(HUNDRED * (1 - value) ** YEARS, voice.words)
    return {"all": voice.words.number(HUNDRED), "left": left, "years": voice.whole_years(YEARS)}


def _day(value: float, voice: Voice, farm: Scenario) -> dict[str, str]:
    return {"day": voice.small_money(value * farm.household.wage_per_day)}


_FIELDS: Mapping[str, _OfField] = {
    "Appraisal.discount_rate": _shrinks,
    "Appraisal.inflation": _grows,
    "Household.savings_rate": _grows,
    "Household.labour_value": _day,
    "Stand.decline_per_year": _decline,
    "Stand.tree_loss_per_year": _of_hundred,
    "Stand.pods_lost": _of_hundred,
    "Pods.lost_share": _of_hundred,
    "Pods.pods_per_kg": lambda value, voice, _: {"n": voice.words.number(round(1000 / value)) if value else "0"},
    "WetBeans.dry_per_wet": _of_hundred,
    "LoanConditions.rate_per_year": _part,
    "LoanConditions.fee_share": _part,
    "LoanTest.cover": _part,
}
"""The numbers that a sentence is said of, by model and field: what fills it."""


def figure_meant(farm: Scenario, path: Path, value: Any, words: Words) -> str:
    """What a figure of a way means, of a hundred trees where it is one of a tree; empty where its name says it.

    path: `techniques`, the way, and where the figure stands in it. value: its value, or an end of its range.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm, words = demo_scenario(), Words("en")
        >>> figure_meant(farm, ("techniques", "side_graft", "take"), (0.25, 0.75), words)
        'Of 100 grafts these live: 25 in year 1, 75 from year 2 on.'
        >>> figure_meant(farm, ("techniques", "side_graft", "operations", "graft", "days"), 0.03, words)
        '3 days for 100 trees.'
    """
    way, field, voice = farm.techniques[str(path[1])], str(path[-1]), Voice.of(farm, words)
    key, facts = f"meant.figure.{field}", {"all": words.number(HUNDRED)}
    if field in ("new_crown", "curve"):
        before = OLD if field == "curve" else NEW
        return words(key, curve=curve_sentence(value, words, before=before)) if value else ""
    if field in ("take", "take_without_shade"):
        counts = by_year_sentence([_count(HUNDRED * share, words) for share in value], words)
        return words(f"meant.figure.take.{way.family}", by_year=counts, **facts) if way.family != "prune" else ""
    if isinstance(value, tuple) and field in _SAID_BY_YEAR:
        say = voice.days if "days" in field else voice.money
        by_year = by_year_sentence([say(HUNDRED * one) for one in value], words)
        what = "places" if path[-2] == "permanent_shade" else "trees"
        return words(f"meant.figure.by_year_{what}", by_year=by_year, **facts)
    if field == "days":
        place = "place_days" if "intercrop" in path else "days"
        return words(f"meant.figure.{place}", days=voice.days(HUNDRED * value), **facts)
    if field == "quantity":
        unit = farm.supplies.items[str(path[-2])].unit
        return words(key, amount=_amount(HUNDRED * value, unit, words), **facts)
    if field in ("income", "amount"):
        return words(key, money=voice.money(HUNDRED * value), **facts)
    if field in ("mature_crop", "shade", "loss_before_use", "pods_lost", "tree_loss_per_year", "crop_factor"):
        part = 1 - value if field == "shade" else value
        return words(key, n=_count(HUNDRED * part, words), **facts)
    return ""


_SAID_BY_YEAR = ("upkeep_days", "upkeep_inputs", "income", "days")
"""Figures of a tree or its place that stand year by year."""


def range_meant(farm: Scenario, path: Path, figure: Figure[Any], words: Words) -> tuple[str, str]:
    """What both ends of a figure's range mean; both empty where its value has no such sentence."""
    low, high = (figure_meant(farm, path, end, words) for end in (figure.low, figure.high))
    return low, high


def _count(number: float, words: Words) -> str:
    """A number of a hundred: whole, to a tenth below ten."""
    return words.number(round(number) if number >= 10 or number == int(number) else round(number, 1))


def _amount(number: float, unit: str, words: Words) -> str:
    """A quantity with its unit, in the plural that suits it."""
    shown = round(number) if number >= 10 else round(number, 1)
    key = f"supply_count.{unit}"
    return words(key, n=shown) if key in words else words("notebook.value_unit", value=words.number(shown), unit=unit)
