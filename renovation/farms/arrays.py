"""Every way on every stand of many farms, weighed as `compare` weighs one farm's, all at once (method §13).

What each number means stands with `renovation.decide.compare`; here are the same numbers by the same functions, a row a
farm, stand and way. The yearly account takes no months; months are laid out for hired hands and cash alone, a block of
rows at a time.
"""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from renovation.decide.compare import pair_of
from renovation.farms.batch import FARM, STAND, Batch
from renovation.farms.numbers import groups
from renovation.farms.takes import Compared
from renovation.farms.ways import Loss, Trees, Way
from renovation.farms.without import Numbers, Side, Without, rows_of, sales, shade_of
from renovation.inputs import month_count, year_month
from renovation.inputs.techniques import WorksOn
from renovation.money import appraise_many, incremental, net_present_value
from renovation.money.flows import SMALL, zero_small
from renovation.money.measures import MeasuresMany
from renovation.types import FloatArray, IndexArray

BLOCK = 112
"""Rows worked out at a time: their months stay near the processor, and no product takes a second thread."""
WORKS_ON: tuple[WorksOn, ...] = ("trees", "empty places")
VERDICTS = np.array(["none", "one", "several"], dtype=object)

Columns = dict[str, Any]


def compare_many(batch: Batch) -> pd.DataFrame:
    """Weigh each way on the trees, and on the empty places, of each stand against leaving them alone.

    A row a farm, stand and way, by farm and stand; ways that no month suits and stands with nothing free have none.
    Columns: `farm`, `stand`, `technique`, `works_on`, `trees`, `start`; the measures of `Measures.as_dict` of all the
    trees, and with `per_tree_` of one, the roots as tuples, NaN for blank; `return_per_day`, `return_per_family_day`;
    `break_even_` price, wage and mature crop; `most_money_out` and the project month of it; `headline` and `best`,
    whether the way is the one that the sentence at the head speaks of, and the one worth most.

    Raises ValueError as `compare` does. Takes at which a way just pays are not among the columns.

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
    found = [table for group in groups(batch) for kind in WORKS_ON for table in _tables(Compared(group, kind))]
    if not found:
        return pd.DataFrame(columns=[FARM, STAND, "technique"])
    table = pd.concat(found, ignore_index=True)
    return table.sort_values([FARM, STAND], kind="stable", ignore_index=True)


def _tables(compared: Compared) -> Iterator[pd.DataFrame]:
    """The rows of a group, some stands at a time."""
    if not any(compared.stands_of(key).size for key in compared.starts):
        return
    without = Without(Numbers(compared))
    for stands in without.slices():
        here = {key: np.intersect1d(compared.stands_of(key), stands) for key in compared.starts}
        here = {key: at for key, at in here.items() if at.size}
        if here:
            yield _table(without, stands, here)


def _table(without: Without, stands: IndexArray, here: Mapping[str, IndexArray]) -> pd.DataFrame:
    """The rows of a slice of stands, by stand, the ways in the scenario's order."""
    compared = without.compared
    untouched = without.untouched(stands)
    side = without.side(stands, untouched)
    parts = [_way(without, side, key, at, at - stands[0], untouched) for key, at in here.items()]
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
    for name in parts[0]:
        columns[name] = np.concatenate([part[name] for part in parts])
    columns["headline"], columns["best"] = _told(without, here, at, key, columns["npv"])
    return pd.DataFrame({name: values[order] for name, values in columns.items()})


def _told(
    without: Without, here: Mapping[str, IndexArray], at: IndexArray, key: IndexArray, npv: FloatArray
) -> tuple[FloatArray, FloatArray]:
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
    without: Without, side: Side, key: str, stands: IndexArray, here: IndexArray, untouched: FloatArray
) -> dict[str, Any]:
    """The columns of one way on some stands of a slice. here: their places in the slice."""
    compared, numbers = without.compared, without.numbers
    weights = compared.weights(key, stands)
    mature = compared.group.of_farm(f"techniques.{key}.mature_crop")[stands]
    shade = shade_of(compared, key)[stands]
    tools, which = _tools(without, side, key, weights, here)
    found: dict[str, Any] = {}
    place = np.empty(stands.size, dtype=np.intp)
    done, parts = 0, []
    for loss, some in numbers.losses(stands):
        way = without.way(key, loss)
        for first in range(0, some.size, BLOCK):
            block = some[first : first + BLOCK]
            full = block[np.minimum(np.arange(BLOCK), block.size - 1)]  # always as many rows: no sum then differs
            plot = numbers.of(compared.works_on)
            rows = rows_of(plot, stands[full], weights[full], mature[full], shade[full])
            crop = untouched[here[full]] if compared.works_on == "trees" else np.zeros((BLOCK, untouched.shape[1]))
            one = _Block(without, side, way, loss, rows, stands[full], here[full], crop, tools[which[full]])
            parts.append({name: column[: block.size] for name, column in one.columns().items()})
            place[block] = done + np.arange(block.size)
            done += block.size
    for name in parts[0]:
        found[name] = np.concatenate([part[name] for part in parts])[place]
    return found


def _tools(
    without: Without, side: Side, key: str, weights: FloatArray, here: IndexArray
) -> tuple[FloatArray, IndexArray]:
    """Money for tools with the plan beyond that without it, (P, T), and which of them each row needs, (N,)."""
    technique = without.scenario.techniques[key]
    if not technique.tools:
        return np.zeros((1, without.setting.months)), np.zeros(here.size, dtype=np.intp)
    work = without.way(key, Loss(0.0, 0.0)).at_work[0]
    told = np.concatenate([side.which[here][:, None], weights[:, 0] > 0], axis=1)
    each, which = np.unique(told, axis=0, return_inverse=True)
    money = []
    for known, *pattern in each.tolist():
        at_work = (work & np.array(pattern, dtype=bool)[:, None]).any(axis=0)
        money.append(without.money_for_tools((*side.needs[known], (technique, at_work))) - side.tools[known])
    return np.stack(money), which.reshape(-1)


class _Block:
    """A block of rows of one way: BLOCK stands with equal losses."""

    def __init__(
        self,
        without: Without,
        side: Side,
        way: Way,
        loss: Loss,
        rows: Trees,
        stands: IndexArray,
        here: IndexArray,
        untouched: FloatArray,
        tools: FloatArray,
    ) -> None:
        """Lay out what the account by year and the months are made of."""
        self.without, self.side, self.way, self.rows, self.tools = without, side, way, rows, tools
        self.stands, self.here, self.untouched = stands, here, untouched
        self.alone = without.alone(loss)
        self.numbers = without.numbers
        self.rate = without.scenario.appraisal.discount_rate
        self.trees = without.compared.free[stands][:, None]
        self.old_price = self.numbers.net_price(stands)
        self.new_price = self.numbers.net_price(stands, way.technique.material)
        self.picking = self.numbers.picking[stands][:, None]
        self.day = (self.numbers.wage * self.numbers.labour_value)[stands][:, None]

    def columns(self) -> dict[str, Any]:
        """All numbers of the rows, (BLOCK,) each."""
        return {**self._by_year(), **self._by_month()}

    def _by_year(self) -> dict[str, Any]:
        """Measures, returns and break-even values: the economic account."""
        rows, numbers = self.rows, self.numbers
        tree, alone = self.way.years(rows), self.alone.years(rows)
        days = tree.days + self.picking * (tree.old_kg + tree.new_kg)
        days_alone = alone.days + self.picking * alone.old_kg
        benefits = tree.old_kg * self.old_price + tree.new_kg * self.new_price + tree.other
        benefits_alone = alone.old_kg * self.old_price
        costs, costs_alone = days * self.day + tree.materials, days_alone * self.day + alone.materials
        gains, outlays = self.side.benefits_by_year[self.here], self.side.costs_by_year[self.here]
        tools = self.tools.reshape(len(self.tools), -1, 12).sum(axis=-1)
        more_gains = gains + self.trees * (benefits - benefits_alone)
        more_outlays = outlays + self.trees * (costs - costs_alone) + tools
        found = {
            **self._measures("", more_gains, gains, more_outlays, outlays),
            **self._measures("per_tree_", benefits, benefits_alone, costs, costs_alone),
        }
        more_days = self._worth(days - days_alone)
        earned = self._worth((benefits - tree.materials) - (benefits_alone - alone.materials))
        found["return_per_day"] = _ratio(earned, more_days)
        trees = self.trees[:, 0]
        npv = self._worth((more_gains - more_outlays) - (gains - outlays))
        premium = numbers.compared.group.premium(self.way.technique.material)[self.stands][:, None]
        kg = (tree.old_kg + tree.new_kg * (1 + premium) - alone.old_kg) * numbers.path
        labour = numbers.labour_value[self.stands]
        picked = self._worth(tree.new_kg * (self.new_price - self.day * self.picking))
        price, wage = numbers.compared.group.price[self.stands], numbers.wage[self.stands]
        grown = rows.mature > 0
        per_kg = picked / np.where(grown, rows.mature, 1.0)
        crop = _zero_of_line(rows.mature, npv, trees * per_kg)
        found["break_even_price_per_kg"] = _zero_of_line(price, npv, trees * self._worth(kg))
        found["break_even_wage_per_day"] = _zero_of_line(wage, npv, -trees * labour * more_days)
        found["break_even_mature_crop"] = np.where(grown, crop, np.nan)
        return found

    def _worth(self, by_year: FloatArray) -> FloatArray:
        return net_present_value(by_year, self.rate)

    def _measures(
        self,
        name: str,
        gains: FloatArray,
        gains_before: FloatArray,
        outlays: FloatArray,
        outlays_before: FloatArray,
    ) -> dict[str, Any]:
        """Every measure of a pair of accounts by year."""
        appraisal = self.without.scenario.appraisal
        many = appraise_many(
            zero_small(incremental(gains - outlays, gains_before - outlays_before)),
            self.rate,
            finance_rate=appraisal.finance_rate,
            reinvest_rate=appraisal.reinvestment_rate,
        )
        ratio = _ratio(self._worth(incremental(gains, gains_before)), self._worth(incremental(outlays, outlays_before)))
        return {f"{name}{key}": column for key, column in {**_told_of(many), "benefit_cost": ratio}.items()}

    def _by_month(self) -> dict[str, Any]:
        """What hired hands and cash make of it: the most money out, and the return on the family's own days."""
        rows = self.rows
        tree, alone = self.way.months(rows, self.untouched), self.alone.months(rows, self.untouched)
        change = tree._replace(old_kg=tree.old_kg - alone.old_kg)
        days = self.trees * (tree.days - alone.days + self.picking * (change.old_kg + tree.new_kg))
        money = self.trees * (sales(change, self.old_price, self.new_price) + (tree.other - alone.other)) - self.tools
        beyond = self.without.beyond_family(self.side, self.here, self.stands)
        hired = np.maximum(0.0, beyond + days) - np.maximum(0.0, beyond)
        cash = money - self.numbers.wage[self.stands][:, None] * hired
        total = np.cumsum(cash, axis=1)
        month = total.argmin(axis=1)
        years = (BLOCK, -1, 12)
        earned = self._worth(cash.reshape(years).sum(axis=-1))
        family = np.minimum(0.0, beyond + days) - np.minimum(0.0, beyond)  # exactly 0 where none of theirs is left
        worked = self._worth(family.reshape(years).sum(axis=-1))
        return {
            "return_per_family_day": _ratio(earned, worked),
            "most_money_out": np.minimum(0.0, total[np.arange(BLOCK), month]),
            "most_money_out_month": month,
        }


def _told_of(many: MeasuresMany) -> dict[str, Any]:
    """The measures of many flows as columns; the roots of each as a tuple."""
    rates, counts, counted = many.irr.rates, many.irr.counts, many.irr.counted
    roots = np.empty(counts.size, dtype=object)
    roots[:] = [()] * counts.size
    for number in np.unique(counts[counts > 0]).tolist():
        rows = np.flatnonzero(counts == number)
        tuples = np.empty(rows.size, dtype=object)
        tuples[:] = list(zip(*rates[rows, :number].T.tolist(), strict=True))
        roots[rows] = tuples
    return {
        "npv": many.npv,
        "irr": many.irr.value,
        "irr_roots": roots,
        "irr_verdict": VERDICTS[np.minimum(counted, 2)],
        "mirr": many.mirr,
        "net_benefit_cost": many.net_benefit_cost,
        "equivalent_annual_value": many.equivalent_annual_value,
        "payback_years": many.payback_years,
        "discounted_payback_years": many.discounted_payback_years,
    }


def _ratio(above: FloatArray, below: FloatArray) -> FloatArray:
    """One present value over another, NaN where the lower is not above 0."""
    return np.where(below > 0, above / np.where(below > 0, below, 1.0), np.nan)


def _zero_of_line(value: FloatArray, npv: FloatArray, slope: FloatArray) -> FloatArray:
    """Where an NPV that is a line in a driver is 0, as `switching_value`; NaN at no value from 0 up."""
    other = np.where(value != 0, 0.0, 1.0)
    at_other = npv + slope * (other - value)
    change = at_other - npv
    flat = np.abs(change) <= SMALL * np.maximum(np.abs(npv), np.abs(at_other))
    zero = value - npv * (other - value) / np.where(flat, 1.0, change)
    return np.where(flat | (zero < 0), np.nan, zero)
