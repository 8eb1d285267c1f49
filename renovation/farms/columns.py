"""The columns of a table of farms: paths of the scenario, what each accepts read off the models' own fields."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from pydantic import BaseModel

from renovation.inputs import Household, Market, Scenario, Stand, Technique, UnderWay
from renovation.inputs.findings import accepted_facts
from renovation.inputs.quantities import FrozenDict
from renovation.inputs.shapes import Bounds, Shape, bounds, fields, locate
from renovation.inputs.tally import CLASSES, Tally, TreeClass

FARM, STAND, TEMPLATE, VILLAGE = "farm", "stand", "template", "village"
INVENTED = "invented"
NAMES = (FARM, STAND, TEMPLATE, VILLAGE, INVENTED)
"""Columns of names: whose row it is, what it goes by, where it lies, whether it is invented."""
OF_TECHNIQUES = ("take", "mature_crop", "shade", "tree_loss_per_year", "pods_lost")
"""Figures of a way that may differ from farm to farm; what shapes its months stands in the template."""
OF_LOANS = ("amount", "owed")
YEARS = 40
MONTHS = 12


@dataclass(frozen=True)
class Column:
    """One column: its path, whether a farm or a stand states it, and what the model accepts there.

    facts: kind, bounds, unit and choices as error sentences say them. kind: `number`, `whole`, `month`, `yes_no`,
    `list` (keys of techniques) or `text`.
    """

    path: str
    of_stand: bool
    bounds: Bounds
    facts: Mapping[str, Any]

    @property
    def kind(self) -> str:
        """What stands in a cell."""
        return str(self.facts["kind"])

    @property
    def is_number(self) -> bool:
        """Whether numbers stand in it."""
        return self.kind in ("number", "whole")


@lru_cache(maxsize=64)
def columns_of(template: Scenario) -> Mapping[str, Column]:
    """Every column that farms of a template may have, by path.

    `stands.…`, `under_way.TECHNIQUE.…` and `tally.…` are of a stand, all others of a farm. Lists are counted from 1:
    `household.family_days.3` is March, `techniques.side_graft.take.2` the second project year, and
    `under_way.side_graft.taken.1` what took at the first try. `tally.good.trees` and its like, in place of
    `stands.trees` and a crop, give each class of a walk as a stand of its own.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> columns_of(demo_scenario())["stands.crop_per_tree"].bounds.upper
        20
    """
    found = (_column(path, shape, template) for path, shape in _places(template))
    return FrozenDict({column.path: column for column in found})


def _column(path: str, shape: Shape, template: Scenario) -> Column:
    """A column of a shape; a loan of 0 is none, and so are 0 trees under way."""
    limit, section = bounds(shape), path.split(".")[0]
    facts = accepted_facts(shape, template.appraisal.currency)
    if facts["kind"] == "list":
        facts["choices"] = tuple(template.techniques)
    if (section, path.rpartition(".")[2]) in (("loans", "amount"), ("under_way", "trees")):
        limit = replace(limit, lower=0, lower_open=False)
        facts |= {"lower": 0, "lower_open": False}
    return Column(path, section in ("stands", "under_way", "tally"), limit, FrozenDict(facts))


def _places(template: Scenario) -> Iterator[tuple[str, Shape]]:
    """Each path with the shape that the models declare there."""
    yield from _numbers(Stand, "stands", ("name",))
    for path, shape in _numbers(Household, "household"):
        if path.count(".") < 2 or getattr(template.household, path.split(".")[1]) is not None:
            yield path, shape
    yield from _numbers(Market, "market", ("premium", "season"))
    premium = locate(Market, ("premium", "any"))
    for material in dict.fromkeys(technique.material for technique in template.techniques.values()):
        yield f"market.premium.{material}", _sure(premium)
    for key, technique in template.techniques.items():
        yield from _of_technique(f"techniques.{key}", technique)
        yield from _of_under_way(f"under_way.{key}", technique.attempts.value)
    for loan in template.loans:
        yield from ((f"loans.{loan.name}.{name}", fields(type(loan))[name]) for name in OF_LOANS)
    for tool in template.supplies.tools:
        yield f"tools_owned.{tool}", _sure(locate(Scenario, ("tools_owned", tool)))
    for name in CLASSES:
        yield from _numbers(TreeClass, f"tally.{name}")
    yield "tally.empty_places", fields(Tally)["empty_places"]


def _numbers(model: type[BaseModel], prefix: str, without: tuple[str, ...] = ()) -> Iterator[tuple[str, Shape]]:
    """The fields of a model and of the models below it; of what may be stated by month each month too."""
    for name, shape in fields(model).items():
        path = f"{prefix}.{name}"
        if name in without:
            continue
        if shape.is_model:
            below: type[BaseModel] = shape.core
            yield from _numbers(below, path)
            continue
        yield path, shape
        if shape.or_else is not None:
            yield from ((f"{path}.{month}", replace(shape, or_else=None)) for month in range(1, MONTHS + 1))


def _of_technique(prefix: str, technique: Technique) -> Iterator[tuple[str, Shape]]:
    """Figures of a way that a farm may state; of the take one for all years, or year by year."""
    for name in OF_TECHNIQUES:
        shape = fields(Technique)[name]
        if name == "shade" and technique.shade is None:
            continue
        value = _sure(locate(shape.core, ("value",)))
        if not value.is_list:
            yield f"{prefix}.{name}", shape
            continue
        entry = replace(value.entry, quantity=shape.quantity)
        yield f"{prefix}.{name}", entry
        yield from ((f"{prefix}.{name}.{year}", entry) for year in range(1, YEARS + 1))


def _of_under_way(prefix: str, tries: int) -> Iterator[tuple[str, Shape]]:
    """Trees that work by a way has begun on, of one start: how many, when, what took at each try, how many given up."""
    for name in ("trees", "start", "given_up"):
        yield f"{prefix}.{name}", fields(UnderWay)[name]
    taken = fields(UnderWay)["taken"].entry
    yield from ((f"{prefix}.taken.{number}", taken) for number in range(1, tries + 1))


def _sure(shape: Shape | None) -> Shape:
    """A shape that is there."""
    if shape is None:
        raise KeyError
    return shape
