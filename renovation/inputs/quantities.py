"""What a stated number carries: its unit, its bounds, where it comes from, and its range.

Two carriers, one purpose. A number that only the family can know (trees, wage, price) is a plain field
annotated with `Quantity`. A number that ships with the program (a take, a crown curve, a bag's price) is a
`Figure`: value, low, high, unit and source travel together from the data file to the screen.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Generic, Literal, NoReturn, Self, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError, ValidationError

K = TypeVar("K")
V = TypeVar("V")
T = TypeVar("T")

Source = Literal["published", "common practice", "from memory", "invented", "own", "counted"]
"""Where a number comes from. `own` is a number that a scenario states in place of a default."""


_HASH = "hash"


class Model(BaseModel):
    """Base of everything people state: frozen, strict, closed, finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    def __hash__(self) -> int:
        """Hash by content, worked out once: what is remembered of a tree or a farm is looked up by it."""
        known = vars(self).get(_HASH)
        if known is None:
            known = vars(self)[_HASH] = hash((type(self), *(getattr(self, name) for name in type(self).model_fields)))
        return int(known)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Copy without what was worked out, which what is updated would change."""
        copied = super().model_copy(update=update, deep=deep)
        for name in vars(copied).keys() - type(self).model_fields:
            del vars(copied)[name]
        return copied

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle as plain tables: the classes of figures have no name that pickle could look up."""
        kind = Figure if isinstance(self, Figure) else type(self)
        return kind.model_validate, (self.model_dump(),)


class FrozenDict(dict[K, V]):
    """A dict that cannot be changed, so that a frozen model is frozen all through."""

    _hash: int | None = None

    def _refuse(self, *_: object, **__: object) -> NoReturn:
        raise TypeError("inputs are frozen: make a changed copy instead")

    __setitem__ = __delitem__ = update = setdefault = pop = popitem = clear = __ior__ = _refuse

    def __hash__(self) -> int:  # type: ignore[override]
        """Hash by content, worked out once; order does not count."""
        if self._hash is None:
            self._hash = hash(frozenset(self.items()))
        return self._hash

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle and copy through a plain dict: the usual way fills an empty one item by item."""
        return FrozenDict, (dict(self),)


Key = Annotated[str, Field(pattern=r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$", max_length=60)]
"""A name as it stands in a file: small letters, digits, single underscores."""
MOST_NAMED = 60
Named = Annotated[dict[Key, V], AfterValidator(FrozenDict), Field(max_length=MOST_NAMED)]
"""A table of named things: `dict[Key, V]`, frozen, of no more than a farm has: ways, materials, pieces of work."""
Keys = Annotated[tuple[Key, ...], Field(max_length=MOST_NAMED)]
"""A list of names."""


@dataclass(frozen=True)
class Quantity:
    """Field metadata: the unit of a number, and where its default comes from.

    `unit` is plain text with `money` standing for the scenario's currency. `source` and `citation` speak of
    the field's default and are empty where there is none. Label and help text stand in the word
    catalogue under `field.<Model>.<field>`.
    """

    unit: str
    source: Source | None = None
    citation: str = ""


@dataclass(frozen=True)
class WorkedOut:
    """Field metadata: what a field holds follows from others; it is in no file, no form and no schema."""


def problem(code: str, **facts: Any) -> PydanticCustomError:
    """Make the error that a validator raises: a catalogue code and the facts its sentence needs.

    Example:
        >>> problem("ages_not_rising", found="3, 2").type
        'ages_not_rising'
    """
    return PydanticCustomError(code, "{found}", {"found": "", **facts})


Finding = tuple[tuple[str | int, ...], PydanticCustomError]
"""A mistake and the place where it stands, as the path from the model down."""


def refuse_all(title: str, findings: Sequence[Finding]) -> None:
    """Raise one ValidationError that lists every finding; do nothing where there is none."""
    if findings:
        details = [InitErrorDetails(type=error, loc=loc, input=None) for loc, error in findings]
        raise ValidationError.from_exception_data(title, details)


def in_currency(unit: str, currency: str) -> str:
    """Put a currency in the place of `money` in a unit.

    Example:
        >>> in_currency("money/tree/year", "GHS")
        'GHS/tree/year'
    """
    return re.sub(r"\bmoney\b", currency, unit)


class Figure(Model, Generic[T]):
    """One figure of a default file: value, range, unit and source.

    `low` and `high` have the shape of `value` and are the adverse-to-favourable range that sensitivity runs
    use; whether low is the bad end depends on the figure. A published figure must cite its source.
    """

    value: T
    low: T
    high: T
    unit: str
    source: Source
    citation: str = ""
    because: Annotated[str, Field(max_length=2000)] = ""
    """Why this value and this range: the reasoning behind a default, for people; no calculation reads it."""

    @model_validator(mode="after")
    def _cited(self) -> Self:
        if self.source == "published" and not self.citation.strip():
            raise problem("no_citation", found=self.source)
        return self

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if isinstance(self.value, int | float) and not self.low <= self.value <= self.high:  # type: ignore[operator]
            raise problem("range_not_around_value", found=f"{self.low}, {self.value}, {self.high}")
        return self


def without_reasons(node: Any) -> Any:
    """Copy nested tables without the `because` of figures: what a run rests on is numbers, not their reasons.

    Example:
        >>> without_reasons({"take": {"value": 0.75, "because": "practised hands"}})
        {'take': {'value': 0.75}}
    """
    if isinstance(node, dict):
        return {key: without_reasons(below) for key, below in node.items() if key != "because" or "value" not in node}
    return [without_reasons(below) for below in node] if isinstance(node, list) else node


MOST = 1e12
"""An upper bound that is only there to keep sums finite, and is not told."""
NotNegative = Annotated[float, Field(ge=0, le=MOST)]
Share = Annotated[float, Field(ge=0, le=1)]
ShareBelowOne = Annotated[float, Field(ge=0, lt=1)]
CalendarMonth = Annotated[int, Field(ge=1, le=12)]
TwelveMonths = Annotated[tuple[NotNegative, ...], Field(min_length=12, max_length=12)]
"""A number for each calendar month, January to December."""
Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"\S")]
MONTH_PATTERN = "^([0-9]{3}[1-9]|[0-9]{2}[1-9][0-9]|[0-9][1-9][0-9]{2}|[1-9][0-9]{3})-(0[1-9]|1[0-2])$"
"""A year and month from 0001-01 to 9999-12, as calendars have them."""
LAST_MONTH = "9999-12"
YearMonth = Annotated[str, Field(pattern=MONTH_PATTERN), Quantity("year-month")]


def month_count(year_month: str) -> int:
    """Count months since year 0 of `YYYY-MM`, so that differences are spans in months.

    Example:
        >>> month_count("2027-03") - month_count("2026-11")
        4
    """
    year, month = year_month.split("-")
    return 12 * int(year) + int(month) - 1


def year_month(count: int) -> str:
    """Write a month count as `YYYY-MM`; the inverse of `month_count`.

    Example:
        >>> year_month(month_count("2027-03") + 10)
        '2028-01'
    """
    return f"{count // 12:04d}-{count % 12 + 1:02d}"
