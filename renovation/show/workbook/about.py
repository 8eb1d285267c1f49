"""The sheets of words: Read me, and Assumptions with every figure's range and source."""

from typing import Any

from renovation.decide.dossier import Dossier
from renovation.inputs import Figure, Scenario
from renovation.inputs.materials import FIGURES
from renovation.show import figures
from renovation.show.clones import group_name, material_name
from renovation.show.guesses import guessed_lines
from renovation.show.plan.which import followed
from renovation.show.planting import material_reasons, way_sentences
from renovation.show.voice import Voice
from renovation.show.workbook.book import Book, Sheet

WIDTH = 100
README_NOTES = ("live", "change", "fixed", "prices", "protected", "other_sheets")
"""What a reader is told, in this order."""


def write_readme(book: Book, sheet: Sheet, dossier: Dossier) -> None:
    """What the file is, of which scenario, which cells to change, what to beware of."""
    words, scenario, stamp = book.words, dossier.scenario, book.stamp
    voice = Voice.of(dossier.scenario, words)
    book.widths(sheet, (24, WIDTH))
    book.text(sheet, 0, 0, words("workbook.title"), "title")
    facts = {
        "name": scenario.about.name,
        "note": scenario.about.note,
        "digest": stamp.digest,
        "version": stamp.version,
        "written": words.day(stamp.when),
        "plan": followed(scenario, words),
        "horizon": words(
            "workbook.readme.horizon_fact",
            years=voice.whole_years(dossier.years),
            month=words.month(scenario.appraisal.start),
            currency=book.currency,
        ),
    }
    row = 2
    for key, fact in facts.items():
        if fact:
            book.text(sheet, row, 0, words(f"workbook.readme.{key}"), "strong")
            book.paragraph(sheet, row, 1, fact, WIDTH)
            row += 1
    if scenario.about.invented:
        book.text(sheet, row, 0, words("workbook.readme.invented"), "warn")
        book.text(sheet, row, 1, words("compare.note.invented"), "warn")
        row += 1
    for line in guessed_lines(scenario, words)[:1]:
        book.paragraph(sheet, row, 1, line, WIDTH)
        row += 1
    sheet.write_string(row + 1, 0, words("workbook.legend.input"), book.format("general", "plain", is_input=True))
    row += 2
    for key in README_NOTES:
        book.paragraph(sheet, row, 1, words(f"workbook.readme.{key}"), WIDTH)
        row += 1
    if scenario.under_way or scenario.tools_owned or any(loan.running for loan in scenario.loans):
        book.paragraph(sheet, row, 1, words("workbook.readme.standing"), WIDTH)
        row += 1
    if not scenario.loans:
        book.paragraph(sheet, row, 1, words("workbook.readme.no_loan"), WIDTH)
        row += 1
    if not scenario.plan:
        book.text(sheet, row, 1, words("workbook.readme.no_plan"), "warn")
        row += 1
    row = _write_cautions(book, sheet, row + 1, scenario)
    sheet.print_area(0, 0, row, 1)
    sheet.fit_to_pages(1, 1)


def _write_cautions(book: Book, sheet: Sheet, row: int, scenario: Scenario) -> int:
    """The cautions of the ways in the plan, and of any loan; the last row."""
    words = book.words
    at_work = [entry.technique for entry in scenario.under_way]
    at_work += [item.technique for item in scenario.plan if item.trees]
    used = {key: scenario.techniques[key] for key in at_work}
    table = figures.cautions(used or scenario.techniques, words, losses=scenario.states_losses)
    book.text(sheet, row, 0, table.title, "section")
    told = [line[0] for line in table.rows]
    if scenario.loans:
        told.insert(0, words("caution.debt"))
    for caution in told:
        row += 1
        book.paragraph(sheet, row, 1, caution, WIDTH)
    return row


HEADS = ("figure", "value", "low", "high", "unit", "source")


def write_assumptions(book: Book, sheet: Sheet, dossier: Dossier) -> None:
    """The plan and the stands, then every figure of every way and supply: value, range, unit, source, citation."""
    words, scenario = book.words, dossier.scenario
    voice = Voice.of(dossier.scenario, words)
    book.widths(sheet, (38, 18, 16, 16, 24, 16, 38))
    book.text(sheet, 0, 0, words("workbook.sheet.assumptions"), "title")
    book.note(sheet, words("workbook.about.assumptions"), 1)
    heads = [words(f"column.{key}") for key in HEADS]
    book.heads(sheet, 3, [*heads, words("workbook.column.citation")])
    row = _write_farm(book, sheet, 4, scenario)
    for key, technique in scenario.techniques.items():
        title = words("table.figures", way=voice.way(key))
        book.text(sheet, row, 0, title, "section")
        row += 1
        for name, at, figure in figures.placed_figures(technique, scenario.supplies, words):
            _write_figure(book, sheet, row, name, figure, figures.origin(scenario, key, at, words))
            row += 1
    row = _write_materials(book, sheet, row, scenario)
    row = _write_supplies(book, sheet, row, scenario)
    book.pages(sheet, 3, (row, 6), fixed_columns=1)


def _write_materials(book: Book, sheet: Sheet, row: int, scenario: Scenario) -> int:
    """What is known of each clone of the farm, and whether those of its ways set fruit; the last row."""
    words = book.words
    if not scenario.materials:
        return row
    book.text(sheet, row, 0, words("planting.table.known"), "section")
    for name, material in scenario.materials.items():
        called = material_name(name, material, words)
        for field in FIGURES:
            if (figure := getattr(material, field)) is not None:
                row += 1
                label = words("workbook.inputs.of", what=words(f"field.Material.{field}.label"), whose=called)
                _write_figure(book, sheet, row, label, figure)
        row += 1
        group = words("workbook.inputs.of", what=words("field.Material.group.label"), whose=called)
        for column, told in ((0, group), (1, group_name(material.group, words))):
            book.text(sheet, row, column, told)
        if material.group is not None:
            book.text(sheet, row, 5, words(f"source.{material.source}"))
            book.text(sheet, row, 6, material.citation, "wrap")
    said = [*way_sentences(scenario, scenario.techniques, words), *material_reasons(scenario.materials, words)]
    for told in said:
        row += 1
        book.paragraph(sheet, row, 0, told, 52)
    return row + 1


def _write_standing(book: Book, sheet: Sheet, row: int, scenario: Scenario) -> int:
    """Empty places, trees under way with what came of them, and tools that are there; the last row."""
    words, voice = book.words, Voice.of(scenario, book.words)
    lines = [
        (stand.name, words("workbook.assumptions.gaps", places=words("unit.places", n=stand.empty_places)))
        for stand in scenario.stands
        if stand.empty_places
    ]
    for entry in scenario.under_way:
        facts = {
            "trees": voice.trees(entry.trees),
            "way": voice.way(entry.technique),
            "month": words.month(entry.start),
            "took": words.number(sum(entry.taken)),
            "waiting": words.number(entry.waiting),
            "given_up": words.number(entry.given_up),
        }
        lines.append((entry.stand, words("workbook.assumptions.under_way", **facts)))
    for key, months in scenario.tools_owned.items():
        name = words.name("tool", key, scenario.supplies.tools[key].label)
        lines.append((name, words("workbook.assumptions.tool", months=words("unit.months", n=months))))
    if lines:
        row += 1
        book.text(sheet, row, 0, words("workbook.assumptions.standing"), "section")
    for name, said in lines:
        row += 1
        book.text(sheet, row, 0, name)
        book.text(sheet, row, 1, said)
    return row


def _write_farm(book: Book, sheet: Sheet, row: int, scenario: Scenario) -> int:
    """The stands, the plan and the harvest season that the kilograms rest on; the next free row."""
    words = book.words
    voice = Voice.of(scenario, words)
    book.text(sheet, row, 0, words("workbook.assumptions.stands"), "section")
    for stand in scenario.stands:
        row += 1
        facts = {
            "trees": voice.trees(stand.trees),
            "kg": words.number(stand.kg_per_tree, 2),
            "decline": words.percent(stand.decline_per_year, 1),
        }
        book.text(sheet, row, 0, stand.name)
        book.text(sheet, row, 1, words("workbook.assumptions.stand", **facts))
    row = _write_standing(book, sheet, row, scenario) + 1
    book.text(sheet, row, 0, words("workbook.assumptions.plan"), "section")
    for item in scenario.plan:
        row += 1
        facts = {
            "trees": voice.trees(item.trees),
            "way": voice.way(item.technique),
            "month": words.month(item.start),
        }
        book.text(sheet, row, 0, item.stand)
        book.text(sheet, row, 1, words("workbook.assumptions.treatment", **facts))
    row += 1
    book.text(sheet, row, 0, words("workbook.assumptions.season"), "section")
    for month, share in enumerate(scenario.market.season.shares, start=1):
        row += 1
        book.text(sheet, row, 0, words.month_name(month))
        sheet.write_number(row, 1, share, book.format("share"))
    return row + 1


def _write_figure(book: Book, sheet: Sheet, row: int, name: str, figure: Figure[Any], origin: str = "") -> None:
    """One figure: numbers as numbers, curves and lists as words; `origin` says from which way it was copied."""
    words = book.words
    unit = figures.figure_unit(figure.unit, book.currency, words)
    source = figures.with_origin(words(f"source.{figure.source}"), origin, words)
    texts = {0: (name, "wrap_text"), 4: (unit, "wrap_text"), 5: (source, "wrap"), 6: (figure.citation, "wrap")}
    for column, value in enumerate((figure.value, figure.low, figure.high), start=1):
        if isinstance(value, int | float):
            percent = figure.unit.startswith("share")
            sheet.write_number(row, column, value, book.format("share" if percent else "general", "left"))
        else:
            texts[column] = figures.figure_cell(value, figure.unit, words), "wrap"
    book.wrapped(sheet, row, texts)


def _write_supplies(book: Book, sheet: Sheet, row: int, scenario: Scenario) -> int:
    """Prices of supplies, prices and lives of tools; the last row."""
    words, supplies = book.words, scenario.supplies
    book.text(sheet, row, 0, words("table.supplies"), "section")
    for key, item in supplies.items.items():
        row += 1
        _write_figure(book, sheet, row, words.name("item", key, item.label), item.unit_cost)
    for key, tool in supplies.tools.items():
        row += 1
        name = words.name("tool", key, tool.label)
        _write_figure(book, sheet, row, name, tool.price)
        row += 1
        lasts = words("workbook.inputs.of", what=words("field.Tool.lasts_years.label"), whose=name)
        _write_figure(book, sheet, row, lasts, tool.lasts_years)
    return row
