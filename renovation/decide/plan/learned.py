"""Planning while learning: the take depends on the grafts made before, and those on the plan (method §§8, 10).

A season is a project year. Given a plan, its takes follow one after another: the grafts made in year y depend only
on takes up to y, and the take of y + 1 on the grafts made up to y. So any plan has takes of its own, and is judged
by them. The search solves, takes the plan's own takes, and solves again, until the plan stays the same.

Repeated as it stands, that would chase its own tail: next year's better hands are there only because this year's
grafts were made, but a plan made for given takes would wait for them and never make those grafts. So each round
also asks for the practice its takes rest on: before each year at least so many grafts as that year's take needs. A
plan then keeps to its word. Where the plan of the round before keeps its promises by its own takes it is allowed again,
so that no round is worse than the last; where no plan has that practice and keeps them, the repetition ends unsettled.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from renovation.decide.belief import Practice, Takes, grafts_waiting, held_of, practice_of, takes_of_practice
from renovation.decide.drivers import learning_rate
from renovation.decide.held import with_records
from renovation.decide.learners import learners_of
from renovation.decide.plan.clock import Cancel, SolverFailed
from renovation.decide.plan.ease import OutOfReach
from renovation.decide.plan.exact import Breach, account, best_loan
from renovation.decide.plan.plan import Plan, plan_for, plan_of
from renovation.decide.plan.question import PlanProblem, build
from renovation.decide.plan.search import Ended
from renovation.decide.plan.why_not_more import with_take
from renovation.inputs import Scenario
from renovation.inputs.planning import Planning
from renovation.money.learning import Belief
from renovation.tree import attempts
from renovation.types import FloatArray, IntArray

if TYPE_CHECKING:
    import pandas as pd

Rank = tuple[bool, bool, float]
"""What makes one plan better than another: it keeps its promises, they are not eased, its aim; by its own takes."""

ROUGH_GAP = 0.005
"""Gap to which the first rounds are proven."""
MOST_ROUNDS = 12
"""Rounds of solving before a plan that keeps changing is said not to settle."""


@dataclass(frozen=True)
class Round:
    """One round of the repetition.

    assumed, own: the take by project year that the plan was made for, and the one it brings about itself. aim: by
    its own takes. keeps_promises: by its own takes too. trees: started in all.
    """

    assumed: Takes
    own: Takes
    aim: float
    keeps_promises: bool
    trees: int

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "assumed_take": list(self.assumed),
            "own_take": list(self.own),
            "aim": self.aim,
            "keeps_promises": self.keeps_promises,
            "trees": self.trees,
        }


@dataclass(frozen=True)
class AtRate:
    """A plan as it stands, carried out by hands that learn at another rate.

    rate: the share of failures that each doubling of the grafts made leaves. takes: by project year, by the plan's own
    practice. npv: what the plan is then worth. breaches: the promises that it then breaks.
    """

    rate: float
    takes: Takes
    npv: float
    breaches: tuple[Breach, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "rate": self.rate,
            "take_by_year": list(self.takes),
            "npv": self.npv,
            "breaches": [breach.as_dict() for breach in self.breaches],
        }


@dataclass(frozen=True, eq=False)
class LearnedPlan:
    """A plan made while learning.

    plan: judged by its own takes. settled: whether the plan that its own takes ask for is that same plan; if not,
    the plan is the best one seen. takes: by project year, the last holding from then on. learners: the techniques
    that learn. grafts: made in each project year. beliefs: what is held of the coming season's take of each technique
    on record. better_seen: the aim of a plan seen on the way that by its own takes is better and keeps every promise;
    None where none is.
    """

    plan: Plan
    settled: bool
    takes: Takes
    learners: tuple[str, ...]
    grafts: tuple[float, ...]
    rounds: tuple[Round, ...]
    beliefs: Mapping[str, Belief]
    better_seen: float | None

    @cached_property
    def at_rates(self) -> tuple[AtRate, ...]:
        """The same trees and loan where hands learn fastest and where they learn slowest; none without learning."""
        return at_rates(self.plan)

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: the plan and how it was come by."""
        return {
            **self.plan.as_dict(),
            "learning": {
                "settled": self.settled,
                "techniques": list(self.learners),
                "take_by_year": list(self.takes),
                "grafts_by_year": list(self.grafts),
                "rounds": [r.as_dict() for r in self.rounds],
                "better_seen": self.better_seen,
                "at_rates": [end.as_dict() for end in self.at_rates],
            }
            if self.learners
            else None,
            "records": {key: belief.as_dict() for key, belief in self.beliefs.items()},
        }

    def rounds_table(self) -> "pd.DataFrame":
        """One row per round: trees, aim, promises kept, take of the first and the last project year."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "round": number + 1,
                    "trees": r.trees,
                    "aim": r.aim,
                    "keeps_promises": r.keeps_promises,
                    "first_take": r.own[0],
                    "last_take": r.own[-1],
                }
                for number, r in enumerate(self.rounds)
            ]
        )


def own_takes(problem: PlanProblem, trees: IntArray) -> tuple[Takes, tuple[float, ...]]:
    """The takes that a plan brings about, by project year, and the grafts made in each: `takes_of_practice`."""
    practice = practice_of(problem.scenario, problem.planning)
    assert practice is not None
    begun: dict[str, list[tuple[int, float]]] = {}
    for candidate, number in zip(problem.candidates, trees, strict=True):
        if number and candidate.technique in practice.learners:
            begun.setdefault(candidate.technique, []).append((candidate.start, float(number)))
    return takes_of_practice(problem.scenario, practice, begun)


def at_rates(plan: Plan) -> tuple[AtRate, ...]:
    """A plan's trees and loan at the ends of what there may be of the learning rate: fast hands, then slow ones.

    Empty where the plan grafts by no way that learns by a curve.
    """
    problem = plan.problem
    scenario = problem.scenario.model_copy(update={"planning": problem.planning})
    driver, learners = learning_rate(scenario, plan.treatments), learners_of(scenario, problem.planning.learning)
    if driver is None:
        return ()
    learner = next(one.technique for one in plan.treatments if one.technique in learners)  # all learn alike

    def at(rate: float) -> AtRate:
        changed = driver.put(scenario, rate)
        rebuilt = replace(build(changed, changed.planning, problem.candidates), eased=problem.eased)
        result = account(rebuilt, plan.account.trees, plan.account.loan)
        takes = changed.techniques[learner].take.value
        return AtRate(rate, takes, result.npv, result.breaches)

    return at(driver.low), at(driver.high)


def learned_plan(
    scenario: Scenario,
    planning: Planning | None = None,
    *,
    gap: float | None = None,
    time_limit_seconds: float | None = None,
    cancel: Cancel | None = None,
    rough_gap: float = 0.0,
) -> LearnedPlan:
    """Plan with what was recorded and what will be learned; without either, the plain plan, settled.

    The repetition is begun twice: from the takes there are without any more practice, and from those that the
    techniques state; the plan of the higher aim by its own takes is given back. time_limit_seconds: of each round.
    rough_gap: as in `solve`. Raises as `make_plan` does.
    """
    planning = scenario.planning if planning is None else planning
    scenario = with_records(scenario, planning)
    practice = practice_of(scenario, planning)
    wanted = planning.gap if gap is None else gap
    options = _Options(wanted, time_limit_seconds, cancel, rough_gap)
    if practice is None:
        problem = build(scenario, planning)
        plan = plan_for(problem, gap=gap, time_limit_seconds=time_limit_seconds, cancel=cancel, rough_gap=rough_gap)
        return LearnedPlan(plan, True, (), (), (), (), held_of(scenario, planning), None)
    # the ways up are sought roughly; only the last steps of the better one are proven as closely as asked
    rough = replace(options, gap=max(wanted, ROUGH_GAP))
    untaught: Takes = (practice.take(practice.before),)
    stated: Takes = scenario.techniques[practice.learners[0]].take.value
    begun = (_climb(scenario, planning, practice, _Footing(takes), rough) for takes in (untaught, stated))
    climbs = [climb for climb in begun if climb]
    if not climbs:
        raise SolverFailed("no plan was found on any footing")
    best = max(climbs, key=lambda climb: climb.rank)
    if rough.gap > wanted and (closer := _climb(scenario, planning, practice, best.footing, options)):
        climbs.append(closer)
        best = max(closer, best, key=lambda climb: climb.rank)
    more = max((r.aim for c in climbs for r in c.rounds if r.keeps_promises), default=-np.inf)
    takes, grafts = own_takes(best.plan.problem, best.plan.account.trees.astype(np.int64))
    return LearnedPlan(
        plan=best.plan,
        settled=best.settled,
        takes=takes,
        learners=practice.learners,
        grafts=grafts,
        rounds=best.rounds,
        beliefs=held_of(scenario, planning),
        better_seen=more if more > best.aim * (1 + 1e-9) + best.plan.problem.money_unit else None,
    )


@dataclass(frozen=True)
class _Options:
    """How to solve each round."""

    gap: float
    time_limit_seconds: float | None
    cancel: Cancel | None
    rough_gap: float
    known: dict[tuple[Takes, bytes | None, float, bool], Plan] = field(default_factory=dict)
    """Plans found before, by what they were made for."""


@dataclass(frozen=True, eq=False)
class _Footing:
    """What a round is made for: the takes assumed, the grafts they rest on by project year, the trees before.

    may_ease: whether promises may be eased for it: not for the sake of practice where a plan without it keeps them.
    """

    assumed: Takes
    needed: FloatArray | None = None
    trees: IntArray | None = None
    may_ease: bool = True


@dataclass(frozen=True, eq=False)
class _Climb:
    """One repetition from one beginning."""

    plan: Plan
    settled: bool
    rounds: tuple[Round, ...]
    rank: Rank
    footing: _Footing

    @property
    def aim(self) -> float:
        """By the plan's own takes."""
        return self.rank[-1]


def _climb(
    scenario: Scenario, planning: Planning, practice: Practice, footing: _Footing, options: _Options
) -> _Climb | None:
    """Repeat from a footing until the plan stays the same; None where already its practice is out of reach."""
    learners = practice.learners
    rounds: list[Round] = []
    best: tuple[Rank, Plan, PlanProblem, IntArray] | None = None
    while True:
        assumed, needed, last = footing.assumed, footing.needed, footing.trees
        problem = resting_on(build(all_take(scenario, learners, assumed), planning), learners, needed)
        try:
            plan = _solved(problem, footing, options)
        except OutOfReach:
            settled = False
            break
        trees = plan.account.trees.astype(np.int64)
        own, grafts = own_takes(problem, trees)
        honest = replace(build(all_take(scenario, learners, own), planning), eased=plan.problem.eased)
        judged = account(honest, trees, best_loan(honest, trees))
        rounds.append(Round(assumed, own, judged.aim, judged.keeps_promises, int(trees.sum())))
        rank = (judged.keeps_promises, plan.impossible is None, judged.aim)
        if best is None or rank > best[0]:
            best = rank, plan, honest, trees
        asks = practice_needed(practice, grafts)
        # a plan whose own takes are those it was made for, for the same practice, would only be found again
        same = own == assumed and needed is not None and bool((asks == needed).all())
        stopped = options.cancel is not None and options.cancel()
        cut_short = plan.solution.status == "cancelled"
        settled = not cut_short and (same or (last is not None and bool((trees == last).all())))
        if settled or stopped or len(rounds) == MOST_ROUNDS:
            break
        footing = _Footing(own, asks, trees, plan.impossible is not None)
    if best is None:
        return None
    rank, found, honest, chosen = best
    settled = settled and chosen.tobytes() == trees.tobytes()
    if not settled:
        ended: Ended = next((p.solution.status for p in (plan, found) if p.solution.status != "proven"), "given")
        plan = plan_of(honest, chosen, found.impossible, ended)
    own, grafts = own_takes(honest, chosen)
    footing = _Footing(own, practice_needed(practice, grafts), chosen, found.impossible is not None)
    return _Climb(plan, settled, tuple(rounds), rank, footing)


def _solved(problem: PlanProblem, footing: _Footing, options: _Options) -> Plan:
    """The plan of a round, found once."""
    needed = None if footing.needed is None else footing.needed.tobytes()
    key = (footing.assumed, needed, options.gap, footing.may_ease)
    if key not in options.known:
        options.known[key] = plan_for(
            problem,
            gap=options.gap,
            time_limit_seconds=options.time_limit_seconds,
            cancel=options.cancel,
            may_ease=footing.may_ease,
            rough_gap=options.rough_gap,
        )
    return options.known[key]


def practice_needed(practice: Practice, grafts: tuple[float, ...]) -> FloatArray:
    """Grafts to be made before each year so that its take is at least that of a plan with these grafts by year, (H,).

    The fewest that reach it: a take at its highest asks for no more practice than brings it there.
    """
    made = np.concatenate([[0.0], np.cumsum(grafts)[:-1]])
    return np.array([practice.fewest(practice.before, float(most)) for most in made])


def resting_on(problem: PlanProblem, learners: tuple[str, ...], needed: FloatArray | None) -> PlanProblem:
    """The problem with the practice that its takes rest on asked for, less what trees that wait bring by themselves."""
    if needed is None:
        return problem
    waiting = grafts_waiting(problem.scenario, learners)
    needed = np.maximum(0.0, needed - np.concatenate([[0.0], np.cumsum(waiting)[:-1]]))
    practice = np.zeros((len(problem.candidates), problem.months // 12))
    calendar = problem.scenario.appraisal.start_calendar_month
    for row, candidate in enumerate(problem.candidates):
        if candidate.technique in learners:
            technique = problem.scenario.techniques[candidate.technique]
            tries = attempts(technique, np.array([candidate.start]), problem.months, start_calendar_month=calendar)
            np.add.at(practice[row], np.minimum(tries.month[0] // 12, practice.shape[1] - 1), tries.made[0])
    return replace(problem, practice=practice, practice_needed=needed)


def all_take(scenario: Scenario, learners: tuple[str, ...], takes: Takes) -> Scenario:
    """The scenario with the learners' takes replaced."""
    for key in learners:
        scenario = with_take(scenario, key, takes)
    return scenario
