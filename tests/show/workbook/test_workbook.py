"""The workbook, recalculated by a second program (LibreOffice), against this one.

The files are stripped of every cached value first, so that each number read back was worked out from the formulas.
"""

import ast
import random
import re
import shutil
import subprocess
import zlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from functools import cache, partial
from html import unescape
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

import numpy as np
import openpyxl
import pytest
from factories import figure, operation, scenario, scenario_data, some_plain, stand, technique_data, use
from farm_files import FARMS as PATHS
from naming import other_names
from openpyxl.utils import get_column_letter, range_boundaries
from screens.looking import missing

import renovation.show.workbook
from renovation.commands.program import main
from renovation.decide import appraise_loans, appraise_plan
from renovation.decide.held import as_held
from renovation.decide.risk import risk, stress_tests
from renovation.farm import by_year, farm_flows, household_cash, loan_terms
from renovation.inputs import Scenario, load_scenario, scenario_folder
from renovation.inputs.files import priced_technique
from renovation.money import LoanError, irr, schedule
from renovation.show.voice import Voice
from renovation.show.workbook import workbook
from renovation.show.workbook.book import LINE_HEIGHT
from renovation.words import Words, languages

WORDS = Words("en")
DAY = date(2027, 1, 31)
FARMS = [path.stem for path in PATHS]
CENT = 0.005
RATIO = 1e-6

Book = Any  # an openpyxl workbook; the library has no types


def farm(name: str) -> Scenario:
    return load_scenario(scenario_folder() / f"{name}.toml")


def opened(data: bytes, **how: Any) -> Book:
    return openpyxl.load_workbook(BytesIO(data), **how)


def cells(book: Book, name: str) -> list[Any]:
    """The cells of a name, from the top down."""
    sheet, area = book.defined_names[name].attr_text.rsplit("!", 1)
    left, top, right, bottom = range_boundaries(area.replace("$", ""))
    rows = book[sheet.strip("'").replace("''", "'")].iter_rows(top, bottom, left, right)
    return [cell for row in rows for cell in row]


def value(book: Book, name: str) -> Any:
    return cells(book, name)[0].value


def put(book: Book, name: str, new: Any) -> None:
    cells(book, name)[0].value = new


def column(book: Book, sheet: str, head: str, head_row: int) -> list[Any]:
    """The cells below a head that begins like this."""
    page = book[sheet]
    place = next(c.column for c in page[head_row] if str(c.value).startswith(head))
    return [page.cell(row, place).value for row in range(head_row + 1, page.max_row + 1)]


# Cases: a workbook, what is changed in its cells, and the scenario that has the same changes


@dataclass
class Case:
    base: Scenario
    changed: Scenario
    change: Callable[[Book], None]


def held(farm: Scenario) -> Scenario:
    """The farm with what is held of takes and days, as every room asks it."""
    return as_held(farm, farm.plan)


def untouched(base: Scenario) -> Case:
    return Case(base, base, lambda _: None)


def price_cell(base: Scenario) -> tuple[str, str, float]:
    """The name of the price cell, the key of its field, its value."""
    wet = base.market.wet_beans
    if wet:
        return "wet_price_per_kg", "market__wet_beans__price_per_kg", wet.price_per_kg
    return "price_per_kg", "market__price_per_kg", base.market.dry_price_per_kg


def price_rate_and_grace(base: Scenario) -> Case:
    """What a loan officer changes first."""
    name, key, price = price_cell(base)
    changes: dict[str, Any] = {key: price * 0.85}
    # a loan that runs already goes on by its contract
    open_to_terms = [number for number, loan in enumerate(base.loans) if not loan.running]
    for number, loan in ((number, base.loans[number]) for number in open_to_terms):
        changes[f"loans__{number}__rate_per_year"] = loan.rate_per_year + 0.035
        changes[f"loans__{number}__grace_months"] = loan.grace_months + 2

    def change(book: Book) -> None:
        put(book, name, changes[key])
        for number in open_to_terms:
            put(book, f"loan_{number + 1}_rate_per_year", changes[f"loans__{number}__rate_per_year"])
            put(book, f"loan_{number + 1}_grace_months", changes[f"loans__{number}__grace_months"])

    return Case(base, base.changed(**changes), change)


def everything_else(base: Scenario) -> Case:
    """Every other input at once."""
    household, market = base.household, base.market
    plain: dict[str, tuple[str, float]] = {
        "discount_rate": ("appraisal__discount_rate", 0.07),
        "finance_rate": ("appraisal__finance_rate", 0.15),
        "reinvestment_rate": ("appraisal__reinvestment_rate", 0.03),
        "inflation": ("appraisal__inflation", 0.055),
        "savings": ("household__savings", household.savings * 0.4),
        "balance_floor": ("household__floor", household.floor * 3),
        "savings_rate": ("household__savings_rate", 0.015),
        "wage_per_day": ("household__wage_per_day", household.wage_per_day * 1.3),
        "labour_value": ("household__labour_value", 0.7),
        "deductions_per_kg": ("market__deductions_per_kg", market.deductions_per_kg * 2),
        "harvest_days_per_kg": ("market__harvest_days_per_kg", 0.075),
    }
    family = tuple(float(month) for month in range(3, 15))
    living = tuple(household.wage_per_day * (5 + month) for month in range(12))
    other = tuple(household.wage_per_day * (month % 3) for month in range(12))
    twelves = {"family_days": family, "living_costs": living, "other_income": other}
    path = (1.0, 0.9, 1.2, 0.8)
    years = base.appraisal.horizon_years
    changed = base.changed(
        **dict(plain.values()),
        **{f"household__{key}": months for key, months in twelves.items()},
        market__premium={**market.premium, "clone": 0.11},
        risk__price_path="typed",
        risk__price_by_year=path,
    )

    def change(book: Book) -> None:
        for name, (_, new) in plain.items():
            put(book, name, new)
        for key, months in twelves.items():
            for cell, new in zip(cells(book, f"{key}_by_month"), months, strict=True):
                cell.value = new
        for year, cell in enumerate(cells(book, "price_share_by_year")):
            cell.value = path[min(year, len(path) - 1)]
        put(book, "premium_clone", 0.11)
        assert len(cells(book, "price_share_by_year")) == years

    return Case(base, changed, change)


KINDS = {
    "level": "equal instalments every month",
    "equal_principal": "equal parts of the sum every month",
    "harvest": "in harvest months only",
}
IN_GRACE = {"paid": "paid each month", "added": "added to the debt"}


def random_loan(draw: random.Random, number: int, unit: float) -> dict[str, Any]:
    """Any sound loan within ten years from January 2027."""
    grace = draw.choice([0, 1, 5, 12, 24])
    first = draw.randrange(0, 30)
    places = draw.choice([1, 1, 2, 3]) if grace >= 2 else 1
    months = sorted(draw.sample(range(first, first + grace + 1), places))
    shares = {1: [1.0], 2: [0.37, 0.63], 3: [0.25, 0.3, 0.45]}[places]
    repayment = draw.choice(["level", "equal_principal", "harvest"])
    term = draw.randrange(grace + (13 if repayment == "harvest" else 1), 120 - months[0])
    return {
        "name": f"Loan of test {number}",
        "amount": round(draw.randrange(20, 900_000) * unit * draw.choice([1, 100]), 2),
        "payouts": tuple(
            {"month": f"{2027 + month // 12}-{month % 12 + 1:02d}", "share": share}
            for month, share in zip(months, shares, strict=True)
        ),
        "rate_per_year": draw.choice([0.0, 0.08, 0.1225, 0.36, round(draw.uniform(0, 0.6), 4)]),
        "term_months": term,
        "grace_months": grace,
        "grace_interest": draw.choice(["paid", "added"]),
        "repayment": repayment,
        "harvest_months": tuple(draw.sample(range(1, 13), draw.randint(1, 5))) if repayment == "harvest" else (),
        "fee_share": draw.choice([0.0, 0.01, 0.0275]),
    }


def in_currency(data: Any, currency: str) -> Any:
    """Plain data of a test farm with its money in another currency, the amounts left as they are."""
    if isinstance(data, dict):
        return {key: in_currency(entry, currency) for key, entry in data.items()}
    if isinstance(data, tuple | list):
        return type(data)(in_currency(entry, currency) for entry in data)
    return data.replace("USD/", f"{currency}/") if isinstance(data, str) else data


def random_loans(seed: int, currency: str, unit: float) -> Case:
    """Eight loans, and eight others typed over them."""
    draw = random.Random(seed)
    appraisal = {"start": "2027-01", "horizon_years": 10, "inflation": 0.04}
    appraisal |= {"currency": currency, "currency_per_usd": None if currency == "USD" else 600.0}
    first, second = (tuple(random_loan(draw, number, unit) for number in range(8)) for _ in range(2))
    dollars = scenario_data(appraisal=appraisal, loans=first)
    base = Scenario.model_validate(in_currency(dollars, currency))
    changed = base.changed(loans=second)

    def change(book: Book) -> None:
        for number, loan in enumerate(changed.loans, start=1):
            for field in ("amount", "rate_per_year", "term_months", "grace_months", "fee_share"):
                put(book, f"loan_{number}_{field}", getattr(loan, field))
            put(book, f"loan_{number}_repayment", KINDS[loan.repayment])
            put(book, f"loan_{number}_grace_interest", IN_GRACE[loan.grace_interest])
            months, shares = (cells(book, f"loan_{number}_payout_{part}") for part in ("months", "shares"))
            for place, (month, share) in enumerate(zip(months, shares, strict=True)):
                payout = loan.payouts[place] if place < len(loan.payouts) else None
                month.value = WORDS.month(payout.month) if payout else None
                share.value = payout.share if payout else None
            if loan.repayment == "harvest":
                for calendar, cell in enumerate(cells(book, f"loan_{number}_harvest_months"), start=1):
                    cell.value = "yes" if calendar in loan.harvest_months else "no"

    return Case(base, changed, change)


HOSTILE = ("=1+1", "+cmd|' /C calc'!A0", "@SUM(1+1)", "-1", '=HYPERLINK("x","y")', "http://x.invalid/=1")


def hostile() -> Scenario:
    """A farm whose every name would be a formula or a link in a careless file."""
    names = [stand(name=name, trees=5).model_dump() for name in HOSTILE]
    loan = {
        "name": HOSTILE[0],
        "amount": 100.0,
        "payouts": ({"month": "2027-01"},),
        "rate_per_year": 0.1,
        "term_months": 12,
    }
    return scenario(
        {"way_a": technique_data(label=HOSTILE[1])},
        about={"name": HOSTILE[2], "note": HOSTILE[3], "invented": True},
        stands=tuple(names),
        plan=({"stand": HOSTILE[0], "technique": "way_a", "trees": 3, "start": "2027-02"},),
        loans=(loan,),
    )


def standing() -> Scenario:
    """Trees under way by a graft, a planting with a crop between and gap planting; tools; loans of every kind."""
    base = farm("first_grafters")
    ways = base.model_dump()["techniques"] | {"gap_planting": priced_technique("gap_planting", "USD", 1.0)}
    names = [stand.name for stand in base.stands]
    entries = (
        {"stand": names[0], "technique": "side_graft", "trees": 90, "start": "2026-04", "taken": (20, 18)},
        {"stand": names[2], "technique": "grafted_seedling", "trees": 40, "start": "2026-05", "taken": (29,)},
        {"stand": names[0], "technique": "gap_planting", "trees": 10, "start": "2026-10", "taken": (7,)},
    )
    terms = {"rate_per_year": 0.11, "running": True, "fee_share": 0.01}
    early, both = ({"month": "2026-03"},), ({"month": "2026-06", "share": 0.4}, {"month": "2027-02", "share": 0.6})
    loans = (
        {"name": "Level", "amount": 900.0, "payouts": early, "term_months": 40, **terms},
        {"name": "Restated", "amount": 700.0, "payouts": early, "term_months": 30, "owed": 600.5, **terms},
        {
            "name": "Equal",
            "amount": 500.0,
            "payouts": early,
            "term_months": 24,
            "repayment": "equal_principal",
            **terms,
        },
        {"name": "In grace", "amount": 800.0, "payouts": both, "term_months": 50, "grace_months": 12, **terms},
        {
            "name": "Harvest",
            "amount": 600.0,
            "payouts": early,
            "term_months": 60,
            "grace_months": 14,
            "grace_interest": "added",
            "repayment": "harvest",
            "harvest_months": (4, 5, 11),
            "owed": 655.0,
            **terms,
        },
        {"name": "New", "amount": 400.0, "payouts": ({"month": "2027-05"},), "rate_per_year": 0.1, "term_months": 24},
    )
    plan = (
        {"stand": names[0], "technique": "side_graft", "trees": 60, "start": "2027-04"},
        {"stand": names[0], "technique": "gap_planting", "trees": 12, "start": "2027-05"},
    )
    places = {"stands__0__empty_places": 30, "tools_owned": {"saw": 9.0, "grafting_knife": 20.0}, "techniques": ways}
    return base.changed(plan=plan, under_way=entries, loans=loans, **places)


def standing_changed() -> Case:
    """Prices, wages, inflation, and the terms of loans under way whose grace is not over."""
    base = standing()
    changed = base.changed(
        market__price_per_kg=3.1,
        household__wage_per_day=9.0,
        appraisal__inflation=0.06,
        household__savings=700.0,
        loans__3__rate_per_year=0.2,
        loans__3__grace_months=18,
        loans__4__rate_per_year=0.07,
        loans__5__amount=777.0,
    )

    def change(book: Book) -> None:
        new = {"price_per_kg": 3.1, "wage_per_day": 9.0, "inflation": 0.06, "savings": 700.0}
        new |= {"loan_4_rate_per_year": 0.2, "loan_4_grace_months": 18, "loan_5_rate_per_year": 0.07}
        for name, number in {**new, "loan_6_amount": 777.0}.items():
            put(book, name, number)

    return Case(base, changed, change)


def several_rates() -> Case:
    """Trees that are cleared away at great cost in the last year: the change turns sign twice."""
    clearing = operation(month=115, days=1.2, materials={"bag": use(1.0)})
    way = technique_data(
        operations={"plant": operation(days=3.0), "clear": clearing},
        mature_crop={**technique_data()["mature_crop"], "value": 2.0, "high": 2.0},
    )
    plan = ({"stand": "Lower field", "technique": "way_a", "trees": 10, "start": "2027-01"},)
    # at a wage of 2.5 the last year still gains: one change of sign, one rate
    base = scenario({"way_a": way}, plan=plan, household={"family_days": 20.0, "wage_per_day": 2.5})

    def change(book: Book) -> None:
        put(book, "wage_per_day", 6.0)

    return Case(base, base.changed(household__wage_per_day=6.0), change)


def broken_loans() -> Case:
    """Terms that the program refuses, typed into the cells of eight sound loans."""
    sound = random_loan(random.Random(5), 0, 0.01) | {
        "amount": 1000.0,
        "payouts": ({"month": "2027-03", "share": 0.5}, {"month": "2027-09", "share": 0.5}),
        "term_months": 48,
        "grace_months": 12,
        "repayment": "harvest",
        "harvest_months": (4, 5),
    }
    base = scenario(loans=tuple(sound | {"name": f"Broken {number}"} for number in range(8)))

    def change(book: Book) -> None:
        put(book, "loan_1_amount", 1000.001)
        put(book, "loan_2_payout_shares", 0.4)
        put(book, "loan_3_payout_months", None)
        put(book, "loan_4_grace_months", 48)
        put(book, "loan_5_grace_months", 3)
        put(book, "loan_6_term_months", 121)
        for cell in cells(book, "loan_7_harvest_months"):
            cell.value = "no"
        put(book, "loan_8_term_months", 119)  # ends after the horizon, but its last harvest month does not

    return Case(base, base, change)


BROKEN = ("amount", "shares", "shares_without_month", "term", "payout", "horizon", "harvest", "sound")


def by_chance() -> Scenario:
    """Trees under way and planned that may be lost, pods lost, permanent shade, three payments."""
    base = standing()
    money = base.appraisal.currency
    key = base.plan[0].technique
    ways = base.model_dump()["techniques"]
    payments = (
        {"name": "Grant", "anchor": "start", "month": 2, "amount": figure(1.5, f"{money}/tree")},
        {"name": "Alive", "anchor": "established", "month": 6, "amount": figure(0.8, f"{money}/tree")},
        {"name": "Yearly", "anchor": "established", "month": 12, "until": 60, "amount": figure(0.3, f"{money}/tree")},
    )
    shade = {
        "crop_factor": figure(0.9, "factor on the crop"),
        "income": figure((0.0, 0.2), f"{money}/place/year by year after the start"),
        "days": figure((0.01,), "person-days/place/year by year after the start"),
    }
    ways[key] |= {
        "payments": payments,
        "permanent_shade": shade,
        "tree_loss_per_year": figure(0.02, "share/year"),
        "pods_lost": figure(0.05, "share"),
    }
    return base.changed(techniques=ways, stands__0__tree_loss_per_year=0.04, stands__0__pods_lost=0.1)


def by_chance_changed() -> Case:
    """Losses and amounts of payments typed over, and with them the price and the lender's fee."""
    base = by_chance()
    key, (name, field, price) = base.plan[0].technique, price_cell(base)
    changes: dict[str, Any] = {
        field: price * 0.85,
        "stands__0__tree_loss_per_year": 0.07,
        "stands__0__pods_lost": 0.2,
        f"techniques__{key}__tree_loss_per_year__value": 0.015,
        f"techniques__{key}__tree_loss_per_year__low": 0.015,
        f"techniques__{key}__pods_lost__value": 0.12,
        f"techniques__{key}__pods_lost__high": 0.12,
    }
    fees = {number: loan.fee_share + 0.015 for number, loan in enumerate(base.loans) if not loan.running}
    assert fees
    changes |= {f"loans__{number}__fee_share": fee for number, fee in fees.items()}
    amounts = (2.5, 0.4, 0.9)
    for place, amount in enumerate(amounts):
        for part in ("value", "low", "high"):
            changes[f"techniques__{key}__payments__{place}__amount__{part}"] = amount

    def change(book: Book) -> None:
        put(book, name, changes[field])
        put(book, "stand_1_loss", 0.07)
        put(book, "stand_1_pods", 0.2)
        put(book, f"way_{key}_loss", 0.015)
        put(book, f"way_{key}_pods", 0.12)
        for number, amount in enumerate(amounts, start=1):
            put(book, f"payment_{number}", amount)
        for number, fee in fees.items():
            put(book, f"loan_{number + 1}_fee_share", fee)

    return Case(base, base.changed(**changes), change)


MAKERS: dict[str, Callable[[], Case]] = {
    **{f"{name}_as_it_is": partial(lambda one: untouched(farm(one)), name) for name in FARMS},
    **{f"{name}_price_rate_grace": partial(lambda one: price_rate_and_grace(farm(one)), name) for name in FARMS},
    **{f"{name}_everything_else": partial(lambda one: everything_else(farm(one)), name) for name in FARMS[:1]},
    "loans_usd": lambda: random_loans(1, "USD", 0.01),
    "loans_xof": lambda: random_loans(2, "XOF", 1.0),
    "left_alone": lambda: untouched(scenario()),
    "several_rates": several_rates,
    "one_rate": lambda: untouched(several_rates().base),
    "standing_as_it_is": lambda: untouched(standing()),
    "standing_changed": standing_changed,
    "standing_loan_alone": lambda: untouched(scenario(loans=standing().model_dump()["loans"][:1])),
    "standing_trees_alone": lambda: untouched(standing().changed(plan=(), loans=(), tools_owned={})),
    "by_chance_as_it_is": lambda: untouched(by_chance()),
    "by_chance_changed": by_chance_changed,
    "hostile": lambda: untouched(hostile()),
    "broken_loans": broken_loans,
}
FRENCH = "few_hands_as_it_is in French"
"""One of them in another language: its sheets, heads and words stand in formulas too."""
SOUND = [name for name in MAKERS if name != "broken_loans"]
WITHOUT_LOANS = ("left_alone", "several_rates", "one_rate", "standing_trees_alone")
WITH_LOANS = [name for name in SOUND if name not in WITHOUT_LOANS]
UNCHANGED = [
    name for name in SOUND if name in ("left_alone", "one_rate", "hostile") or name.endswith(("_as_it_is", "_alone"))
]


@cache
def case(name: str) -> Case:
    return MAKERS[name]()


ALWAYS_RECALCULATE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item></oor:items>
"""


@cache
def written(name: str, language: str = "en") -> bytes:
    """The workbook of a case's first scenario."""
    return workbook(case(name).base, Words(language), DAY)


@pytest.mark.parametrize("language", languages())
def test_names_of_sheets_are_short_different_and_without_signs_that_no_sheet_may_have(language: str) -> None:
    """At most 31 letters, none of []:*?/\\, no quote at an end, large and small letters alike (Microsoft: Rename a
    worksheet); so too with the largest number that a loan has."""
    words = Words(language)
    names = [words(key, n=99) for key in words.keys() if key.startswith("workbook.sheet.")]  # noqa: SIM118
    assert len({name.casefold() for name in names}) == len(names) > 10
    assert [name for name in names if len(name) > 31 or re.search(r"[\[\]:*?/\\]|^'|'$", name)] == []


@pytest.mark.long
def test_nothing_in_the_workbook_has_a_second_name() -> None:
    book = opened(written("few_hands_as_it_is"))
    said = [cell.value for sheet in book for row in sheet for cell in row if isinstance(cell.value, str)]
    assert len(said) > 1000
    assert other_names(" ".join([*book.sheetnames, *said])) == {}


def without_cached_values(data: bytes) -> bytes:
    """The same file with formulas only: nothing is left to read back but what is worked out."""
    out = BytesIO()
    with ZipFile(BytesIO(data)) as old, ZipFile(out, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name.startswith("xl/worksheets/sheet"):
                content, count = re.subn(rb"</f><v>[^<]*</v>", b"</f>", content)
                assert b"<f>" not in content or count
                assert b"</f><v>" not in content
            new.writestr(name, content)
    return out.getvalue()


def office(kind: str, folder: Path, files: Iterable[Path]) -> None:
    """Have LibreOffice work these workbooks out anew and write each in another kind of file into a folder."""
    soffice = shutil.which("soffice")
    if soffice is None:
        missing("LibreOffice (soffice)")
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(ALWAYS_RECALCULATE, "utf-8")
    options = [f"-env:UserInstallation={profile.as_uri()}", "--headless", "--norestore", "--convert-to", kind]
    subprocess.run([soffice, *options, "--outdir", folder, *files], check=True, capture_output=True, timeout=900)


@pytest.fixture(scope="module")
def recalculated(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Book]:
    """Every case with its cells changed, worked out anew in one run of LibreOffice."""
    folder = tmp_path_factory.mktemp("workbooks")
    done, files = folder / "done", []
    for name in MAKERS:
        files.append(folder / f"{name}.xlsx")
        data = without_cached_values(written(name))
        if case(name).changed is not case(name).base or name == "broken_loans":
            book = opened(data)
            case(name).change(book)
            book.save(files[-1])
        else:
            files[-1].write_bytes(data)
    french = folder / f"{FRENCH}.xlsx"
    french.write_bytes(without_cached_values(written(FRENCH.partition(" in ")[0], "fr")))
    office("xlsx", done, [*files, french])
    names = [*MAKERS, french.stem]
    return {name: openpyxl.load_workbook(done / f"{name}.xlsx", data_only=True) for name in names}


def shown(number: float | None, otherwise: str) -> float | str:
    return otherwise if number is None else number


@pytest.mark.office
@pytest.mark.long
@pytest.mark.parametrize("name", SOUND)
def test_recalculated_workbook_gives_the_programs_results(recalculated: dict[str, Book], name: str) -> None:
    book, changed = recalculated[name], held(case(name).changed)
    flows = farm_flows(changed, changed.plan)
    cash, measures = household_cash(changed, flows), appraise_plan(changed, flows)
    side = cash.with_plan
    never = f"not within {WORDS('unit.years', n=changed.appraisal.horizon_years)}"
    money = {
        "npv": measures.npv,
        "equivalent_annual_value": measures.equivalent_annual_value,
        "final_balance": side.final_balance,
        "final_balance_without": cash.without.final_balance,
        "deepest": side.deepest,
        "reserve_needed": side.reserve_needed,
    }
    for key, expected in money.items():
        assert value(book, f"result_{key}") == pytest.approx(expected, rel=1e-12, abs=CENT), key
    unless = {"one": "", "several": "not unique", "none": "none"}[measures.irr.verdict]
    ratios = {
        "irr": shown(measures.irr.value, unless),
        "mirr": shown(measures.mirr, "–"),
        "benefit_cost": shown(measures.benefit_cost, "–"),
        "net_benefit_cost": shown(measures.net_benefit_cost, "–"),
        "payback_years": shown(measures.payback_years, never),
        "discounted_payback_years": shown(measures.discounted_payback_years, never),
    }
    for key, told in ratios.items():
        assert value(book, f"result_{key}") == (told if isinstance(told, str) else pytest.approx(told, abs=RATIO)), key
    assert value(book, "result_deepest_month") == WORDS.month(cash.months[side.deepest_month])
    years = {"gap_years": side.gap_years, "gap_years_without": cash.without.gap_years, "dip_years": cash.dip_years}
    for key, found in years.items():
        assert str(value(book, f"result_{key}")) == (", ".join(map(str, found)) or "none"), key


@pytest.mark.office
@pytest.mark.long
@pytest.mark.parametrize("name", WITH_LOANS)
def test_recalculated_loans_follow_their_terms(recalculated: dict[str, Book], name: str) -> None:
    """Schedules to the last unit, coverage by year, payments without money."""
    book, lending = recalculated[name], appraise_loans(held(case(name).changed))
    parts = {
        "Interest in the payment": "interest_in_payment",
        "Repaid by it": "principal_in_payment",
        "Interest added": "interest_added",
        "Off what is owed": "principal",
        "Payment,": "debt_service",
        "Owed,": "balance",
        "Fee": "fee",
    }
    for number, loan in enumerate(lending.loans, start=1):
        plan = loan.as_stated.schedule
        for head, attribute in parts.items():
            found = np.array(column(book, f"Loan {number}", head, 17), dtype=float)
            np.testing.assert_allclose(found, getattr(plan, attribute), atol=1e-6, rtol=0)
        assert value(book, f"loan_{number}_check") == "sound"
        cost, before = loan.as_stated.credit_cost, held(case(name).base).loans[number - 1]
        told = {"cost": cost.effective_per_year, "more": cost.more_than_received}
        if loan.loan.running and loan.loan != before:  # its first months are not in the workbook
            told = dict.fromkeys(told, "–")
        for key, expected in told.items():
            found = value(book, f"loan_{number}_{key}")
            assert found == (expected if expected == "–" else pytest.approx(expected, abs=1e-6)), key
    rows = lending.loans[0].as_stated.cover_rows()
    for key in ("cover_farm_only", "cover_after_living"):
        found = [cell.value or None for cell in cells(book, f"{key}_all")]
        expected = [row[key] for row in rows]
        assert [one is None for one in found] == [one is None for one in expected]
        assert [f for f in found if f is not None] == pytest.approx([e for e in expected if e is not None], abs=RATIO)
    bands = {"good": "good", "caution": "caution", "high_risk": "high risk", None: None}
    told = [text or None for text in column(book, "Coverage by year", "Band", 4)]
    assert told == [bands[row["band_farm_only"]] for row in rows]
    missed = sum(due.missed for loan in lending.loans for due in loan.dues)
    assert value(book, "result_missed") == missed
    target = case(name).changed.loan_test.cover
    covers = [row["cover_after_living"] for row in rows if row["cover_after_living"] is not None]
    assert value(book, "result_years_below_target") == sum(cover < target for cover in covers)
    assert value(book, "result_lowest_cover_after_living") == pytest.approx(min(covers), abs=RATIO)


@pytest.mark.office
@pytest.mark.long
def test_several_rates_are_named_and_none_is_called_the_rate(recalculated: dict[str, Book]) -> None:
    changed = case("several_rates").changed
    flows = farm_flows(changed, changed.plan)
    found = irr(by_year(flows.economic_change))
    assert found.verdict == "several"  # else this test tests nothing
    book = recalculated["several_rates"]
    assert value(book, "result_irr") == "not unique"
    assert value(book, "result_rates") == sum(root >= -0.9 for root in found.roots)
    roots = [value(book, f"result_rate_{number}") for number in range(1, len(found.roots) + 1)]
    assert roots == pytest.approx(found.roots, abs=RATIO)
    assert isinstance(value(recalculated["one_rate"], "result_irr"), float)


@pytest.mark.office
@pytest.mark.long
def test_terms_that_cannot_be_are_named(recalculated: dict[str, Book]) -> None:
    book = recalculated["broken_loans"]
    said = [value(book, f"loan_{number}_check") for number in range(1, 9)]
    assert said == [WORDS(f"workbook.check.{key}") for key in BROKEN]
    assert book["Measures"]["A3"].value == WORDS("workbook.check.some")
    assert not recalculated["loans_usd"]["Measures"]["A3"].value


def test_the_program_draws_the_line_at_the_horizon_where_the_sheet_does() -> None:
    terms = loan_terms(case("broken_loans").base, case("broken_loans").base.loans[0])
    assert schedule(replace(terms, term_months=119), 120, 1).instalment_months[-1] == 112  # May of year 10
    with pytest.raises(LoanError):
        schedule(replace(terms, term_months=121), 120, 1)


@pytest.mark.office
@pytest.mark.long
@pytest.mark.parametrize("name", [*MAKERS, FRENCH])
def test_no_cell_is_an_error(recalculated: dict[str, Book], name: str) -> None:
    for page in recalculated[name]:
        for row in page.iter_rows():
            for cell in row:
                assert cell.data_type != "e", f"{page.title}!{cell.coordinate}: {cell.value}"
                assert not re.match(r"#[A-Z/0]+[!?]|#N/A|Err:\d", str(cell.value)), f"{page.title}!{cell.coordinate}"


@pytest.mark.office
@pytest.mark.long
@pytest.mark.parametrize("name", [*UNCHANGED, FRENCH])
def test_cached_values_are_what_a_second_program_finds(recalculated: dict[str, Book], name: str) -> None:
    """Every cell of every sheet: a reader without recalculation sees the right numbers; so too one in French."""
    of, french, _ = name.partition(" in ")
    cached = opened(written(of, "fr" if french else "en"), data_only=True)
    assert cached.properties.language == ("fr" if french else "en")
    for page in cached:
        other = recalculated[name][page.title]
        for row in page.iter_rows():
            for cell in row:
                here, there = cell.value, other[cell.coordinate].value
                where = f"{page.title}!{cell.coordinate}"
                if isinstance(here, int | float) and isinstance(there, int | float):
                    assert here == pytest.approx(there, rel=1e-9, abs=1e-7), where
                else:
                    assert (here or "") == (there or ""), where


@pytest.mark.office
@pytest.mark.long
def test_hostile_names_stay_text(recalculated: dict[str, Book]) -> None:
    texts = [
        cell.value
        for page in recalculated["hostile"]
        for row in page.iter_rows()
        for cell in row
        if cell.data_type == "s"
    ]
    assert set(HOSTILE[:4]) <= set(texts)


# Without LibreOffice


def pages(book: Book) -> Iterator[Any]:
    for page in book:
        for row in page.iter_rows():
            yield from row


def sheets_of(data: bytes) -> list[str]:
    """The sheets as they stand in the file."""
    with ZipFile(BytesIO(data)) as file:
        return [file.read(name).decode() for name in file.namelist() if name.startswith("xl/worksheets/sheet")]


def formulas_of(data: bytes) -> list[str]:
    """Every formula in the file."""
    return [unescape(text) for sheet in sheets_of(data) for text in re.findall(r"<f>(.*?)</f>", sheet)]


def test_what_people_wrote_is_never_a_formula_or_a_link() -> None:
    book = opened(written("hostile"))
    raw = [cell for cell in pages(book) if cell.value in HOSTILE]
    assert {cell.value for cell in raw} == set(HOSTILE)
    # openpyxl calls a text that begins with = a formula, whatever the file says: the file itself is asked
    formulas = formulas_of(written("hostile"))
    assert len(formulas) > 1000
    assert not [text for text in formulas if f"={text}" in HOSTILE or "HYPERLINK" in text or "cmd|" in text]
    assert not [sheet for sheet in sheets_of(written("hostile")) if "<hyperlink" in sheet]


# OASIS OpenFormula 1.2, part 2, names every one of these.
OPEN_FORMULA = {
    "ABS",
    "AND",
    "COUNT",
    "COUNTIF",
    "IF",
    "IFERROR",
    "INDEX",
    "IRR",
    "ISNUMBER",
    "MATCH",
    "MAX",
    "MIN",
    "MIRR",
    "MOD",
    "NPV",
    "OR",
    "PMT",
    "ROUND",
    "ROW",
    "SUM",
    "SUMPRODUCT",
}


@pytest.mark.long
@pytest.mark.parametrize("name", some_plain(FARMS, ["cooperative_nursery", "few_hands"]))
def test_only_standard_functions_stand_in_formulas(name: str) -> None:
    formulas = formulas_of(written(f"{name}_as_it_is"))
    used = {word for text in formulas for word in re.findall(r"([A-Z][A-Z0-9.]*)\(", re.sub(r'"[^"]*"', "", text))}
    assert used <= OPEN_FORMULA
    assert {"NPV", "IRR", "MIRR"} <= used


@pytest.mark.long
def test_same_scenario_and_date_give_the_same_bytes() -> None:
    base = case("one_rate").base
    assert workbook(base, WORDS, DAY) == written("one_rate")
    assert workbook(base, WORDS, date(2027, 2, 1)) != written("one_rate")


def test_only_input_cells_can_be_changed_and_they_keep_the_models_bounds() -> None:
    book = opened(written("cooperative_nursery_as_it_is"))
    unlocked = {
        (page.title, cell.coordinate)
        for page in book
        for row in page.iter_rows()
        for cell in row
        if not cell.protection.locked
    }
    bounded = {
        (page.title, f"{get_column_letter(area.min_col)}{area.min_row}")
        for page in book
        for rule in page.data_validations.dataValidation
        for area in rule.sqref.ranges
    }
    legends = {(page, cell) for page, cell in unlocked - bounded if book[page][cell].value == "A cell to change"}
    assert unlocked - legends == bounded
    assert {page for page, _ in bounded} == {"Inputs", "Loan terms"}
    assert all(page.protection.sheet and not page.protection.password for page in book)
    # bounds as issue and method state them: a discount rate from 0 to 1, grace in whole months from 0 on
    rules = {
        name: rule
        for name in ("discount_rate", "loan_1_grace_months", "loan_1_amount", "loan_1_fee_share")
        for rule in book[cells(book, name)[0].parent.title].data_validations.dataValidation
        if cells(book, name)[0].coordinate in rule.sqref
    }
    assert (rules["discount_rate"].type, rules["discount_rate"].formula1, rules["discount_rate"].formula2) == (
        "decimal",
        "0",
        "1",
    )
    assert (rules["loan_1_grace_months"].type, rules["loan_1_grace_months"].formula1) == ("whole", "0")
    assert ">0" in rules["loan_1_amount"].formula1
    assert "<1" in rules["loan_1_fee_share"].formula1


def test_every_page_prints_across_a4_and_tells_its_origin() -> None:
    base = farm("few_hands")
    book = opened(written("few_hands_as_it_is"))
    for page in book:
        assert (page.page_setup.orientation, int(page.page_setup.paperSize)) == ("landscape", 9)
        assert page.page_setup.fitToWidth in (None, 1)
        assert base.digest in page.oddFooter.left.text
        assert page.print_area
    for title in ("Balance by month", "Loan 1", "Months with the plan", "Years", "Measures"):
        assert book[title].print_title_rows
        assert book[title].freeze_panes


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of some workbooks printed by LibreOffice, as PDF."""
    folder = tmp_path_factory.mktemp("printed")
    for name in PRINTED:
        (folder / f"{name}.xlsx").write_bytes(written(name))
    office("pdf", folder, [folder / f"{name}.xlsx" for name in PRINTED])
    return folder


PRINTED = ("cooperative_nursery_as_it_is", "few_hands_as_it_is", "by_chance_as_it_is")
"""The largest demo farm, one of large amounts in whole units, and one with losses and payments."""


def page_words(path: Path) -> list[str]:
    """The words of each printed page, those broken over lines of a cell too."""
    if shutil.which("pdftotext") is None:
        missing("pdftotext")
    told = subprocess.run(["pdftotext", "-raw", path, "-"], check=True, capture_output=True, text=True).stdout
    return told.split("\f")[:-1]


def sizes_of_type(pdf: bytes) -> set[float]:
    """Every size of type that stands in a PDF, in points (ISO 32000-1, 9.3.1: the operator Tf)."""
    found: set[float] = set()
    for start in re.finditer(rb"stream\r?\n", pdf):
        with suppress(zlib.error):
            stream = zlib.decompressobj().decompress(pdf[start.end() :])
            if b"BT" in stream:
                found |= {float(size) for size in re.findall(rb"/F\d+ ([\d.]+) Tf", stream)}
    return found


@pytest.mark.office
@pytest.mark.long
@pytest.mark.parametrize("name", PRINTED)
def test_every_sheet_can_be_read_when_it_is_printed(printed: Path, name: str) -> None:
    """Type of 8 points or more, no number cut, each head above each of its pages, each column whole on one of them."""
    sizes = sizes_of_type((printed / f"{name}.pdf").read_bytes())
    assert len(sizes) > 5
    assert min(sizes) >= 8
    pages = page_words(printed / f"{name}.pdf")
    assert not any("##" in page for page in pages)
    for sheet in opened(written(name)):
        here = [page for page in pages if re.search(rf"\b{re.escape(sheet.title)} · \d+ / ", page, re.MULTILINE)]
        assert here, sheet.title
        if not sheet.print_title_rows:
            continue
        left, _, right, _ = range_boundaries(sheet.print_area.split("!")[-1].replace("$", ""))
        head = int(sheet.print_title_rows.strip("$").split(":")[0])
        fixed = range_boundaries(sheet.print_title_cols)[2] if sheet.print_title_cols else 0
        ends = [*(one.id for one in sheet.col_breaks.brk), right]
        chunks = [[*range(left, fixed + 1), *range(begin + 1, end + 1)] for begin, end in pairwise([fixed, *ends])]
        heads = [[str(sheet.cell(head, place).value) for place in chunk] for chunk in chunks]
        seen = {whole for page in here for whole, texts in enumerate(heads) if holds(page, texts)}
        assert seen == set(range(len(heads))), sheet.title
        assert all(any(holds(page, texts) for texts in heads) for page in here), sheet.title


def holds(page: str, texts: list[str]) -> bool:
    """Whether all words of these texts stand on a page, each as often as they name it."""
    wanted = Counter(word for text in texts for word in text.split())
    return not wanted - Counter(page.split())


def test_read_me_says_what_the_file_is() -> None:
    base = farm("few_hands")
    read = opened(written("few_hands_as_it_is"), read_only=True)
    texts = {cell.value for row in read["Read me"].iter_rows() for cell in row}
    assert {base.about.name, base.digest, "January 31, 2027", WORDS("caution.debt")} <= texts
    assert WORDS("compare.note.invented") in texts


def test_every_figure_of_every_way_stands_with_its_source() -> None:
    base = farm("cooperative_nursery")
    rows = list(
        opened(written("cooperative_nursery_as_it_is"), read_only=True)["Assumptions"].iter_rows(values_only=True)
    )
    text = [row for row in rows if row[5]]
    figures = sum(
        5 + (way.attempt_factor is not None) + 4 - 1 + len(way.operations) for way in base.techniques.values()
    )
    assert len(text) > figures
    published = [row for row in text if row[5] == "published"]
    assert published
    assert all(row[6] for row in published)


@pytest.mark.parametrize("name", some_plain(FARMS, ["cooperative_nursery", "few_hands"]))
def test_the_sheet_on_risk_holds_the_programs_own_values(name: str) -> None:
    base = farm(name)
    rows = list(opened(written(f"{name}_as_it_is"), read_only=True)["Risk"].iter_rows(values_only=True))
    by_name = {str(row[0]): row for row in rows if row[0]}
    assert WORDS("workbook.risk.note") in {cell for row in rows for cell in row}
    found = risk(base)
    answers = list(found.answers.values())
    money = [figure for answer in answers for figure in (answer.npv.p10.value, answer.npv.p10.error)]
    assert by_name["Worth, one in ten is lower"][1 : 1 + len(money)] == pytest.approx(money)
    chances = [figure for answer in answers for figure in (answer.any_gap.value, answer.any_gap.error)]
    assert by_name["Chance of a year that spends more than it brings"][1 : 1 + len(chances)] == pytest.approx(chances)
    first_year = Voice(WORDS, "USD", base.appraisal.start).year(1)
    years = [row for row in rows if row[0] == first_year]
    assert len(years) == 2
    assert years[0][1] == pytest.approx(answers[0].gap_by_year[0].value)
    fans = [float(row[0]) for answer in answers for row in answer.fan]
    assert years[1][1 : 1 + len(fans)] == pytest.approx(fans)
    cases = {(row[0], row[1]): row[2:5] for row in rows if isinstance(row[2], int | float)}
    for key, hard in stress_tests(base).rows.items():
        strategy = WORDS("risk.strategy.plan") if key == "plan" else WORDS(f"technique.{key}")
        for case in hard:
            told = cases[WORDS(f"risk.case.{case.case}"), strategy]
            assert told == pytest.approx((case.npv, case.npv_change, case.deepest), abs=1e-6)
    assert not [cell for row in rows for cell in row if isinstance(cell, str) and cell.startswith("=")]
    assert by_name["Price: size of the moves"][4] == "published"
    assert "World Bank" in by_name["Price: size of the moves"][5]


def test_the_sheet_on_risk_tells_of_each_lower_price() -> None:
    base = farm("few_hands").changed(loan_test__lower_prices=(0.125, 0.4))
    rows = list(opened(workbook(base, WORDS, DAY), read_only=True)["Risk"].iter_rows(values_only=True, max_col=5))
    judged = appraise_loans(held(base)).loans[0]
    told = {row[1]: row for row in rows if row[0] == judged.loan.name}
    assert list(told) == pytest.approx([0.125, 0.4])
    for share, verdict in zip(told, judged.at_price.values(), strict=True):
        assert told[share][2] == ("yes" if verdict.holds else "no")
        assert told[share][3:] == (verdict.summary()["missed"], pytest.approx(verdict.summary()["lowest_balance"]))


def test_every_unit_is_that_of_its_number() -> None:
    """A monthly rate is no yearly one, the price of dry beans is by the kilogram, a payback is in years."""
    book = opened(written("few_hands_as_it_is"))
    units = {cell.value: cell.offset(0, 2).value for cell in book["Inputs"]["A"] if cell.value}
    assert units["Interest on savings, a month"] == "percent a month, such as 1%"
    wet = opened(workbook(wet_farm(), WORDS, DAY))["Inputs"]
    assert {c.value: c.offset(0, 2).value for c in wet["A"]}["Price of dry beans"] == "USD per kg of dry beans"
    for name in ("payback_years", "discounted_payback_years"):
        assert cells(book, f"result_{name}")[0].number_format == '0.0" years"'
    for name in ("gap_years", "gap_years_without", "dip_years"):
        assert "project year" in cells(book, f"result_{name}")[0].offset(0, -1).value


def wet_farm() -> Scenario:
    """A farm that sells wet beans."""
    data = scenario_data()
    wet = {"price_per_kg": None, "wet_beans": {"price_per_kg": 1.2, "dry_per_wet": 0.4}}
    return Scenario.model_validate(data | {"market": data["market"] | wet})


def test_no_source_of_an_input_is_cut_off_by_what_stands_on_its_right() -> None:
    page = opened(written("few_hands_as_it_is"))["Inputs"]
    sources = [cell for cell in page["D"] if cell.value and cell.offset(0, 1).value]
    long = [cell for cell in sources if len(cell.value) > page.column_dimensions["D"].width]
    assert long
    for cell in long:
        assert cell.alignment.wrap_text
        lines = len(cell.value) / page.column_dimensions["D"].width
        assert page.row_dimensions[cell.row].height >= LINE_HEIGHT * lines
    breaks = [brk.id for brk in page.row_breaks.brk]  # what goes by month and by year begins a page of its own
    begin = [WORDS(f"workbook.inputs.{key}") for key in ("twelve", "price_path")]
    assert [page.cell(row + 1, 1).value for row in breaks] == begin


def test_a_worth_at_an_absurd_rate_is_written_short() -> None:
    page = opened(written("few_hands_as_it_is"))["Rates of return"]
    assert all("E+" in page.cell(row, 2).number_format for row in range(5, page.max_row + 1))
    groups = page.column_dimensions.values()  # columns of one width stand in one
    assert max(group.width for group in groups) < 30
    whole = sum(group.width * (group.max - group.min + 1) for group in groups)
    assert whole >= 0.9 * len(page["A2"].value)  # the note above is not cut where the print ends


def test_a_scenario_as_plain_data_has_no_loan_sheets() -> None:
    book = opened(workbook(Scenario.model_validate(scenario_data()), WORDS, DAY))
    assert "Loan terms" not in book.sheetnames
    assert WORDS("workbook.readme.no_plan") in {cell.value for cell in book["Read me"]["B"]}


# The command


@pytest.mark.long
def test_the_command_writes_the_workbook_and_never_over_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, target = scenario_folder() / "few_hands.toml", tmp_path / "lender.xlsx"
    assert main(["workbook", str(source), "-o", str(target)]) == 0
    assert capsys.readouterr().out == f"Written: {target}\n"
    found = opened(target.read_bytes(), data_only=True)
    base = farm("few_hands")
    assert value(found, "result_npv") == pytest.approx(appraise_plan(base, farm_flows(base, base.plan)).npv)
    before = target.read_bytes()
    assert main(["workbook", str(source), "-o", str(target)]) == 2
    assert target.read_bytes() == before
    assert main(["workbook", str(source)]) == 2
    assert capsys.readouterr().err.count("renovation workbook FILE -o PATH") == 1


ROOM = Path(renovation.show.workbook.__file__).parent


@pytest.mark.parametrize("module", sorted(path.name for path in ROOM.glob("*.py")))
def test_no_sentence_stands_in_the_code(module: str) -> None:
    """Two words in a row in a text that is no docstring and no unit would be a sentence outside the catalogue."""
    tree = ast.parse((ROOM / module).read_text("utf-8"))
    spoken = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    texts = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in spoken
    ]
    assert not [text for text in texts if re.search(r"[^\W\d_]{2,} [^\W\d_]{2,}", text)]
