"""The sheets of months: the farm as it is and with the plan (method §4).

Kilograms, days beside the harvest, supplies and tools stand as numbers; sales, harvest days, who works and the
two accounts are formulas over the inputs.
"""

from renovation.decide.dossier import Dossier
from renovation.farm import expected_price_path
from renovation.show.clones import kind_name
from renovation.show.workbook.book import Book, Sheet
from renovation.show.workbook.table import SheetColumn, SheetTable, column, numbers
from renovation.show.workbook.trees import Chance
from renovation.types import FloatArray

NARROW = 11
"""Letters of a column of months."""
TOP = 4
"""The first row of months, counted from 0."""


def time_columns(book: Book, dossier: Dossier) -> list[SheetColumn]:
    """Month number from 1, its name, the project year, the calendar month."""
    words = book.words
    months = range(dossier.months)
    calendar = [int(label[5:]) for label in dossier.labels]
    return [
        column(book, "n", "count", [m + 1 for m in months], width=7),
        column(book, "month", "text", [words.month(m) for m in dossier.labels], width=16),
        column(book, "year", "count", [m // 12 + 1 for m in months], width=7),
        column(book, "calendar", "count", calendar, width=9),
    ]


def new_kg_without(dossier: Dossier) -> dict[str, FloatArray]:
    """Crop of the new crowns without the plan by planting material, (T,) kg each: that of the trees under way."""
    kg: dict[str, FloatArray] = {}
    for begun in dossier.flows.begun:
        kg[begun.technique.material] = kg.get(begun.technique.material, 0.0) + begun.tree.new_kg[0]
    return kg


def months_table(
    book: Book, sheet: Sheet, dossier: Dossier, chance: Chance | None = None, *, with_plan: bool
) -> SheetTable:
    """Lay out one side of the farm; chance: the sheet of what is lost and paid, where the farm states any."""
    words, scenario = book.words, dossier.scenario
    flows = dossier.flows.with_plan if with_plan else dossier.flows.without
    materials = dossier.new_kg if with_plan else new_kg_without(dossier)
    whole = with_plan or bool(dossier.flows.begun)

    def head(key: str, **facts: str) -> str:
        return words(f"workbook.column.{key}", currency=book.currency, **facts)

    def left(material: str | None) -> str | None:
        return f"={chance.crop(material, with_plan=with_plan)}" if chance else None

    crop = [column(book, "old_kg", "kg", flows.old_kg, left(None), width=NARROW)]
    for key, new in materials.items():
        called = head("new_kg", material=kind_name(dossier.held, key, words))
        crop.append(SheetColumn(f"new_kg_{key}", called, "kg", numbers(new), left(key)))
    kg = "+".join(f"{{{column.key}}}" for column in crop)
    earned = [f"{{new_kg_{key}}}*({{price}}*(1+premium_{key})-deductions_per_kg)" for key in materials]
    sales = "+".join(["{old_kg}*({price}-deductions_per_kg)", *earned])
    price = expected_price_path(scenario) * scenario.market.dry_price_per_kg
    harvest = scenario.market.harvest_days_per_kg * (flows.old_kg + flows.new_kg)
    work, supplies = [], []
    days_formula = materials_formula = None
    if chance:
        days_formula = f"={{fixed_days}}+{chance.upkeep('upkeep_days', with_plan=with_plan)}"
        materials_formula = f"={{fixed_materials}}+{chance.upkeep('upkeep_cost', with_plan=with_plan)}"
        fixed = flows.days - harvest - chance.upkeep_now("upkeep_days", with_plan=with_plan)
        work = [column(book, "fixed_days", "days", fixed, width=NARROW)]
        fixed = flows.materials - chance.upkeep_now("upkeep_cost", with_plan=with_plan)
        supplies = [column(book, "fixed_materials", "flow", fixed, width=NARROW)]
    bought = [*supplies, column(book, "materials", "flow", flows.materials, materials_formula, width=NARROW)]
    if whole:
        bought += [
            column(book, "tools", "flow", flows.tools, width=NARROW),
            column(book, "between", "flow", flows.other_income - flows.payments, width=NARROW),
        ]
    income = "{sales}+{between}" if whole else "{sales}"
    if whole and chance:
        paid = f"={chance.payments(with_plan=with_plan)}"
        bought.append(column(book, "payments", "flow", flows.payments, paid, width=NARROW))
        income += "+{payments}"
    costs = "{materials}+{tools}" if whole else "{materials}"
    columns = [
        *time_columns(book, dossier),
        *crop,
        *work,
        column(book, "other_days", "days", flows.days - harvest, days_formula, width=NARROW),
        *bought,
        column(book, "price", "exact", price, "=price_per_kg*INDEX(price_share_by_year,{year})", width=NARROW),
        column(book, "sales", "flow", flows.sales, f"={sales}", width=NARROW),
        column(book, "days", "days", flows.days, f"={{other_days}}+({kg})*harvest_days_per_kg", width=NARROW),
        column(
            book,
            "family_days",
            "days",
            flows.family_days,
            "=MIN({days},INDEX(family_days_by_month,{calendar}))",
            width=NARROW,
        ),
        column(book, "hired_days", "days", flows.hired_days, "={days}-{family_days}", width=NARROW),
        column(book, "cash", "flow", flows.cash, f"={income}-({costs})-{{hired_days}}*wage_per_day", width=NARROW),
        column(
            book,
            "economic",
            "flow",
            flows.economic,
            f"={income}-({costs})-{{days}}*wage_per_day*labour_value",
            width=NARROW,
        ),
    ]
    return SheetTable(book, sheet, TOP, columns)


def write_months(book: Book, table: SheetTable, key: str, chance: Chance | None = None) -> None:
    """Write one side with its title."""
    about = "months_by_chance" if chance else key
    book.text(table.sheet, 0, 0, book.words(f"workbook.sheet.{key}"), "title")
    book.note(table.sheet, book.words(f"workbook.about.{about}"), 1)
    table.write({"trees": chance.table} if chance else {})
    book.pages(table.sheet, TOP - 1, (table.last_row, table.last_column), fixed_columns=2)
