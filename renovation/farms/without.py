"""Many farms without any plan: their trees left alone, those under way seen through, and the tools both need."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from renovation.farm import expected_price_path, pieces_bought, setting_of, tool_costs
from renovation.farms.takes import Begun, Compared, months_of
from renovation.farms.ways import Alone, Loss, Trees, Way, Yields, untouched_kg
from renovation.inputs import Scenario, Technique
from renovation.inputs.techniques import WorksOn
from renovation.tree import Attempts, Setting
from renovation.types import BoolArray, FloatArray, IndexArray

STAND = ("today", "growth", "upkeep_days", "upkeep_inputs", "tree_loss", "pods_lost")
Needs = tuple[tuple[Technique, BoolArray], ...]
"""Work by techniques, and the months (T,) in which it is done."""
SLICE = 1024
"""Stands worked out at a time, some more where a farm has many: what is held by month stays small."""


@dataclass(frozen=True, eq=False)
class Numbers:
    """Numbers of the stands of a group, (R,) each: of the trees, of what is compared, and of their farms' money."""

    compared: Compared

    @cached_property
    def trees(self) -> Mapping[str, FloatArray]:
        """What stands: today's crop, g = 1 − δ, upkeep, losses."""
        group = self.compared.group
        return {
            "today": group.of_stand("kg_per_tree"),
            "growth": 1.0 - group.of_stand("decline_per_year"),
            "upkeep_days": group.of_stand("upkeep_days"),
            "upkeep_inputs": group.of_stand("upkeep_inputs"),
            "tree_loss": group.of_stand("tree_loss_per_year"),
            "pods_lost": group.of_stand("pods_lost"),
        }

    def of(self, works_on: WorksOn) -> Mapping[str, FloatArray]:
        """The same of trees, or of empty places, where nothing stands."""
        if works_on == "trees":
            return self.trees
        nothing = np.zeros(len(self.compared.group.farm_of))
        return {**self.trees, "today": nothing, "growth": nothing + 1, "upkeep_days": nothing, "upkeep_inputs": nothing}

    @cached_property
    def wage(self) -> FloatArray:
        """Money per person-day."""
        return self.compared.group.of_farm("household.wage_per_day")

    @cached_property
    def labour_value(self) -> FloatArray:
        """Share of the wage that a day costs in the economic account."""
        return self.compared.group.of_farm("household.labour_value")

    @cached_property
    def picking(self) -> FloatArray:
        """Person-days to harvest one kg."""
        return self.compared.group.of_farm("market.harvest_days_per_kg")

    @cached_property
    def deductions(self) -> FloatArray:
        """Money off the price of each kg."""
        return self.compared.group.of_farm("market.deductions_per_kg")

    @cached_property
    def path(self) -> FloatArray:
        """(H,) expected price by project year, as a share of today's: of the whole group."""
        return expected_price_path(self.compared.group.shared)[::12]

    def net_price(self, stands: IndexArray, material: str | None = None) -> FloatArray:
        """(N, H) what a kg brings by project year."""
        premium = 0.0 if material is None else self.compared.group.premium(material)[stands]
        price = self.compared.group.price[stands] * (1 + premium)
        return np.asarray(price[:, None] * self.path - self.deductions[stands][:, None])

    def losses(self, stands: IndexArray) -> Iterator[tuple[Loss, IndexArray]]:
        """The stands by what chance takes of them: places in `stands`."""
        pairs = np.stack([self.trees["tree_loss"][stands], self.trees["pods_lost"][stands]], axis=1)
        if (pairs == pairs[0]).all():
            yield Loss(*pairs[0].tolist()), np.arange(stands.size)
            return
        each, number = np.unique(pairs, axis=0, return_inverse=True)
        for place, (trees, pods) in enumerate(each.tolist()):
            yield Loss(trees, pods), np.flatnonzero(number.reshape(-1) == place)


def rows_of(
    stands: Mapping[str, FloatArray], at: IndexArray, weights: FloatArray, mature: FloatArray, shade: FloatArray
) -> Trees:
    """The numbers of some stands with the weights of trees on them."""
    today, growth, days, inputs = (stands[name][at] for name in STAND[:4])
    return Trees(weights, mature, shade, today, growth, days, inputs)


class Side(NamedTuple):
    """A farm's account without a plan, of N compared stands: by year (N, H), and by month (N, T).

    beyond: days of work less those the family has: hired where above 0. money: benefits less materials, tools left out.
    needs: the work on trees under way that needs tools, P sets of it. tools: (P, T) money for these tools. which: (N,)
    the set of each.
    """

    benefits_by_year: FloatArray
    costs_by_year: FloatArray
    beyond: FloatArray
    money: FloatArray
    tools: FloatArray
    needs: tuple[Needs, ...]
    which: IndexArray


@dataclass(frozen=True, eq=False)
class Without:
    """The farms of a group without a plan, a slice of stands at a time."""

    numbers: Numbers

    @property
    def compared(self) -> Compared:
        """What is compared."""
        return self.numbers.compared

    @cached_property
    def scenario(self) -> Scenario:
        """What the farms share."""
        return self.compared.group.shared

    @cached_property
    def setting(self) -> Setting:
        """The surroundings of every tree, but for the days of harvest."""
        return setting_of(self.scenario)

    @cached_property
    def _alone(self) -> dict[Loss, Alone]:
        return {}

    def alone(self, loss: Loss) -> Alone:
        """Trees left alone, by what chance takes of them."""
        return self._alone.setdefault(loss, Alone(self.scenario, self.setting, loss))

    @cached_property
    def _ways(self) -> dict[tuple[str, Loss], Way]:
        return {}

    def way(self, key: str, loss: Loss) -> Way:
        """The vectors of a technique from its start on, by what chance takes of the trees."""
        if (key, loss) not in self._ways:
            technique, setting = self.scenario.techniques[key], self.setting
            tries = months_of(technique, self.compared.starts[key], setting.months, setting.start_calendar_month)
            self._ways[key, loss] = Way(self.scenario, technique, setting, tries, loss)
        return self._ways[key, loss]

    @cached_property
    def _family_days(self) -> FloatArray:
        """(F, 12) days the family has by month of a project year."""
        return self.compared.group.by_project_month("family_days")

    def cash(self, side: Side, here: IndexArray, stands: IndexArray) -> FloatArray:
        """(N, T) cash of the farm of each stand without a plan."""
        hired = np.maximum(0.0, side.beyond[here])
        return side.money[here] - side.tools[side.which[here]] - self.numbers.wage[stands][:, None] * hired

    def slices(self) -> Iterator[IndexArray]:
        """Places of stands, whole farms together."""
        first = np.append(self.compared.group.first_stand, len(self.compared.group.farm_of))
        begin = 0
        while begin < first.size - 1:
            end = max(begin + 1, int(np.searchsorted(first, first[begin] + SLICE, side="right")) - 1)
            yield np.arange(first[begin], first[end])
            begin = end

    def untouched(self, stands: IndexArray) -> FloatArray:
        """(N, T) crop of trees left alone, nothing lost."""
        trees = self.numbers.trees
        return untouched_kg(trees["today"][stands], trees["growth"][stands], self.setting.season)

    def side(self, stands: IndexArray, untouched: FloatArray) -> Side:
        """The account of the farm of each stand of a slice."""
        numbers, span = self.numbers, self.setting.months
        totals = _Totals.empty(stands.size, span // 12, span)
        free = self.compared.free_of("trees")[stands]
        nothing = np.zeros(0)
        for loss, here in numbers.losses(stands):
            at = stands[here]
            rows = rows_of(numbers.trees, at, nothing, nothing, nothing)
            alone = self.alone(loss)
            months = alone.months(rows, untouched[here])
            self._add(totals, here, at, free[here], None, alone.years(rows), months, each_once=True)
        by_farm = np.flatnonzero(np.diff(self.compared.group.farm_of[stands], prepend=-1))
        number = np.cumsum(np.isin(np.arange(stands.size), by_farm)) - 1
        totals = _Totals(*(np.add.reduceat(part, by_farm, axis=0)[number] for part in totals))
        needs, which = self._begun(totals, stands)
        tools = np.stack([self.money_for_tools(need) for need in needs])
        costs = totals.costs + tools.reshape(len(tools), -1, 12).sum(axis=-1)[which]
        family = self._family_days[self.compared.group.farm_of[stands]]
        beyond = totals.days.reshape(stands.size, -1, 12) - family[:, None, :]
        return Side(totals.benefits, costs, beyond.reshape(totals.days.shape), totals.money, tools, tuple(needs), which)

    def _add(
        self,
        totals: "_Totals",
        here: IndexArray,
        stands: IndexArray,
        trees: FloatArray,
        material: str | None,
        yearly: Yields,
        monthly: Yields,
        *,
        each_once: bool = False,
    ) -> None:
        """Add trees of stands to the totals at `here`. each_once: whether no place is named twice there."""
        numbers = self.numbers
        old, new = numbers.net_price(stands), numbers.net_price(stands, material)
        picking = numbers.picking[stands][:, None]
        day = (numbers.wage * numbers.labour_value)[stands][:, None]
        benefits = yearly.old_kg * old + yearly.new_kg * new + yearly.other
        days = yearly.days + picking * (yearly.old_kg + yearly.new_kg)
        by_month = monthly.days + picking * (monthly.old_kg + monthly.new_kg)
        money = sales(monthly, old, new) + monthly.other
        for total, part in zip(totals, (benefits, days * day + yearly.materials, by_month, money), strict=True):
            if each_once:
                total[here] += trees[:, None] * part
            else:
                np.add.at(total, here, trees[:, None] * part)

    def _begun(self, totals: "_Totals", stands: IndexArray) -> tuple[list[Needs], IndexArray]:
        """Add trees under way to the totals of a slice; sets of work that needs tools, and the set of each stand."""
        needs: list[tuple[Technique, BoolArray]] = []
        whose: list[IndexArray] = []
        for entry in self.compared.begun:
            compared, place = self.compared.pairs(entry)
            inside = (compared >= stands[0]) & (compared <= stands[-1])
            compared, place = compared[inside], place[inside]
            if not compared.size:
                continue
            technique = self.scenario.techniques[entry.key]
            weights = self.compared.weights_begun(entry, compared, place)
            at, tries = entry.stand[place], self.compared.tries_of(entry)
            self._add_begun(totals, compared - stands[0], at, entry, weights, tries)
            patterns, number = np.unique(weights > 0, axis=0, return_inverse=True)
            work = Way(self.scenario, technique, self.setting, tries, Loss(0.0, 0.0)).at_work
            for one, pattern in enumerate(patterns):
                needs.append((technique, (work & pattern[:, :, None]).any(axis=(0, 1))))
                whose.append(compared[number.reshape(-1) == one] - stands[0])
        there = np.zeros((stands.size, len(needs)), dtype=bool)
        for one, here in enumerate(whose):
            there[here, one] = True
        sets, which = np.unique(there, axis=0, return_inverse=True)
        chosen = [tuple(need for one, need in enumerate(needs) if row[one]) for row in sets]
        return chosen, which.reshape(-1)

    def _add_begun(
        self,
        totals: "_Totals",
        here: IndexArray,
        stands: IndexArray,
        entry: Begun,
        weights: FloatArray,
        tries: Attempts,
    ) -> None:
        """Add trees under way, whose numbers are in their weights, to the totals at `here`."""
        group, technique = self.compared.group, self.scenario.techniques[entry.key]
        mature, shade = group.of_farm(f"techniques.{entry.key}.mature_crop"), shade_of(self.compared, entry.key)
        trees = self.numbers.of(technique.works_on)
        for loss, some in self.numbers.losses(stands):
            at = stands[some]
            rows = rows_of(trees, at, weights[some], mature[at], shade[at])
            way = Way(self.scenario, technique, self.setting, tries, loss)
            untouched = untouched_kg(rows.today, rows.growth, self.setting.season)
            once = np.ones(at.size)
            self._add(totals, here[some], at, once, technique.material, way.years(rows), way.months(rows, untouched))

    def money_for_tools(self, needs: Needs) -> FloatArray:
        """(T,) money for the tools that some work needs."""
        months, needed = self.setting.months, dict[str, BoolArray]()
        for technique, at_work in needs:
            for tool in technique.tools:
                needed[tool] = needed.get(tool, np.zeros(months, dtype=bool)) | at_work
        supplies = self.scenario.supplies
        return tool_costs(supplies, pieces_bought(supplies, needed, self.scenario.tools_owned), months)


class Tools(NamedTuple):
    """Money for tools with the plan beyond that without it, (P, T), by what the rows need; and under any take."""

    needed: FloatArray
    under_any: FloatArray


def tools_of(
    without: Without,
    side: Side,
    key: str,
    weights: FloatArray,
    here: IndexArray,
    above: BoolArray | None,
) -> tuple[Tools, IndexArray]:
    """Money for the tools of a technique by what rows need, and which of it each row needs, (N,).

    weights: (N, 1, V). here: (N,) places in the slice. above: (V,) weights above 0 under some take; None without takes.
    """
    technique = without.scenario.techniques[key]
    if not technique.tools:
        nothing = np.zeros((1, without.setting.months))
        return Tools(nothing, nothing), np.zeros(here.size, dtype=np.intp)
    work = without.way(key, Loss(0.0, 0.0)).at_work[0]
    some = weights[:, 0] > 0
    bits = 1 << np.arange(some.shape[1])
    each, which = np.unique(side.which[here] << some.shape[1] | some @ bits, return_inverse=True)

    def money(known: int, pattern: BoolArray) -> FloatArray:
        at_work = (work & pattern[:, None]).any(axis=0)
        bought = without.money_for_tools((*side.needs[known], (technique, at_work)))
        return np.asarray(bought - side.tools[known])

    needed = [(code >> some.shape[1], code & bits > 0) for code in each.tolist()]
    under_any = [(known, pattern if above is None else above) for known, pattern in needed]
    return Tools(*(np.stack([money(*one) for one in those]) for those in (needed, under_any))), which


def shade_of(compared: Compared, key: str) -> FloatArray:
    """(R,) share of the new crop lost under a whole old crown; 0 on empty places."""
    if compared.group.shared.techniques[key].shade is None:
        return np.zeros(len(compared.group.farm_of))
    return compared.group.of_farm(f"techniques.{key}.shade")


def sales(monthly: Yields, old: FloatArray, new: FloatArray) -> FloatArray:
    """(N, T) sales after deductions. old, new: (N, H) what a kg brings by project year."""
    return by_price(monthly.old_kg, old) + by_price(monthly.new_kg, new)


def by_price(kg: FloatArray, price: FloatArray) -> FloatArray:
    """(N, T) money for kg by month, (N, T), at prices by project year, (N, H)."""
    if kg.shape[1] == 1:
        return kg
    if (price == price[:, :1]).all():
        return kg * price[:, :1]
    return np.asarray((kg.reshape(len(kg), -1, 12) * price[:, :, None]).reshape(kg.shape))


class _Totals(NamedTuple):
    """Sums over the trees of a farm: benefits and costs by year, (N, H), days and money by month, (N, T)."""

    benefits: FloatArray
    costs: FloatArray
    days: FloatArray
    money: FloatArray

    @classmethod
    def empty(cls, number: int, years: int, months: int) -> "_Totals":
        """Nothing yet."""
        return cls(*(np.zeros((number, size)) for size in (years, years, months, months)))
