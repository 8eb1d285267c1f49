"""One sheet for each loan: its schedule month by month, following its terms as they are changed (method §7).

Nominal money, rounded as a lender rounds it: ROUND is half up for money above 0, and a hair (1e-9 of the smallest
unit) is added first, so that a half that binary numbers could not hold still counts as one. The balance during
grace stands in a column of its own: the instalment is set on it, and a formula must not wait for itself.

A loan under way goes on from what is owed before the first month. Where its grace is over its instalment is that of the
contract, a number.
"""

import numpy as np

from renovation.decide.dossier import Dossier
from renovation.money import Schedule, contract_cost, to_constant_prices
from renovation.show.workbook.book import Book, Sheet, quoted
from renovation.show.workbook.inputs import Choices, choices
from renovation.show.workbook.months import time_columns
from renovation.show.workbook.running import before_month_0, contract_instalment
from renovation.show.workbook.table import SheetColumn, SheetTable, column
from renovation.types import FloatArray

TOP = 17
MONTH_ROWS = ("first", "grace_end", "last")


class LoanSheet:
    """A loan's sheet; `name` is the beginning of its cells' names."""

    def __init__(self, book: Book, sheet: Sheet, dossier: Dossier, number: int) -> None:
        """Lay the schedule out."""
        self.book, self.sheet, self.dossier, self.number = book, sheet, dossier, number
        self.name = f"loan_{number}"
        self.loan, self.schedule = dossier.loans[number - 1]
        self.words: Choices = choices(book)
        self.table = SheetTable(book, sheet, TOP, self._columns())

    def _rounded(self, formula: str) -> str:
        """Half up to the smallest unit."""
        return f"ROUND({formula}+{self.book.unit * 1e-9:.0E},{self.book.digits})"

    def _clean(self, formula: str) -> str:
        """Whole smallest units, without what binary numbers leave of them."""
        return f"ROUND({formula},{self.book.digits})"

    def _columns(self) -> list[SheetColumn]:
        """Payout, fee, the payment and its parts, balance; the money there is; then the working columns."""
        plan, side = self.schedule, self.dossier.cash.with_plan
        service = to_constant_prices(plan.debt_service, self.dossier.scenario.appraisal.inflation)
        missed = ((plan.debt_service > 0) & (side.balance < 0)).astype(np.float64)
        n, harvest = self.name, quoted(self.words.repayment["harvest"])
        equal, paid = quoted(self.words.repayment["equal_principal"]), quoted(self.words.grace_interest["paid"])
        owed = self._clean("{balance.before}+{payout}+{added}")
        regular = f"{n}_instalment-IF({n}_repayment={equal},0,{{interest}})"
        at_once = f"IF({{n}}<={n}_grace_end,{n}_grace_interest={paid},{n}_repayment<>{harvest})"
        return [
            *time_columns(self.book, self.dossier),
            self._from_before(
                "payout", "exact", plan.payout + plan.fee, "=" + self._clean("{paid}-{paid.before}"), first="={paid}"
            ),
            self._column("fee", "exact", plan.fee, "=" + self._rounded(f"{{payout}}*{n}_fee_share")),
            self._column("added", "exact", plan.interest_added, "={charged}-{interest}"),
            self._column("interest_paid", "exact", plan.interest_in_payment, "={interest}+{late}"),
            self._column("principal_paid", "exact", plan.principal_in_payment, "={service}-{interest_paid}"),
            self._column("service", "exact", plan.debt_service, "={interest}+{principal}"),
            self._from_before(
                "balance",
                "exact",
                plan.balance,
                "=" + self._clean("{balance.before}+{payout}+{added}-{principal}"),
                first="={payout}",
            ),
            self._column("real_service", "exact", service, "={service}/{household.deflator}"),
            self._column("left", "flow", side.balance, "={household.balance}"),
            self._column("missed", "count", missed, "=IF(AND({service}>0,{left}<-1E-9*" + BALANCE_SCALE + "),1,0)"),
            *self._working_columns(at_once, paid),
            self._from_before(
                "principal",
                "exact",
                plan.principal,
                f"=IF({{due}}=0,0,IF({{due_number}}={n}_instalments,{owed},MIN(MAX(0,{regular}),{owed})))",
                first="=0",
            ),
        ]

    def _working_columns(self, at_once: str, paid: str) -> list[SheetColumn]:
        """What the schedule is worked out with, right of what is printed."""
        work, n = working_values(self.schedule), self.name
        harvest, yes = quoted(self.words.repayment["harvest"]), quoted(self.words.yes)
        paid_out = f"SUMPRODUCT(({n}_payout_months={{month}})*{n}_payout_shares)"
        interest = self._rounded(f"{{grace_balance.before}}*{n}_rate_per_year/12")
        grace = f"{{grace_balance.before}}+{{payout}}+IF({n}_grace_interest={paid},0,{interest})"
        chosen = f"OR({n}_repayment<>{harvest},INDEX({n}_harvest_months,{{calendar}})={yes})"
        return [
            self._from_before("share", "factor", work["share"], f"={{share.before}}+{paid_out}", first=f"={paid_out}"),
            self._column(
                "paid",
                "exact",
                work["paid"],
                f"=IF({{share}}>1-1E-9,{n}_amount,{self._rounded(f'{n}_amount*{{share}}')})",
            ),
            self._from_before(
                "grace_balance",
                "exact",
                work["grace_balance"],
                f"=IF({{n}}>{n}_grace_end,{{grace_balance.before}},{self._clean(grace)})",
                first="={payout}",
            ),
            self._column("due", "count", work["due"], f"=IF(AND({{n}}>{n}_grace_end,{{n}}<={n}_last,{chosen}),1,0)"),
            self._column("due_number", "count", work["due_number"], "={due_number.before}+{due}", first="={due}"),
            self._column(
                "weight",
                "factor",
                work["weight"],
                f"=IF({{due}}=1,(1+{n}_rate_per_year/12)^-({{n}}-{n}_grace_end),0)",
            ),
            self._from_before(
                "charged",
                "exact",
                self.schedule.interest + self.schedule.interest_added,
                "=" + self._rounded(f"{{balance.before}}*{n}_rate_per_year/12"),
                first="=0",
            ),
            self._column("net", "exact", self.schedule.net_flow, "={payout}-{fee}-{service}"),
            self._column("interest", "exact", self.schedule.interest, f"=IF({at_once},{{charged}},0)"),
            self._from_before(
                "unpaid",
                "exact",
                work["unpaid"],
                f"=IF({{n}}<={n}_grace_end,0,{self._clean('{unpaid.before}+{added}-{late}')})",
                first="=0",
            ),
            self._from_before(
                "late",
                "exact",
                work["late"],
                f"=IF({{n}}<={n}_grace_end,0,MIN({self._clean('{unpaid.before}+{added}')},{{principal}}))",
                first="=0",
            ),
        ]

    def _column(self, key: str, kind: str, values: FloatArray, formula: str, first: str | None = None) -> SheetColumn:
        return column(self.book, key, kind, values, formula, first=first, under="workbook.loan_column")

    def _from_before(self, key: str, kind: str, values: FloatArray, formula: str, first: str) -> SheetColumn:
        """A column whose first row differs; of a loan under way only by the cells that stand for the row above."""
        if self.loan.running:
            n = self.name
            paid = f"IF({n}_share_before>1-1E-9,{n}_amount,{self._rounded(f'{n}_amount*{n}_share_before')})"
            stands_for = {
                "balance": f"{n}_owed_before",
                "grace_balance": f"{n}_owed_before",
                "share": f"{n}_share_before",
                "unpaid": f"{n}_unpaid_before",
                "paid": paid,
            }
            first = formula
            for column_before, cell in stands_for.items():
                first = first.replace(f"{{{column_before}.before}}", cell)
        return self._column(key, kind, values, formula, first)

    # Above the schedule

    def _heads(self) -> dict[str, tuple[str, str, float | str]]:
        """Formula, kind and value of each line above the schedule."""
        table, n, plan, terms = self.table, self.name, self.schedule, self.schedule.terms
        own = {column.key: table[column.key].all for column in table.columns}
        equal = quoted(self.words.repayment["equal_principal"])
        parts = f"IF({n}_repayment={equal},{n}_instalments,SUM({own['weight']}))"
        work = working_values(plan)
        owed = float(work["grace_balance"][-1])
        spread = len(plan.instalment_months) if terms.repayment == "equal_principal" else float(work["weight"].sum())
        to_unit = 10.0**self.book.digits
        instalment = float(np.floor(owed / spread * to_unit + 0.5 + 1e-9) / to_unit)
        first, set_anew = f"COUNTIF({own['share']},0)+1", self._rounded(f"{n}_owed/{parts}")
        if self.loan.running:
            # paid out before: its first month is a number, and over its grace so is its instalment
            instalment = contract_instalment(plan) or instalment
            first, set_anew = str(terms.first_month + 1), f"IF({n}_grace_end<1,{n}_contract_instalment,{set_anew})"
        return {
            "check": (self._check(own), "general", self.book.words("workbook.check.sound")),
            "first": (f"={first}", "count", terms.first_month + 1),
            "grace_end": (f"={n}_first+{n}_grace_months", "count", terms.end_of_grace + 1),
            "last": (f"={n}_first+{n}_term_months", "count", terms.last_month + 1),
            "instalments": (f"=SUM({own['due']})", "count", len(plan.instalment_months)),
            "owed": (f"=INDEX({own['grace_balance']},{table.rows})", "exact", owed),
            "instalment": (f"=IF({n}_instalments=0,0,{set_anew})", "exact", instalment),
            "interest": (f"=SUM({own['interest']})+SUM({own['added']})", "exact", plan.total_interest),
            "fee": (f"=SUM({own['fee']})", "exact", plan.total_fee),
            **self._cost(own),
        }

    def _cost(self, own: dict[str, str]) -> dict[str, tuple[str, str, float | str]]:
        """What is paid more than received, and the full cost a year (method §12).

        Of a loan under way they are the contract's own over its whole life, numbers, for its first months are not
        here; blank once its terms are typed over.
        """
        cost = contract_cost(self.schedule.terms, self.schedule.start_calendar_month)
        rate = "" if cost.effective_per_year is None else cost.effective_per_year
        if self.loan.running:
            terms = ("amount", "rate_per_year", "term_months", "grace_months", "fee_share")
            same = [f"ABS({self.name}_{term}-{getattr(self.loan, term)!r})<1E-12" for term in terms]
            kept = {"more": cost.more_than_received, "cost": cost.effective_per_year}
            kinds = {"more": "exact", "cost": "rate"}
            return {
                key: (f'=IF(AND({",".join(same)}),{value!r},"–")', kinds[key], value)
                for key, value in kept.items()
                if value is not None
            }
        more = self._clean(f"SUM({own['service']})-SUM({own['payout']})+SUM({own['fee']})")
        yearly = f'=IFERROR((1+IRR({own["net"]},{self.name}_rate_per_year/12))^12-1,"–")'
        return {"more": (f"={more}", "exact", cost.more_than_received), "cost": (yearly, "rate", rate)}

    def _check(self, own: dict[str, str]) -> str:
        """What is wrong with the terms, in words; the rules of method §7."""
        n, words, last_month = self.name, self.book.words, self.table.rows
        start = self.dossier.scenario.appraisal.start_calendar_month
        # named calendar month c comes first after the horizon in month T + 1 + (c - start) mod 12
        months = f"ROW({n}_harvest_months)-MIN(ROW({n}_harvest_months))+1"
        named = f"OR({n}_repayment<>{quoted(self.words.repayment['harvest'])})"
        after = (
            f"IF({named},{n}_last>{last_month},"
            f"SUMPRODUCT(({n}_harvest_months={quoted(self.words.yes)})"
            f"*({last_month + 1}+MOD({months}-{start},12)<={n}_last))>0)"
        )
        last_payout = f"SUMPRODUCT(({own['share']}<1-1E-9)*1)+1"
        late = f"{last_payout}>{n}_grace_end"
        late = f"AND({n}_share_before<1-1E-9,{late})" if self.loan.running else late
        rules = (
            ("amount", f"ABS({n}_amount-ROUND({n}_amount,{self.book.digits}))>{self.book.unit * 1e-6:.0E}"),
            ("shares", f"ABS(SUM({n}_payout_shares)-1)>1E-9"),
            ("shares_without_month", f"ABS(INDEX({own['share']},{last_month})-1)>1E-9"),
            ("term", f"{n}_term_months<={n}_grace_months"),
            ("payout", late),
            ("horizon", after),
            ("harvest", f"{n}_instalments=0"),
        )
        formula = quoted(words("workbook.check.sound"))
        for key, broken in reversed(rules):
            formula = f"IF({broken},{quoted(words(f'workbook.check.{key}'))},{formula})"
        return f"={formula}"

    def write(self, household: SheetTable) -> None:
        """Write the sheet; `household` is the table of balances."""
        book, sheet, words = self.book, self.sheet, self.book.words
        book.text(sheet, 0, 0, words("workbook.loan.title", n=words.number(self.number)), "title")
        book.text(sheet, 1, 0, self.loan.name, "strong")
        book.note(sheet, words("workbook.about.loan"), 2)
        months = household["month"].all
        for row, (key, (formula, kind, value)) in enumerate(self._heads().items(), start=3):
            book.text(sheet, row, 0, words(f"workbook.loan_head.{key}", currency=book.currency))
            book.formula(sheet, (row, 5), formula, kind, value)
            book.name(f"{self.name}_{'total_fee' if key == 'fee' else key}", sheet, (row, 5))
            if key in MONTH_ROWS:
                place = int(value)
                label = words.month(self.dossier.labels[place - 1]) if 1 <= place <= self.dossier.months else ""
                number = f"{self.name}_{key}"
                within = f"AND({number}>=1,{number}<={self.table.rows})"
                book.formula(sheet, (row, 6), f'=IF({within},INDEX({months},{number}),"")', "text", label)
        self.table.write({"household": household})
        working = self.table.place("share")
        book.text(sheet, TOP - 2, working, words("workbook.loan.working"), "note")
        book.pages(sheet, TOP - 1, (self.table.last_row, working - 1), fixed_columns=2)


BALANCE_SCALE = "balance_scale"
"""Name of the cell with the largest balance: amounts below 1e-9 of it are nothing."""


def working_values(plan: Schedule) -> dict[str, FloatArray]:
    """The program's values of the working columns, from its schedule."""
    months = np.arange(plan.balance.size)
    terms, end = plan.terms, plan.terms.end_of_grace
    paid_before = before_month_0(plan)[0]
    due = np.isin(months, plan.instalment_months).astype(np.float64)
    gross = plan.payout + plan.fee
    share = np.zeros(months.size)
    for month, part in terms.payouts:
        share[max(0, month) :] += part
    grace_balance = plan.balance.copy()
    grace_balance[max(0, end) :] = plan.balance[end] if end >= 0 else plan.owed_before
    after = np.maximum(months - end, 0)
    after_grace = np.where(months > end, plan.interest_added, 0.0)
    unpaid = plan.unpaid_before + np.cumsum(after_grace - (plan.interest_in_payment - plan.interest))
    return {
        "share": share,
        "paid": np.asarray(paid_before + np.cumsum(gross), dtype=np.float64).round(6),
        "grace_balance": grace_balance,
        "due": due,
        "due_number": np.cumsum(due),
        "unpaid": unpaid,
        "late": plan.interest_in_payment - plan.interest,
        "weight": due * (1 + terms.rate_per_month) ** -after.astype(np.float64),
    }
