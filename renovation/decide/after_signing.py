"""After signing: each loan's account, payouts against counted trees, and what now where one is behind or will be.

What can be agreed is judged on the farm as it is now: next year's farm where a season is recorded, else the farm itself
with its loans under way. There each loan stands with its instalments left set on what is owed (method §11); where that
fits nothing else need be agreed. Costs are beside that: nominal money paid more, the effective yearly rate on what is
owed, and the difference in net present value at the household's rate r,

    Σ (net receipts agreed − net receipts as it stands)(t) / ((1 + π) (1 + r))^((t + 1)/12).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from renovation.decide.cohorts import season_went
from renovation.decide.held import as_held
from renovation.decide.lending import LoanAppraisal, appraise_loans
from renovation.decide.near_loans import step_of
from renovation.decide.next_year import next_year
from renovation.decide.signed import PayoutCheck, SignedLoan, payouts_to_come, signed_loans
from renovation.decide.verdict import Verdict
from renovation.inputs import Loan, Scenario, ScenarioError, SeasonRecord
from renovation.money.credit import credit_cost
from renovation.money.loan_fit import Condition, fits, other_loans, short_and_low
from renovation.money.loan_late import AgreementKind, agreements, means_beside
from renovation.money.loans import to_constant_prices
from renovation.types import FloatArray

Kind = Literal["as_it_stands"] | AgreementKind


@dataclass(frozen=True, eq=False)
class WayOn:
    """One way to go on with a loan. months: of a shift or a stretch; amount: of a further sum; 0 else.

    verdict: on the loan agreed anew, or on the further sum beside the loan as it stands. payout, service: of both
    together, nominal, (T,). holds_at: whether it fits at each of the loan test's `price_factors`. more_paid: nominal,
    beside the loan as it stands. effective_per_year: on what is owed now, None where there is no one rate.
    npv: what the change is worth to the household, above 0 a gain.
    """

    kind: Kind
    months: int
    amount: float
    verdict: Verdict
    payout: FloatArray
    service: FloatArray
    holds_at: Mapping[float, bool]
    more_paid: float
    effective_per_year: float | None
    npv: float

    @property
    def holds(self) -> bool:
        """Whether it fits as expected."""
        return self.verdict.holds

    @property
    def first(self) -> str:
        """The month of the first payment, `YYYY-MM`."""
        return self.verdict.label(int(np.flatnonzero(self.service)[0]))

    @property
    def last(self) -> str:
        """The month of the last payment, `YYYY-MM`."""
        return self.verdict.label(int(np.flatnonzero(self.service)[-1]))

    @property
    def largest(self) -> float:
        """The largest payment, nominal."""
        return float(self.service.max())

    def as_dict(self) -> dict[str, Any]:
        """Stable keys."""
        return {
            "kind": self.kind,
            "months": self.months,
            "amount": self.amount,
            "fits": self.holds,
            "fits_at_price": {f"{factor:g}": holds for factor, holds in self.holds_at.items()},
            "first_payment": self.first,
            "last_payment": self.last,
            "largest_payment_nominal": self.largest,
            "paid_more_nominal": self.more_paid,
            "effective_per_year": self.effective_per_year,
            "npv_difference": self.npv,
            "lowest_balance": float(self.verdict.fit.balance.min()),
        }


@dataclass(frozen=True)
class PayoutAhead:
    """A payout still to come, and what the months to come look like without it.

    lowest, lowest_without: the lowest balance with the payout and without it, constant prices; short_without: the first
    month below the floor without it, `YYYY-MM`, None where there is none.
    """

    check: PayoutCheck
    lowest: float
    lowest_without: float
    short_without: str | None

    def as_dict(self) -> dict[str, Any]:
        """Stable keys."""
        told = {"lowest_balance": self.lowest, "lowest_balance_without": self.lowest_without}
        return {**self.check.as_dict(), **told, "first_month_below_floor_without": self.short_without}


@dataclass(frozen=True, eq=False)
class LoanNow:
    """A loan as it is now. season: of the record, None without one. judged: on the farm as it is now, None of one that
    is repaid, or where next year's farm cannot be made. discount_rate: the household's. ahead: payouts to come."""

    loan: Loan
    season: SignedLoan | None
    judged: LoanAppraisal | None
    discount_rate: float
    ahead: tuple[PayoutAhead, ...]

    @property
    def owed(self) -> float:
        """Owed now, nominal."""
        if self.judged is not None:
            return float(self.judged.as_stated.schedule.owed_before)
        return 0.0 if self.season is None or self.season.account is None else float(self.season.account.balance[-1])

    @cached_property
    def as_it_stands(self) -> WayOn | None:
        """The loan with its instalments left set on what is owed; None where nothing is owed."""
        if self.judged is None or self.owed <= 0:
            return None
        stated = self.judged.as_stated
        return self._way("as_it_stands", 0, 0.0, stated)

    @cached_property
    def ways(self) -> tuple[WayOn, ...]:
        """The least shift, stretch and further sum that fit; none where it fits as it stands, or where none does."""
        if self.judged is None or self.as_it_stands is None:
            return ()
        stated = self.judged.as_stated
        step = step_of(stated.terms.amount, stated.terms.unit)
        found = []
        for one in agreements(stated.schedule, stated.means, int(stated.start[5:]), step):
            top_up = one.kind == "top_up"
            means = means_beside(stated.schedule, stated.means) if top_up else stated.means
            verdict = replace(stated, terms=one.terms, means=means)
            found.append(self._way(one.kind, one.months, one.terms.amount if top_up else 0.0, verdict))
        return tuple(found)

    @cached_property
    def without_it(self) -> Condition | None:
        """Where the balance falls below the floor though this loan asks for nothing: no agreement on it mends that."""
        return None if self.judged is None else self.judged.without_it

    def _way(self, kind: Kind, months: int, amount: float, verdict: Verdict) -> WayOn:
        """One way, its costs beside the loan as it stands."""
        assert self.judged is not None
        stated, plan, own = self.judged.as_stated, self.judged.as_stated.schedule, verdict.schedule
        beside = kind == "top_up"
        payout = own.payout + (plan.payout if beside else 0.0)
        service = own.debt_service + (plan.debt_service if beside else 0.0)
        more = float((service - payout).sum() - (plan.debt_service - plan.payout).sum())
        cost = credit_cost([plan.owed_before, *payout], [0.0, *service])
        means, change = stated.means, (payout - service) - plan.net_flow
        real = to_constant_prices(change, means.inflation_per_year)
        years = (np.arange(real.size) + 1) / 12
        holds_at = {}
        for factor, other in self.judged.at_price.items():
            there = means_beside(plan, other.means) if beside else other.means
            holds_at[factor] = fits(own, there).holds
        npv = float((real / (1 + self.discount_rate) ** years).sum())
        unit = verdict.terms.unit
        return WayOn(
            kind, months, amount, verdict, payout, service, holds_at, round(more / unit) * unit,
            cost.effective_per_year, npv,
        )  # fmt: skip

    def as_dict(self, start: str) -> dict[str, Any]:
        """Stable keys. start: the season's first month."""
        told: dict[str, Any] = {"name": self.loan.name, "owed": self.owed}
        if self.season is not None:
            told |= {
                "paid": self.season.paid,
                "assumed": self.season.assumed,
                "late": self.season.late,
                "overpaid": 0.0 if self.season.account is None else self.season.account.overpaid,
                "account": self.season.rows(start),
                "payouts": [check.as_dict() for check in self.season.payouts],
            }
        stands = self.as_it_stands
        return {
            **told,
            "payouts_to_come": [one.as_dict() for one in self.ahead],
            "as_it_stands": None if stands is None else stands.as_dict(),
            "ways_on": [way.as_dict() for way in self.ways],
        }


@dataclass(frozen=True, eq=False)
class AfterSigning:
    """Every loan after signing. farm: whose record it is; now: the farm on which ways on are judged, None where next
    year's farm cannot be made, for which `refused` says why."""

    farm: Scenario
    record: SeasonRecord | None
    now: Scenario | None
    loans: tuple[LoanNow, ...]
    refused: ScenarioError | None = None

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        start = self.farm.appraisal.start
        return {
            "season": None if self.record is None else self.record.season,
            "currency": self.farm.appraisal.currency,
            "judged_from": None if self.now is None else self.now.appraisal.start,
            "loans": [loan.as_dict(start) for loan in self.loans],
        }


def after_signing(farm: Scenario, record: SeasonRecord | None = None, *, as_planned: bool = False) -> AfterSigning:
    """Each loan with its account of the recorded season, or each loan under way where none is recorded.

    The record fits the farm: `inputs.season_problems` finds nothing. Raises LoanError for a loan that cannot be, and as
    `farm_flows` does.

    Example (a loan that is not signed yet has no account):
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> after_signing(farm).loans
        ()
        >>> found = after_signing(farm, SeasonRecord(season=farm.appraisal.start, money_in_hand=900.0))
        >>> [(one.season.late, one.ways) for one in found.loans]
        [(0.0, ())]
    """
    if record is None:
        judged = {one.loan.name: one for one in appraise_loans(farm).loans if one.loan.running} if farm.loans else {}
        return AfterSigning(farm, None, farm, tuple(_now(farm, one.loan, None, one) for one in judged.values()))
    held = as_held(farm, farm.plan)
    season = signed_loans(held, record, season_went(held, record, as_planned=as_planned))
    if not season:
        return AfterSigning(farm, record, None, ())
    now, refused = None, None
    try:
        now = next_year(farm, record, as_planned=as_planned).farm
    except ScenarioError as error:
        refused = error
    found = {} if now is None else {one.loan.name: one for one in appraise_loans(now).loans}
    loans = tuple(_now(now or farm, one.loan, one, found.get(one.loan.name)) for one in season)
    return AfterSigning(farm, record, now, loans, refused)


def _now(farm: Scenario, loan: Loan, season: SignedLoan | None, judged: LoanAppraisal | None) -> LoanNow:
    """One loan with the payouts that are still to come."""
    rate = farm.appraisal.discount_rate
    ahead = () if judged is None else tuple(_ahead(farm, judged))
    return LoanNow(loan, season, judged, rate, ahead)


def _ahead(farm: Scenario, judged: LoanAppraisal) -> list[PayoutAhead]:
    """Payouts to come of one loan, each with the balance of the months to come without it."""
    stated, found = judged.as_stated, []
    for check in payouts_to_come(farm, judged.loan):
        terms, gone = stated.terms, stated.schedule.payout[check.month] + stated.schedule.fee[check.month]
        amount = round((terms.amount - gone) / terms.unit) * terms.unit
        kept = tuple((m, share * terms.amount / amount) for m, share in terms.payouts if m != check.month)
        if kept:
            held = replace(stated, terms=replace(terms, amount=amount, payouts=kept)).fit.balance
        else:
            held = short_and_low(stated.means, *other_loans(stated.means))[0]
        low = np.flatnonzero(held < stated.means.floor - terms.unit / 2)
        short = stated.label(int(low[0])) if low.size else None
        found.append(PayoutAhead(check, float(stated.fit.balance.min()), float(held.min()), short))
    return found
