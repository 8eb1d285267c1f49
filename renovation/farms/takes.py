"""What takes on each stand: chances of attempts, takes by practice, and trees under way, for many farms at once."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from renovation.decide.belief import Practice, beliefs_of, practice_of
from renovation.decide.learners import points_of
from renovation.decide.starts import NoStart, earliest_start
from renovation.farms.numbers import Group
from renovation.inputs import Technique, month_count
from renovation.inputs.techniques import WorksOn
from renovation.money.learning import take_after, take_from_table
from renovation.tree import Attempts, attempts, attempts_under_way
from renovation.types import BoolArray, FloatArray, IndexArray, IntArray


def chances(take: FloatArray, within: BoolArray) -> FloatArray:
    """Weights 1, m_1 … m_J, q_1 … q_J, m_{J+1} of trees whose attempts take so, (N, 2J + 2) from (N, J).

    within: (J,) whether an attempt falls within the horizon.

    Example:
        >>> chances(np.array([[0.25, 0.5]]), np.ones(2, dtype=bool)).tolist()
        [[1.0, 1.0, 0.75, 0.25, 0.375, 0.375]]
    """
    if take.size and (take.min() < 0 or take.max() > 1):
        raise ValueError(f"a take must lie between 0 and 1, not {take.min():g} to {take.max():g}")
    still = np.cumprod(1 - take, axis=1)
    one = np.ones((len(take), 1))
    made = np.concatenate([one, still[:, :-1]], axis=1) * within
    return np.concatenate([one, made, made * take, still[:, -1:]], axis=1)


@dataclass(frozen=True, eq=False)
class Begun:
    """Trees under way of N stands of a group: one technique, one start, attempts made in the same months.

    stand: (N,) places in the group. counts: (N, k + 2) trees that took at each attempt, that wait, that were given up.
    """

    key: str
    start: int
    made_in: tuple[int, ...]
    stand: IndexArray
    counts: FloatArray


@dataclass(frozen=True, eq=False)
class Compared:
    """A group whose trees, or whose empty places, are compared: free ones, starts, and the takes that follow.

    begins: whether ways are begun on them; else the farms are looked at as they stand.
    """

    group: Group
    works_on: WorksOn
    begins: bool = True

    @cached_property
    def begun(self) -> tuple[Begun, ...]:
        """Trees under way, by technique, start and months of the attempts made."""
        return tuple(entry for key in self.group.shared.techniques for entry in _begun(self.group, key))

    @cached_property
    def free(self) -> FloatArray:
        """(R,) trees, or empty places, that are not under way."""
        return self.free_of(self.works_on)

    def free_of(self, works_on: WorksOn) -> FloatArray:
        """(R,) trees or empty places that are not under way."""
        has = self.group.of_stand("trees" if works_on == "trees" else "empty_places").copy()
        for entry in self.begun:
            if self.group.shared.techniques[entry.key].works_on == works_on:
                has[entry.stand] -= entry.counts.sum(axis=1)
        return has

    @cached_property
    def starts(self) -> dict[str, int]:
        """Project month of the start by technique, those left out that no month suits."""
        found = {}
        for key, technique in self.group.shared.techniques.items():
            if self.begins and technique.works_on == self.works_on:
                try:
                    found[key] = earliest_start(self.group.shared, technique)
                except NoStart:
                    continue
        return found

    def stands_of(self, key: str) -> IndexArray:
        """The stands that a technique is compared on."""
        return np.flatnonzero(self.group.allowed[key] & (self.free > 0))

    @cached_property
    def practice(self) -> Practice | None:
        """The practice that serves the ways that learn."""
        return practice_of(self.group.shared, self.group.shared.planning)

    def takes(self, key: str) -> FloatArray:
        """(R, H) takes of a technique by project year in the comparison of each stand."""
        if key not in self._takes:
            self._takes[key] = self._takes_of(key)
        return self._takes[key]

    @cached_property
    def _takes(self) -> dict[str, FloatArray]:
        return {}

    def _takes_of(self, key: str) -> FloatArray:
        shared, practice = self.group.shared, self.practice
        if practice is not None and key in practice.learners:
            return self._learned(practice, key)
        technique = shared.techniques[key]
        if key in beliefs_of(shared.planning) and technique.family != "prune":
            take, years = technique.take.value, np.arange(shared.appraisal.horizon_years)
            counted = np.asarray(take)[np.minimum(years, len(take) - 1)]
            return np.broadcast_to(counted, (len(self.group.farm_of), counted.size))
        return self.group.takes(key)

    def _learned(self, practice: Practice, key: str) -> FloatArray:
        """Worked forward, as `takes_of_practice` does: a year's take from the grafts made before it."""
        appraisal, technique = self.group.shared.appraisal, self.group.shared.techniques[key]
        begun = np.zeros(len(self.group.farm_of))
        tries: tuple[Attempts, ...] = ()
        if key in self.starts:
            here = self.stands_of(key)
            begun[here] = self.free[here]
            tries = (months_of(technique, self.starts[key], appraisal.months, appraisal.start_calendar_month),)
        before = np.full(begun.size, practice.before)
        takes = np.repeat(_taken(practice, before)[:, None], appraisal.horizon_years, axis=1)
        waiting = [entry for entry in self.begun if entry.key in practice.learners and entry.counts[:, -2].any()]
        for year in range(appraisal.horizon_years):
            grafts = np.zeros(begun.size)
            for one in tries:
                due = one.month[0] // 12 == year
                if due.any():
                    made = chances(self.chance(technique, takes, one.month[0]), one.month[0] < appraisal.months)
                    grafts += begun * (made[:, 1 : due.size + 1] * due).sum(axis=1)
            for entry in waiting:
                grafts += self._waiting_grafts(entry, takes, year)
            if grafts.any():
                before = before + grafts
                takes[:, year + 1 :] = _taken(practice, before)[:, None]
        return takes

    def _waiting_grafts(self, entry: Begun, takes: FloatArray, year: int) -> FloatArray:
        """(R,) grafts of a year on trees under way in the farm of each stand, takes (R, H) being those of its ways."""
        technique, done = self.group.shared.techniques[entry.key], len(entry.made_in)
        tries = self.tries_of(entry)
        month = tries.month[done, done:]
        due = (month // 12 == year) & (month < self.group.shared.appraisal.months)
        grafts = np.zeros(len(takes))
        if due.any():
            compared, place = self.pairs(entry)
            chance = self.chance(technique, takes[compared], tries.month[0])[:, done:]
            made = chances(chance, month < self.group.shared.appraisal.months)[:, 1 : due.size + 1]
            np.add.at(grafts, compared, entry.counts[place, -2] * (made * due).sum(axis=1))
        return grafts

    def pairs(self, entry: Begun) -> tuple[IndexArray, IndexArray]:
        """Stands compared on the farms of an entry, and the place in it of the trees under way there: (N,) each."""
        first = np.append(self.group.first_stand, len(self.group.farm_of))
        farm = self.group.farm_of[entry.stand]
        number = first[farm + 1] - first[farm]
        place = np.repeat(np.arange(farm.size), number)
        within = np.arange(place.size) - np.repeat(np.cumsum(number) - number, number)
        return first[farm][place] + within, place

    def tries_of(self, entry: Begun) -> Attempts:
        """Months of the attempts on trees under way, S = k + 2 rows; their chances are not to be used."""
        appraisal = self.group.shared.appraisal
        return attempts_under_way(
            self.group.shared.techniques[entry.key],
            entry.start,
            np.asarray(entry.made_in, dtype=np.int64),
            appraisal.months,
            np.zeros(1),
            start_calendar_month=appraisal.start_calendar_month,
        )

    def chance(self, technique: Technique, takes: FloatArray, month: IntArray) -> FloatArray:
        """(N, J) chance of attempts in these months (J,), from takes by project year (N, H); 0 beyond the horizon."""
        appraisal = self.group.shared.appraisal
        calendar = (appraisal.start_calendar_month - 1 + month) % 12
        factor = np.asarray(technique.factors_by_attempt) * np.asarray(technique.factors_by_month)[calendar]
        by_year = takes[:, np.clip(month // 12, 0, takes.shape[1] - 1)]
        return np.where(month < appraisal.months, by_year * factor, 0.0)

    def weights(self, key: str, stands: IndexArray) -> FloatArray:
        """(N, 1, V) weights of trees begun by a technique on these stands."""
        technique, appraisal = self.group.shared.techniques[key], self.group.shared.appraisal
        month = months_of(technique, self.starts[key], appraisal.months, appraisal.start_calendar_month).month[0]
        return chances(self.chance(technique, self.takes(key)[stands], month), month < appraisal.months)[:, None]

    def weights_begun(self, entry: Begun, compared: IndexArray, place: IndexArray) -> FloatArray:
        """(N, S, V) weights of trees under way, their numbers in them, by what became of them: S = k + 2."""
        technique, done = self.group.shared.techniques[entry.key], len(entry.made_in)
        tries = self.tries_of(entry)
        every = technique.attempts.value
        counts = entry.counts[place]
        found = np.zeros((place.size, done + 2, 2 * every + 2))
        found[:, :, 0] = 1.0
        found[:, :done, 1 : every + 1] = np.tri(done, every)
        found[:, :done, every + 1 : -1] = np.eye(done, every)
        found[:, -1, 1 : done + 1] = 1.0
        found[:, -1, -1] = 1.0
        found[:, done, 1 : done + 1] = 1.0
        if done < every:
            month = tries.month[0, done:]
            take = self.chance(technique, self.takes(entry.key)[compared], tries.month[0])[:, done:]
            rest = chances(take, month < self.group.shared.appraisal.months)
            found[:, done, done + 1 : every + 1] = rest[:, 1 : every - done + 1]
            found[:, done, every + 1 + done : -1] = rest[:, every - done + 1 : -1]
            found[:, done, -1] = rest[:, -1]
        else:
            found[:, done, -1] = 1.0
        return found * counts[:, :, None]


def months_of(technique: Technique, start: int, months: int, calendar: int) -> Attempts:
    """Months of a technique's attempts from a start; their chances are not to be used."""
    return attempts(technique, np.array([start]), months, np.zeros(1), start_calendar_month=calendar)


def _taken(practice: Practice, before: FloatArray) -> FloatArray:
    """(N,) take of a season before which so many grafts were made, (N,)."""
    learning = practice.learning
    if practice.held is not None:
        number, place = np.unique(before, return_inverse=True)
        return np.array([practice.take(one) for one in number.tolist()])[place]
    if learning.form == "table":
        return np.asarray(take_from_table(before, points_of(learning)))
    return np.asarray(take_after(before, learning.first_take, learning.highest_take, learning.rate, learning.form))


def _begun(group: Group, key: str) -> Iterator[Begun]:
    """The trees under way of a technique in a group of farms."""
    table, path = group.batch.stands, f"under_way.{key}."
    if f"{path}trees" not in table:
        return
    rows = np.flatnonzero(table[f"{path}trees"].fillna(0).to_numpy(dtype=float) > 0)
    if not rows.size:
        return
    here = table.iloc[rows]
    tried = [column for column in table.columns if str(column).startswith(f"{path}tried.")]
    taken = [column for column in table.columns if str(column).startswith(f"{path}taken.")]
    known = here[taken].to_numpy(dtype=float, na_value=np.nan).reshape(len(here), len(taken))
    done = (~np.isnan(known)).sum(axis=1)
    structure = here[[f"{path}start", *tried]].assign(done=done)
    number = structure.groupby(list(structure.columns), dropna=False, sort=True).ngroup().to_numpy()
    first = month_count(group.shared.appraisal.start)
    for one in range(int(number.max()) + 1):
        mine = np.flatnonzero(number == one)
        told = structure.iloc[mine[0]]
        start = month_count(str(told[f"{path}start"])) - first
        stated = [month_count(str(told[column])) - first for column in tried if not pd.isna(told[column])]
        gap = group.shared.techniques[key].gap_months.value
        made_in = stated or [start + step * gap for step in range(int(told["done"]))]
        took = known[mine]
        took = took[~np.isnan(took)].reshape(mine.size, int(told["done"]))
        given_up = here[f"{path}given_up"].fillna(0).to_numpy(dtype=float)[mine] if f"{path}given_up" in here else 0.0
        trees = here[f"{path}trees"].to_numpy(dtype=float)[mine]
        gone = np.broadcast_to(given_up, mine.shape)
        counts = np.column_stack([took, trees - took.sum(axis=1) - gone, gone])
        yield Begun(key, start, tuple(made_in), rows[mine], counts)
