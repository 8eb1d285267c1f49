"""Cash by month of many farms: balances, cash gaps, and instalments that are missed (method §§6, 7, 13).

    B(t) = B(t−1) + farm cash + other income − living costs + loan paid out − fee − debt service + interest

What each number means stands with `renovation.farm.household`; here are the same numbers by the same functions.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from renovation.farm import cash_gaps, deepest_month, loan_terms, reserve_needed
from renovation.farm.labour import DUST
from renovation.farms.batch import FARM, Batch
from renovation.farms.numbers import Group, groups
from renovation.farms.takes import Compared
from renovation.farms.without import Numbers, Side, Without
from renovation.inputs import Loan
from renovation.money.loan_amounts import flows_by_amount
from renovation.money.loan_cover import missed
from renovation.money.loans import to_constant_prices
from renovation.types import FloatArray, IndexArray


class Lent(NamedTuple):
    """Loans of N farms by month, constant prices, (N, T): full amounts paid out, fees kept back, interest and
    instalments."""

    payout: FloatArray
    fee: FloatArray
    service: FloatArray

    @property
    def net(self) -> FloatArray:
        """What they bring less what they take."""
        return self.payout - self.fee - self.service


@dataclass(frozen=True, eq=False)
class Households:
    """The families of a group of farms: their money beside the farm's, F rows in the order of its farms."""

    group: Group

    @cached_property
    def rest(self) -> FloatArray:
        """(F, 12) other income less living costs by month of a project year."""
        return self.group.by_project_month("other_income") - self.group.by_project_month("living_costs")

    def lent(self, farms: IndexArray, *, only_running: bool = False) -> Lent:
        """The loans of some farms. only_running: those that are repaid without the plan too.

        Raises LoanError as `household_cash` does.
        """
        months = self.group.shared.appraisal.months
        lines = np.zeros((3, farms.size, months))
        for loan in self.group.batch.template.loans:
            if loan.running or not only_running:
                self._add(lines, loan, farms)
        payout, fee, service = to_constant_prices(lines, self.group.shared.appraisal.inflation)
        return Lent(payout + fee, fee, service)

    def _add(self, lines: FloatArray, loan: Loan, farms: IndexArray) -> None:
        """Add one loan of the template, as each farm has it; those who share its terms together."""
        prefix, scenario = f"loans.{loan.name}.", self.group.shared
        table = self.group.batch.farms.iloc[farms]
        amount = self.group.batch.of_farms(f"{prefix}amount")[farms]
        owed = self._owed(loan, table)
        for terms, rows in _by_terms(loan, table, prefix):
            mine = rows[amount[rows] > 0]
            if mine.size:
                found = flows_by_amount(
                    loan_terms(scenario, terms),
                    amount[mine],
                    scenario.appraisal.months,
                    scenario.appraisal.start_calendar_month,
                    owed[mine],
                )
                lines[:, mine] += found

    def _owed(self, loan: Loan, table: pd.DataFrame) -> FloatArray:
        """(N,) what the lender says is owed; NaN where he says nothing."""
        stated = np.full(len(table), np.nan if loan.owed is None else loan.owed)
        path = f"loans.{loan.name}.owed"
        if path not in table:
            return stated
        own = table[path].to_numpy(dtype=float, na_value=np.nan)
        return np.where(np.isnan(own), stated, own)

    def balance(self, farms: IndexArray, flow: FloatArray) -> FloatArray:
        """(N, T) balance at the end of each month; flow: (N, T) all that comes in less all that goes out."""
        savings = self.group.batch.of_farms("household.savings")[farms]
        rate = self.group.batch.of_farms("household.savings_rate")[farms]
        total = savings[:, None] + np.cumsum(flow, axis=1)
        earning = np.flatnonzero(rate > 0)
        if earning.size:
            monthly, held = np.expm1(np.log1p(rate[earning]) / 12), savings[earning]
            for month in range(flow.shape[1]):
                held = held + monthly * np.maximum(0.0, held) + flow[earning, month]
                total[earning, month] = held
        return total

    def told(self, farms: IndexArray, cash: FloatArray, lent: Lent) -> dict[str, Any]:
        """The columns of N households whose farms bring this cash by month, (N, T)."""
        years = (len(cash), -1, 12)
        rest = np.broadcast_to(self.rest[farms][:, None, :], cash.reshape(years).shape).reshape(cash.shape)
        net = cash + rest
        balance = self.balance(farms, net + lent.net)
        floor = self.group.batch.of_farms("household.floor")[farms]
        gaps = cash_gaps(net, lent.service)
        allowed = DUST * np.maximum(np.abs(balance).max(axis=1), floor)
        below = balance < (floor - allowed)[:, None]
        late = missed(lent.service, balance)
        return {
            "deepest_balance": balance.min(axis=1),
            "deepest_month": deepest_month(balance),
            "final_balance": balance[:, -1],
            "reserve_needed": reserve_needed(balance, floor),
            "gap_years": gaps.sum(axis=1),
            "first_gap_year": _first(gaps) + 1,
            "months_below_floor": below.sum(axis=1),
            "first_month_below_floor": _first(below),
            "debt_service": lent.service.sum(axis=1),
            "instalments": (lent.service > 0).sum(axis=1),
            "missed_instalments": late.sum(axis=1),
            "first_missed_month": _first(late),
        }


@dataclass(frozen=True, eq=False)
class Purse:
    """What the households of a slice of stands have without a plan: to be told of with what a plan changes.

    farms: (N,) the farm of each stand. cash: (N, T) its cash. lent: the loans of the farms from `first` on.
    """

    households: Households
    farms: IndexArray
    cash: FloatArray
    lent: Lent

    @classmethod
    def of(cls, without: Without, side: Side, stands: IndexArray) -> "Purse":
        """Of a slice of stands."""
        group = without.compared.group
        households, farms = Households(group), group.farm_of[stands]
        lent = households.lent(np.arange(farms[0], farms[-1] + 1))
        return cls(households, farms, without.cash(side, np.arange(stands.size), stands), lent)

    def told(self, here: IndexArray, change: FloatArray) -> dict[str, Any]:
        """The columns of `Households.told` of stands at these places, with this change of their farms' cash."""
        farms = self.farms[here]
        lent = Lent(*(part[farms - self.farms[0]] for part in self.lent))
        return self.households.told(farms, self.cash[here] + change, lent)


def cash_many(batch: Batch) -> pd.DataFrame:
    """The household's balance of each farm as it stands, without any plan: a row a farm, by name.

    Columns, once with all the loans stated and with `without_` once with those alone that are paid out already:
    `deepest_balance`, the project month of it, `final_balance`, `reserve_needed`; `gap_years`, their number, and the
    first, from 1; months below the floor, their number and the first; `debt_service`, the sum of it; `instalments` and
    those missed, their number, and the first project month of them. NaN where there is none. Money in constant prices.

    Raises LoanError as `household_cash` does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farms = pd.DataFrame(index=pd.Index(["Farm 1"], name="farm"))
        >>> stands = pd.DataFrame({"farm": ["Farm 1"], "stand": ["Hill"], "stands.trees": [250]})
        >>> int(cash_many(Batch(demo_scenario(), farms, stands)).instalments[0]) > 0
        True
    """
    tables = [table for group in groups(batch) for table in _cash_of(group)] or [pd.DataFrame({FARM: []})]
    return pd.concat(tables, ignore_index=True).sort_values(FARM, kind="stable", ignore_index=True)


def _cash_of(group: Group) -> Iterator[pd.DataFrame]:
    """The rows of a group, some farms at a time."""
    without, households = Without(Numbers(Compared(group, "trees", begins=False))), Households(group)
    for stands in without.slices():
        side = without.side(stands, without.untouched(stands))
        here = np.flatnonzero(np.diff(group.farm_of[stands], prepend=-1))
        farms = group.farm_of[stands][here]
        cash = without.cash(side, here, stands[here])
        told = {FARM: group.batch.farms.index.to_numpy()[farms]}
        told |= households.told(farms, cash, households.lent(farms))
        running = households.told(farms, cash, households.lent(farms, only_running=True))
        yield pd.DataFrame({**told, **{f"without_{name}": column for name, column in running.items()}})


def _by_terms(loan: Loan, table: pd.DataFrame, prefix: str) -> Iterator[tuple[Loan, IndexArray]]:
    """A loan with the terms that farms state of it, and the rows of those who state the same."""
    fields = [path for path in table.columns if str(path).startswith(prefix)]
    fields = [path for path in fields if path.removeprefix(prefix) not in ("amount", "owed")]
    bare = loan.model_copy(update={"amount": 1.0, "owed": None})
    if not fields:
        yield bare, np.arange(len(table))
        return
    number = table.groupby(fields, dropna=False, sort=False).ngroup().to_numpy()
    for one in range(int(number.max(initial=-1)) + 1):
        rows = np.flatnonzero(number == one)
        stated = table.iloc[rows[0]][fields].dropna()
        terms = {str(path).removeprefix(prefix): _plain(value) for path, value in stated.items()}
        yield Loan.model_validate({**bare.model_dump(), **terms}), rows


def _plain(value: Any) -> Any:
    """A cell as the models take it: whole numbers stand as broken ones where a column has blanks."""
    value = value.item() if isinstance(value, np.generic) else value
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _first(where: Any) -> FloatArray:
    """(N,) the first place on the last axis; NaN where there is none."""
    return np.where(where.any(axis=1), where.argmax(axis=1), np.nan)
