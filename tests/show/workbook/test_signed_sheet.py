"""The sheet of a loan after signing: the program's own figures, and live where what was paid is typed over."""

import io
import shutil
import subprocess
from datetime import date

import openpyxl
import pytest
from screens.looking import missing
from show.workbook.test_workbook import ALWAYS_RECALCULATE, opened, put, without_cached_values

from renovation.decide.after_signing import after_signing
from renovation.decide.dossier import Dossier
from renovation.inputs import LoanMoney, LoanRecord, SeasonRecord, demo_scenario
from renovation.show.workbook import workbook_of
from renovation.show.workbook.signed import TOP, signed_in
from renovation.words import Words

SHEET = "After signing 1"
FARM = demo_scenario("few_hands")


def record(**months):
    rows = tuple(LoanMoney(month=f"2027-{month[1:]}", paid=money) for month, money in months.items())
    return SeasonRecord(
        season="2026-09", money_in_hand=60_000.0, loans=(LoanRecord(loan="Three-year loan", by_month=rows),)
    )


def written(found):
    return workbook_of(Dossier(FARM, draws=32, signed=found), Words("en"), date(2026, 11, 29))


def columns_of(book):
    sheet = book[SHEET]
    heads = [cell.value for cell in sheet[TOP]]
    return {head: [sheet.cell(TOP + 1 + row, place).value for row in range(12)] for place, head in enumerate(heads, 1)}


@pytest.mark.long
def test_the_sheet_holds_the_account_and_there_is_none_without_a_record():
    found = after_signing(FARM, record(m02=8750.0))
    shown = columns_of(openpyxl.load_workbook(io.BytesIO(written(found)), data_only=True))
    account = found.loans[0].season.account
    assert (shown["Paid"], shown["Late"]) == (account.paid.tolist(), account.late.tolist())
    assert signed_in(Dossier(FARM)) == []


@pytest.mark.office
@pytest.mark.long
def test_typed_over_it_is_the_programs_own_account(tmp_path):
    """Five months' payments and a late charge of 6 % a year, recalculated by LibreOffice."""
    soffice = shutil.which("soffice")
    if soffice is None:
        missing("LibreOffice (soffice)")
    book = opened(without_cached_values(written(after_signing(FARM, record(m02=8750.0)))))
    other = record(m02=0.0, m03=9000.0, m04=20_000.0, m05=123.0, m08=8750.0)
    charged = FARM.changed(loans__0__late_rate_per_year=0.06)
    account = after_signing(charged, other).loans[0].season.account
    put(book, "loan_1_late_rate", 0.06)
    place = [cell.value for cell in book[SHEET][TOP]].index("Paid") + 1
    for row, paid in enumerate(account.paid.tolist(), start=TOP + 1):
        book[SHEET].cell(row, place).value = paid
    profile, done = tmp_path / "profile", tmp_path / "done"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(ALWAYS_RECALCULATE, "utf-8")
    book.save(tmp_path / "signed.xlsx")
    options = [f"-env:UserInstallation={profile.as_uri()}", "--headless", "--norestore", "--convert-to", "xlsx"]
    file = str(tmp_path / "signed.xlsx")
    subprocess.run([soffice, *options, "--outdir", str(done), file], check=True, capture_output=True, timeout=300)
    again = columns_of(openpyxl.load_workbook(done / "signed.xlsx", data_only=True))
    names = {"Due": "due", "Interest": "interest", "Late charge": "late_charge", "Owed at the end": "balance"}
    for head, name in {**names, "Late": "late"}.items():
        assert again[head] == pytest.approx(getattr(account, name).tolist(), abs=1e-6), head
