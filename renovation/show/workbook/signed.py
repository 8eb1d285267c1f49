"""A sheet for each loan that was signed: the season's account, live, with what was paid to be typed over.

Due, payouts and the contract's balance are those of the loan's own sheet, month by month; where a payout did not come
they stand as numbers, for the contract goes on with what was paid out.
"""

from collections.abc import Sequence

from renovation.decide.dossier import Dossier
from renovation.decide.signed import SignedLoan
from renovation.inputs import Loan, LoanMoney, declared
from renovation.money.loan_account import LoanAccount
from renovation.money.loans import Schedule
from renovation.show.workbook.book import Book, Sheet
from renovation.show.workbook.loans import LoanSheet
from renovation.show.workbook.table import SheetColumn, SheetTable, column
from renovation.types import FloatArray

TOP = 8
"""The first row of months, counted from 0."""


def signed_in(dossier: Dossier) -> list[tuple[int, SignedLoan]]:
    """The loans of a recorded season of which something was paid out, with their numbers; none without a record."""
    numbers = {loan.name: number for number, (loan, _) in enumerate(dossier.loans, start=1)}
    found = () if dossier.signed is None else dossier.signed.loans
    seasons = (one.season for one in found if one.season is not None and one.season.account is not None)
    return [(numbers[one.loan.name], one) for one in seasons]


def write_signed(book: Book, sheet: Sheet, one: SignedLoan, loan: LoanSheet) -> None:
    """The account of one loan of which something was paid out."""
    account, plan = one.account, one.plan
    if account is None or plan is None:
        return
    words, n = book.words, loan.name
    book.text(sheet, 0, 0, words("workbook.signed.title", n=words.number(loan.number)), "title")
    book.text(sheet, 1, 0, one.loan.name, "strong")
    book.text(sheet, 2, 0, words("workbook.signed.about"), "note")
    book.text(sheet, 3, 0, words("workbook.loan.owed_before"))
    owed = f"={n}_owed_before" if one.loan.running else "=0"
    book.formula(sheet, (3, 3), owed, "exact", account.owed_before)
    book.name(f"{n}_season_owed", sheet, (3, 3))
    book.text(sheet, 4, 0, words(declared(Loan, "late_rate_per_year").label_key))
    field = (Loan, "late_rate_per_year")
    book.number_input(sheet, (4, 3), one.loan.late_rate_per_year, "rate", field)
    book.name(f"{n}_late_rate", sheet, (4, 3))
    table = SheetTable(book, sheet, TOP, _columns(book, account, plan, loan, follows=one.paid_out is one.loan))
    table.write({"loan": loan.table})
    for row, paid in enumerate(account.paid, start=TOP):
        book.number_input(sheet, (row, table.place("paid")), float(paid), "exact", (LoanMoney, "paid"))
    book.pages(sheet, TOP - 1, (table.last_row, table.last_column), fixed_columns=1)


def _columns(book: Book, account: LoanAccount, plan: Schedule, loan: LoanSheet, *, follows: bool) -> list[SheetColumn]:
    """Month, due, payout, paid, interest, late charge, owed before and after, by the contract, late.

    follows: whether all was paid out as the contract says.
    """
    months, n = account.due.size, loan.name
    names = loan.dossier.labels[:months]

    def live(key: str) -> str | None:
        return f"={{loan.{key}}}" if follows else None

    def cells(
        key: str, values: FloatArray | Sequence[float], formula: str | None, first: str | None = None
    ) -> SheetColumn:
        return column(book, key, "exact", values, formula, first=first, width=14, under="workbook.signed_column")

    def rounded(formula: str) -> str:
        return f"=ROUND({formula}+{book.unit * 1e-9:.0E},{book.digits})"

    balance = f"ROUND({{before}}+{{payout}}+{{interest}}+{{late_charge}}-{{paid}},{book.digits})"
    return [
        column(book, "month", "text", [book.words.month(label) for label in names], width=16),
        cells("due", account.due, live("service")),
        cells("payout", (plan.payout + plan.fee)[:months], live("payout")),
        cells("paid", account.paid, None),
        cells("interest", account.interest, rounded(f"{{before}}*{n}_rate_per_year/12")),
        cells("late_charge", account.late_charge, rounded(f"{{late.before}}*{n}_late_rate/12"), "=0"),
        cells(
            "before", [account.owed_before, *account.balance[:-1].tolist()], "={balance.before}", f"={n}_season_owed"
        ),
        cells("balance", account.balance, f"=MAX(0,{balance})"),
        cells("contract", plan.balance[:months], live("balance")),
        cells("late", account.late, f"=MAX(0,ROUND({{balance}}-{{contract}},{book.digits}))"),
    ]
