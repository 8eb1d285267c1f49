"""What the futures and the hard cases are drawn from, figure by figure, for report and workbook."""

from pydantic import BaseModel

from renovation.inputs import Risk, Scenario, Stress, declared
from renovation.show.figures import figure_cell, figure_unit
from renovation.show.grid import Column, Table
from renovation.words import Words

OF_FUTURES = (
    "price_sd",
    "price_persistence",
    "farm_gate_share",
    "price_setting",
    "price_path",
    "long_run_price",
    "crop_sd",
    "take_spread",
    "wage_drift_sd",
    "input_drift_sd",
    "draws",
    "seed",
)
OF_CASES = ("beginner_take", "beginner_seasons", "lost_crop_year", "wage_rise", "hand_days")
OF_LOST_TREES = ("lost_trees", "lost_trees_year")


def drawn_from(scenario: Scenario, words: Words) -> Table:
    """Every figure that the futures and the hard cases are drawn from: value, as shipped, unit, source, citation."""
    risk, currency = scenario.risk, scenario.appraisal.currency
    cases = (*OF_CASES, *OF_LOST_TREES) if risk.stress.lost_trees else OF_CASES
    rows = [_stated(Risk, risk, field, currency, words) for field in OF_FUTURES]
    rows += [_stated(Stress, risk.stress, field, currency, words) for field in cases]
    columns = (
        Column("figure", words("column.figure")),
        Column("value", words("column.value")),
        Column("shipped", words("workbook.risk.shipped")),
        Column("unit", words("column.unit")),
        Column("source", words("column.source")),
        Column("citation", words("workbook.column.citation")),
    )
    return Table(words("workbook.risk.rests_on"), columns, tuple(rows))


def _stated(model: type[BaseModel], stated: BaseModel, field: str, currency: str, words: Words) -> tuple[str, ...]:
    """One figure in words."""
    said, value = declared(model, field), getattr(stated, field)
    source = words(f"source.{said.source}") if said.source else ""
    if value != said.default:
        source = words("source.own")
    unit = figure_unit(said.unit, currency, words) if said.unit else ""
    cells = [_cell(entry, field, said.unit, words) for entry in (value, said.default)]
    return (words(said.label_key), *cells, unit, source, "" if value != said.default else said.citation)


def _cell(value: float | str, field: str, unit: str, words: Words) -> str:
    """A number in its unit, a choice by its name."""
    if isinstance(value, str):
        return words(f"risk.setting.{value}" if field == "price_setting" else f"risk.path.{value}")
    return figure_cell(value, unit, words)
