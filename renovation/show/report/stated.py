"""What the family states, in tables of the report: every plain number of household, market, stands, with its source."""

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import BaseModel

from renovation.inputs import Declared, Scenario, as_stated, declared
from renovation.show.figures import figure_unit
from renovation.show.grid import NO_BREAK, Column, Table, blank, column, columns
from renovation.show.guesses import marked_value, source_of
from renovation.show.voice import Voice
from renovation.words import Words

INPUTS: Mapping[str, Callable[[Scenario], BaseModel | None]] = {
    "appraisal": lambda scenario: scenario.appraisal,
    "household": lambda scenario: scenario.household,
    "market": lambda scenario: as_stated(scenario).market,
    "wet_beans": lambda scenario: scenario.market.wet_beans,
    "loan_test": lambda scenario: scenario.loan_test,
}
"""The parts of a scenario that the family states as plain numbers; stands and loans have tables of their own."""

ONLY_WHERE_STATED = ("empty_places", "tree_loss_per_year", "pods_lost")
"""Figures of a stand that are left out where no stand has any."""


def stated(scenario: Scenario, words: Words) -> Table:
    """Every number that the family states of household, market, time and loan test; defaults name their source."""
    voice, currency = Voice.of(scenario, words), scenario.appraisal.currency
    rows = []
    for section, part in INPUTS.items():
        model = part(scenario)
        for said, value in _fields(model) if model else ():
            if value is None or value == {}:
                continue
            name, unit = words(said.label_key), _unit(said.unit, currency, words)
            source = source_of(scenario, f"{section}.{said.field}", _source(said, value, scenario, words), words)
            rows.append((name, _value(value, said.unit, voice), unit, source))
    headed = columns("report.column", ("what", "value", "unit", "source"), words)
    return Table(words("report.table.stated"), headed, tuple(rows))


def stated_stands(scenario: Scenario, words: Words) -> Table:
    """Every number that the family states of each stand, one stand a column."""
    voice, currency = Voice.of(scenario, words), scenario.appraisal.currency
    rows: dict[str, list[str]] = {}
    units: dict[str, str] = {}
    for place, stand in enumerate(scenario.stands):
        for model in (stand, stand.pods):
            for said, value in _fields(model) if model else ():
                name = words(said.label_key)
                if value is None or said.field == "name" or not said.unit:
                    continue
                if said.field in ONLY_WHERE_STATED and not any(getattr(one, said.field) for one in scenario.stands):
                    continue
                units[name] = _unit(said.unit, currency, words)
                cells = rows.setdefault(name, [blank(words)] * len(scenario.stands))
                path = f"stands.{place}.{said.field}"
                cells[place] = marked_value(scenario, path, _value(value, said.unit, voice), words)
    headed = (
        *columns("report.column", ("what", "unit"), words),
        *(Column(f"stand_{place}", stand.name, "right") for place, stand in enumerate(scenario.stands)),
    )
    stated_rows = tuple((name, units[name], *row) for name, row in rows.items())
    return Table(words("report.table.stated_stands"), headed, stated_rows)


def season(scenario: Scenario, words: Words) -> Table:
    """The share of the year's crop in each month, January to December."""
    shares = scenario.market.season.shares
    headed = (
        column("report.column.what", words),
        *(Column(f"month_{m}", words.month_name(m, "abbreviated"), "right") for m in range(1, len(shares) + 1)),
    )
    row = (words("report.row.share"), *(words.percent(share, 1) if share else blank(words) for share in shares))
    return Table(words("report.table.season"), headed, (row,))


def _fields(model: BaseModel) -> list[tuple[Declared, Any]]:
    """The fields of a model that are plain values, with their declarations."""
    found = [(declared(type(model), name), getattr(model, name)) for name in type(model).model_fields]
    return [(said, value) for said, value in found if not isinstance(value, BaseModel)]


def _value(value: Any, unit: str, voice: Voice) -> str:
    """A stated value in words."""
    words = voice.words
    if isinstance(value, bool):
        return words(f"lending.cell.{'yes' if value else 'no'}")
    if isinstance(value, str):
        return words.month(value) if unit == "year-month" else value
    if isinstance(value, dict):
        named = [(words.name("material", k), _value(v, unit, voice)) for k, v in value.items()]
        return ", ".join(words("report.cell.named", name=name, value=cell) for name, cell in named)
    if isinstance(value, tuple) and unit == "share":
        return words.listing([words.rate(share) for share in value])
    if isinstance(value, tuple):
        months = [
            words("report.cell.named", name=words.month_name(m, "abbreviated"), value=_value(v, unit, voice))
            for m, v in enumerate(value, start=1)
        ]
        return ", ".join(cell.replace(" ", NO_BREAK) for cell in months)
    if unit.startswith("money"):
        return voice.small_money(value)
    if unit.startswith("share"):
        return words.rate(value)
    return words.number(value)


def _unit(unit: str, currency: str, words: Words) -> str:
    """The unit beside a stated value; shares are shown as percent, and money carries its sign already."""
    return words(f"report.unit.{unit}") if f"report.unit.{unit}" in words else figure_unit(unit, currency, words)


def stated_by(scenario: Scenario, words: Words) -> str:
    """Whose number one is that a scenario states: the family's own, or invented with the farm."""
    return words("source.invented" if scenario.about.invented else "report.cell.stated_by_family")


def _source(said: Declared, value: Any, scenario: Scenario, words: Words) -> str:
    """Whose number it is: what the scenario states, or the default with its source."""
    if said.required or value != said.default:
        return stated_by(scenario, words)
    if said.source is None:
        return words("report.cell.left_at_default")
    source = words(f"source.{said.source}")
    if said.citation:
        source = words("cell.with_citation", source=source, citation=said.citation)
    return words("report.cell.default", source=source)
