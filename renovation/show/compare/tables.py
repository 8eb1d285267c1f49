"""A comparison in tables of words: measures side by side, years, stands, ranges.

Each function returns a `Table`: pure rows of text, every heading and word from the catalogue.
"""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Literal

from renovation.decide import Comparison, Outcome, Swing
from renovation.inputs import Scenario
from renovation.show.clones import of_clones
from renovation.show.compare.sentences import (
    break_even_case,
    on_the_paying_side,
    payback_case,
)
from renovation.show.figures import figure_cell
from renovation.show.grid import Column, Table, blank, column, columns, digits_of, unbroken
from renovation.show.voice import WHOLE_FROM, Voice
from renovation.words import Words, smallest_unit

if TYPE_CHECKING:
    pass


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


def measures(comparison: Comparison, words: Words, shown: Iterable[str] | None = None) -> Table:
    """Measures side by side: one row per measure, one column per technique; all techniques where none are named."""
    voice = Voice.of(comparison.scenario, words)
    keys = tuple(comparison.outcomes if shown is None else shown)
    ways = tuple(Column(key, voice.way(key), "right") for key in keys)
    rows = tuple((words(f"measure.{name}"), *measure_cells(comparison, keys, name, words)) for name in MEASURES)
    return Table(words("table.measures"), (column("column.measure", words), *ways), rows)


def measure_cell(comparison: Comparison, technique: str, name: str, words: Words) -> str:
    """One measure of one technique in words; a blank is a dash, its reason stands in `sentences.blanks`."""
    return measure_cells(comparison, (technique,), name, words)[0]


def measure_cells(comparison: Comparison, techniques: Iterable[str], name: str, words: Words) -> list[str]:
    """One measure of several techniques in words, all with the decimals that the largest of all techniques asks for."""
    largest = 0.0
    if name not in _IN_WORDS:
        largest = max(abs(_measure(outcome, name) or 0.0) for outcome in comparison.outcomes.values())
    return [_cell(comparison, key, name, largest, words) for key in techniques]


_IN_WORDS = ("payback_years", "discounted_payback_years", "irr", "start", "most_money_out_month", "break_even_take")
"""Measures that are told otherwise than by a number of so many decimals."""


def _cell(comparison: Comparison, technique: str, name: str, largest: float, words: Words) -> str:
    """One measure of one technique; largest: of this measure over all techniques, where it is a number."""
    voice = Voice.of(comparison.scenario, words)
    scenario, outcome = comparison.scenario, comparison.outcomes[technique]
    if name in ("payback_years", "discounted_payback_years"):
        return payback_cell(getattr(outcome.measures, name), scenario, words)
    if name == "irr":
        return irr_cell(outcome, words)
    if name == "start":
        return voice.month(outcome.start)
    if name == "most_money_out_month":
        amount, month = outcome.most_money_out
        return voice.month(month) if amount < 0 else blank(words)
    if name == "break_even_take":
        takes = [words.percent(take, 1) for take in outcome.break_even.take]
        return words.listing(takes) or blank(words)
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
    """The value of a measure that is a single number; None where it is blank."""
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
        return blank(words)
    if name == "mirr":
        return words.percent(value, 1)
    if name in ("benefit_cost", "net_benefit_cost", "break_even_mature_crop"):
        return words.number(value, 2)
    whole_from = 100 if name in ("npv", "equivalent_annual_value", "most_money_out") else WHOLE_FROM
    return words.money(value, currency, 0 if largest >= whole_from else None)


def payback_cell(years: float | None, scenario: Scenario, words: Words) -> str:
    """A payback as a span, or in words where it is at once or not within the horizon."""
    voice = Voice.of(scenario, words)
    case = payback_case(years)
    if case == "after":
        return words.span(years or 0.0)
    return words(f"measure_cell.{case}", horizon=voice.whole_years(scenario.appraisal.horizon_years))


def irr_cell(outcome: Outcome, words: Words) -> str:
    """The rate of return, every root where there are several, or a dash."""
    irr = outcome.measures.irr
    if irr.value is not None:
        return words.percent(irr.value, 1)
    if irr.verdict == "none":
        return blank(words)
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
    """The year table of one technique: all compared trees, more or less than leaving the farm as it is."""
    voice = Voice.of(comparison.scenario, words)
    rows = comparison.outcomes[technique].year_rows()
    digits = {n: digits_of([row[n] for row in rows], 1 if n in NOT_MONEY else 2) for n in YEAR_COLUMNS}
    cells = tuple(
        (
            words.number(int(row["year"])),
            unbroken(voice.month(12 * (int(row["year"]) - 1))),
            *(words.number(row[name], digits[name]) for name in YEAR_COLUMNS),
        )
        for row in rows
    )
    currency = voice.sign
    figures = tuple(column(f"column.{name}", words, "right", currency=currency) for name in YEAR_COLUMNS)
    title = words("table.years", way=voice.way(technique))
    return Table(title, (column("column.year", words, "right"), column("column.from_month", words), *figures), cells)


# Stands and ways


def npv_per_tree(scenario: Scenario, table: Mapping[str, Mapping[str, float | None]], words: Words) -> Table:
    """NPV of one tree by stand (rows) and technique (columns); `table` is as from `decide.npv_per_tree`."""
    voice = Voice.of(scenario, words)
    currency = scenario.appraisal.currency
    largest = max((abs(value or 0.0) for row in table.values() for value in row.values()), default=0.0)
    digits = 0 if largest >= WHOLE_FROM else None

    def cell(row: Mapping[str, float | None], key: str) -> str:
        if key not in row:
            return words("measure_cell.not_allowed")
        value = row[key]
        return words("measure_cell.not_possible") if value is None else words.money(value, currency, digits)

    columns = tuple(Column(key, voice.way(key), "right") for key in scenario.techniques)
    rows = tuple((stand, *(cell(row, key) for key in scenario.techniques)) for stand, row in table.items())
    return Table(words("table.npv_per_tree"), (column("column.stand", words), *columns), rows)


def ranges(comparison: Comparison, technique: str, swings: Iterable[Swing], words: Words) -> Table:
    """What the answer of one technique rests on: each driver at its ends, widest first, all together last."""
    voice = Voice.of(comparison.scenario, words)

    def worth(npv: float | None) -> str:
        return blank(words) if npv is None else voice.money(npv)

    order = sorted(swings, key=lambda swing: (swing.driver == "together", -swing.width))
    rows = tuple(
        (
            of_clones(comparison.scenario, technique, swing.driver, words(f"compare.driver.{swing.driver}"), words),
            _end_cell(swing, "low", voice),
            worth(swing.npv_low),
            _end_cell(swing, "high", voice),
            worth(swing.npv_high),
        )
        for swing in order
    )
    names = ("driver", "low", "npv_low", "high", "npv_high")
    headed = columns("column", names, words, ("npv_low", "npv_high"))
    return Table(words("table.ranges", way=voice.way(technique)), headed, rows)


def _end_cell(swing: Swing, end: Literal["low", "high"], voice: Voice) -> str:
    """One end of a driver in its unit."""
    value = swing.low if end == "low" else swing.high
    if value is None:
        return voice(f"cell.{'together' if swing.driver == 'together' else 'curve'}_{end}")
    if swing.driver == "price_per_kg" and isinstance(value, float):
        return voice.small_money(value)
    if swing.driver == "take":
        return figure_cell(value, "share", voice.words)
    return voice("cell.kg_a_year", value=figure_cell(value, "kg/tree/year", voice.words))
