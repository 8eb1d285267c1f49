"""A scenario as the cross-checks read it: nested tables in which only what passed its own field is left."""

from collections.abc import Collection, Iterator, Mapping
from functools import cached_property
from typing import Any

from pydantic import BaseModel, ValidationError

from renovation.inputs.errors import each
from renovation.inputs.quantities import Finding, month_count, problem, year_month
from renovation.inputs.techniques import Technique

Table = Mapping[str, Any]
Findings = Iterator[Finding]
Path = tuple[str | int, ...]


def plain(data: Any) -> Any:
    """Turn models into tables, all the way down."""
    if isinstance(data, float | int | str | None):
        return data
    if isinstance(data, BaseModel):
        return data.model_dump()
    if isinstance(data, Mapping):
        return {key: plain(entry) for key, entry in data.items()}
    return tuple(map(plain, data)) if isinstance(data, list | tuple) else data


def passed(data: Any, refused: Collection[Path]) -> Any:
    """Copy nested tables with None in the place of each refused value, in one walk.

    A location that leads on into what the data do not have refuses the place where it ends.

    Example:
        >>> passed({"stands": ({"trees": -1, "name": "Lower"},)}, [("stands", 0, "trees")])
        {'stands': ({'trees': None, 'name': 'Lower'},)}
    """
    tree: dict[Any, Any] = {}
    for location in refused:
        if not location:
            return None
        node = tree
        for part in location:
            node = node.setdefault(part, {})
    return _passed(data, tree) if tree else data


def _passed(node: Any, refused: Mapping[Any, Any]) -> Any:
    """Copy one place without what is refused at it or below it."""
    is_table = isinstance(node, Mapping)
    inside = node if is_table else dict(enumerate(node)) if isinstance(node, list | tuple) else {}
    if not refused or not refused.keys() <= inside.keys():
        return None
    kept = {**inside, **{part: _passed(inside[part], below) for part, below in refused.items()}}
    return kept if is_table else tuple(kept.values())


def table(value: Any) -> Table:
    """A table, empty where there is none."""
    return value if isinstance(value, Mapping) else {}


def tables(value: Any) -> Iterator[tuple[int, Table]]:
    """The tables of a list of tables, with their positions."""
    return ((i, entry) for i, entry in each(value) if isinstance(entry, Mapping))


def unknown(code: str, path: Path, found: str, known: Collection[str], **facts: Any) -> Finding:
    """A name that nothing known bears."""
    return path, problem(code, found=f'"{found}"', like=found, choices=tuple(known), **facts)


class Farm:
    """A scenario's data, read with tolerance of what is missing."""

    def __init__(self, data: Any, refused: Collection[Path], techniques: Mapping[str, Technique]) -> None:
        """Read what was not refused; `techniques` are those that are known to be sound."""
        self.refused = frozenset(refused)
        self.data = table(passed(plain(data), self.refused))
        self.appraisal, self.household = self.section("appraisal"), self.section("household")
        self.planning, self.comparison = self.section("planning"), self.section("comparison")
        self.techniques = self.section("techniques")
        self._sound: dict[str, Technique | None] = dict(techniques)
        self.all_named = not any(
            place == ("stands",) or place[:1] + place[2:] == ("stands", "name") for place in refused
        )
        self.stands: dict[str, Table] = {}
        for _, stand in tables(self.data.get("stands")):
            if stand.get("name") is not None:
                self.stands.setdefault(stand["name"], stand)

    def section(self, key: str) -> Table:
        """A table of the scenario."""
        return table(self.data.get(key))

    def entries(self, key: str) -> Iterator[tuple[int, Table]]:
        """The tables of one of the scenario's lists, with their positions."""
        return tables(self.data.get(key))

    @cached_property
    def years(self) -> int | None:
        """The years looked at."""
        return self.appraisal.get("horizon_years")

    @cached_property
    def start(self) -> int | None:
        """Month count of the first month."""
        start = self.appraisal.get("start")
        return None if start is None else month_count(start)

    @cached_property
    def end(self) -> int | None:
        """Month count of the month after the last."""
        return None if self.start is None or self.years is None else self.start + 12 * self.years

    def works_on(self, key: Any) -> str:
        """What a technique works on: trees where it does not say."""
        return str(table(self.techniques.get(key)).get("works_on") or "trees")

    def asked(self, entries: str) -> dict[tuple[str, str], int]:
        """Trees that entries of a list ask for, by stand and by what is worked on."""
        found: dict[tuple[str, str], int] = {}
        for _, entry in self.entries(entries):
            place = str(entry.get("stand")), self.works_on(entry.get("technique"))
            found[place] = found.get(place, 0) + (entry.get("trees") or 0)
        return found

    @cached_property
    def under_way(self) -> dict[tuple[str, str], int]:
        """Trees under way by stand and by what is worked on."""
        return self.asked("under_way")

    def there(self, stand: str, works_on: str = "trees") -> int | None:
        """Trees of a stand, or its empty places; None where their number is not known."""
        known = self.stands.get(stand)
        if known is None:
            return None
        number: int | None = known.get("trees") if works_on == "trees" else known.get("empty_places", 0)
        return number

    def free(self, stand: str, works_on: str = "trees") -> int | None:
        """Those of them that nothing has begun on; None too where more are said to be under way than there are."""
        there, begun = self.there(stand, works_on), self.under_way.get((stand, works_on), 0)
        return None if there is None or begun > there else there - begun

    def technique(self, key: str) -> Technique | None:
        """The technique that a table states; None where it states none that can be."""
        if key not in self._sound:
            try:
                self._sound[key] = Technique.model_validate(self.techniques.get(key))
            except ValidationError:
                self._sound[key] = None
        return self._sound[key]

    def outside(self, place: Path, month: int) -> Findings:
        """A month outside the years looked at."""
        if self.start is not None and self.end is not None and not self.start <= month < self.end:
            facts = {"first": year_month(self.start), "last": year_month(self.end - 1)}
            yield place, problem("outside_horizon", found=f'"{year_month(month)}"', **facts)
