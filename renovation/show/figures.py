"""Figures with their ranges, units and sources in words: what a way takes and gives, what supplies cost, cautions."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from renovation.inputs import Figure, Scenario, Supplies, Technique, unit_words
from renovation.inputs.own_ways import is_changed, origin_of
from renovation.show.curves import by_year_sentence, curve_sentence
from renovation.show.grid import Table, columns
from renovation.show.voice import Voice
from renovation.words import Words


def figures(scenario: Scenario, technique: str, words: Words) -> Table:
    """Every figure of one technique of a scenario: value, range, unit, source; own numbers are marked so."""
    way, currency = scenario.techniques[technique], scenario.appraisal.currency
    title = words("table.figures", way=Voice.of(scenario, words).way(technique))
    told = technique_figures(way, scenario.supplies, currency, title, words)
    origins = [
        "",
        *(origin(scenario, technique, at, words) for _, at, _ in placed_figures(way, scenario.supplies, words)),
    ]
    rows = ((*row[:-1], with_origin(row[-1], said, words)) for row, said in zip(told.rows, origins, strict=True))
    return replace(told, rows=tuple(rows))


def origin(scenario: Scenario, technique: str, at: tuple[str | int, ...], words: Words) -> str:
    """Of a figure of a way of one's own: from which way it was copied, and whether it was changed; else empty.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> from renovation.inputs.own_ways import copied
        >>> farm, words = demo_scenario(), Words("en")
        >>> farm = farm.changed(**copied(farm, "side_graft", "Our graft", words).changes)
        >>> origin(farm, "our_graft", ("mature_crop",), words), origin(farm, "side_graft", ("mature_crop",), words)
        ('copied from side graft', '')
    """
    base = origin_of(scenario, technique)
    if base is None:
        return ""
    form = "changed" if is_changed(scenario, technique, at) else "kept"
    return words(f"origin.{form}", way=Voice.of(scenario, words).way_named(base))


def origin_sentence(scenario: Scenario, technique: str, words: Words) -> str:
    """From which way a way of one's own was copied, and how many figures were changed; empty for any other way."""
    base = origin_of(scenario, technique)
    if base is None:
        return ""
    placed = placed_figures(scenario.techniques[technique], scenario.supplies, words)
    changed = sum(is_changed(scenario, technique, at) for _, at, _ in placed)
    way = Voice.of(scenario, words).way_named(base)
    return words("origin.figures", way=way, n=changed) if changed else words("origin.none", way=way)


def own_copied(scenario: Scenario, technique: str, words: Words) -> set[str]:
    """What stands as the source of a figure that was copied and then changed, or counted; nothing of other ways."""
    base = origin_of(scenario, technique)
    if base is None:
        return set()
    said = words("origin.changed", way=Voice.of(scenario, words).way_named(base))
    return {with_origin(words(f"source.{source}"), said, words) for source in ("own", "counted")}


def with_origin(source: str, origin: str, words: Words) -> str:
    """A source with what `origin` says behind it, where that says anything."""
    return words("origin.source", source=source, origin=origin) if origin else source


FIGURE_COLUMNS = ("figure", "value", "range", "unit", "source")


def technique_figures(technique: Technique, supplies: Supplies, currency: str, title: str, words: Words) -> Table:
    """Every figure of one technique, in the order of the work."""
    months = ", ".join(words.month_name(month, "abbreviated") for month in technique.start_months)
    rows = [(words("figure.start_months"), months, "", "", "")]
    rows += [(name, *figure_row(figure, currency, words)) for name, figure in named_figures(technique, supplies, words)]
    return Table(title, columns("column", FIGURE_COLUMNS, words), tuple(rows))


LEADING = ("attempts", "gap_months", "take", "mature_crop")


def leading_figures(techniques: Mapping[str, Technique], currency: str, words: Words) -> Table:
    """The figures that matter most of each technique: tries, take and the crop of a grown tree."""
    rows = tuple(
        (key, words.name("technique", key, technique.label), words(f"figure.{name}"), *cells)
        for key, technique in techniques.items()
        for name in LEADING
        for cells in [figure_row(getattr(technique, name), currency, words)]
    )
    return Table(words("table.leading_figures"), columns("column", ("key", "technique", *FIGURE_COLUMNS), words), rows)


def named_figures(technique: Technique, supplies: Supplies, words: Words) -> list[tuple[str, Figure[Any]]]:
    """The figures of a technique by name in words."""
    return [(name, figure) for name, _, figure in placed_figures(technique, supplies, words)]


def placed_figures(
    technique: Technique, supplies: Supplies, words: Words
) -> list[tuple[str, tuple[str | int, ...], Figure[Any]]]:
    """The figures of a technique: each one's name in words, where it stands in the technique, and itself."""
    named: list[tuple[str, tuple[str | int, ...], Figure[Any]]] = []
    leading = ("attempts", "gap_months", "take", "take_without_shade", "attempt_factor", "take_by_month")
    for name in (*leading, "mature_crop", "new_crown", "shade", "tree_loss_per_year", "pods_lost"):
        figure = getattr(technique, name)
        if figure is not None and (name != "take_without_shade" or technique.temporary_shade):
            named.append((words(f"figure.{name}"), (name,), figure))
    if technique.old_crown is not None:
        named.append((words("figure.old_crown"), ("old_crown", "curve"), technique.old_crown.curve))
    named += [(words(f"figure.{name}"), (name,), getattr(technique, name)) for name in ("upkeep_days", "upkeep_inputs")]
    for key, operation in technique.operations.items():
        name = words.name("operation", key, operation.label)
        named.append((words("figure.days", operation=name), ("operations", key, "days"), operation.days))
        for item, use in operation.materials.items():
            stated = supplies.items.get(item)
            facts = {"operation": name, "item": words.name("item", item, stated.label if stated else None)}
            at = ("operations", key, "materials", item)
            named.append((words("figure.quantity", **facts), (*at, "quantity"), use.quantity))
            if use.loss_before_use is not None:
                named.append((words("figure.loss_before_use", **facts), (*at, "loss_before_use"), use.loss_before_use))
    for place, span in enumerate(technique.intercrop):
        months = {"first": words.number(span.first_month), "last": words.number(span.last_month)}
        named.append((words("figure.intercrop_income", **months), ("intercrop", place, "income"), span.income))
        named.append((words("figure.intercrop_days", **months), ("intercrop", place, "days"), span.days))
    if shade := technique.permanent_shade:
        parts: dict[str, Figure[Any]] = {"crop_factor": shade.crop_factor, "income": shade.income, "days": shade.days}
        named += [(words(f"figure.permanent_{part}"), ("permanent_shade", part), one) for part, one in parts.items()]
    for place, payment in enumerate(technique.payments):
        named.append((words("figure.payment", name=payment.name), ("payments", place, "amount"), payment.amount))
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
    return source_cell_of(figure.source, figure.citation, words)


def source_cell_of(kind: str, citation: str, words: Words) -> str:
    """A source class in words, with the citation where there is one."""
    source = words(f"source.{kind}")
    return words("cell.with_citation", source=source, citation=citation) if citation else source


def figure_cell(value: Any, unit: str, words: Words) -> str:
    """A figure's value in words: a number, numbers by year or a curve in a sentence; shares as percent.

    Example:
        >>> figure_cell((0.25, 0.75), "share by project year", Words("en"))
        '25% in year 1, 75% from year 2 on'
        >>> figure_cell(((9.0, 0.0), (12.0, 0.1)), "months, share", Words("en"))
        'nothing until 9 months, 10% from 12 months on'
        >>> figure_cell(0.03238095, "person-days/tree", Words("en"))
        '0.0324'
    """
    if isinstance(value, tuple) and (not value or isinstance(value[0], tuple)):
        return curve_sentence(value, words)
    if isinstance(value, tuple):
        entries = [figure_cell(entry, unit, words) for entry in value]
        return by_year_sentence(entries, words) if "year" in unit.rpartition(" by ")[2] else ", ".join(entries)
    if unit.startswith("share"):
        return words.rate(value)
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
    headed = columns("column", ("item", "price", "range", "unit", "lasts", "source"), words)
    return Table(words("table.supplies"), headed, tuple(rows))


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


def cautions(techniques: Mapping[str, Technique], words: Words, *, losses: bool = False) -> Table:
    """The cautions of some techniques, each once with the ways it belongs to, and those that hold for all.

    losses: whether the farm states losses of trees or pods; diseased wood is then warned of.
    """
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
    if any(technique.planting_materials for technique in techniques.values()):
        rows.append((words("caution.clean_budwood"), words("cell.all_ways")))
    if losses:
        rows.append((words("caution.diseased_wood"), words("cell.all_ways")))
    rows.append((words("caution.planning_aid"), words("cell.all_ways")))
    return Table(words("table.cautions"), columns("column", ("caution", "applies_to"), words), tuple(rows))
