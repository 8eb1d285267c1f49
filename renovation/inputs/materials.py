"""Planting material: what a clone, or a mixture of clones, brings in place of a way's own figures (method §3).

A material states what is known of a clone; what it leaves out stays the way's own. `with_materials` lays it over a way,
and no other place does: trees and farms see a way like any other.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from renovation.inputs.quantities import (
    Figure,
    Key,
    Model,
    Name,
    Named,
    Quantity,
    Share,
    Source,
    problem,
)
from renovation.inputs.techniques import OwnFigures, Points, Technique

LONGEST_BECAUSE = 2000
WEAKEST_FIRST: tuple[Source, ...] = ("invented", "from memory", "own", "counted", "common practice", "published")
"""A figure of several materials is as good as the weakest of theirs."""
LOSSES = ("tree_loss_per_year", "pods_lost")


class Material(Model):
    """A clone, or a seed of one kind: what is known of it, each figure with its source.

    months_to_bearing: the new crown's table is moved, as it is, so that its first bearing point falls at that age.
    months_hold_for: months that are counted from planting are laid over ways that plant, for a graft on old roots bears
    sooner. premium: share of the price, in place of that of the way's kind of material. pods_per_kg: tells pods from
    kilograms; no crop rests on it. group: the clones that it sets fruit with, see `pollination`. source, citation and
    because speak of the clone itself and of its group.
    """

    label: Name | None = None
    mature_crop: Annotated[Figure[Annotated[float, Field(ge=0, le=20)]] | None, Quantity("kg/tree/year")] = None
    months_to_bearing: Annotated[Figure[Annotated[float, Field(ge=0, le=240)]] | None, Quantity("months")] = None
    months_hold_for: Literal["all ways", "planting"] = "all ways"
    pods_per_kg: Annotated[Figure[Annotated[float, Field(gt=0, le=500)]] | None, Quantity("pods/kg dry")] = None
    pods_lost: Annotated[Figure[Share] | None, Quantity("share")] = None
    tree_loss_per_year: Annotated[Figure[Annotated[float, Field(ge=0, le=0.9)]] | None, Quantity("share/year")] = None
    premium: Annotated[Figure[Annotated[float, Field(ge=-0.9, le=5)]] | None, Quantity("share of the price")] = None
    group: Key | None = None
    source: Source = "own"
    citation: str = ""
    because: Annotated[str, Field(max_length=LONGEST_BECAUSE)] = ""

    @model_validator(mode="after")
    def _cited(self) -> Self:
        if self.source == "published" and not self.citation.strip():
            raise problem("no_citation", found=self.source)
        return self


FIGURES = ("mature_crop", "months_to_bearing", "pods_per_kg", "pods_lost", "tree_loss_per_year", "premium")
"""The figures of a material, in the order in which they are shown."""
Materials = Named[Material]


# Over a way


def bears_from(curve: Points) -> float:
    """Age, in months, of the first bearing point: where the share begins to rise from 0; 0 where a table is empty.

    Example:
        >>> bears_from(((0.0, 0.0), (9.0, 0.0), (12.0, 0.03))), bears_from(((12.0, 0.03),)), bears_from(())
        (9.0, 12.0, 0.0)
    """
    ages = [float(age) for age, _ in curve]
    first = next((place for place, (_, share) in enumerate(curve) if share > 0), 0)
    return ages[max(0, first - 1)] if curve else 0.0


def bearing_from(curve: Points, months: float) -> Points:
    """The table with all its ages moved so that its first bearing point falls at so many months; the shares stay.

    n'(u) = n(u − (months − b)), b the first bearing point's age.

    Example:
        >>> bearing_from(((9.0, 0.0), (12.0, 0.03), (60.0, 1.0)), 14.0)
        ((14.0, 0.0), (17.0, 0.03), (65.0, 1.0))
    """
    shift = months - bears_from(curve)
    return tuple((age + shift, share) for age, share in curve) if shift else curve


def with_material(technique: Technique, material: Material, name: str) -> Technique:
    """The way with one material: each figure that it states in place of the way's own.

    Example:
        >>> from renovation.inputs import default_materials, default_technique
        >>> way = with_material(default_technique("rooted_cutting"), default_materials()["eetp_800"], "eetp_800")
        >>> way.mature_crop.value, way.new_crown.value[0]
        (2.73, (14.0, 0.0))
    """
    return with_materials(technique, {name: material})


def with_materials(technique: Technique, materials: Mapping[str, Material]) -> Technique:
    """The way with these materials in equal parts of its trees, its own figures kept beside; itself for none.

    Crop and crown are those of the mixture, M = Σ M_i / k and n(u) = Σ M_i·n_i(u) / Σ M_i, the way's own standing in
    for what a material does not state. A loss is the mean, and the way's own where a material leaves it open. Low and
    high alike; bearing at a material's high months is the low end of its crown.
    """
    if not materials:
        return technique
    way, entries = without_materials(technique), tuple(materials.values())
    crops = [entry.mature_crop or way.mature_crop for entry in entries]
    crowns = [_crown(way, entry) for entry in entries]
    update: dict[str, Any] = {"mature_crop": _mean(crops), "new_crown": _mixed_crown(crops, crowns)}
    for field in LOSSES:
        losses = [getattr(entry, field) or getattr(way, field) for entry in entries]
        if all(loss is not None for loss in losses):
            update[field] = _mean(losses)
    own = OwnFigures(**{field: getattr(way, field) for field in OwnFigures.model_fields})
    return way.model_copy(update={**update, "planting_materials": tuple(materials), "own_figures": own})


def without_materials(technique: Technique) -> Technique:
    """The way with its own figures, whatever materials it names; itself where none is laid over it."""
    own = technique.own_figures
    if own is None:
        return technique
    return technique.model_copy(
        update={**{name: getattr(own, name) for name in type(own).model_fields}, "own_figures": None}
    )


def premium_of(materials: Sequence[Material], crops: Sequence[float], before: float) -> float | None:
    """The premium of a mixture, Σ M_i·p_i / Σ M_i, `before` where one states none; None where none of them does."""
    if all(entry.premium is None for entry in materials):
        return None
    shares = [entry.premium.value if entry.premium else before for entry in materials]
    if len(set(shares)) == 1 or not sum(crops):
        return shares[0]
    return math.fsum(crop * share for crop, share in zip(crops, shares, strict=True)) / math.fsum(crops)


def _crown(way: Technique, material: Material) -> Figure[Points]:
    """A way's new crown moved to a material's months to bearing: its low end from the high ones on."""
    own: Figure[Points] = way.new_crown
    months = material.months_to_bearing
    if months is None or (material.months_hold_for == "planting" and way.family != "replant"):
        return own
    ends = {"value": months.value, "low": months.high, "high": months.low}
    moved = {end: bearing_from(getattr(own, end), at) for end, at in ends.items()}
    return own if all(moved[end] == getattr(own, end) for end in ends) else own.model_copy(update=moved)


def _mean(figures: Sequence[Figure[float]]) -> Figure[float]:
    """The mean of figures, end by end; the figure itself where they are one."""
    first = figures[0]
    if all(figure == first for figure in figures):
        return first
    ends = {end: math.fsum(getattr(f, end) for f in figures) / len(figures) for end in ("value", "low", "high")}
    source = min((figure.source for figure in figures), key=WEAKEST_FIRST.index)
    return first.model_copy(update={**ends, "source": source, **_said(figures)})


def _said(figures: Sequence[Figure[Any]]) -> dict[str, str]:
    """Citations and reasons of several figures, each once, as far as there is room."""
    cited = dict.fromkeys(figure.citation for figure in figures if figure.citation)
    reasons = " ".join(dict.fromkeys(figure.because for figure in figures if figure.because))
    return {"citation": "; ".join(cited), "because": reasons if len(reasons) <= LONGEST_BECAUSE else ""}


def _mixed_crown(crops: Sequence[Figure[float]], crowns: Sequence[Figure[Points]]) -> Figure[Points]:
    """The crown of a mixture, end by end: the mean of the crowns, each weighing as its mature crop."""
    first = crowns[0]
    if all(crown == first for crown in crowns):
        return first
    ends: dict[str, Points] = {}
    for end in ("value", "low", "high"):
        weights = [getattr(crop, end) for crop in crops]
        ends[end] = _mixture([getattr(crown, end) for crown in crowns], weights if sum(weights) else [1.0] * len(crops))
    return first.model_copy(update=ends)


def _mixture(curves: Sequence[Points], weights: Sequence[float]) -> Points:
    """Σ w_i·n_i(u) / Σ w_i at every age at which one of the tables bends, each 0 before its first entry."""
    tables = [((curve[0][0] - JUMP, 0.0), *curve) if curve and curve[0][1] else curve for curve in curves]
    ages = sorted({age for table in tables for age, _ in table})
    total = math.fsum(weights)
    return tuple(
        (age, math.fsum(w * _share(table, age) for w, table in zip(weights, tables, strict=True)) / total)
        for age in ages
    )


JUMP = 1 / 1024
"""Months in which a table that begins above 0 rises to its first share, where it is mixed with others."""


def _share(table: Points, age: float) -> float:
    """A table read at an age: linear between its entries, 0 before the first, the last share after the last."""
    later = next((place for place, (at, _) in enumerate(table) if at >= age), len(table))
    if later == len(table):
        return table[-1][1] if table else 0.0
    at, share = table[later]
    if at == age or later == 0:
        return share if at == age else 0.0
    before, below = table[later - 1]
    return below + (share - below) * (age - before) / (at - before)


# Who sets fruit with whom


class Group(Model):
    """What is known of clones of one kind: whether one of them sets fruit where it stands alone."""

    sets_alone: Literal["yes", "partly", "no"]
    source: Source
    citation: str = ""
    because: Annotated[str, Field(max_length=LONGEST_BECAUSE)] = ""


@dataclass(frozen=True)
class Pollination:
    """Whether the materials of one renewal set fruit with each other.

    lacks: those that need a partner of another group and have none. unsure: those of which it is not known whether
    their partners suit them. unknown: those whose group is not known.
    """

    names: tuple[str, ...]
    lacks: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()

    @property
    def is_sure(self) -> bool:
        """Whether all of them are known to set fruit."""
        return not (self.lacks or self.unsure or self.unknown)


def pollination(materials: Mapping[str, Material], groups: Mapping[str, Group]) -> Pollination:
    """Which of these clones set fruit together: one that does not do so alone needs a partner of another group.

    groups: the kinds known. A group of another name is one of a family's or a region's own: its clones set no fruit
    with each other, and do with those of any other group. That two clones are self-incompatible, no more, does not
    say whether they suit each other.

    Example:
        >>> from renovation.inputs.defaults import default_groups
        >>> a, b = Material(group="a"), Material(group="b")
        >>> pollination({"one": a}, default_groups()).lacks, pollination({"one": a, "two": b}, default_groups()).lacks
        (('one',), ())
    """
    found: dict[str, list[str]] = {"lacks": [], "unsure": [], "unknown": []}
    for name, material in materials.items():
        if verdict := _verdict(name, material, materials, groups):
            found[verdict].append(name)
    return Pollination(tuple(materials), **{verdict: tuple(names) for verdict, names in found.items()})


def _verdict(name: str, material: Material, all_of: Mapping[str, Material], groups: Mapping[str, Group]) -> str:
    """What is wrong with one of them; empty for nothing."""
    own = material.group
    if own is None:
        return "unknown"
    if own in groups and groups[own].sets_alone == "yes":
        return ""
    partners = [other.group for key, other in all_of.items() if key != name]
    if any(group is not None and group != own for group in partners):
        return ""
    return "unsure" if None in partners or (own in groups and own in partners) else "lacks"
