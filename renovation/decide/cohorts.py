"""What became of every group of trees in a season: those under way before, and those begun in it (method §11).

What is recorded is a fact. Of a recorded try without its month or its count the usual month and the expected take are
assumed. A try that is not recorded was not made, unless the plan is said to have been followed: then planned starts and
due tries went as expected, in whole trees. All that is assumed is told in notes.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from renovation.farm import FarmFlows, farm_flows, setting_of
from renovation.farm.standing import months_of_tries
from renovation.farm.trees import tree_left_alone
from renovation.inputs import Cohort, Scenario, SeasonRecord, Stand, Try, UnderWay, month_count, year_month
from renovation.inputs.season_checks import trees_begun
from renovation.tree import takes_of_attempts, under_way

YEAR = 12
DUST = 1e-9
"""Fewer trees than this are none: expected counts are not whole."""


@dataclass(frozen=True)
class Note:
    """One line of what was taken over (`assumed` False) or assumed: the words' key and its facts."""

    code: str
    facts: dict[str, Any]
    assumed: bool = True


@dataclass(frozen=True)
class Group:
    """Trees of one stand, way and start as they stand at a season's end; months count from the season's first.

    taken: trees that took at each try, in turn. tried: the months of these tries. Numbers need not be whole.
    """

    stand: str
    technique: str
    start: int
    trees: float
    taken: tuple[float, ...] = ()
    tried: tuple[int, ...] = ()
    given_up: float = 0

    @property
    def waiting(self) -> float:
        """Trees that neither took nor were given up."""
        return self.trees - sum(self.taken) - self.given_up

    def entry(self, farm: Scenario) -> UnderWay:
        """The group as a scenario states it; months of its tries only where they are not the usual ones."""
        first, gap = month_count(farm.appraisal.start), farm.techniques[self.technique].gap_months.value
        usual = tuple(self.start + number * gap for number in range(len(self.tried)))
        stated: dict[str, Any] = {
            "stand": self.stand,
            "technique": self.technique,
            "trees": self.trees,
            "start": year_month(first + self.start),
            "taken": self.taken,
            "tried": () if self.tried == usual else tuple(year_month(first + month) for month in self.tried),
            "given_up": self.given_up,
        }
        return UnderWay.model_construct(**stated)


@dataclass(frozen=True)
class Went:
    """A season looked back upon. groups: all that was under way in it; released: by place in `groups`, the trees that
    were given up with nothing to come, untouched again or empty places; emptied: by stand, the trees whose places are
    empty since. notes: what was taken over and assumed of them."""

    farm: Scenario
    groups: tuple[Group, ...]
    released: tuple[float, ...]
    emptied: dict[str, float]
    notes: tuple[Note, ...]

    @cached_property
    def flows(self) -> FarmFlows:
        """The farm month by month with the trees as they were begun and took, and nothing begun after the season.

        Months 0 … 11 are the season's; from month 12 on the rest is expected. Both sides are the same.
        """
        entries = tuple(group.entry(self.farm) for group in self.groups)
        went = self.farm.model_copy(update={"under_way": entries, "plan": ()}).known_as(self.farm)
        return farm_flows(went, (), now=YEAR)

    def kg_of(self, stand: str) -> float:
        """Dry beans expected of a stand in the season, with the trees begun and taken as they were."""
        flows, found = self.flows, 0.0
        alone = tree_left_alone(self.farm.stand(stand), setting_of(self.farm))
        found += flows.scenario.free_trees(stand) * float(alone.old_kg[0, :YEAR].sum())
        trees = [begun.tree for begun in flows.begun if begun.entry.stand == stand]
        return found + sum(float((tree.old_kg + tree.new_kg)[0, :YEAR].sum()) for tree in trees)

    def standing(self) -> Iterator[Group]:
        """The groups at the season's end, without those that are nothing of the kind any more."""
        for group, gone in zip(self.groups, self.released, strict=True):
            left = replace(group, trees=group.trees - gone, given_up=group.given_up - gone)
            if left.trees > 0:
                yield left


def season_went(farm: Scenario, record: SeasonRecord, *, as_planned: bool = False) -> Went:
    """What became of the trees in the season of a record that fits the farm (`inputs.season_problems` finds nothing).

    as_planned: whether planned starts and due tries of which nothing is recorded went as expected.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario("few_hands")
        >>> nothing = SeasonRecord(season=farm.appraisal.start)
        >>> season_went(farm, nothing).groups
        ()
        >>> [(group.trees, group.taken) for group in season_went(farm, nothing, as_planned=True).groups]
        [(50, (12, 10, 7, 5))]
    """
    followed = _Season(farm, record, as_planned)
    followed.go()
    released: list[float] = []
    emptied: dict[str, float] = {}
    for group in followed.groups:
        became = _became(farm, group)
        if became == "emptied" and farm.techniques[group.technique].works_on == "trees":
            gone = emptied.get(group.stand, 0) + group.given_up
            # a stand has a tree, and a whole number of them
            if gone >= farm.stand(group.stand).trees or not float(gone).is_integer():
                became = ""
            else:
                emptied[group.stand] = gone
        released.append(group.given_up if became else 0)
        if became:
            facts = {"stand": group.stand, "technique": group.technique, "n": group.given_up}
            followed.notes.append(Note(f"trees.{became}", facts, assumed=False))
    return Went(farm, tuple(followed.groups), tuple(released), emptied, tuple(followed.notes))


@dataclass
class _Season:
    """Walks through a record, group by group."""

    farm: Scenario
    record: SeasonRecord
    as_planned: bool
    groups: list[Group] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def go(self) -> None:
        """All groups: under way before, begun as recorded, begun as planned."""
        recorded = {self._key(cohort): cohort for cohort in self.record.cohorts}
        before: dict[tuple[str, str, int], list[Group]] = {}
        for entry in self.farm.under_way:
            tried = tuple(months_of_tries(self.farm, entry))
            names = (entry.stand, entry.technique, self.farm.month_of(entry.start))
            group = Group(*names, entry.trees, tuple(entry.taken), tried, entry.given_up)
            before.setdefault(names, []).append(group)
        for names, pool in before.items():
            self._carry(pool, recorded.pop(names, None))
        planned: dict[tuple[str, str, int], int] = {}
        for entry in self._due():
            names = (entry.stand, entry.technique, self.farm.month_of(entry.start))
            planned[names] = planned.get(names, 0) + entry.trees
        for names, cohort in recorded.items():
            planned.pop(names, None)
            if trees := trees_begun(cohort):
                self._carry([Group(*names, trees)], cohort)
        for names, trees in planned.items():
            if self.as_planned and trees:
                self._carry([Group(*names, trees)], None)
            elif trees:
                stand, key, start = names
                self._note("not_begun", stand=stand, technique=key, n=trees, month=self._month(start))

    def _due(self) -> Iterator[Any]:
        """What the plan begins in the season: work on trees, or a nursery for it."""
        for entry in self.farm.plan:
            first = min(0, self.farm.techniques[entry.technique].earliest_month)
            if self.farm.month_of(entry.start) + first < YEAR:
                yield entry

    def _key(self, cohort: Cohort) -> tuple[str, str, int]:
        """A cohort's stand, way and start; begun in a month unknown, the planned one, else the first suited."""
        if cohort.start is not None:
            return cohort.stand, cohort.technique, self.farm.month_of(cohort.start)
        technique, first = self.farm.techniques[cohort.technique], self.farm.appraisal.start_calendar_month
        kind = (cohort.stand, cohort.technique)
        planned = [self.farm.month_of(e.start) for e in self.farm.plan if (e.stand, e.technique) == kind]
        suited = [m for m in range(YEAR) if (first - 1 + m) % 12 + 1 in technique.start_months]
        stated = {self._key(other) for other in self.record.cohorts if other.start is not None}
        choices = [*(month for month in planned if 0 <= month < YEAR), *suited, *range(YEAR)]
        start = next(month for month in choices if (*kind, month) not in stated)
        self._note("start", stand=cohort.stand, technique=cohort.technique, month=self._month(start))
        return (*kind, start)

    def _carry(self, pool: list[Group], cohort: Cohort | None) -> None:
        """Trees of one stand, way and start through the season: recorded tries, else expected ones if as planned."""
        for one in cohort.tries if cohort else ():
            pool = [part for group in self._tried(pool, one) for part in group]
        if self.as_planned and not (cohort and cohort.tries):
            pool = [self._expected(group) for group in pool]
        for group in _joined(self._given_up(pool, (cohort.given_up if cohort else 0) or 0)):
            self.groups.append(group)
            self._standing(group)

    def _tried(self, pool: list[Group], one: Try) -> Iterator[tuple[Group, ...]]:
        """One recorded try on the trees that wait for it; where it was not made on all of them, in two groups."""
        left: float = one.made or 0
        to_come: float | None = one.taken
        for group in pool:
            made = min(left, group.waiting)
            if len(group.taken) != one.number - 1 or made <= DUST:
                yield (group,)
                continue
            left -= made
            month, rest = self._month_of_try(group, one.month), group.waiting - made
            took: float = min(made, to_come or 0)
            if to_come is None:
                took = round(made * self._take(group.technique, month, one.number))
                self._note("taken", **self._named(group), made=made, took=took, number=one.number)
            else:
                to_come -= took
            others = replace(group, trees=rest, taken=(0,) * len(group.taken), given_up=0)
            trees = group.trees - rest if rest > DUST else group.trees
            group = replace(group, trees=trees, taken=(*group.taken, took), tried=(*group.tried, month))
            yield (group, others) if rest > DUST else (group,)

    def _given_up(self, pool: list[Group], given_up: float) -> Iterator[Group]:
        """Trees given up, of those with the fewest tries left first; all that wait where none is left."""
        for group in sorted(pool, key=lambda group: -len(group.taken)):
            gone = min(given_up, group.waiting) if group.taken else 0
            given_up -= gone
            group = replace(group, given_up=group.given_up + gone)
            if len(group.taken) == self.farm.techniques[group.technique].attempts.value and group.waiting > DUST:
                self._note("last_try", **self._named(group), n=group.waiting)
                group = replace(group, given_up=group.given_up + group.waiting)
            yield group

    def _expected(self, group: Group) -> Group:
        """The tries that fall within the season made on every tree that waits, taking as expected."""
        technique = self.farm.techniques[group.technique]
        while group.waiting > DUST and len(group.taken) < technique.attempts.value:
            month = self._usual(group)
            if month >= YEAR:
                break
            took = round(group.waiting * self._take(group.technique, month, len(group.taken) + 1))
            number = len(group.taken) + 1
            self._note("as_planned", **self._named(group), made=group.waiting, took=took, number=number)
            group = replace(group, taken=(*group.taken, took), tried=(*group.tried, month))
        return group

    def _usual(self, group: Group) -> int:
        """The month in which the next try falls of itself: a gap after the last, the start, but not before month 0."""
        gap = self.farm.techniques[group.technique].gap_months.value
        return max(0, group.tried[-1] + gap if group.tried else group.start)

    def _month_of_try(self, group: Group, stated: str | None) -> int:
        """The month of a recorded try: as stated, else the usual one, at the latest the season's last."""
        if stated is not None:
            return self.farm.month_of(stated)
        month = self._usual(group)
        if month >= YEAR:
            month = YEAR - 1
            self._note("month", **self._named(group), number=len(group.taken) + 1, month=self._month(month))
        return month

    def _take(self, key: str, month: int, number: int) -> float:
        """The expected take of try `number` in a month."""
        technique, appraisal = self.farm.techniques[key], self.farm.appraisal
        start = np.array([month - (number - 1) * technique.gap_months.value])
        calendar = appraisal.start_calendar_month
        takes = takes_of_attempts(technique, start, appraisal.months, start_calendar_month=calendar)
        return float(takes[0, number - 1])

    def _standing(self, group: Group) -> None:
        """Say how a group stands; and that a try which was due is taken to fall in the first month of the next year."""
        took = sum(group.taken)
        counts: dict[str, Any] = {"n": group.trees, "took": took, "waiting": group.waiting, "given_up": group.given_up}
        code = "standing" if group.taken else "nursery" if group.start >= YEAR else "untried"
        self._note(code, assumed=False, **self._named(group), **counts)
        due = self._usual(group)
        if group.waiting > DUST and due < YEAR:
            self._note("due", **self._named(group), n=group.waiting, due=self._month(due), month=self._month(YEAR))

    def _named(self, group: Group) -> dict[str, Any]:
        return {"stand": group.stand, "technique": group.technique, "start": self._month(group.start)}

    def _month(self, month: int) -> str:
        return year_month(month_count(self.farm.appraisal.start) + month)

    def _note(self, code: str, *, assumed: bool = True, **facts: Any) -> None:
        self.notes.append(Note(f"trees.{code}", facts, assumed))


def _joined(groups: Iterable[Group]) -> list[Group]:
    """Groups of one stand, way and start with the same tries as one."""
    found: dict[tuple[int, ...], Group] = {}
    for group in groups:
        one = found.get(group.tried)
        if one is not None:
            taken = tuple(a + b for a, b in zip(one.taken, group.taken, strict=True))
            group = replace(one, trees=one.trees + group.trees, taken=taken, given_up=one.given_up + group.given_up)
        found[group.tried] = group
    return list(found.values())


def _became(farm: Scenario, group: Group) -> Literal["", "untouched", "emptied"]:
    """What the trees of a group that were given up are from now on: as if nothing had been, or empty places."""
    if not group.given_up:
        return ""
    stand, setting = farm.stand(group.stand), setting_of(farm)
    technique = farm.techniques[group.technique]
    rows = under_way(technique, stand, farm.supplies, setting, group.start, group.tried, now=YEAR)
    names = ("old_rate", "new_rate", "days", "materials_cost", "other_income")

    def as_on(found: Stand) -> bool:
        alone = tree_left_alone(found, setting)
        pairs = ((getattr(rows, name)[-1, YEAR:], getattr(alone, name)[0, YEAR:]) for name in names)
        return all(np.allclose(*pair, rtol=1e-12) for pair in pairs)

    if technique.works_on == "trees" and as_on(stand):
        return "untouched"
    return "emptied" if as_on(stand.emptied) else ""
