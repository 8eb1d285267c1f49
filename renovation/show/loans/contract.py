"""A loan's contract in tables: its terms one by one, and every month of it in its own money."""

from renovation.decide.lending import LoanAppraisal
from renovation.inputs import Loan, Payout, declared
from renovation.show.grid import Table, column, columns, month_cell, number_cell
from renovation.show.voice import Voice
from renovation.words import Words


def loan_terms(judged: LoanAppraisal, words: Words) -> Table:
    """What the contract says, one term a row."""
    voice = Voice.about(judged, words)
    loan = judged.loan
    cells = {
        "amount": voice.exact_money(loan.amount),
        "payouts": payouts(judged, words),
        "owed": voice.exact_money(loan.owed or 0.0),
        "rate_per_year": _contract_rate(loan.rate_per_year, words),
        "term_months": words.span(loan.term_months / 12),
        "grace_months": words.span(loan.grace_months / 12),
        "grace_interest": words(f"report.grace_interest.{loan.grace_interest}"),
        "repayment": words(f"report.repayment.{loan.repayment}"),
        "harvest_months": words.listing([words.month_name(month) for month in loan.harvest_months]),
        "fee_share": words.rate(loan.fee_share),
        "late_rate_per_year": words.rate(loan.late_rate_per_year),
    }
    left_out = set() if loan.repayment == "harvest" else {"harvest_months"}
    left_out |= set() if loan.grace_months else {"grace_interest"}
    left_out |= {"owed"} if loan.owed is None else set()
    left_out |= set() if loan.late_rate_per_year else {"late_rate_per_year"}
    rows = [(words(declared(Loan, key).label_key), cell) for key, cell in cells.items() if key not in left_out]
    headed = columns("report.column", ("term", "contract"), words)
    return Table(words("report.table.terms", loan=loan.name), headed, tuple(rows))


def payouts(judged: LoanAppraisal, words: Words, most: int | None = None) -> str:
    """What is paid out, in which months; beyond `most` of them in one sum."""
    voice = Voice.about(judged, words)
    loan = judged.loan
    told, rest = loan.payouts[:most], loan.payouts[len(loan.payouts[:most]) :]
    said = [_payout(p, voice.exact_money(p.share * loan.amount), words) for p in told]
    if rest:
        money, last = voice.exact_money(sum(p.share for p in rest) * loan.amount), words.month(rest[-1].month)
        said.append(words("report.cell.more_payouts", n=len(rest), money=money, month=last))
    return ", ".join(said)


def _payout(payout: Payout, money: str, words: Words) -> str:
    """One payout, with the live trees that are counted first, where it asks for any."""
    facts = {"month": words.month(payout.month), "money": money}
    if payout.live_trees is None:
        return words("report.cell.payout", **facts)
    return words("report.cell.payout_counted", n=payout.live_trees, **facts)


def _contract_rate(rate_per_year: float, words: Words) -> str:
    """The nominal rate of a contract, and what it comes to in a year: (1 + j/12)^12 − 1."""
    effective = (1 + rate_per_year / 12) ** 12 - 1
    stated = words.rate(rate_per_year)
    return words("report.cell.rate", rate=stated, effective=words.percent(effective, 2)) if rate_per_year else stated


PAYMENT = ("debt_service", "interest_in_payment", "principal_in_payment")
SCHEDULE = ("payout", "fee", "interest_charged", *PAYMENT, "balance")
ALWAYS = ("interest_charged", *PAYMENT, "balance")


def loan_schedule(judged: LoanAppraisal, words: Words) -> Table:
    """The contract month by month in its own money, from month 0 or the first payout on; sums last."""
    voice = Voice.about(judged, words)
    plan = judged.as_stated.schedule
    first = max(0, plan.terms.first_month)
    last = max(plan.instalment_months[-1], first)
    digits = len(voice.exact_money(0).partition(words.decimal_sign())[2])
    series = {name: getattr(plan, name)[first : last + 1] for name in SCHEDULE}
    shown = [name for name in SCHEDULE if name in ALWAYS or series[name].any()]
    rows = [
        (
            month_cell(judged.as_stated.label(first + at), words),
            *(number_cell(float(series[n][at]), digits, words) for n in shown),
        )
        for at in range(last + 1 - first)
    ]
    sums = ["" if n == "balance" else number_cell(float(series[n].sum()), digits, words) for n in shown]
    rows.append((words("report.row.total"), *sums))
    sign = voice.sign
    headed = (column("report.column.month", words), *columns("report.schedule", shown, words, shown, currency=sign))
    return Table(words("report.table.schedule", loan=judged.loan.name), headed, tuple(rows))
