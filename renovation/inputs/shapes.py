"""How the fields of the models are typed: what a path leads to, its bounds, its unit.

Screens, error sentences, the schema and the reader of overrides all ask here, so that the typed model stays
the only declaration of a parameter.
"""

import types
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from inspect import get_annotations
from typing import Annotated, Any, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt, MaxLen, MinLen
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from renovation.inputs.quantities import Figure, Quantity, WorkedOut


@dataclass(frozen=True)
class Shape:
    """The type at one place: the bare type, what is said about it, and the field that declares it.

    `core` is a class, or a form of `dict`, `tuple` or `Literal`; `metadata` holds bounds and lengths.
    """

    core: Any
    metadata: tuple[Any, ...] = ()
    quantity: Quantity | None = None
    model: str = ""
    field: str = ""
    optional: bool = False
    or_else: "Shape | None" = None
    """The list that may stand in place of a single number."""

    @cached_property
    def is_model(self) -> bool:
        """Whether a table of fields stands here (a figure is none)."""
        return isinstance(self.core, type) and issubclass(self.core, BaseModel) and not self.is_figure

    @cached_property
    def is_figure(self) -> bool:
        """Whether a figure with value, range, unit and source stands here."""
        return isinstance(self.core, type) and issubclass(self.core, Figure)

    @cached_property
    def is_named(self) -> bool:
        """Whether a table of named things stands here."""
        return get_origin(self.core) is dict

    @cached_property
    def is_list(self) -> bool:
        """Whether a list stands here."""
        return get_origin(self.core) is tuple

    @cached_property
    def is_nested(self) -> bool:
        """Whether anything but a single number, text or choice stands here."""
        return self.is_figure or self.is_model or self.is_named or self.is_list

    @cached_property
    def entry(self) -> "Shape":
        """The shape of each entry of a list of like entries, or of a table of named things."""
        arms = get_args(self.core)
        return unwrap(arms[1] if self.is_named else arms[0], above=self)

    @property
    def lengths(self) -> tuple[int, int | None]:
        """Fewest and most entries of a list, or characters of a text."""
        fewest = max((m.min_length for m in self.metadata if isinstance(m, MinLen)), default=0)
        return fewest, min((m.max_length for m in self.metadata if isinstance(m, MaxLen)), default=None)

    @property
    def pattern(self) -> str | None:
        """The pattern that a text must match."""
        found = [m.pattern for m in self.metadata if getattr(m, "pattern", None)]
        return str(found[0]) if found else None


@dataclass(frozen=True)
class Bounds:
    """What a number may be; an open end is not itself allowed."""

    lower: float | None = None
    upper: float | None = None
    lower_open: bool = False
    upper_open: bool = False

    def holds(self, value: float) -> bool:
        """Tell whether a value lies inside."""
        low = self.lower is None or (value > self.lower if self.lower_open else value >= self.lower)
        high = self.upper is None or (value < self.upper if self.upper_open else value <= self.upper)
        return low and high


def _flat(metadata: Sequence[Any]) -> tuple[Any, ...]:
    """Spread `Field(...)` into the constraints it stands for."""
    return tuple(m for item in metadata for m in (item.metadata if isinstance(item, FieldInfo) else [item]))


def unwrap(annotation: Any, metadata: Sequence[Any] = (), above: Shape | None = None) -> Shape:
    """Strip Annotated and `| None` from a type; of a choice between number and list keep the number."""
    gathered, optional, or_else = list(_flat(metadata)), False, None
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation, *more = get_args(annotation)
            gathered += _flat(more)
        elif origin in (Union, types.UnionType):
            arms = [arm for arm in get_args(annotation) if arm is not type(None)]
            optional = optional or len(arms) < len(get_args(annotation))
            annotation, or_else = arms[0], unwrap(arms[1]) if len(arms) > 1 else or_else
        else:
            break
    quantity = next((m for m in gathered if isinstance(m, Quantity)), above.quantity if above else None)
    place = (above.model, above.field) if above else ("", "")
    return Shape(annotation, tuple(gathered), quantity, *place, optional=optional, or_else=or_else)


@cache
def fields(model: type[BaseModel]) -> dict[str, Shape]:
    """The shape of each field of a model but those that follow from others."""
    return {
        key: unwrap(info.annotation, info.metadata, Shape(None, model=_declaring(model, key), field=key))
        for key, info in model.model_fields.items()
        if WorkedOut() not in info.metadata
    }


def _declaring(model: type[BaseModel], field: str) -> str:
    """The name of the model that declares a field: itself, or the base that it has the field from."""
    if issubclass(model, Figure):
        return "Figure"
    return next(line.__name__ for line in model.__mro__ if field in get_annotations(line))


def step(shape: Shape, part: str | int) -> Shape | None:
    """Follow one part of a path; None where it leads nowhere."""
    if shape.is_figure:
        below = fields(shape.core).get(str(part))
        if below and part in ("value", "low", "high"):
            return Shape(below.core, below.metadata, shape.quantity, shape.model, shape.field)
        return below
    if shape.is_model:
        return fields(shape.core).get(str(part))
    if shape.is_named:
        return shape.entry
    if shape.or_else is not None:
        return step(replace(shape.or_else, quantity=shape.quantity, model=shape.model, field=shape.field), part)
    if shape.is_list and isinstance(part, int):
        arms = get_args(shape.core)
        if arms[-1] is Ellipsis:
            return shape.entry
        return unwrap(arms[part], above=shape) if part < len(arms) else None
    return None


def locate(root: type[BaseModel], path: Sequence[str | int]) -> Shape | None:
    """Follow a path from a model down; None where it leads nowhere."""
    shape: Shape | None = Shape(root)
    for part in path:
        shape = shape and step(shape, part)
    return shape


def bounds(shape: Shape) -> Bounds:
    """What the numbers at a place may be: of a figure its value, of a list its entries.

    Example:
        >>> from renovation.inputs.scenario import Stand
        >>> bounds(fields(Stand)["crop_per_tree"])
        Bounds(lower=0, upper=20, lower_open=False, upper_open=False)
    """
    lower: list[tuple[Any, bool]] = [(m.ge, False) for m in shape.metadata if isinstance(m, Ge)]
    lower += [(m.gt, True) for m in shape.metadata if isinstance(m, Gt)]
    upper: list[tuple[Any, bool]] = [(m.le, False) for m in shape.metadata if isinstance(m, Le)]
    upper += [(m.lt, True) for m in shape.metadata if isinstance(m, Lt)]
    if not lower and not upper:
        below = _numbers_below(shape)
        return bounds(below) if below else Bounds()
    low: Any = max(lower, default=(None, False))
    high: Any = min(upper, default=(None, False))
    return Bounds(low[0], high[0], low[1], high[1])


def _numbers_below(shape: Shape) -> Shape | None:
    """The shape one level down that carries the bounds: a figure's value, a list's (last) entries."""
    if shape.is_figure:
        return step(shape, "value")
    if shape.is_list:
        arms = get_args(shape.core)
        return step(shape, 0 if arms[-1] is Ellipsis else len(arms) - 1)
    if shape.is_named:
        return step(shape, "")
    return None
