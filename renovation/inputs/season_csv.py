"""A season's record read from a CSV, strictly: every mistake in one sentence, with its line."""

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path as File
from typing import Any

from renovation.inputs.decimals import read_decimal
from renovation.inputs.declared import declared
from renovation.inputs.errors import Path, Problem, ScenarioError
from renovation.inputs.files import content_of
from renovation.inputs.quantities import MONTH_PATTERN, FrozenDict
from renovation.inputs.rows import Row, read_rows
from renovation.inputs.scenario import Scenario
from renovation.inputs.season import Cohort, DaysWorked, LoanMoney, LoanRecord, Sale, SeasonRecord, Spent, Try
from renovation.inputs.season_checks import no_such, season_problems, told, waiting_by_tries
from renovation.inputs.season_table import COLUMNS, FIGURES, WORK, What


def load_season(path: str | File, farm: Scenario) -> SeasonRecord:
    """Read the record of a farm's first year from a CSV file; errors as `read_season`, and for a file not there."""
    return read_season(*content_of(path), farm)


def read_season(content: str | bytes, name: str, farm: Scenario) -> SeasonRecord:
    """The record of a farm's first year from the content of a CSV called `name`.

    Errors: ScenarioError with a sentence for each mistake, its line, and what would be accepted: of the table
    (`rows.read_rows`), of a row, and of the whole against the farm (`season_checks.season_problems`).

    Example:
        >>> from renovation.inputs import demo_scenario, season_cells, season_csv
        >>> farm = demo_scenario()
        >>> text = season_csv(season_cells(farm)).replace("kg_sold,,,,,,,,", "kg_sold,,,,,,,,212.5")
        >>> read_season(text, "season.csv", farm).kg
        212.5
    """
    return record_of(read_rows(content, name, COLUMNS), name, farm)


def record_of(rows: Iterable[Row], name: str, farm: Scenario) -> SeasonRecord:
    """The record that rows of this table make; errors as `read_season`, under the lines that the rows have."""
    reader = _Reader(name, farm)
    for row in rows:
        reader.take(row)
    return reader.record()


class _Reader:
    """Puts rows together to a record, with the line of each figure."""

    def __init__(self, name: str, farm: Scenario) -> None:
        self.name, self.farm = name, farm
        named = [stand.name for stand in farm.stands] + [loan.name for loan in farm.loans]
        self.names = {one.strip(): one for one in named}
        self.problems: list[Problem] = []
        self.season: str | None = None
        self.lines: dict[Path, int] = {}
        self.cohorts: dict[tuple[str, str, str | None], dict[str, Any]] = {}
        self.parts: dict[str, dict[Any, dict[str, Any]]] = {"sales": {}, "days": {}, "loans": {}}
        self.single: dict[str, Any] = {}
        self.spent: dict[str, Any] = {}

    def refuse(self, line: int, reason: Problem) -> None:
        facts = FrozenDict(reason=reason)
        self.problems.append(
            Problem(self.name, str(line), "season_error.at_line" if line else "season_error.in_file", "", facts)
        )

    def take(self, row: Row) -> None:
        """Read one row; one without a value says nothing, whatever else stands in it."""
        cells = {column: self.names.get(cell, cell) for column, cell in row.cells.items()}
        what = FIGURES.get(cells["what"])
        if what is None:
            self.refuse(row.line, no_such("unknown_what", cells["what"], tuple(FIGURES)))
        elif cells["value"]:
            found = list(self._cells(what, cells)) or self._keep(what, cells, row.line)
            for problem in found:
                self.refuse(row.line, problem)

    def _cells(self, what: What, cells: Mapping[str, str]) -> Iterator[Problem]:
        """What is wrong with the cells that name a figure."""
        for column in COLUMNS[1:-1]:
            if column in what.needs and not cells[column]:
                yield told("cell_needed", cells["what"], column=column)
            elif cells[column] and column not in (*what.needs, *what.takes):
                yield told("cell_not_taken", cells[column], column=column, what=cells["what"])
        for column in ("start", "month"):
            if cells[column] and not re.match(MONTH_PATTERN, cells[column]):
                yield told("no_month", cells[column], column=column)
        if cells["try"] and not re.fullmatch("[1-9]|1[0-2]", cells["try"]):
            yield told("no_try", cells["try"])

    def _keep(self, what: What, cells: Mapping[str, str], line: int) -> list[Problem]:
        """Put a figure in its place; what is wrong with it, if anything."""
        if what.field == "season":
            if not re.match(MONTH_PATTERN, cells["value"]):
                return [told("no_month", cells["value"], column="value")]
            value: Any = cells["value"]
        else:
            shape = declared(what.model, what.field)
            try:
                number = read_decimal(cells["value"], shape, self.farm.appraisal.currency)
            except ScenarioError as error:
                return list(error.problems)
            value = int(number) if shape.whole else number
        place, path = self._place(what, cells)
        path = (*path, what.field)
        if path in self.lines:
            return [told("figure_twice", cells["what"], line=self.lines[path])]
        self.lines[path] = line
        place[what.field] = value
        if cells["month"]:
            place["month"] = cells["month"]
            self.lines[(*path[:-1], "month")] = line
        return []

    def _place(self, what: What, cells: Mapping[str, str]) -> tuple[dict[str, Any], Path]:
        """The table in which a figure stands, and the path to it."""
        blank = {column: cells[column] or None for column in cells}
        if what.model is SeasonRecord:
            return self.single, ()
        if what.model is Spent:
            return self.spent, ("spent",)
        if what.model in (Try, Cohort):
            key = (cells["stand"], cells["technique"], blank["start"])
            names = dict(zip(("stand", "technique", "start"), key, strict=True))
            cohort = self.cohorts.setdefault(key, {**names, "tries": {}})
            path: Path = ("cohorts", list(self.cohorts).index(key))
            if what.model is Cohort:
                return cohort, path
            number = int(cells["try"]) if cells["try"] else self._next_try(names)
            return cohort["tries"].setdefault(number, {"number": number}), (*path, "tries", number)
        if what.model is LoanMoney or (what.field == "paid" and cells["month"]):
            loans, month = self.parts["loans"], cells["month"]
            one = loans.setdefault((cells["loan"],), {"loan": cells["loan"]})
            place = one.setdefault("by_month", {}).setdefault(month, {"month": month})
            return place, ("loans", list(loans).index((cells["loan"],)), "by_month", month)
        group, columns = {Sale: ("sales", ("stand",)), DaysWorked: ("days", WORK), LoanRecord: ("loans", ("loan",))}[
            what.model
        ]
        names = {column: blank[column] for column in columns}
        part, at = self.parts[group], tuple(names.values())
        return part.setdefault(at, dict(names)), (group, list(part).index(at) if at in part else len(part))

    def _next_try(self, names: Mapping[str, Any]) -> int:
        """The try that follows those counted before the season, of the trees with the fewest."""
        return min(waiting_by_tries(Cohort.model_validate(names), self.farm)) + 1

    def record(self) -> SeasonRecord:
        """The whole, checked against the farm."""
        if not self.problems and "season" not in self.single:
            self.refuse(0, told("season_missing", start=self.farm.appraisal.start))
        if self.problems:
            raise ScenarioError(self.problems)
        cohorts = [
            {**one, "tries": tuple(one["tries"][number] for number in sorted(one["tries"]))}
            for one in self.cohorts.values()
        ]
        parts = {group: tuple(part.values()) for group, part in self.parts.items()}
        parts["loans"] = tuple({**one, "by_month": tuple(one.get("by_month", {}).values())} for one in parts["loans"])
        record = SeasonRecord.model_validate({**self.single, **parts, "cohorts": tuple(cohorts), "spent": self.spent})
        for path, problem in season_problems(record, self.farm):
            self.refuse(self._line(path), problem)
        if self.problems:
            raise ScenarioError(self.problems)
        return record

    def _line(self, path: Path) -> int:
        """The line of the figure at a path, or the first line of what the path leads to."""
        if path[2:3] == ("tries",):  # lines are kept by the number of a try, paths count positions
            cohort = list(self.cohorts.values())[int(path[1])]
            path = (*path[:3], sorted(cohort["tries"])[int(path[3])], *path[4:])
        if path[2:3] == ("by_month",):  # as of the tries
            months = list(list(self.parts["loans"].values())[int(path[1])]["by_month"])
            path = (*path[:3], months[int(path[3])], *path[4:])
        while path:
            lines = [line for there, line in self.lines.items() if there[: len(path)] == path]
            if lines:
                return min(lines)
            path = path[:-1]
        return 0
