"""A loan judged month by month: is each payment due when there is money, and what loan would fit (method §7).

Money is in constant prices unless a name says nominal. Each loan of a scenario is judged with the others
beside it: their payouts and their debt service count in every balance and every coverage.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from renovation.decide.drivers import price
from renovation.decide.held import as_held
from renovation.decide.near_loans import near_verdicts, without_it
from renovation.decide.plain import fields_of
from renovation.decide.verdict import Verdict
from renovation.farm import (
    FarmFlows,
    HouseholdCash,
    farm_flows,
    household_cash,
    loan_terms,
    month_labels,
)
from renovation.inputs import Loan, Scenario, Season
from renovation.money.loan_fit import Condition, RepaymentMeans
from renovation.money.loan_terms import LoanError, LoanTerms
from renovation.money.loans import to_constant_prices

if TYPE_CHECKING:
    import pandas as pd

DueKind = Literal["interest", "instalment"]


@dataclass(frozen=True)
class Due:
    """One payment beside the money there is to pay it, constant prices unless named nominal.

    kind: "interest" within grace, else "instalment". month: project month; label: `YYYY-MM`. amount_nominal,
    interest_nominal, principal_nominal: as the contract states them. amount: the same payment in constant
    prices. available: the balance just before it, other loans' payments of the month made. left: the balance
    at the end of the month. missed: there was not enough. in_harvest: some of the crop ripens in that
    calendar month. interest, principal: the payment first pays the interest that has come up since the last one.
    """

    kind: DueKind
    month: int
    label: str
    amount_nominal: float
    interest_nominal: float
    principal_nominal: float
    amount: float
    available: float
    left: float
    missed: bool
    in_harvest: bool

    def as_dict(self) -> dict[str, Any]:
        """Stable keys."""
        when = {"project_month": self.month, "month": self.label}
        paid = fields_of(self, "amount_nominal", "interest_nominal", "principal_nominal", "amount")
        return {"kind": self.kind, **when, **paid, **fields_of(self, "available", "left", "missed", "in_harvest")}


@dataclass(frozen=True)
class CalendarRow:
    """One calendar month of the repayment calendar beside the harvest.

    harvest_share: of the year's crop. payments, missed: how many fall in that month over the loan's life.
    paid_nominal: their sum.
    """

    calendar_month: int
    harvest_share: float
    payments: int
    paid_nominal: float
    missed: int


@dataclass(frozen=True, eq=False)
class LoanAppraisal:
    """One loan of the scenario, judged: as it stands, repaid in other ways, and at lower prices.

    as_stated: the loan's own terms. level, harvest: the same amount, rate, grace and term repaid every month
    and in `harvest_months` only; None where no such month falls between grace and term, where every month is
    one, where the last instalment would fall after the horizon, or where the loan is running. at_price: its own
    terms with the price at each of the loan test's `price_factors`, the farm worked out anew.
    """

    loan: Loan
    currency: str
    season: Season
    harvest_months: tuple[int, ...]
    as_stated: Verdict
    level: Verdict | None
    harvest: Verdict | None
    at_price: Mapping[float, Verdict]

    @property
    def start(self) -> str:
        """Month 0, `YYYY-MM`."""
        return self.as_stated.start

    @cached_property
    def dues(self) -> tuple[Due, ...]:
        """Every payment of the loan, interest in grace included, beside the money available for it."""
        verdict = self.as_stated
        plan, fit = verdict.schedule, verdict.fit
        labels = month_labels(verdict.start, fit.balance.size)
        own = to_constant_prices(plan.debt_service, verdict.means.inflation_per_year)
        return tuple(
            Due(
                kind="interest" if month <= verdict.terms.end_of_grace else "instalment",
                month=month,
                label=labels[month],
                amount_nominal=float(plan.debt_service[month]),
                interest_nominal=float(plan.interest_in_payment[month]),
                principal_nominal=float(plan.principal_in_payment[month]),
                amount=float(own[month]),
                available=float(fit.balance[month] + own[month]),
                left=float(fit.balance[month]),
                missed=bool(verdict.missed_own[month]),
                in_harvest=self.season.shares[int(labels[month][5:]) - 1] > 0,
            )
            for month in np.flatnonzero(plan.debt_service > 0).tolist()
        )

    @cached_property
    def first_missed(self) -> Due | None:
        """The first payment of this loan that there is not enough money for; None if all can be paid."""
        return next((due for due in self.dues if due.missed), None)

    @cached_property
    def near(self) -> tuple[Verdict, ...]:
        """The nearest loans that fit where this one does not, the least change first: `near_verdicts`."""
        return near_verdicts(self.as_stated, (("harvest", self.harvest_months), ("level", ())))

    @cached_property
    def without_it(self) -> Condition | None:
        """Where the balance falls below the floor though this loan is not taken: `without_it`."""
        return without_it(self.as_stated)

    @cached_property
    def calendar(self) -> tuple[CalendarRow, ...]:
        """The twelve calendar months: harvest beside payments."""
        rows = []
        for month, share in enumerate(self.season.shares, start=1):
            here = [due for due in self.dues if int(due.label[5:]) == month]
            paid = sum(due.amount_nominal for due in here)
            rows.append(CalendarRow(month, share, len(here), paid, sum(due.missed for due in here)))
        return tuple(rows)

    @property
    def lowest_price(self) -> tuple[float, Verdict]:
        """The lowest of the prices it is tried at, as a share of the farm's, and the verdict there."""
        return min(self.at_price.items())

    @property
    def outside_harvest(self) -> int:
        """Payments that fall in months in which no crop ripens."""
        return sum(not due.in_harvest for due in self.dues)

    def dues_table(self) -> "pd.DataFrame":
        """One row per payment."""
        import pandas as pd

        return pd.DataFrame([due.as_dict() for due in self.dues])

    def cover_table(self) -> "pd.DataFrame":
        """One row per project year: debt service, coverage both ways and its bands (blank is None)."""
        import pandas as pd

        return pd.DataFrame(self.as_stated.cover_rows()).astype(
            {"cover_farm_only": object, "cover_after_living": object}
        )

    def schedule_table(self) -> "pd.DataFrame":
        """The contract month by month, nominal money."""
        return self.as_stated.schedule.table()

    @property
    def verdicts(self) -> dict[str, Verdict]:
        """Every verdict by name: `as_stated`, `level`, `harvest`, `price_0.9` and so on; None left out."""
        ways = {"as_stated": self.as_stated, "level": self.level, "harvest": self.harvest}
        ways |= {f"price_{factor:g}": verdict for factor, verdict in self.at_price.items()}
        return {name: verdict for name, verdict in ways.items() if verdict is not None}

    def verdicts_table(self) -> "pd.DataFrame":
        """One row per verdict; of a condition its kind, year and month in columns of their own."""
        import pandas as pd

        rows = []
        for name, verdict in self.verdicts.items():
            row: dict[str, Any] = {"case": name}
            for key, value in verdict.summary().items():
                if key in ("breaks_first", "largest_loan_limit"):
                    told = value or {}
                    row |= {f"{key}_{part}": told.get(part) for part in ("kind", "year", "month")}
                else:
                    row[key] = value
            rows.append(row)
        return pd.DataFrame(rows, dtype=object)

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        return {
            "name": self.loan.name,
            "amount": self.loan.amount,
            "harvest_months": list(self.harvest_months),
            "every_payment_can_be_made": self.first_missed is None,
            "first_missed": self.first_missed.as_dict() if self.first_missed else None,
            "payments_outside_harvest": self.outside_harvest,
            "cover": self.as_stated.cover_rows(),
            "payments": [due.as_dict() for due in self.dues],
            "calendar": [fields_of(row) for row in self.calendar],
            "near": [{**_terms_of(verdict), **verdict.summary()} for verdict in self.near],
            "without_it": self.as_stated.told(self.without_it),
            "verdicts": {name: verdict.summary() for name, verdict in self.verdicts.items()},
        }


def _terms_of(verdict: Verdict) -> dict[str, Any]:
    """What is altered in a loan that comes near."""
    terms = verdict.terms
    return {**fields_of(terms, "amount", "term_months", "grace_months"), "harvest_months": list(terms.harvest_months)}


@dataclass(frozen=True, eq=False)
class Lending:
    """Every loan of a scenario, judged, beside the household's cash that they are repaid from."""

    scenario: Scenario
    cash: HouseholdCash
    loans: tuple[LoanAppraisal, ...]

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        return {
            "currency": self.scenario.appraisal.currency,
            "scenario_digest": self.scenario.digest,
            "cover_target": self.scenario.loan_test.cover,
            "cover_on_farm_cash_only": self.scenario.loan_test.farm_only,
            "floor": self.scenario.household.floor,
            "loans": [loan.as_dict() for loan in self.loans],
        }


def at_price(scenario: Scenario, factor: float) -> Scenario:
    """The scenario with the price before deductions times a factor, premiums kept as shares of it.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> at_price(s, 0.8).market.dry_price_per_kg / s.market.dry_price_per_kg
        0.8
    """
    today = price(scenario)
    return today.put(scenario, today.value * factor)


def best_harvest_months(season: Season) -> tuple[int, ...]:
    """Calendar months that bring at least a twelfth of the year's crop, there is always one.

    Example:
        >>> from renovation.inputs import season_from_window
        >>> best_harvest_months(season_from_window("Ghana", mid_share=0.16))
        (1, 2, 3, 9, 10, 11, 12)
    """
    return tuple(m for m, share in enumerate(season.shares, start=1) if share >= 1 / 12 - 1e-9)


def repayment_means(scenario: Scenario, cash: HouseholdCash, loan: int) -> RepaymentMeans:
    """The money that loan number `loan` (from 0) is repaid from, the scenario's other loans already there.

    Coverage is measured after living costs, or on farm cash alone where the scenario's loan test says so.
    """
    side, test = cash.with_plan, scenario.loan_test
    others = [plan for number, plan in enumerate(cash.schedules) if number != loan]
    nothing = np.zeros(side.farm_cash.size)
    return RepaymentMeans(
        flow_by_month=side.money_in - side.living_costs,
        savings=side.savings,
        floor=side.floor,
        cover_target=test.cover,
        cover_cash_by_month=side.farm_cash if test.farm_only else None,
        inflation_per_year=scenario.appraisal.inflation,
        savings_rate_per_year=side.savings_rate_per_year,
        other_payout=sum((plan.payout for plan in others), start=nothing),
        other_service=sum((plan.debt_service for plan in others), start=nothing),
    )


def appraise_loans(scenario: Scenario, flows: FarmFlows | None = None, cash: HouseholdCash | None = None) -> Lending:
    """Judge every loan of a scenario on the money that its plan leaves.

    flows: the scenario's own plan where None. cash: `household_cash` of these flows, where a caller has it.
    Raises LoanError, with the loan's name, for a loan that cannot be; StartTooEarly and ValueError as `farm_flows`
    does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> [judged.first_missed for judged in appraise_loans(demo_scenario()).loans]
        [None]
    """
    scenario = as_held(scenario, scenario.plan)
    flows = farm_flows(scenario, scenario.plan) if flows is None else flows
    cash = household_cash(scenario, flows) if cash is None else cash
    lower = {}
    for factor in scenario.loan_test.price_factors if scenario.loans else ():
        other = at_price(scenario, factor)
        lower[factor] = household_cash(other, farm_flows(other, [item.treatment for item in flows.treated]))
    loans = tuple(_appraise(scenario, cash, lower, number) for number in range(len(scenario.loans)))
    return Lending(scenario, cash, loans)


def _appraise(
    scenario: Scenario, cash: HouseholdCash, lower: Mapping[float, HouseholdCash], number: int
) -> LoanAppraisal:
    """One loan's verdicts: as stated, level, in harvest months, at each lower price."""
    loan = scenario.loans[number]
    terms = loan_terms(scenario, loan)
    harvest_months = loan.harvest_months or best_harvest_months(scenario.market.season)
    stated = _verdict(scenario, cash, number, terms)
    level = replace(terms, repayment="level", harvest_months=())
    harvest = replace(terms, repayment="harvest", harvest_months=harvest_months)
    other_months = len(harvest_months) < 12 and not loan.running
    return LoanAppraisal(
        loan=loan,
        currency=scenario.appraisal.currency,
        season=scenario.market.season,
        harvest_months=harvest_months,
        as_stated=stated,
        level=None if loan.running else _if_it_can_be(replace(stated, terms=level)),
        harvest=_if_it_can_be(replace(stated, terms=harvest)) if other_months else None,
        at_price={factor: _verdict(scenario, other, number, terms) for factor, other in lower.items()},
    )


def _verdict(scenario: Scenario, cash: HouseholdCash, number: int, terms: LoanTerms) -> Verdict:
    """A verdict on given terms with the money of given household cash."""
    means = repayment_means(scenario, cash, number)
    return Verdict(terms, means, cash.with_plan.farm_cash, cash.start)


def _if_it_can_be(verdict: Verdict) -> Verdict | None:
    """The verdict, or None where instalments find no harvest month, run past the horizon, or debt passes counting."""
    try:
        return verdict if verdict.schedule.instalment_months else None
    except LoanError as error:
        if error.code in ("no_harvest_month_to_repay_in", "last_instalment_after_horizon", "amount_too_large"):
            return None
        raise
