"""Printed sources, numbered: a table says the number, the list below it the whole citation."""

from dataclasses import replace

from renovation.inputs import Scenario
from renovation.show import figures
from renovation.show.grid import Table
from renovation.show.report import rows
from renovation.words import Words


class References:
    """The printed sources of a scenario's figures, numbered in the order of the tables."""

    def __init__(self, scenario: Scenario, words: Words) -> None:
        """Number every citation once."""
        self.citations: list[str] = []
        self._short: dict[str, str] = {}
        parts = (scenario.techniques, scenario.materials, scenario.supplies)
        for figure in (figure for part in parts for figure in rows.figures_below(part)):
            if figure.citation:
                if figure.citation not in self.citations:
                    self.citations.append(figure.citation)
                source, n = words(f"source.{figure.source}"), words.number(1 + self.citations.index(figure.citation))
                self._short[figures.source_cell(figure, words)] = words("report.cell.cited", source=source, n=n)

    def shortened(self, table: Table) -> Table:
        """The table with numbers in the place of citations."""
        return replace(table, rows=tuple((*row[:-1], self._shorter(row[-1])) for row in table.rows))

    def _shorter(self, source: str) -> str:
        """A source with its number; what stands behind the citation, from which way it was copied, stays."""
        cited = max((long for long in self._short if source.startswith(long)), key=len, default="")
        return self._short[cited] + source.removeprefix(cited) if cited else source
