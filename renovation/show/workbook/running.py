"""Loans under way: what a schedule that goes on needs to know of the months before the first."""

from itertools import count

from pydantic import BaseModel

from renovation.decide.dossier import Dossier
from renovation.inputs import Loan, Payout, declared
from renovation.money import Schedule
from renovation.show.workbook.book import Book, Sheet


def before_month_0(plan: Schedule) -> tuple[float, float]:
    """What a loan paid out before month 0: money, fee included, and its share of the amount."""
    share = sum(part for month, part in plan.terms.payouts if month < 0)
    return plan.terms.amount - float((plan.payout + plan.fee).sum()) if share else 0.0, share


def contract_instalment(plan: Schedule) -> float | None:
    """The instalment of a loan whose grace was over before month 0, of equal principal its principal; else None."""
    if plan.terms.end_of_grace >= 0:
        return None
    paid = plan.principal if plan.terms.repayment == "equal_principal" else plan.debt_service
    return float(paid[plan.instalment_months[0]])


def write_running(book: Book, sheet: Sheet, rows: "count[int]", dossier: Dossier) -> None:
    """Of loans under way: what is owed before the first month, share paid out, interest not yet paid, instalment."""
    row = next(rows)
    book.text(sheet, row, 0, book.words("workbook.loan.running"), "section")
    book.text(sheet, row, 1, book.words("workbook.loan.running_help"), "note")
    fields: tuple[tuple[str, str, type[BaseModel], str], ...] = (
        ("owed_before", "price", Loan, "owed"),
        ("share_before", "rate", Payout, "share"),
        ("unpaid_before", "price", Loan, "amount"),
        ("contract_instalment", "price", Loan, "amount"),
    )
    for key, kind, model, field in fields:
        row = next(rows)
        book.text(sheet, row, 0, book.words(f"workbook.loan.{key}"))
        book.text(sheet, row, 1, book.unit_of(declared(model, field)))
        for column, (loan, plan) in enumerate(dossier.loans, start=2):
            if loan.running:
                values = {
                    "owed_before": plan.owed_before,
                    "share_before": before_month_0(plan)[1],
                    "unpaid_before": plan.unpaid_before,
                    "contract_instalment": contract_instalment(plan),
                }
                book.number_input(sheet, (row, column), values[key], kind, (model, field))
                book.name(f"loan_{column - 1}_{key}", sheet, (row, column))
