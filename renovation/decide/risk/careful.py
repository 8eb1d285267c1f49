"""The careful plan: in at least nine futures of ten the money in hand stays at the floor and no instalment is missed.

How it is sought stands in `careful_search`. Here it is judged, beside the plan made on expected figures and beside
leaving the farm as it is, on futures that neither plan has seen (method §§8, 9).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from renovation.decide import plan as planning
from renovation.decide.held import as_held
from renovation.decide.plan.clock import Cancel
from renovation.decide.plan.learned import LearnedPlan
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.question import Eased
from renovation.decide.plan.quick import quick_plan
from renovation.decide.risk.answers import Answers, Estimate, RiskResult, chance_of, judged_on
from renovation.decide.risk.careful_practice import seek_careful
from renovation.decide.risk.careful_rows import SHARE
from renovation.decide.risk.futures import draw_futures
from renovation.decide.risk.hands import practice_counted
from renovation.decide.risk.mends import Mend, mends
from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE, Strategy, lay_out
from renovation.inputs import Loan, Risk, Scenario, Treatment

TRAINING, FRESH = 2048, 8192
EXPECTED_GAP = 0.005
"""Gap that will do for the plan on expected figures where a smaller one is not proven with little work."""
EXPECTED_SECONDS = 22.0
"""What each search for it may take at most: a guard, for on two cores the farms we know end by the work done."""


@dataclass(frozen=True, eq=False)
class CarefulPlan:
    """The careful plan beside the plan made on expected figures, both judged on futures neither has seen.

    level: the balance that is promised: the floor, or the highest that was found to be kept. instalments: whether every
    instalment is promised beside it; False where no plan was found that keeps them. bound: where the floor was
    not reached, a level that the mean of the worst tenth of the futures planned on exceeds under no plan that keeps its
    promises as expected; None elsewhere, and where savings bear interest or hands learn. expected: the plan on
    expected figures.
    result: both plans and leaving the farm, on fresh futures. kept: chance that the promise is kept, by
    strategy. rounds: plans tried. settled: False where the search was stopped before its end, by hand or by the clock.
    narrowed: whether it was sought among some of the starts, of each stand, way and year those that promised most.
    mends: where the floor is not reached, small changes with which the same trees keep it in nine of ten fresh futures.
    """

    level: float
    instalments: bool
    bound: float | None
    expected: Plan
    careful: Strategy
    result: RiskResult
    kept: dict[str, Estimate]
    rounds: int
    settled: bool
    narrowed: bool
    mends: tuple[Mend, ...]

    @property
    def scenario(self) -> Scenario:
        """The farm, with the takes that the plan was made for."""
        return self.result.scenario

    @property
    def answers(self) -> dict[str, Answers]:
        """What the fresh futures say of leaving the farm, the expected plan and the careful one."""
        return self.result.answers

    @property
    def floor(self) -> float:
        """The balance that the family always keeps."""
        return self.scenario.household.floor

    @property
    def at_floor(self) -> bool:
        """Whether the promise is the floor itself."""
        return self.level >= self.floor

    @property
    def lends(self) -> bool:
        """Whether any of the plans has instalments that may be missed."""
        return any(answer.strategy.loans for answer in self.answers.values())

    @property
    def missed(self) -> dict[str, Estimate]:
        """Chance that an instalment is missed, by strategy; 0 of one that owes nothing."""
        return {key: answer.any_missed for key, answer in self.answers.items()}

    @property
    def same(self) -> bool:
        """Whether it is the plan made on expected figures."""
        lent, before = (sum(loan.amount for loan in loans) for loans in (self.careful.loans, _loans(self.expected)))
        return lent == before and _told(self.careful.treatments) == _told(self.expected.treatments)

    @property
    def holds(self) -> bool:
        """Whether the promise holds on fresh futures, within sampling error."""
        found = self.kept[CAREFUL]
        return found.value + found.error >= SHARE

    @property
    def cost(self) -> float:
        """What care costs: expected NPV of the expected plan less that of the careful one."""
        return self.answers[EXPECTED].expected_npv - self.answers[CAREFUL].expected_npv

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`."""
        return {
            "promise": {
                "share": SHARE,
                "level": self.level,
                "at_floor": self.at_floor,
                "instalments": self.instalments,
                "bound": self.bound,
            },
            "mends": [mend.as_dict() for mend in self.mends],
            "settled": self.settled,
            "rounds": self.rounds,
            "holds": self.holds,
            "cost": self.cost,
            "starts": [start.model_dump() for start in self.careful.treatments],
            "loans": [{"name": loan.name, "amount": loan.amount} for loan in self.careful.loans],
            "kept": {key: found.as_dict() for key, found in self.kept.items()},
            "missed": {key: found.as_dict() for key, found in self.missed.items()},
            "answers": [answer.as_dict() for answer in self.answers.values()],
        }


def _loans(plan: Plan) -> tuple[Loan, ...]:
    """The loan that a plan takes, if any."""
    return (plan.loan,) if plan.loan else ()


def _told(treatments: tuple[Treatment, ...]) -> list[tuple[str, str, str, int]]:
    """Treatments in one order, to be compared."""
    return sorted((start.start, start.stand, start.technique, start.trees) for start in treatments)


def bolder_plan(scenario: Scenario, *, cancel: Cancel | None = None) -> LearnedPlan:
    """The plan on expected figures that a careful one stands beside: sought to 0.5 % where more is long to prove.

    The work done ends the search, so that it is the same on every machine. Where the clock does (22 s for each search,
    or the planning's own limit), its status is "stopped". Raises as `learned_plan` does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> bolder_plan(demo_scenario("old_stand_with_gaps")).plan.solution.status
        'proven'
    """
    seconds = min(EXPECTED_SECONDS, scenario.planning.time_limit_seconds)
    return planning.learned_plan(scenario, time_limit_seconds=seconds, cancel=cancel, rough_gap=EXPECTED_GAP)


def plan_carefully(
    scenario: Scenario,
    *,
    risk: Risk | None = None,
    on_expected: Callable[[LearnedPlan], None] | None = None,
    on_round: Callable[[int], None] | None = None,
    cancel: Cancel | None = None,
) -> CarefulPlan:
    """The careful plan of a farm, the plan on expected figures sought on the way.

    on_expected: told of plans on expected figures: of a first one within seconds, not settled, where one keeps every
    promise; then of the one that the careful plan stands beside. The rest as `careful_plan`. Raises as `learned_plan`
    does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> told = []
        >>> found = plan_carefully(demo_scenario("old_stand_with_gaps"), on_expected=told.append)
        >>> [one.settled for one in told], found.expected is told[-1].plan
        ([False, True], True)
    """
    if on_expected is not None and (first := quick_plan(scenario, cancel=cancel)) is not None:
        on_expected(first)
    learned = bolder_plan(scenario, cancel=cancel)
    if on_expected is not None:
        on_expected(learned)
    return careful_plan(learned.plan, risk=risk, on_round=on_round, cancel=cancel)


def careful_plan(
    expected: Plan,
    *,
    risk: Risk | None = None,
    training: int = TRAINING,
    fresh: int = FRESH,
    on_round: Callable[[int], None] | None = None,
    cancel: Cancel | None = None,
) -> CarefulPlan:
    """Make a plan that keeps floor and instalments in nine futures of ten; judge it and the expected one on fresh ones.

    expected: the plan on expected figures, whose promises, candidates and takes the new one shares. risk: what the
    futures are drawn from, the scenario's own where None. training, fresh: numbers of futures to plan on and to judge
    on, from different seeds. on_round: told how many plans have been tried.
    cancel: asked between two of them; the best plan so far is then given. Raises as `draw_futures` does.

    Example:
        >>> from renovation.decide.plan import make_plan
        >>> from renovation.inputs import demo_scenario
        >>> found = careful_plan(make_plan(demo_scenario("old_stand_with_gaps")))
        >>> found.at_floor, found.holds, found.same
        (True, True, True)
    """
    scenario = expected.problem.scenario.model_copy(update={"planning": expected.problem.planning})
    risk = scenario.risk if risk is None else risk
    years, seed = scenario.appraisal.horizon_years, risk.seed
    hands = practice_counted(scenario) is not None
    planned_on = draw_futures(risk, years, training, seed + 1, hands=hands)
    found = seek_careful(expected, planned_on, on_round, cancel)
    search, careful = found.search, found.strategy
    judged = draw_futures(risk, years, fresh, seed + 2, hands=hands)
    made = Strategy(EXPECTED, expected.treatments, _loans(expected))
    layouts = [lay_out(as_held(scenario, s.treatments), s) for s in (Strategy(LEAVE), made, careful)]
    answers = {layout.strategy.key: judged_on(layout, judged) for layout in layouts}
    least = -search.cents if search.instalments else -np.inf
    kept = {
        key: chance_of(
            (answer.deepests >= search.level - search.cents) & (answer.deepests_due >= least), judged.replicates
        )
        for key, answer in answers.items()
    }
    result = RiskResult(scenario, judged.number, seed + 2, answers, any(layout.practice for layout in layouts))
    mended: tuple[Mend, ...] = ()
    if search.level < search.floor and not found.stopped:
        mended = mends(replace(expected.problem, eased=Eased()), careful, planned_on, judged, search.margin)
    return CarefulPlan(
        search.level,
        search.instalments,
        search.bound,
        expected,
        careful,
        result,
        kept,
        found.rounds,
        settled=not found.stopped,
        narrowed=found.search.narrowed,
        mends=mended,
    )
