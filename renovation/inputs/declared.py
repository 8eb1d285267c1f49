"""What the models declare of a field, for screens, the schema of a scenario file, and the parameter table."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel

from renovation.inputs.errors import unit_words
from renovation.inputs.overrides import LEAVE_OUT
from renovation.inputs.quantities import Figure, Source
from renovation.inputs.scenario import Scenario
from renovation.inputs.seasons import Season
from renovation.inputs.shapes import Bounds, Shape, bounds, fields, unwrap
from renovation.inputs.techniques import Supplies, Technique
from renovation.words import Words

Schema = dict[str, Any]


@dataclass(frozen=True)
class Declared:
    """The declaration of one field: unit, bounds, default with its source, and where its words stand.

    `unit` is as declared, `money` standing for the currency (`unit_words` says it in words); `whole` tells a
    count, `lower_open` and `upper_open` that the bound itself is not allowed, `required` that there is no
    default.
    """

    model: str
    field: str
    unit: str
    lower: float | None
    upper: float | None
    lower_open: bool
    upper_open: bool
    whole: bool
    required: bool
    default: Any
    source: Source | None
    citation: str

    @property
    def label_key(self) -> str:
        """Key of the field's name in the word catalogue."""
        return f"field.{self.model}.{self.field}.label"

    @property
    def help_key(self) -> str:
        """Key of the field's meaning in the word catalogue."""
        return f"field.{self.model}.{self.field}.help"

    @property
    def bounds(self) -> Bounds:
        """What a number of this field may be."""
        return Bounds(self.lower, self.upper, self.lower_open, self.upper_open)


def declared(model: type[BaseModel], field: str) -> Declared:
    """Read the declaration of a field; KeyError where the model has no such field.

    Of a figure the bounds are those of its value, of a list those of its entries.

    Example:
        >>> from renovation.inputs import Stand
        >>> trees = declared(Stand, "trees")
        >>> trees.unit, trees.lower, trees.upper, trees.whole, trees.required
        ('trees', 1, 1000000, True, True)
    """
    shape = fields(model)[field]
    limit, info = bounds(shape), model.model_fields[field]
    quantity = shape.quantity
    return Declared(
        model=shape.model,
        field=field,
        unit=quantity.unit if quantity else "",
        lower=limit.lower,
        upper=limit.upper,
        lower_open=limit.lower_open,
        upper_open=limit.upper_open,
        whole=_innermost(shape).core is int,
        required=info.is_required(),
        default=None if info.is_required() else info.get_default(call_default_factory=True),
        source=quantity.source if quantity else None,
        citation=quantity.citation if quantity else "",
    )


def _innermost(shape: Shape) -> Shape:
    """The shape of the numbers below a figure or a list."""
    while shape.is_figure or shape.is_list:
        shape = fields(shape.core)["value"] if shape.is_figure else shape.entry
    return shape


@cache
def models(whole: type[BaseModel] = Scenario) -> tuple[type[BaseModel], ...]:
    """Every model that a scenario, or another whole, is made of, from the outside in, each once."""
    return tuple(dict.fromkeys(_models(Shape(whole))))


def _models(shape: Shape) -> Iterator[type[BaseModel]]:
    """Walk the models below a shape; every figure counts as `Figure`."""
    if shape.is_figure:
        yield Figure
    elif shape.is_model:
        yield shape.core
        for below in fields(shape.core).values():
            yield from _models(below)
    elif shape.is_named or shape.is_list:
        yield from _models(shape.entry)


@dataclass(frozen=True)
class Parameter:
    """One row of the parameter table: where it stands in a file, and its declaration."""

    key: str
    kind: str
    declared: Declared


def parameter_table() -> tuple[Parameter, ...]:
    """Every parameter of a scenario file: key, kind and declaration, in the order of the file.

    Example:
        >>> [row.kind for row in parameter_table() if row.key == "stands[].trees"]
        ['integer']
    """
    return tuple(_parameters(Scenario, ""))


def _parameters(model: type[BaseModel], prefix: str) -> Iterator[Parameter]:
    """Walk the fields of a model and of the models below it."""
    for field, shape in fields(model).items():
        key = f"{prefix}{field}"
        while shape.is_named or (shape.is_list and shape.entry.is_model):
            key += ".*" if shape.is_named else "[]"
            shape = shape.entry
        if shape.is_model:
            yield from _parameters(shape.core, f"{key}.")
        else:
            yield Parameter(key, _kind(shape), declared(model, field))


def _kind(shape: Shape) -> str:
    """Name the kind of a value in the words of TOML."""
    if shape.is_figure:
        return f"figure: {_kind(fields(shape.core)['value'])}"
    if shape.is_list:
        return f"list: {_kind(shape.entry)}"
    if get_origin(shape.core) is Literal:
        return " | ".join(map(str, get_args(shape.core)))
    return {int: "integer", float: "float", str: "string", bool: "boolean"}[shape.core]


# The schema of the file


def json_schema(words: Words) -> Schema:
    """The JSON Schema (draft 2020-12) of a scenario file as a person writes it.

    Titles and descriptions come from the catalogue; `x-unit` names the unit, `x-source` a default's source.

    Example:
        >>> json_schema(Words("en"))["properties"]["stands"]["items"]["properties"]["trees"]["maximum"]
        1000000
    """
    return _SchemaWriter(words).file()


class _SchemaWriter:
    """Writes the schema in one language."""

    def __init__(self, words: Words) -> None:
        self.words = words

    def file(self) -> Schema:
        """The whole file: the scenario's tables, with `consider` naming the techniques."""
        schema = self._table(Scenario)
        keys = self._list_of({"type": "string"}, fewest=1) | {"uniqueItems": True}
        properties = {"consider": keys | self._words("File", "consider"), **schema["properties"]}
        required = ["consider", *(key for key in schema["required"] if key not in ("techniques", "supplies"))]
        head = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | self._words("File", "scenario")
        return {**head, **schema, "properties": properties, "required": required}

    def _words(self, model: str, field: str) -> Schema:
        prefix = f"field.{model}.{field}"
        return {"title": self.words(f"{prefix}.label"), "description": self.words(f"{prefix}.help")}

    def _table(self, model: type[BaseModel], partial: bool = False) -> Schema:
        """A table of fields; in a `partial` one nothing is required, for the default fills the rest."""
        partial = partial or model is Supplies
        properties = {field: self._field(model, field, partial) for field in fields(model)}
        if model is Season:
            share = {"type": "number", "minimum": 0, "maximum": 1}
            properties["mid_share"] = share | self._words("File", "mid_share")
            return self._object(properties) | {"anyOf": [{"required": ["shares"]}, {"required": ["window"]}]}
        if partial:
            left_out = self._list_of({"type": "string"})
            properties[LEAVE_OUT] = left_out | self._words("File", LEAVE_OUT)
            return self._object(properties)
        required = [field for field, info in model.model_fields.items() if info.is_required()]
        return self._object(properties) | {"required": required}

    def _object(self, properties: Schema) -> Schema:
        return {"type": "object", "properties": properties, "additionalProperties": False}

    def _list_of(self, entry: Schema, fewest: int = 0, most: int | None = None) -> Schema:
        schema: Schema = {"type": "array", "items": entry}
        if fewest:
            schema["minItems"] = fewest
        return schema | ({} if most is None else {"maxItems": most})

    def _field(self, model: type[BaseModel], field: str, partial: bool) -> Schema:
        """One field with its words, unit, default and source."""
        shape, said = fields(model)[field], declared(model, field)
        schema = self._value(shape, partial)
        if shape.or_else is not None:
            schema = {"anyOf": [schema, self._value(shape.or_else, partial)]}
        schema |= self._words(said.model, field)
        if said.unit:
            schema["x-unit"] = unit_words(self.words, said.unit, self.words("field.Appraisal.currency.label"))
        if isinstance(said.default, int | float | str) and said.default != "" and not partial:
            schema["default"] = said.default
        if said.source:
            schema["x-source"] = said.citation or self.words(f"source.{said.source}")
        return schema

    def _value(self, shape: Shape, partial: bool) -> Schema:
        """What may stand at a place."""
        if shape.is_figure:
            return self._figure(shape, partial)
        if shape.is_model:
            return self._table(shape.core, partial or shape.core is Technique)
        if shape.is_named:
            names = {"propertyNames": {"pattern": unwrap(get_args(shape.core)[0]).pattern}}
            named = {"type": "object", "additionalProperties": self._value(shape.entry, partial)} | names
            return named | {"maxProperties": shape.lengths[1]}
        if shape.is_list:
            return self._list(shape, partial)
        return self._plain(shape)

    def _list(self, shape: Shape, partial: bool) -> Schema:
        """A list; of a fixed length where each entry has a type of its own."""
        arms = get_args(shape.core)
        if arms[-1] is Ellipsis:
            return self._list_of(self._value(shape.entry, partial), *shape.lengths)
        entries = [self._value(unwrap(arm), partial) for arm in arms]
        return {"type": "array", "prefixItems": entries, "items": False, "minItems": len(arms)}

    def _figure(self, shape: Shape, partial: bool) -> Schema:
        """A bare value, or a table of value, range, unit, source and citation, all but the value optional."""
        bare = self._value(fields(shape.core)["value"], partial)
        properties = {field: self._figure_part(shape, field, bare) for field in fields(shape.core)}
        table = self._object(properties)
        return {"anyOf": [bare, table if partial else table | {"required": ["value"]}]}

    def _figure_part(self, shape: Shape, field: str, bare: Schema) -> Schema:
        """One part of a figure's table."""
        part = bare if field in ("value", "low", "high") else self._plain(fields(shape.core)[field])
        return {**part, **self._words("Figure", field)}

    def _plain(self, shape: Shape) -> Schema:
        """A number, a text, a choice, or true and false."""
        if get_origin(shape.core) is Literal:
            return {"enum": list(get_args(shape.core))}
        schema: Schema = {"type": {int: "integer", float: "number", str: "string", bool: "boolean"}[shape.core]}
        if shape.core is str:
            _, most = shape.lengths
            schema |= {} if most is None else {"maxLength": most}
            return schema | ({"pattern": shape.pattern} if shape.pattern else {})
        limit = bounds(shape)
        edges = {
            "exclusiveMinimum" if limit.lower_open else "minimum": limit.lower,
            "exclusiveMaximum" if limit.upper_open else "maximum": limit.upper,
        }
        return schema | {name: edge for name, edge in edges.items() if edge is not None}
