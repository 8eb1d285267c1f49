"""The defaults that ship: techniques and supplies, in US dollars, each figure with its source."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from renovation.inputs.materials import Group, Material
from renovation.inputs.overrides import tupled, unit_findings
from renovation.inputs.quantities import Figure, FrozenDict, Model, Named, Quantity, Share, refuse_all
from renovation.inputs.techniques import Supplies, Technique

DEFAULT_CURRENCY = "USD"


def _table(*path: str) -> Any:
    """Read one TOML file of the defaults' room, lists as tuples."""
    text = resources.files("renovation.defaults").joinpath(*path).read_text("utf-8")
    return tupled(tomllib.loads(text))


def _checked(model: type[Model], table: Mapping[str, Any]) -> Any:
    """Validate a table, and each of its units against the declared one."""
    found = model.model_validate(table)
    refuse_all(model.__name__, unit_findings(model, table, DEFAULT_CURRENCY))
    return found


@cache
def default_techniques() -> Mapping[str, Technique]:
    """Every technique that ships with the program, by key, money in US dollars.

    Errors: pydantic's ValidationError for a file that breaks the model or states another unit than declared.
    """
    folder = resources.files("renovation.defaults").joinpath("techniques")
    if not folder.is_dir():
        return FrozenDict()
    names = sorted(file.name for file in folder.iterdir() if file.name.endswith(".toml"))
    return FrozenDict({name.removesuffix(".toml"): _checked(Technique, _table("techniques", name)) for name in names})


def default_technique(key: str) -> Technique:
    """The technique of this key as it ships; KeyError where there is none.

    Example:
        >>> default_technique("side_graft").family
        'graft'
    """
    return default_techniques()[key]


@cache
def default_supplies() -> Supplies:
    """What each supply and tool costs as it ships, in US dollars.

    Example:
        >>> {item.unit_cost.unit for item in default_supplies().items.values()}
        {'USD/unit'}
    """
    supplies: Supplies = _checked(Supplies, _table("supplies.toml"))
    return supplies


class _Shipped(Model):
    """The planting materials that ship, and the kinds of pollination that are known."""

    materials: Named[Material]
    groups: Named[Group]


@cache
def _planting() -> _Shipped:
    shipped: _Shipped = _checked(_Shipped, _table("materials.toml"))
    return shipped


def default_materials() -> Mapping[str, Material]:
    """Every planting material that ships, by key; no way uses one unless a farm says so.

    Example:
        >>> default_materials()["eetp_800"].pods_per_kg.value
        18.0
    """
    return _planting().materials


def default_groups() -> Mapping[str, Group]:
    """What is known of clones by the way they set fruit, each with its source.

    Example:
        >>> default_groups()["self_incompatible"].sets_alone
        'no'
    """
    return _planting().groups


class LearningFigures(Model):
    """How hands get better at grafting, as it ships: the values that `Learning` begins with, and their ranges.

    By `crawford` graft number n fails with chance (1 − first_take) · n^log2(rate), and never less than
    1 − highest_take.
    """

    first_take: Annotated[Figure[Share], Quantity("share")]
    highest_take: Annotated[Figure[Share], Quantity("share")]
    rate: Annotated[Figure[Share], Quantity("share of failures left by each doubling")]


PodsPerTree = Annotated[float, Field(ge=0, le=500)]


class TreeClasses(Model):
    """The borders of the classes of trees, the fewest pods of each, and the pods of a kilogram, as they ship."""

    good: Annotated[Figure[PodsPerTree], Quantity("pods/tree/year")]
    average: Annotated[Figure[PodsPerTree], Quantity("pods/tree/year")]
    unproductive: Annotated[Figure[PodsPerTree], Quantity("pods/tree/year")]
    pods_per_kg: Annotated[Figure[PodsPerTree], Quantity("pods/kg dry")]


@cache
def default_tree_classes() -> TreeClasses:
    """Where trees count as good, average, poor and unproductive, each border with its source.

    Example:
        >>> default_tree_classes().good.value
        25.0
    """
    classes: TreeClasses = _checked(TreeClasses, _table("tree_classes.toml"))
    return classes


class NotebookFigures(Model):
    """What is guessed of a farm of which nothing is known yet, as it ships, in US dollars."""

    trees: Annotated[Figure[float], Quantity("trees")]
    crop_per_tree: Annotated[Figure[float], Quantity("kg/tree/year")]
    decline_per_year: Annotated[Figure[float], Quantity("share/year")]
    upkeep_days: Annotated[Figure[float], Quantity("person-days/tree/year")]
    upkeep_inputs: Annotated[Figure[float], Quantity("money/tree/year")]
    family_days: Annotated[Figure[float], Quantity("person-days/month")]
    wage_per_day: Annotated[Figure[float], Quantity("money/person-day")]
    living_costs: Annotated[Figure[float], Quantity("money/month")]
    other_income: Annotated[Figure[float], Quantity("money/month")]
    savings: Annotated[Figure[float], Quantity("money")]
    price_per_kg: Annotated[Figure[float], Quantity("money/kg dry")]
    deductions_per_kg: Annotated[Figure[float], Quantity("money/kg dry")]


class Notebook(Model):
    """What a farm of one's own begins with: guesses, letters and money of each country, what a US dollar buys of it."""

    figures: NotebookFigures
    countries: Annotated[dict[str, str], AfterValidator(FrozenDict)]
    currencies: Annotated[dict[str, str], AfterValidator(FrozenDict)]
    per_usd: Annotated[Named[Figure[float]], Quantity("money/US dollar")]


@cache
def default_notebook() -> Notebook:
    """The guesses that a farm of one's own begins with, each with its range, source and reason.

    Example:
        >>> default_notebook().currencies["Ghana"]
        'GHS'
    """
    notebook: Notebook = _checked(Notebook, _table("notebook.toml"))
    return notebook


@cache
def default_learning() -> LearningFigures:
    """How fast hands learn to graft as it ships, each figure with its range and source.

    Example:
        >>> rate = default_learning().rate
        >>> rate.low, rate.value, rate.high
        (0.73, 0.85, 0.95)
    """
    learning: LearningFigures = _checked(LearningFigures, _table("learning.toml"))
    return learning
