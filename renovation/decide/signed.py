"""Loans after signing: what was paid out against counted trees, and due, paid, late in the season of a record.

Money is nominal, as contracts and records state it. What is not recorded of a loan went by its contract: a payout came
where it asks for no count, or the count was reached; what was due was paid. Where a payment is recorded in any month,
months left empty had none; a sum for the whole season is laid on what was due, the earliest first. A payout that did
not come is not owed: the contract goes on with what was paid out, and the family agrees anew on the rest.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from renovation.decide.cohorts import YEAR, Group, Went
from renovation.decide.plain import fields_of
from renovation.farm import loan_schedule, month_labels
from renovation.farm.standing import months_of_tries
from renovation.inputs import Loan, LoanRecord, Scenario, SeasonRecord
from renovation.money.loan_account import LoanAccount, loan_account, paid_in_turn
from renovation.money.loans import Schedule
from renovation.types import FloatArray
from renovation.words import smallest_unit

PayoutStatus = Literal["received", "by_contract", "withheld", "met", "waiting", "to_come"]


@dataclass(frozen=True)
class PayoutCheck:
    """A payout beside the live trees counted before its month (before the season's end, of one still to come).

    month: project month; label: `YYYY-MM`. money: net of the fee, by the contract. received: what came of it, None
    where it is still to come. live_trees: asked for, None without a count. status: recorded as "received"; taken to
    have come "by_contract"; "withheld"; still to come with its count "met", or "waiting", or without one "to_come".
    """

    month: int
    label: str
    money: float
    received: float | None
    live_trees: int | None
    counted: int
    status: PayoutStatus

    @property
    def missing(self) -> int:
        """Live trees that are missing."""
        return max(0, (self.live_trees or 0) - self.counted)

    def as_dict(self) -> dict[str, Any]:
        """Stable keys."""
        when = {"project_month": self.month, "month": self.label}
        return {**when, **fields_of(self, "money", "received", "live_trees", "counted", "missing", "status")}


@dataclass(frozen=True, eq=False)
class SignedLoan:
    """A loan in the season of a record. paid_out: its contract with what was paid out in fact, None where nothing was.

    plan: the schedule of `paid_out`; account: the twelve months beside it. entry: what is recorded; assumed: "nothing"
    of the payments, their months ("turn"), or all of them ("contract").
    """

    loan: Loan
    entry: LoanRecord | None
    payouts: tuple[PayoutCheck, ...]
    paid_out: Loan | None
    plan: Schedule | None
    account: LoanAccount | None
    assumed: Literal["nothing", "turn", "contract"]

    @property
    def paid(self) -> float:
        """Paid in the season."""
        told = self.entry.paid_in_all if self.entry else None
        return told if told is not None else 0.0 if self.account is None else float(self.account.paid.sum())

    @property
    def received(self) -> float:
        """Received of the loan in the season."""
        return sum(check.received or 0.0 for check in self.payouts)

    @property
    def late(self) -> float:
        """Late at the season's end."""
        return 0.0 if self.account is None else float(self.account.late[-1])

    @property
    def withheld(self) -> tuple[PayoutCheck, ...]:
        """Payouts of the season that did not come."""
        return tuple(check for check in self.payouts if check.status == "withheld")

    def rows(self, start: str) -> list[dict[str, Any]]:
        """The account, a dict a month."""
        found = self.account
        if found is None:
            return []
        names = ("due", "paid", "interest", "late_charge", "to_interest", "to_principal", "balance", "late", "ahead")
        lines = {name: getattr(found, name).tolist() for name in names}
        labels = month_labels(start, found.due.size)
        return [{"month": label, **{name: lines[name][at] for name in names}} for at, label in enumerate(labels)]


def signed_loans(farm: Scenario, record: SeasonRecord, went: Went) -> tuple[SignedLoan, ...]:
    """Every loan of which something was to be paid out by the season's end. Raises LoanError as `loan_schedule`.

    Example (nothing recorded: it went by the contract):
        >>> from renovation.decide.cohorts import season_went
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> record = SeasonRecord(season=farm.appraisal.start)
        >>> [(one.assumed, one.late) for one in signed_loans(farm, record, season_went(farm, record))]
        [('contract', 0.0)]
    """
    said = {entry.loan: entry for entry in record.loans}
    return tuple(
        _signed(farm, loan, said.get(loan.name), went.groups)
        for loan in farm.loans
        if any(farm.month_of(payout.month) < YEAR for payout in loan.payouts)
    )


def payouts_to_come(farm: Scenario, loan: Loan) -> tuple[PayoutCheck, ...]:
    """The payouts from month 0 on of a farm of which nothing is recorded yet, beside its trees under way."""
    trees = [
        Group(
            *(entry.stand, entry.technique, farm.month_of(entry.start)),
            entry.trees,
            tuple(entry.taken),
            tuple(months_of_tries(farm, entry)),
        )
        for entry in farm.under_way
    ]
    plan = loan_schedule(farm, loan)
    months = (month for month in _months_of_payouts(farm, loan) if month >= 0)
    return tuple(_check(farm, loan, plan, month, trees, over=0) for month in months)


def live_trees(groups: Iterable[Group], loan: Loan, before: int) -> int:
    """Trees of the loan's works that took at tries made before a month; trees lost since are not known here.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> group = Group("A", "side_graft", 1, 50, taken=(20, 6), tried=(1, 4))
        >>> live_trees([group], demo_scenario().loans[0], before=4)
        20
    """
    works = [group for group in groups if not loan.works or group.technique in loan.works]
    tries = ((n, month) for group in works for n, month in zip(group.taken, group.tried, strict=True))
    return int(sum(n for n, month in tries if month < before))


def _months_of_payouts(farm: Scenario, loan: Loan) -> list[int]:
    return sorted(farm.month_of(payout.month) for payout in loan.payouts)


def _signed(farm: Scenario, loan: Loan, entry: LoanRecord | None, groups: Sequence[Group]) -> SignedLoan:
    """One loan through the season."""
    contract = loan_schedule(farm, loan)
    came = None if entry is None else entry.received
    months = {month for month in _months_of_payouts(farm, loan) if month >= 0}
    months |= {farm.month_of(label) for label, money in (came or {}).items() if money}
    checks = tuple(_check(farm, loan, contract, month, groups, over=YEAR, came=came) for month in sorted(months))
    paid_out = _as_paid_out(farm, loan, contract, checks)
    if paid_out is None:
        return SignedLoan(loan, entry, checks, None, None, None, "nothing")
    plan = contract if paid_out is loan else loan_schedule(farm, paid_out)
    paid, assumed = _paid(farm, entry, plan.debt_service[:YEAR])
    account = loan_account(plan, paid, loan.late_rate_per_year)
    return SignedLoan(loan, entry, checks, paid_out, plan, account, assumed)


def _check(
    farm: Scenario,
    loan: Loan,
    contract: Schedule,
    month: int,
    groups: Iterable[Group],
    *,
    over: int,
    came: dict[str, float] | None = None,
) -> PayoutCheck:
    """One payout. over: the first month of which nothing is recorded."""
    label = month_labels(farm.appraisal.start, farm.appraisal.months)[month]
    asked = next((payout.live_trees for payout in loan.payouts if payout.month == label), None)
    counted, money = live_trees(groups, loan, max(month, over) if month >= over else month), contract.payout[month]
    enough = counted >= (asked or 0)
    status: PayoutStatus
    received: float | None
    if month >= over:
        status, received = "to_come" if asked is None else "met" if enough else "waiting", None
    elif came is not None:
        received = came.get(label, 0.0)
        status = "received" if received >= money - smallest_unit(farm.appraisal.currency) else "withheld"
    else:
        status, received = ("by_contract", float(money)) if enough else ("withheld", 0.0)
    return PayoutCheck(month, label, float(money), received, asked, counted, status)


def _as_paid_out(farm: Scenario, loan: Loan, contract: Schedule, checks: Sequence[PayoutCheck]) -> Loan | None:
    """The contract with what was paid out in fact and what is still to come; itself where that is the same."""
    unit = smallest_unit(farm.appraisal.currency)
    gross = contract.payout + contract.fee
    fact = gross.copy()
    for check in checks:
        if check.received is not None and abs(check.received - check.money) > unit:
            fact[check.month] = round(check.received / (1 - loan.fee_share) / unit) * unit
    if (fact == gross).all():
        return loan
    labels = month_labels(farm.appraisal.start, fact.size)
    sums = {payout.month: payout.share * loan.amount for payout in loan.payouts if farm.month_of(payout.month) < 0}
    sums |= {labels[month]: float(fact[month]) for month in np.flatnonzero(fact > 0)}
    amount = round(sum(sums.values()) / unit) * unit
    if amount < unit / 2:
        return None
    asked = {payout.month: payout.live_trees for payout in loan.payouts}
    payouts = tuple(
        {"month": label, "share": money / amount, "live_trees": asked.get(label)} for label, money in sums.items()
    )
    return Loan.model_validate({**loan.model_dump(), "amount": amount, "payouts": payouts})


def _paid(
    farm: Scenario, entry: LoanRecord | None, due: FloatArray
) -> tuple[FloatArray, Literal["nothing", "turn", "contract"]]:
    """What was paid by month, and how much of it is assumed."""
    if entry is None or entry.paid_in_all is None:
        return due, "contract"
    paid, open_ = np.zeros(YEAR), due.copy()
    for row in entry.by_month:
        if row.paid is not None:
            month = farm.month_of(row.month)
            paid[month], open_[month] = row.paid, 0.0
    rest = entry.paid_in_all - float(paid.sum())
    if rest <= smallest_unit(farm.appraisal.currency) / 2:
        return paid, "nothing"
    return paid + paid_in_turn(open_, rest), "turn"
