"""The household's balance by month, with the plan and without it, and its cash gap (method §§6, 7).

    B(t) = B(t−1) + farm cash + other income − living costs + loan paid out − fee − debt service + interest
    B(−1) = savings,   interest(t) = ((1 + i)^(1/12) − 1) · max(0, B(t−1))

Everything is in constant prices of month 0: a loan's nominal money is deflated month by month. The functions
on bare arrays take any number of series at once, time on the last axis.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from renovation.farm.flows import FarmFlows, by_year, rows_by_year
from renovation.farm.labour import DUST, month_labels
from renovation.farm.loans import loan_schedule, money_of_loans, running_loans
from renovation.farm.trees import by_project_month
from renovation.inputs import Loan, Scenario
from renovation.money.flows import incremental
from renovation.money.loan_cover import balance as balance_by_month
from renovation.money.loans import Schedule
from renovation.types import BoolArray, FloatArray, IndexArray

if TYPE_CHECKING:
    import pandas as pd


def cash_gaps(money_in: FloatArray, money_out: FloatArray) -> BoolArray:
    """Cash-gap years, (..., T) to (..., H): the year's money in is below its money out.

    In: farm cash + other income. Out: living costs + debt service. Loan payouts, savings and their interest
    do not count: they bridge a gap, they do not remove it. Less than 1e-9 of the largest year is no gap.

    Example:
        >>> cash_gaps(np.full(24, 10.0), np.repeat([11.0, 9.0], 12)).tolist()
        [True, False]
    """
    return np.asarray(incremental(by_year(money_in), by_year(money_out)) < 0)


def dips(cash_with: FloatArray, cash_without: FloatArray) -> BoolArray:
    """Dip years, (..., T) to (..., H): farm cash with the plan, before debt service, is below that without.

    Example:
        >>> dips(np.repeat([5.0, 20.0], 12), np.full(24, 10.0)).tolist()
        [True, False]
    """
    return np.asarray(incremental(by_year(cash_with), by_year(cash_without)) < 0)


def deepest_month(balance: FloatArray) -> IndexArray:
    """First month of the lowest balance, (..., T) to (...).

    Balances that differ by rounding alone count as equal.

    Example:
        >>> int(deepest_month(np.array([3.0, -2.0, -2.0, 5.0])))
        1
    """
    lowest = balance.min(axis=-1, keepdims=True)
    scale = np.abs(balance).max(axis=-1, keepdims=True)
    return np.asarray(np.argmax(balance <= lowest + DUST * scale, axis=-1))


def reserve_needed(balance: FloatArray, floor: float | FloatArray) -> FloatArray:
    """Money that would keep the balance at the floor, (..., T) to (...): max(0, floor − min B).

    floor: one for all, or one for each (...).

    It is beyond the savings that are in the balance already. Example:

        >>> reserve_needed(np.array([[100.0, -340.0], [80.0, 90.0]]), 50.0).tolist()
        [390.0, 0.0]
    """
    lowest = balance.min(axis=-1)
    short = floor - lowest
    scale = np.maximum(np.abs(balance).max(axis=-1), floor)
    return np.where(short > DUST * scale, short, 0.0)


@dataclass(frozen=True, eq=False)
class CashSide:
    """The household's money by month on one side, with the plan or without; each (T,), constant prices.

    farm_cash: §4's cash account, after hired hands. loan_payout: the full amounts paid out; loan_fee: what is
    kept back from them. debt_service: interest and instalments of all loans. savings: the balance before
    month 0. floor: the balance the family will not go below. savings_rate_per_year: effective.
    """

    farm_cash: FloatArray
    other_income: FloatArray
    living_costs: FloatArray
    loan_payout: FloatArray
    loan_fee: FloatArray
    debt_service: FloatArray
    savings: float
    floor: float
    savings_rate_per_year: float

    @cached_property
    def money_in(self) -> FloatArray:
        """Farm cash + other income: what a year's payments are met from."""
        return self.farm_cash + self.other_income

    @cached_property
    def money_out(self) -> FloatArray:
        """Living costs + debt service."""
        return self.living_costs + self.debt_service

    @cached_property
    def margin(self) -> FloatArray:
        """Money in less money out; loan payouts and interest on savings left aside."""
        return self.money_in - self.money_out

    @cached_property
    def balance(self) -> FloatArray:
        """B(t), the balance at the end of each month."""
        net = self.margin + self.loan_payout - self.loan_fee
        return balance_by_month(self.savings, net, self.savings_rate_per_year)

    @cached_property
    def savings_interest(self) -> FloatArray:
        """Interest earned in each month on a balance above 0 at the end of the month before."""
        before = np.concatenate([[self.savings], self.balance[:-1]])
        monthly = (1 + self.savings_rate_per_year) ** (1 / 12) - 1
        return np.asarray(monthly * np.maximum(0.0, before))

    @cached_property
    def gap_by_year(self) -> BoolArray:
        """Whether each project year is a cash-gap year, (H,)."""
        return cash_gaps(self.money_in, self.money_out)

    @cached_property
    def gap_years(self) -> tuple[int, ...]:
        """Cash-gap years, counted from 1."""
        return tuple(int(y) + 1 for y in np.flatnonzero(self.gap_by_year))

    @cached_property
    def deepest_month(self) -> int:
        """First project month of the lowest balance."""
        return int(deepest_month(self.balance))

    @property
    def deepest(self) -> float:
        """The lowest balance at the end of a month."""
        return float(self.balance.min())

    @cached_property
    def reserve_needed(self) -> float:
        """Money needed beyond the savings to keep the balance at the floor: max(0, floor − min B)."""
        return float(reserve_needed(self.balance, self.floor))

    @cached_property
    def months_below_floor(self) -> tuple[int, ...]:
        """Project months that end with a balance below the floor."""
        allowed = DUST * max(float(np.abs(self.balance).max()), self.floor)
        return tuple(int(month) for month in np.flatnonzero(self.balance < self.floor - allowed))

    @cached_property
    def short_years(self) -> tuple[int, ...]:
        """Years in which money runs short, counted from 1: a month of theirs ends below the floor."""
        return tuple(sorted({month // 12 + 1 for month in self.months_below_floor}))

    @cached_property
    def final_balance(self) -> float:
        """The balance at the end of the horizon."""
        return float(self.balance[-1])

    def year_rows(self) -> list[dict[str, Any]]:
        """One dict per project year: the parts summed, the balance at its end and its lowest, gap or not."""
        series = {
            "farm_cash": self.farm_cash,
            "other_income": self.other_income,
            "living_costs": self.living_costs,
            "debt_service": self.debt_service,
            "margin": self.margin,
            "loan_payout": self.loan_payout,
            "loan_fee": self.loan_fee,
            "savings_interest": self.savings_interest,
        }
        held = self.balance.reshape(-1, 12)
        return [
            {
                **row,
                "balance": float(held[y, -1]),
                "lowest_balance": float(held[y].min()),
                "lowest_month": 12 * y + int(deepest_month(held[y])),
                "cash_gap": bool(self.gap_by_year[y]),
            }
            for y, row in enumerate(rows_by_year(series))
        ]

    def as_dict(self, months: Sequence[str]) -> dict[str, Any]:
        """Everything for `--json`, months named by their labels: full precision, stable keys."""
        rows = self.year_rows()
        return {
            "cash_gap_years": [{"year": y, "margin": rows[y - 1]["margin"]} for y in self.gap_years],
            "deepest": {
                "balance": self.deepest,
                "project_month": self.deepest_month,
                "month": months[self.deepest_month],
            },
            "reserve_needed": self.reserve_needed,
            "months_below_floor": [months[m] for m in self.months_below_floor],
            "final_balance": self.final_balance,
            "years": [{**row, "lowest_month": months[row["lowest_month"]]} for row in rows],
            "balance": self.balance.tolist(),
        }


@dataclass(frozen=True, eq=False)
class HouseholdCash:
    """The household's money with the plan beside the same without it.

    loans: those that are running and those that came with the plan, in order; schedules: theirs, in nominal money.
    Without the plan there are only the running ones.
    """

    start: str
    currency: str
    scenario_digest: str
    with_plan: CashSide
    without: CashSide
    loans: tuple[Loan, ...]
    schedules: tuple[Schedule, ...]

    @cached_property
    def months(self) -> tuple[str, ...]:
        """Calendar month `YYYY-MM` of each project month."""
        return month_labels(self.start, self.with_plan.balance.size)

    @cached_property
    def dip_years(self) -> tuple[int, ...]:
        """Dip years, counted from 1: farm cash with the plan is below that without it, debt service aside."""
        return tuple(int(y) + 1 for y in np.flatnonzero(dips(self.with_plan.farm_cash, self.without.farm_cash)))

    def table(self) -> "pd.DataFrame":
        """One row per month: the parts of the balance with the plan; farm cash and balance without it."""
        import pandas as pd

        side, without = self.with_plan, self.without
        return pd.DataFrame(
            {
                "project_month": np.arange(side.balance.size),
                "month": self.months,
                "farm_cash": side.farm_cash,
                "other_income": side.other_income,
                "living_costs": side.living_costs,
                "debt_service": side.debt_service,
                "margin": side.margin,
                "loan_payout": side.loan_payout,
                "loan_fee": side.loan_fee,
                "savings_interest": side.savings_interest,
                "balance": side.balance,
                "farm_cash_without": without.farm_cash,
                "balance_without": without.balance,
            }
        )

    def years_table(self) -> "pd.DataFrame":
        """One row per project year with the plan, a dip column, and margin, balance and gap without it."""
        import pandas as pd

        without = self.without.year_rows()
        rows = [
            {
                **row,
                "dip": row["year"] in self.dip_years,
                "farm_cash_without": other["farm_cash"],
                "margin_without": other["margin"],
                "balance_without": other["balance"],
                "cash_gap_without": other["cash_gap"],
            }
            for row, other in zip(self.with_plan.year_rows(), without, strict=True)
        ]
        return pd.DataFrame(rows)

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys."""
        return {
            "currency": self.currency,
            "scenario_digest": self.scenario_digest,
            "start": self.start,
            "savings": self.with_plan.savings,
            "floor": self.with_plan.floor,
            "loans": [loan.name for loan in self.loans],
            "dip_years": list(self.dip_years),
            "with_plan": self.with_plan.as_dict(self.months),
            "without": self.without.as_dict(self.months),
        }


def household_cash(scenario: Scenario, flows: FarmFlows, loans: Sequence[Loan] | None = None) -> HouseholdCash:
    """The household's balance by month with the plan and its loans, beside the farm as it is without them.

    flows: the scenario's, from `farm_flows`. loans: the scenario's own where None; its running loans are on both sides.
    Raises LoanError, with the loan's name, for a loan that cannot be.

    Example:
        >>> from renovation.farm import farm_flows
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> cash = household_cash(s, farm_flows(s, []), loans=[])
        >>> bool((cash.with_plan.balance == cash.without.balance).all()), cash.dip_years
        (True, ())
    """
    if loans is None:
        loans = scenario.loans
    else:
        loans = (*running_loans(scenario), *(loan for loan in loans if not loan.running))
    schedules = tuple(loan_schedule(scenario, loan) for loan in loans)
    household, appraisal = scenario.household, scenario.appraisal
    months, first = appraisal.months, appraisal.start_calendar_month
    without = CashSide(
        farm_cash=flows.without.cash,
        other_income=by_project_month(household.other_income, first, months),
        living_costs=by_project_month(household.living_costs, first, months),
        savings=household.savings,
        floor=household.floor,
        savings_rate_per_year=household.savings_rate,
        **money_of_loans(scenario, [plan for plan in schedules if plan.terms.running]),
    )
    lent = money_of_loans(scenario, schedules)
    with_plan = replace(
        without,
        farm_cash=flows.with_plan.cash,
        loan_payout=lent["loan_payout"],
        loan_fee=lent["loan_fee"],
        debt_service=lent["debt_service"],
    )
    return HouseholdCash(
        start=appraisal.start,
        currency=appraisal.currency,
        scenario_digest=scenario.digest,
        with_plan=with_plan,
        without=without,
        loans=loans,
        schedules=schedules,
    )
