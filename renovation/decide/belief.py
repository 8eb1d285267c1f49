"""What is held of how well grafts take: by way without a learning curve, of the practised hands with one (method §10).

A season is a project year: a record of the months 1 … 12 before the plan begins is of the last season, of those before
them of the one before. All records of a season had the same practice behind them. Records without a season count as
one season, the first.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from renovation.decide.learners import learners_of, points_of, take_of
from renovation.farm.standing import months_of_tries
from renovation.inputs import Scenario, month_count
from renovation.inputs.planning import Learning, Planning
from renovation.money.hands import Counted, Hands, curve_hands, table_hands
from renovation.money.learning import Belief
from renovation.money.practice import Practised
from renovation.tree import attempts, attempts_under_way
from renovation.types import FloatArray

Takes = tuple[float, ...]
Begun = Mapping[str, Sequence[tuple[int, float]]]
"""Of each way that learns, the trees begun: project month and number."""


def beliefs_of(planning: Planning) -> dict[str, Belief]:
    """What the records say of each technique by itself: Beta(α + taken, β + made − taken), one for all attempts."""
    beliefs: dict[str, Belief] = {}
    for record in planning.records:
        if record.made:
            before = beliefs.get(record.technique, Belief(planning.prior_taken, planning.prior_failed))
            beliefs[record.technique] = before.after(record.made, record.taken)
    return beliefs


@dataclass(frozen=True, eq=False)
class Practice:
    """How the take of the ways that learn follows from the grafts made: as stated, until grafts were counted.

    learners: the techniques that share it. before: grafts made before month 0. seasons: counted, in their order. held:
    what is held since; None where nothing was counted.
    """

    learning: Learning
    learners: tuple[str, ...]
    before: float
    seasons: tuple[Counted, ...]
    held: Practised | None

    def take(self, grafts_before: float) -> float:
        """The take of a season before which so many grafts were made: the stated one, or the mean of what is held."""
        return take_of(self.learning, grafts_before) if self.held is None else _mean(self.held, float(grafts_before))

    def fewest(self, grafts_before: float, most: float) -> float:
        """Of `most` grafts more, the fewest that give the take that all of them give.

        Where the take is at its highest fewer do. Of counted hands the mean take rises with every graft, for never
        are all the hands there may be at their ceiling; times a factor, it stays where the table does.
        """
        if self.held is not None and self.learning.form != "table":
            return most
        wanted = take_of(self.learning, grafts_before + most)
        low, high = 0.0, most
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (low, middle) if take_of(self.learning, grafts_before + middle) >= wanted else (middle, high)
        return high

    def held_before(self) -> Belief | None:
        """What was held of the coming season's take before anything was counted; None where nothing was."""
        return None if self.held is None else practised(self.held.hands, ()).belief(self.before)

    def held_now(self) -> Belief | None:
        """What is held of the coming season's take; None where nothing was counted."""
        return None if self.held is None else self.held.belief(self.before)


def practice_of(scenario: Scenario, planning: Planning) -> Practice | None:
    """The practice that serves the ways that learn; None where none does.

    Example:
        >>> from renovation.inputs import GraftRecord, demo_scenario
        >>> scenario = demo_scenario("first_grafters")
        >>> records = (GraftRecord(technique="side_graft", made=20, taken=5),)
        >>> counted = practice_of(scenario, scenario.planning.model_copy(update={"records": records}))
        >>> counted.before, counted.seasons
        (20.0, (Counted(before=0.0, made=20, taken=5),))
    """
    learning = planning.learning
    learners = learners_of(scenario, learning)
    if learning is None or not learners:
        return None
    seasons = seasons_of(scenario, planning, learners)
    made = sum(season.made for season in seasons)
    held = practised(hands_of(learning), seasons) if seasons else None
    return Practice(learning, learners, float(learning.grafts_before + made), seasons, held)


def takes_of_practice(scenario: Scenario, practice: Practice, begun: Begun) -> tuple[Takes, tuple[float, ...]]:
    """The takes that trees begun bring about by their own practice, by project year, and the grafts made in each.

    Worked forward: take of year y from the grafts made before it, grafts of year y from takes up to y. Of the takes
    the last holds from then on. Trees under way that wait for their next graft are grafted by the same hands, and give
    practice as any others.

    Example (a season of 100 trees, three tries on each of them that did not live, and hands are practised):
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario("first_grafters")
        >>> takes, grafts = takes_of_practice(farm, practice_of(farm, farm.planning), {"side_graft": [(2, 100.0)]})
        >>> takes, round(grafts[0])
        ((0.25, 0.75), 273)
    """
    months, calendar = scenario.appraisal.months, scenario.appraisal.start_calendar_month
    before = practice.before
    takes, grafts = np.full(months // 12, practice.take(before)), np.zeros(months // 12)
    most = grafts_waiting(scenario, practice.learners, np.zeros(1))
    last = max(_last_year(scenario, begun), int(np.flatnonzero(most).max(initial=-1)))
    for year in range(min(grafts.size, 1 + last)):
        if most[year]:
            grafts[year] = grafts_waiting(scenario, practice.learners, takes)[year]
        for key, trees in begun.items():
            starts, numbers = (np.array(column) for column in zip(*trees, strict=True))
            tries = attempts(scenario.techniques[key], starts, months, takes, start_calendar_month=calendar)
            grafts[year] += float((numbers[:, None] * tries.made * (tries.month // 12 == year)).sum())
        before += grafts[year]
        takes[year + 1 :] = practice.take(before)
    return _trimmed(takes), tuple(grafts.tolist())


def grafts_waiting(scenario: Scenario, learners: Collection[str], takes: FloatArray | None = None) -> FloatArray:
    """Grafts by project year, (H,), on trees under way by these ways that wait for their next try.

    takes: by project year; those of each way where None.
    """
    appraisal = scenario.appraisal
    grafts = np.zeros(appraisal.horizon_years)
    for entry in scenario.under_way:
        if entry.technique in learners and entry.waiting > 0:
            tries = attempts_under_way(
                scenario.techniques[entry.technique],
                scenario.month_of(entry.start),
                np.array(months_of_tries(scenario, entry), dtype=np.int64),
                appraisal.months,
                takes,
                start_calendar_month=appraisal.start_calendar_month,
            )
            row = len(entry.taken)
            month, made = tries.month[row, row:], tries.made[row, row:]
            within = month < appraisal.months
            np.add.at(grafts, month[within] // 12, entry.waiting * made[within])
    return grafts


def _last_year(scenario: Scenario, begun: Begun) -> int:
    """The last project year, from 0, in which a try on trees begun may fall; −1 where none is begun."""
    ends = ((scenario.techniques[key], start) for key, trees in begun.items() for start, _ in trees)
    return max((start + way.gap_months.value * (way.attempts.value - 1) for way, start in ends), default=-1) // 12


def _trimmed(takes: FloatArray) -> Takes:
    """Takes by year without the repeats at the end."""
    last = takes.size
    while last > 1 and takes[last - 1] == takes[last - 2]:
        last -= 1
    return tuple(float(take) for take in takes[:last])


def held_of(scenario: Scenario, planning: Planning) -> dict[str, Belief]:
    """What is held of the coming season's take of each technique on record: its own records', or its practice's."""
    practice = practice_of(scenario, planning)
    now = None if practice is None else practice.held_now()
    learners = () if practice is None else practice.learners
    return {key: now if now is not None and key in learners else belief for key, belief in beliefs_of(planning).items()}


def seasons_of(scenario: Scenario, planning: Planning, learners: Sequence[str]) -> tuple[Counted, ...]:
    """The grafts on record of the ways that learn, season by season; a record of no graft is none."""
    assert planning.learning is not None
    start = month_count(scenario.appraisal.start)
    by_season: dict[float, list[tuple[int, int]]] = defaultdict(list)
    for record in planning.records:
        if record.technique in learners and record.made:
            season = -float("inf") if record.season is None else (month_count(record.season) - start) // 12
            by_season[season].append((record.made, record.taken))
    seasons: list[Counted] = []
    before = float(planning.learning.grafts_before)
    for _, counts in sorted(by_season.items()):
        made, taken = (sum(column) for column in zip(*counts, strict=True))
        seasons.append(Counted(before, made, taken))
        before += made
    return tuple(seasons)


def hands_of(learning: Learning) -> Hands:
    """What is held of the hands before anything is counted."""
    if learning.form == "table":
        return table_hands(points_of(learning))
    return curve_hands(learning.form, learning.first_take, learning.highest_take, learning.rate)


@lru_cache(maxsize=256)
def _mean(held: Practised, before: float) -> float:
    """The mean take after so many grafts, worked out once."""
    return float(held.mean(before))


@lru_cache(maxsize=8)
def practised(hands: Hands, seasons: tuple[Counted, ...]) -> Practised:
    """What is held of hands once seasons were counted, worked out once."""
    return Practised(hands, seasons)
