"""Every way on every stand of many farms, weighed as `compare` weighs one farm's, all at once (method §13).

What each number means stands with `renovation.decide.compare`; here are the same numbers by the same functions, a row a
farm, stand and way. The yearly account takes no months; months are laid out for hired hands and cash alone, a block of
rows at a time.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from renovation.decide.compare import pair_of
from renovation.farms.batch import FARM, STAND, Batch
from renovation.farms.months import Purse
from renovation.farms.numbers import groups
from renovation.farms.pays import ConstantTakes, Prices, constant_takes
from renovation.farms.takes import Compared
from renovation.farms.ways import Loss, Money, Trees, product
from renovation.farms.without import Numbers, Side, Tools, Without, by_price, rows_of, shade_of, tools_of
from renovation.inputs import Scenario, month_count, year_month
from renovation.inputs.techniques import WorksOn
from renovation.money import (
    discount_factors,
    discounted_payback_many,
    equivalent_annual_value,
    incremental,
    mirr_many,
    net_benefit_investment_ratio,
    net_present_value,
    payback_many,
)
from renovation.money.flows import SMALL, zero_small
from renovation.money.rates import IrrMany, irr_many
from renovation.types import BoolArray, FloatArray, IndexArray

BLOCK = 112
"""Rows whose months are worked out at a time, so that they stay near the processor."""
GEMV_ONE_THREAD = 9_000
"""Figures; from 9,216 on OpenBLAS takes a product of a matrix and a vector to a second thread."""
ACCOUNTS = ("", "per_tree_")
WORKS_ON: tuple[WorksOn, ...] = ("trees", "empty places")
VERDICTS = np.array(["none", "one", "several"], dtype=object)

Columns = dict[str, Any]
ObjectArray = npt.NDArray[np.object_]


def compare_many(batch: Batch, *, cash: bool = False) -> pd.DataFrame:
    """Weigh each way on the trees, and on the empty places, of each stand against leaving them alone.

    A row a farm, stand and way, by farm and stand; ways that no month suits and stands with nothing free have none.
    Columns: `farm`, `stand`, `technique`, `works_on`, `trees`, `start`; the measures of `Measures.as_dict` of all the
    trees, and with `per_tree_` of one, the roots as tuples, NaN for blank; `return_per_day`, `return_per_family_day`;
    `break_even_` price, wage and mature crop, and every `break_even_take` as a tuple; `most_money_out` and the project
    month of it; `headline` and `best`, whether the way is the one that the sentence at the head speaks of, and the one
    worth most.

    cash: with the columns of `cash_many` too, of a household that works so on these trees and takes all its loans.

    Raises ValueError as `compare` does, with `cash` LoanError as `household_cash`.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> farms = pd.DataFrame(index=pd.Index(["Farm 1"], name="farm"))
        >>> stands = pd.DataFrame({"farm": ["Farm 1"], "stand": ["Hill"], "stands.trees": [250]})
        >>> batch = Batch(demo_scenario(), farms, stands)
        >>> way = compare_many(batch).set_index("technique").loc["side_graft"]
        >>> bool(np.isclose(way.npv, compare(batch.scenario("Farm 1")).outcomes["side_graft"].npv))
        True
    """
    found = [table for group in groups(batch) for kind in WORKS_ON for table in _tables(Compared(group, kind), cash)]
    if not found:
        return pd.DataFrame(columns=[FARM, STAND, "technique"])
    return pd.concat(found).sort_index(kind="stable", ignore_index=True)


def _tables(compared: Compared, cash: bool) -> Iterator[pd.DataFrame]:
    """The rows of a group, some stands at a time."""
    if not any(compared.stands_of(key).size for key in compared.starts):
        return
    without = Without(Numbers(compared))
    all_of = {key: compared.stands_of(key) for key in compared.starts}
    for stands in without.slices():
        here = {
            key: at[np.searchsorted(at, stands[0]) : np.searchsorted(at, stands[-1] + 1)] for key, at in all_of.items()
        }
        here = {key: at for key, at in here.items() if at.size}
        if here:
            yield _table(without, stands, here, cash)


def _table(without: Without, stands: IndexArray, here: Mapping[str, IndexArray], cash: bool) -> pd.DataFrame:
    """The rows of a slice of stands, by stand, the ways in the scenario's order."""
    compared = without.compared
    untouched = without.untouched(stands)
    side = without.side(stands, untouched)
    purse = Purse.of(without, side, stands) if cash else None
    parts = [_way(without, side, key, at, at - stands[0], untouched, purse) for key, at in here.items()]
    at = np.concatenate(list(here.values()))
    key = np.repeat(np.arange(len(here)), [places.size for places in here.values()])
    order = np.lexsort((key, at))
    first = month_count(without.scenario.appraisal.start)
    starts = np.array([year_month(first + compared.starts[name]) for name in here], dtype=object)
    table = compared.group.batch.stands
    columns: Columns = {
        FARM: table[FARM].to_numpy()[at],
        STAND: table[STAND].to_numpy()[at],
        "technique": np.array(list(here), dtype=object)[key],
        "works_on": np.full(at.size, compared.works_on, dtype=object),
        "trees": compared.free[at].astype(np.int64),
        "start": starts[key],
    }
    joined = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    for name in ACCOUNTS:
        columns |= _measures(without.scenario, name, joined.pop(f"{name}flow"))
        columns[f"{name}benefit_cost"] = joined.pop(f"{name}benefit_cost")
    columns |= joined
    columns["headline"], columns["best"] = _told(without, here, at, key, columns["npv"])
    return pd.DataFrame({name: values[order] for name, values in columns.items()}, index=table.index[at[order]])


def _measures(scenario: Scenario, name: str, flows: FloatArray) -> Columns:
    """The measures of many flows (N, H) as columns, as `appraise_many` has them, the roots of each as a tuple."""
    appraisal, flows = scenario.appraisal, zero_small(flows)
    rate = appraisal.discount_rate
    finance, reinvest = (
        rate if stated is None else stated for stated in (appraisal.finance_rate, appraisal.reinvestment_rate)
    )
    irr = irr_many(flows)
    npv, mirr, ratio, payback, discounted = _in_blocks(
        flows,
        lambda block: net_present_value(block, rate),
        lambda block: mirr_many(block, finance, reinvest),
        lambda block: net_benefit_investment_ratio(block, rate),
        payback_many,
        lambda block: discounted_payback_many(block, rate),
    )
    found = {
        "npv": npv,
        "irr": irr.value,
        "irr_roots": _tuples(irr),
        "irr_verdict": VERDICTS[np.minimum(irr.counted, 2)],
        "mirr": mirr,
        "net_benefit_cost": ratio,
        "equivalent_annual_value": equivalent_annual_value(npv, rate, flows.shape[1]),
        "payback_years": payback,
        "discounted_payback_years": discounted,
    }
    return {f"{name}{field}": column for field, column in found.items()}


def _in_blocks(flows: FloatArray, *measures: Callable[[FloatArray], FloatArray]) -> list[FloatArray]:
    """Measures of flows (N, H) that are products with a vector, (N,) each.

    By rows of one number, so that no row's sum depends on its neighbours, and few enough for one thread.
    """
    height = max(16, GEMV_ONE_THREAD // flows.shape[1] // 16 * 16)
    padded = np.concatenate([flows, np.zeros((-len(flows) % height, flows.shape[1]))])
    blocks = padded.reshape(-1, height, flows.shape[1])
    return [np.concatenate([measure(block) for block in blocks])[: len(flows)] for measure in measures]


def _tuples(irr: IrrMany) -> ObjectArray:
    """The roots of each flow."""
    roots = np.empty(irr.counts.size, dtype=object)
    for number in np.unique(irr.counts).tolist():
        rows = np.flatnonzero(irr.counts == number)
        tuples = np.empty(rows.size, dtype=object)
        columns = irr.rates[rows, :number].T.tolist()
        tuples[:] = list(zip(*columns, strict=True)) if number else [()] * rows.size
        roots[rows] = tuples
    return roots


def _told(
    without: Without, here: Mapping[str, IndexArray], at: IndexArray, key: IndexArray, npv: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Whether each row is the way at the head, and the one worth most of its stand: by its NPV, where above 0."""
    places, number = np.unique(at, return_inverse=True)
    worth = np.full((places.size, len(here)), -np.inf)
    worth[number, key] = npv
    top = worth.argmax(axis=1)
    best = (top[number] == key) & (npv > 0)
    names = list(here)
    present, which = np.unique(worth > -np.inf, axis=0, return_inverse=True)
    heads = [pair_of(without.scenario, [names[one] for one in np.flatnonzero(row)])[0] for row in present]
    head = np.array([names.index(str(name)) for name in heads])[which.reshape(-1)]
    return head[number] == key, best


def _way(
    without: Without,
    side: Side,
    key: str,
    stands: IndexArray,
    here: IndexArray,
    untouched: FloatArray,
    purse: Purse | None,
) -> Columns:
    """The columns of one way on some stands of a slice. here: their places in the slice."""
    compared, numbers = without.compared, without.numbers
    weights = compared.weights(key, stands)
    mature = compared.group.of_farm(f"techniques.{key}.mature_crop")[stands]
    shade = shade_of(compared, key)[stands]
    constant = constant_takes(compared, key)
    tools, which = tools_of(without, side, key, weights, here, None if constant is None else constant.above)
    parts, places = [], []
    for loss, some in numbers.losses(stands):
        plot = numbers.of(compared.works_on)
        rows = rows_of(plot, stands[some], weights[some], mature[some], shade[some])
        there = here[some]
        crop = untouched[there] if compared.works_on == "trees" else np.zeros((some.size, untouched.shape[1]))
        made = _Rows(without, side, key, loss, rows, stands[some], there, crop, tools, which[some], purse)
        parts.append(made.columns(constant))
        places.append(some)
    order = np.argsort(np.concatenate(places), kind="stable")
    return {name: np.concatenate([part[name] for part in parts])[order] for name in parts[0]}


class _Rows:
    """Rows of one way: stands with equal losses."""

    def __init__(
        self,
        without: Without,
        side: Side,
        key: str,
        loss: Loss,
        rows: Trees,
        stands: IndexArray,
        here: IndexArray,
        untouched: FloatArray,
        tools: Tools,
        which: IndexArray,
        purse: Purse | None,
    ) -> None:
        """Lay out what the account by year and the months are made of. which: (N,) row of `tools` of each."""
        self.without, self.side, self.rows, self.untouched = without, side, rows, untouched
        self.stands, self.here, self.which, self.purse = stands, here, which, purse
        self.tools, self.tools_under_any = tools
        self.way, self.alone, self.numbers = without.way(key, loss), without.alone(loss), without.numbers
        self.trees = without.compared.free[stands][:, None]
        self.needs_tools = bool(self.tools.any())
        self.old_price = self.numbers.net_price(stands)
        self.picking = self.numbers.picking[stands][:, None]
        self.premium = 1 + self.numbers.compared.group.premium(self.way.technique.material)[stands]
        rate, years = without.scenario.appraisal.discount_rate, without.setting.months // 12
        self.discount = discount_factors(rate, years)[:, None]
        self.discount_by_month = np.repeat(self.discount, 12, axis=0)

    def columns(self, constant: ConstantTakes | None) -> Columns:
        """All numbers of the rows, (N,) each, and the two flows that are to be measured, (N, H).

        constant: takes at which the way is tried; None where nothing has to take.
        """
        parts = [self._by_month(slice(first, first + BLOCK)) for first in range(0, len(self.stands), BLOCK)]
        return {
            **self._by_year(constant),
            **{name: np.concatenate([part[name] for part in parts]) for name in parts[0]},
        }

    def _by_year(self, constant: ConstantTakes | None) -> Columns:
        """Accounts, returns and break-even values: the economic account, in which no month is needed."""
        rows, numbers = self.rows, self.numbers
        day = (numbers.wage * numbers.labour_value)[self.stands][:, None]
        new_price = numbers.net_price(self.stands, self.way.technique.material)
        tree, alone = self.way.years(rows), self.alone.years(rows)
        days = tree.days + self.picking * (tree.old_kg + tree.new_kg)
        days_alone = alone.days + self.picking * alone.old_kg
        benefits = tree.old_kg * self.old_price + tree.new_kg * new_price + tree.other
        benefits_alone = alone.old_kg * self.old_price
        costs, costs_alone = days * day + tree.materials, days_alone * day + alone.materials
        gains, outlays = self.side.benefits_by_year[self.here], self.side.costs_by_year[self.here]
        tools = self.tools.reshape(len(self.tools), -1, 12).sum(axis=-1)[self.which]
        more_gains = gains + self.trees * (benefits - benefits_alone)
        more_outlays = outlays + self.trees * (costs - costs_alone) + tools
        found = {
            **self._account("", more_gains, gains, more_outlays, outlays),
            **self._account("per_tree_", benefits, benefits_alone, costs, costs_alone),
        }
        more_days = self._worth(days - days_alone)
        earned = self._worth((benefits - tree.materials) - (benefits_alone - alone.materials))
        found["return_per_day"] = _ratio(earned, more_days)
        trees = self.trees[:, 0]
        npv = self._worth((more_gains - more_outlays) - (gains - outlays))
        kg = (tree.old_kg + tree.new_kg * self.premium[:, None] - alone.old_kg) * numbers.path
        grown = rows.mature > 0
        picked = self._worth(tree.new_kg * (new_price - day * self.picking)) / np.where(grown, rows.mature, 1.0)
        price, wage = numbers.compared.group.price[self.stands], numbers.wage[self.stands]
        labour = numbers.labour_value[self.stands]
        crop = _zero_of_line(rows.mature, npv, trees * picked)
        found["break_even_price_per_kg"] = _zero_of_line(price, npv, trees * self._worth(kg))
        found["break_even_wage_per_day"] = _zero_of_line(wage, npv, -trees * labour * more_days)
        found["break_even_mature_crop"] = np.where(grown, crop, np.nan)
        own = self._worth(benefits - costs)
        found["break_even_take"] = self._takes(constant, npv, own, price, day)
        return found

    def _takes(
        self, constant: ConstantTakes | None, npv: FloatArray, own: FloatArray, price: FloatArray, day: FloatArray
    ) -> ObjectArray:
        """Takes at which each row just pays, (N,) tuples. own: (N,) what a tree is worth under its own takes."""
        found = np.empty(len(npv), dtype=object)
        if constant is None:
            found[:] = [()] * len(npv)
            return found
        numbers = self.numbers
        prices = Prices(
            price[:, None],
            (price * self.premium)[:, None],
            numbers.deductions[self.stands][:, None],
            day,
            self.picking,
            numbers.path,
        )
        worth = constant.worth(self.way, self.rows, self.untouched, prices, self.discount[:, 0])
        more = self.tools - self.tools_under_any
        tools = product(more.reshape(len(more), -1, 12).sum(axis=-1), self.discount)[self.which]
        found[:] = constant.pays(npv[:, None] + self.trees * (worth - own[:, None]) + tools)
        return found

    def _worth(self, by_year: FloatArray) -> FloatArray:
        """Present value of each row, (N,)."""
        return product(by_year, self.discount)[:, 0]

    def _account(
        self, name: str, gains: FloatArray, before: FloatArray, outlays: FloatArray, outlays_before: FloatArray
    ) -> Columns:
        """The incremental flow of benefits and costs by year, and the ratio of the two."""
        flow = incremental(gains - outlays, before - outlays_before)
        ratio = _ratio(self._worth(incremental(gains, before)), self._worth(incremental(outlays, outlays_before)))
        return {f"{name}flow": flow, f"{name}benefit_cost": ratio}

    def _by_month(self, block: slice) -> Columns:
        """What hired hands and cash make of it: the most money out, and the return on the family's own days."""
        numbers, at, there = self.numbers, self.stands[block], self.here[block]
        rows = Trees(*(part[block] for part in self.rows))
        rows = rows._replace(weights=rows.weights * self.trees[block][:, :, None])
        price = numbers.compared.group.price[at] * self.premium[block]
        money = Money(price, numbers.deductions[at], self.picking[block][:, 0], numbers.path)
        change = self.way.change(rows, self.alone, self.untouched[block], money)
        days = change.days
        days += self.picking[block] * change.old_kg
        cash = change.money
        cash += by_price(change.old_kg, self.old_price[block])
        if self.needs_tools:
            cash -= self.tools[self.which[block]]
        beyond = self.side.beyond[there]
        family = np.minimum(0.0, beyond + days)  # the change is exactly 0 where the family has no day left
        family -= np.minimum(0.0, beyond)
        days -= family
        days *= numbers.wage[at][:, None]
        cash -= days
        total = np.cumsum(cash, axis=1)
        month = total.argmin(axis=1)
        worth, worked = (product(part, self.discount_by_month)[:, 0] for part in (cash, family))
        household = {} if self.purse is None else self.purse.told(there, cash)
        return {
            "return_per_family_day": _ratio(worth, worked),
            "most_money_out": np.minimum(0.0, total[np.arange(len(month)), month]),
            "most_money_out_month": month,
            **household,
        }


def _ratio(above: FloatArray, below: FloatArray) -> FloatArray:
    """One present value over another, NaN where the lower is not above 0, or so near that no number is so large."""
    with np.errstate(over="ignore"):
        ratio = np.where(below > 0, above / np.where(below > 0, below, 1.0), np.nan)
    return np.where(np.isinf(ratio), np.nan, ratio)


def _zero_of_line(value: FloatArray, npv: FloatArray, slope: FloatArray) -> FloatArray:
    """Where an NPV that is a line in a driver is 0, as `switching_value`; NaN at no value from 0 up."""
    other = np.where(value != 0, 0.0, 1.0)
    at_other = npv + slope * (other - value)
    change = at_other - npv
    flat = np.abs(change) <= SMALL * np.maximum(np.abs(npv), np.abs(at_other))
    zero = value - npv * (other - value) / np.where(flat, 1.0, change)
    return np.where(flat | (zero < 0), np.nan, zero)
