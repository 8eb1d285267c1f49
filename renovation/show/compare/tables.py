"""Results in tables of words: headings and formatted cells for terminal, screen and report.

Each function returns a `Table`: pure rows of text, every heading and word from the catalogue. `render` sets
one out for a terminal of any width and never cuts a word.
"""

import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

from renovation.decide import Comparison, Outcome, Swing
from renovation.inputs import Figure, Scenario, Supplies, Technique, unit_words
from renovation.show.compare.sentences import (
    WHOLE_FROM,
    break_even_case,
    calendar_month,
    horizon,
    on_the_paying_side,
    payback_case,
    rate,
    small_sum,
    way_name,
)
from renovation.words import Words, smallest_unit

if TYPE_CHECKING:
    import pandas as pd

NO_BREAK = "\N{NO-BREAK SPACE}"
COMFORTABLE_WIDTH = 16
"""Letters that a column is given before a table is split into blocks."""


@dataclass(frozen=True)
class Column:
    """One column: a stable key, its heading in words, and the side that its cells stand on."""

    key: str
    heading: str
    align: Literal["left", "right"] = "left"


@dataclass(frozen=True)
class Table:
    """A table in words: title, columns and rows of cells, each row as long as the columns.

    Example:
        >>> table = Table("Crops", (Column("stand", "Stand"), Column("kg", "kg", "right")), (("Hill", "12"),))
        >>> table.records()
        [{'stand': 'Hill', 'kg': '12'}]
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    def records(self) -> list[dict[str, str]]:
        """One dict per row by column key."""
        keys = [column.key for column in self.columns]
        return [dict(zip(keys, row, strict=True)) for row in self.rows]

    def frame(self) -> "pd.DataFrame":
        """The rows under their headings, for a screen."""
        import pandas as pd

        return pd.DataFrame(list(self.rows), columns=[column.heading for column in self.columns])


# Measures

MEASURES = (
    "start",
    "payback_years",
    "discounted_payback_years",
    "npv",
    "npv_per_tree",
    "irr",
    "mirr",
    "benefit_cost",
    "net_benefit_cost",
    "equivalent_annual_value",
    "return_per_day",
    "return_per_family_day",
    "most_money_out",
    "most_money_out_month",
    "break_even_price_per_kg",
    "break_even_wage_per_day",
    "break_even_mature_crop",
    "break_even_take",
)
"""The measures in the order in which they are shown."""


def measures(comparison: Comparison, words: Words) -> Table:
    """Measures side by side: one row per measure, one column per technique."""
    scenario = comparison.scenario
    ways = tuple(Column(key, way_name(scenario, key, words), "right") for key in comparison.outcomes)
    rows = tuple(
        (
            words(f"measure.{name}"),
            *(measure_cell(comparison, key, name, words) for key in comparison.outcomes),
        )
        for name in MEASURES
    )
    return Table(words("table.measures"), (_column("measure", words), *ways), rows)


def measure_cell(comparison: Comparison, technique: str, name: str, words: Words) -> str:
    """One measure of one technique in words; a blank is a dash, its reason stands in `sentences.blanks`."""
    scenario, outcome = comparison.scenario, comparison.outcomes[technique]
    if name in ("payback_years", "discounted_payback_years"):
        return payback_cell(getattr(outcome.measures, name), scenario, words)
    if name == "irr":
        return irr_cell(outcome, words)
    if name == "start":
        return calendar_month(scenario, outcome.start, words)
    if name == "most_money_out_month":
        amount, month = outcome.most_money_out
        return calendar_month(scenario, month, words) if amount < 0 else words("measure_cell.blank")
    if name == "break_even_take":
        takes = [words.percent(take, 1) for take in outcome.break_even.take]
        return words.listing(takes) or words("measure_cell.blank")
    largest = max(abs(_measure(other, name) or 0.0) for other in comparison.outcomes.values())
    value, currency = _measure(outcome, name), scenario.appraisal.currency
    if value is not None and name.startswith("break_even_"):
        value = _still_paying(value, outcome, name.removeprefix("break_even_"), largest, currency)
    return _number_cell(value, name, largest, currency, words)


def _still_paying(value: float, outcome: Outcome, driver: str, largest: float, currency: str) -> float:
    """A break-even value rounded as its sentence rounds it: to the side on which the way still pays."""
    line = outcome.break_even.lines.get(driver)
    step = 0.01 if driver == "mature_crop" else 1.0 if largest >= WHOLE_FROM else smallest_unit(currency)
    return value if line is None else on_the_paying_side(value, step, break_even_case(line, value))


def _measure(outcome: Outcome, name: str) -> float | None:
    """The number of a measure that is one number."""
    if name == "npv_per_tree":
        return outcome.per_tree.npv
    if name == "most_money_out":
        return -outcome.most_money_out[0]
    if name.startswith("break_even_"):
        value = getattr(outcome.break_even, name.removeprefix("break_even_"))
    elif name.startswith("return_per_"):
        value = getattr(outcome, name)
    else:
        value = getattr(outcome.measures, name)
    return None if value is None else float(value)


def _number_cell(value: float | None, name: str, largest: float, currency: str, words: Words) -> str:
    """One number of a row whose largest is given: sums of money of one row show the same decimals."""
    if value is None:
        return words("measure_cell.blank")
    if name == "mirr":
        return words.percent(value, 1)
    if name in ("benefit_cost", "net_benefit_cost", "break_even_mature_crop"):
        return words.number(value, 2)
    whole_from = 100 if name in ("npv", "equivalent_annual_value", "most_money_out") else WHOLE_FROM
    return words.money(value, currency, 0 if largest >= whole_from else None)


def payback_cell(years: float | None, scenario: Scenario, words: Words) -> str:
    """A payback as a span, or in words where it is at once or not within the horizon."""
    case = payback_case(years)
    if case == "after":
        return words.span(years or 0.0)
    return words(f"measure_cell.{case}", horizon=horizon(scenario, words))


def irr_cell(outcome: Outcome, words: Words) -> str:
    """The rate of return, every root where there are several, or a dash."""
    irr = outcome.measures.irr
    if irr.value is not None:
        return words.percent(irr.value, 1)
    if irr.verdict == "none":
        return words("measure_cell.blank")
    return words("measure_cell.not_unique", roots=words.listing([words.percent(root, 1) for root in irr.roots]))


# Years

YEAR_COLUMNS = (
    "crop_change_kg",
    "days_change",
    "hired_days_change",
    "benefits_change",
    "materials_and_tools",
    "labour_change",
    "economic_change",
    "cumulative_economic",
    "cash_change",
    "cumulative_cash",
)
"""The yearly figures that are shown, with the plan less without it."""
NOT_MONEY = ("crop_change_kg", "days_change", "hired_days_change")


def years(comparison: Comparison, technique: str, words: Words) -> Table:
    """The year table of one technique: all compared trees, more or less than leaving them as they are."""
    scenario = comparison.scenario
    rows = comparison.outcomes[technique].year_rows()
    digits = {name: _digits(name, [row[name] for row in rows]) for name in YEAR_COLUMNS}
    cells = tuple(
        (
            words.number(int(row["year"])),
            _unbroken(calendar_month(scenario, 12 * (int(row["year"]) - 1), words)),
            *(words.number(row[name], digits[name]) for name in YEAR_COLUMNS),
        )
        for row in rows
    )
    currency = words.currency_sign(scenario.appraisal.currency)
    figures = tuple(_column(name, words, "right", currency=currency) for name in YEAR_COLUMNS)
    title = words("table.years", way=way_name(scenario, technique, words))
    return Table(title, (_column("year", words, "right"), _column("from_month", words), *figures), cells)


def _digits(name: str, values: Sequence[float]) -> int:
    """Decimals that a column needs: none where its largest figure has three digits or more."""
    largest = max(map(abs, values), default=0.0)
    return 0 if largest >= 100 else 1 if name in NOT_MONEY else 2


def _unbroken(text: str) -> str:
    """Keep the words of a cell on one line."""
    return text.replace(" ", NO_BREAK)


# Stands and ways


def npv_per_tree(scenario: Scenario, table: Mapping[str, Mapping[str, float | None]], words: Words) -> Table:
    """NPV of one tree by stand (rows) and technique (columns); `table` is as from `decide.npv_per_tree`."""
    currency = scenario.appraisal.currency
    largest = max((abs(value or 0.0) for row in table.values() for value in row.values()), default=0.0)
    digits = 0 if largest >= WHOLE_FROM else None

    def cell(row: Mapping[str, float | None], key: str) -> str:
        if key not in row:
            return words("measure_cell.not_allowed")
        value = row[key]
        return words("measure_cell.not_possible") if value is None else words.money(value, currency, digits)

    columns = tuple(Column(key, way_name(scenario, key, words), "right") for key in scenario.techniques)
    rows = tuple((stand, *(cell(row, key) for key in scenario.techniques)) for stand, row in table.items())
    return Table(words("table.npv_per_tree"), (_column("stand", words), *columns), rows)


def ranges(comparison: Comparison, technique: str, swings: Iterable[Swing], words: Words) -> Table:
    """What the answer of one technique rests on: each driver at its ends, widest first, all together last."""
    scenario = comparison.scenario
    currency = scenario.appraisal.currency

    def worth(npv: float | None) -> str:
        return words("measure_cell.blank") if npv is None else words.round_money(npv, currency)

    order = sorted(swings, key=lambda swing: (swing.driver == "together", -swing.width))
    rows = tuple(
        (
            words(f"compare.driver.{swing.driver}"),
            _end_cell(swing, "low", currency, words),
            worth(swing.npv_low),
            _end_cell(swing, "high", currency, words),
            worth(swing.npv_high),
        )
        for swing in order
    )
    columns = tuple(
        _column(key, words, "right" if key.startswith("npv") else "left")
        for key in ("driver", "low", "npv_low", "high", "npv_high")
    )
    return Table(words("table.ranges", way=way_name(scenario, technique, words)), columns, rows)


def _end_cell(swing: Swing, end: Literal["low", "high"], currency: str, words: Words) -> str:
    """One end of a driver in its unit."""
    value = swing.low if end == "low" else swing.high
    if value is None:
        return words(f"cell.{'together' if swing.driver == 'together' else 'curve'}_{end}")
    if swing.driver == "price_per_kg" and isinstance(value, float):
        return small_sum(value, currency, words)
    if swing.driver == "take":
        return figure_cell(value, "share", words)
    return words("cell.kg_a_year", value=figure_cell(value, "kg/tree/year", words))


# Figures with their sources


def figures(scenario: Scenario, technique: str, words: Words) -> Table:
    """Every figure of one technique of a scenario: value, range, unit, source; own numbers are marked so."""
    title = words("table.figures", way=way_name(scenario, technique, words))
    return technique_figures(
        scenario.techniques[technique], scenario.supplies, scenario.appraisal.currency, title, words
    )


FIGURE_COLUMNS = ("figure", "value", "range", "unit", "source")


def technique_figures(technique: Technique, supplies: Supplies, currency: str, title: str, words: Words) -> Table:
    """Every figure of one technique, in the order of the work."""
    months = ", ".join(words.month_name(month, "abbreviated") for month in technique.start_months)
    rows = [(words("figure.start_months"), months, "", "", "")]
    rows += [(name, *figure_row(figure, currency, words)) for name, figure in named_figures(technique, supplies, words)]
    return Table(title, tuple(_column(key, words) for key in FIGURE_COLUMNS), tuple(rows))


LEADING = ("attempts", "gap_months", "take", "mature_crop")


def leading_figures(techniques: Mapping[str, Technique], currency: str, words: Words) -> Table:
    """The figures that matter most of each technique: tries, take and the crop of a grown tree."""
    rows = tuple(
        (key, words.name("technique", key, technique.label), words(f"figure.{name}"), *cells)
        for key, technique in techniques.items()
        for name in LEADING
        for cells in [figure_row(getattr(technique, name), currency, words)]
    )
    columns = tuple(_column(key, words) for key in ("key", "technique", *FIGURE_COLUMNS))
    return Table(words("table.leading_figures"), columns, rows)


def named_figures(technique: Technique, supplies: Supplies, words: Words) -> list[tuple[str, Figure[Any]]]:
    """The figures of a technique by name in words."""
    named: list[tuple[str, Figure[Any]]] = []
    leading = ("attempts", "gap_months", "take", "take_without_shade", "attempt_factor")
    for name in (*leading, "mature_crop", "new_crown", "shade"):
        figure = getattr(technique, name)
        if figure is not None and (name != "take_without_shade" or technique.temporary_shade):
            named.append((words(f"figure.{name}"), figure))
    named.append((words("figure.old_crown"), technique.old_crown.curve))
    named += [(words(f"figure.{name}"), getattr(technique, name)) for name in ("upkeep_days", "upkeep_inputs")]
    for key, operation in technique.operations.items():
        name = words.name("operation", key, operation.label)
        named.append((words("figure.days", operation=name), operation.days))
        for item, use in operation.materials.items():
            stated = supplies.items.get(item)
            facts = {"operation": name, "item": words.name("item", item, stated.label if stated else None)}
            named.append((words("figure.quantity", **facts), use.quantity))
            if use.loss_before_use is not None:
                named.append((words("figure.loss_before_use", **facts), use.loss_before_use))
    for span in technique.intercrop:
        months = {"first": words.number(span.first_month), "last": words.number(span.last_month)}
        named.append((words("figure.intercrop_income", **months), span.income))
        named.append((words("figure.intercrop_days", **months), span.days))
    return named


def figure_row(figure: Figure[Any], currency: str, words: Words) -> tuple[str, str, str, str]:
    """Value, range, unit and source of one figure, in words."""
    low, high = (figure_cell(end, figure.unit, words) for end in (figure.low, figure.high))
    between = words(f"cell.{'range_of_many' if isinstance(figure.value, tuple) else 'range'}", low=low, high=high)
    return (
        figure_cell(figure.value, figure.unit, words),
        low if low == high else between,
        figure_unit(figure.unit, currency, words),
        source_cell(figure, words),
    )


def figure_unit(unit: str, currency: str, words: Words) -> str:
    """The unit of a figure in words, as it stands beside a value in a table.

    Example:
        >>> figure_unit("GHS/tree/year", "GHS", Words("en"))
        'GHS per tree and year'
    """
    if f"figure_unit.{unit}" in words:
        return words(f"figure_unit.{unit}")
    return unit_words(words, re.sub(rf"\b{currency}\b", "money", unit), currency)


def source_cell(figure: Figure[Any], words: Words) -> str:
    """Where a figure comes from: its class, with the citation where there is one."""
    source = words(f"source.{figure.source}")
    return words("cell.with_citation", source=source, citation=figure.citation) if figure.citation else source


def figure_cell(value: Any, unit: str, words: Words) -> str:
    """A figure's value in words: a number, numbers by year, or the points of a curve; shares as percent.

    Example:
        >>> figure_cell((0.25, 0.75), "share by project year", Words("en"))
        '25%, 75%'
        >>> figure_cell(((9.0, 0.0), (12.0, 0.1)), "months, share", Words("en")).replace(NO_BREAK, " ")
        '9: 0%, 12: 10%'
        >>> figure_cell(0.03238095, "person-days/tree", Words("en"))
        '0.0324'
    """
    if isinstance(value, tuple) and (not value or isinstance(value[0], tuple)):
        points = [
            _unbroken(words("cell.point", age=words.number(age), share=words.percent(share))) for age, share in value
        ]
        return ", ".join(points) or words("cell.curve_empty")
    if isinstance(value, tuple):
        return ", ".join(figure_cell(entry, unit, words) for entry in value)
    if unit.startswith("share"):
        return rate(value, words)
    return words.number(value) if isinstance(value, int) else words.number(value, _needed_digits(value))


def _needed_digits(value: float) -> int:
    """Decimals that show three figures of a number, no zeros at its end."""
    exponent = Decimal(f"{value:.3g}").normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def supplies(stated: Supplies, currency: str, words: Words, only: Iterable[str] | None = None) -> Table:
    """What supplies and tools cost: price, range, unit, life of a tool, source.

    only: these keys; all where None.
    """
    chosen = None if only is None else set(only)
    rows = []
    for key, item in stated.items.items():
        if chosen is None or key in chosen:
            name = words.name("item", key, item.label)
            unit = words.name("supply_unit", item.unit)
            rows.append((name, *_price(item.unit_cost, currency, unit, words), "", source_cell(item.unit_cost, words)))
    for key, tool in stated.tools.items():
        if chosen is None or key in chosen:
            name = words.name("tool", key, tool.label)
            lasts = figure_row(tool.lasts_years, currency, words)
            life = words("cell.value_and_range", value=lasts[0], range=lasts[1])
            unit = words.name("supply_unit", "piece")
            rows.append((name, *_price(tool.price, currency, unit, words), life, source_cell(tool.price, words)))
    columns = tuple(_column(key, words) for key in ("item", "price", "range", "unit", "lasts", "source"))
    return Table(words("table.supplies"), columns, tuple(rows))


def _price(figure: Figure[Any], currency: str, unit: str, words: Words) -> tuple[str, str, str]:
    """A price, its range and the unit it buys; small prices keep the decimals they need."""
    price, low, high = (
        words.money(value, currency, max(_needed_digits(value), len(words.money(0, currency).partition(".")[2])))
        for value in (figure.value, figure.low, figure.high)
    )
    return price, words("cell.range", low=low, high=high), unit


def supplies_of(technique: Technique) -> tuple[str, ...]:
    """The keys of the supplies and tools that a technique uses."""
    used = [item for operation in technique.operations.values() for item in operation.materials]
    return tuple(dict.fromkeys([*used, *technique.tools]))


def cautions(techniques: Mapping[str, Technique], words: Words) -> Table:
    """The cautions of some techniques, each once with the ways it belongs to, and those that hold for all."""
    belongs: dict[str, list[str]] = {}
    for key, technique in techniques.items():
        for caution in technique.cautions:
            belongs.setdefault(caution, []).append(words.name("technique", key, technique.label))
    rows = [
        (
            words.name("caution", caution),
            words("cell.all_ways") if len(ways) == len(techniques) else ", ".join(ways),
        )
        for caution, ways in belongs.items()
    ]
    rows.append((words("caution.planning_aid"), words("cell.all_ways")))
    return Table(words("table.cautions"), (_column("caution", words), _column("applies_to", words)), tuple(rows))


def _column(key: str, words: Words, align: Literal["left", "right"] = "left", **facts: str) -> Column:
    return Column(key, words(f"column.{key}", **facts), align)


# On the terminal

GAP = 2


def render(table: Table, width: int) -> str:
    """Set a table out in aligned columns for a terminal `width` letters wide.

    Cells are wrapped between words, and a table that is still too wide is set in blocks one below another,
    each with the first column. A word wider than the terminal stands out beyond it: nothing is ever cut.

    Example:
        >>> table = Table("Crops", (Column("stand", "Stand"), Column("kg", "kg", "right")), (("Hill", "12"),))
        >>> print(render(table, 40))
        Crops
        <BLANKLINE>
        Stand  kg
        ─────  ──
        Hill   12
    """
    blocks = [_block(table, chosen, width) for chosen in _blocks(table, width)]
    return "\n\n".join([paragraph(table.title, width), *blocks])


def paragraph(text: str, width: int, indent: str = "") -> str:
    """Wrap a text between words."""
    return "\n".join(_wrap(text, width, indent))


def _wrap(text: str, width: int, indent: str = "") -> list[str]:
    wrapped = textwrap.wrap(
        text, max(width, 1), break_long_words=False, break_on_hyphens=False, subsequent_indent=indent
    )
    return wrapped or [""]


def _cells(table: Table, column: int) -> list[str]:
    return [table.columns[column].heading, *(row[column] for row in table.rows)]


def _natural(table: Table, column: int) -> int:
    """Letters of the longest cell."""
    return max(len(cell) for cell in _cells(table, column))


def _least(table: Table, column: int) -> int:
    """Letters of the longest word."""
    return max(len(word) for cell in _cells(table, column) for word in _wrap(cell, 1))


def _blocks(table: Table, width: int) -> list[list[int]]:
    """Which columns stand side by side: all where they fit, else the first with as many others as fit."""
    columns = list(range(len(table.columns)))
    if sum(_least(table, column) + GAP for column in columns) - GAP <= width and len(columns) <= 2:
        return [columns]
    wanted = [max(_least(table, c), min(_natural(table, c), COMFORTABLE_WIDTH)) + GAP for c in columns]
    if sum(wanted) - GAP <= width:
        return [columns]
    blocks: list[list[int]] = []
    room = 0
    for column in columns[1:]:
        if not blocks or room < wanted[column]:
            blocks.append([0])
            room = width + GAP - wanted[0]
        blocks[-1].append(column)
        room -= wanted[column]
    return blocks or [columns]


def _widths(table: Table, chosen: Sequence[int], width: int) -> list[int]:
    """Letters of each column: its longest cell where all fit, else its longest word and a part of the rest."""
    natural = [_natural(table, column) for column in chosen]
    least = [_least(table, column) for column in chosen]
    room = width - GAP * (len(chosen) - 1)
    if sum(natural) <= room:
        return natural
    spare, wanted = max(0, room - sum(least)), sum(natural) - sum(least)
    return [low + spare * (high - low) // max(wanted, 1) for low, high in zip(least, natural, strict=True)]


def _block(table: Table, chosen: Sequence[int], width: int) -> str:
    """The chosen columns with their headings, a rule, and the rows."""
    widths = _widths(table, chosen, width)
    rule = (" " * GAP).join("─" * letters for letters in widths)
    heading = _row_lines(table, chosen, [table.columns[c].heading for c in chosen], widths)
    rows = [line for row in table.rows for line in _row_lines(table, chosen, [row[c] for c in chosen], widths)]
    return "\n".join([*heading, rule, *rows])


def _row_lines(table: Table, chosen: Sequence[int], cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    """One row, as many lines as its tallest cell."""
    wrapped = [_wrap(cell, letters) for cell, letters in zip(cells, widths, strict=True)]
    lines = []
    for line in range(max(map(len, wrapped))):
        parts = []
        for column, cell, letters in zip(chosen, wrapped, widths, strict=True):
            text = cell[line] if line < len(cell) else ""
            parts.append(text.rjust(letters) if table.columns[column].align == "right" else text.ljust(letters))
        lines.append((" " * GAP).join(parts).rstrip())
    return lines
