"""What a plan is measured against: simple rules, judged by the same account; and what caution costs.

The rules use, in each stand, the one technique that is worth most per tree with every day charged at the wage, started
in the first month of a year that suits it; a stand in which no technique is worth more than 0 is left as it is.
Published band for the fixed share: 5–7 % of trees a year was best on Ghanaian farms (Mahrizal, Nalley, Dixon & Popp
2014, Agricultural Economics 45(3)).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from renovation.decide.held import as_held
from renovation.decide.plan.clock import Cancel
from renovation.decide.plan.exact import Account, account, best_loan
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.question import PlanProblem, build
from renovation.decide.plan.search import solve
from renovation.decide.plan.stated import stated_starts
from renovation.inputs import twelve
from renovation.types import IntArray

if TYPE_CHECKING:
    import pandas as pd

Rule = Literal["nothing", "all_at_once", "equal_parts", "fixed_share", "carried_on"]

SHARES = np.arange(1, 101) / 100
"""Shares of a stand's trees a year among which the best fixed one is sought."""
LIVING_MONTHS = (0.0, 0.5, 1.0, 2.0, 3.0, 6.0)
"""Floors of the price of caution, in months of living costs."""


@dataclass(frozen=True, eq=False)
class Yardstick:
    """A simple rule, judged as a plan is. share: of each stand's trees a year, for the fixed share."""

    rule: Rule
    account: Account
    share: float | None = None

    @property
    def npv(self) -> float:
        """What it is worth, as of a plan."""
        return self.account.npv

    @property
    def aim(self) -> float:
        """What plans are chosen by, by the same account."""
        return self.account.aim

    @property
    def keeps_promises(self) -> bool:
        """Whether the rule keeps every promise that the plan must keep."""
        return self.account.keeps_promises

    @property
    def trees(self) -> int:
        """Trees started in all."""
        return int(self.account.trees.sum())

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "rule": self.rule,
            "share": self.share,
            "trees": self.trees,
            "npv": self.npv,
            "aim": self.aim,
            "keeps_promises": self.keeps_promises,
            "breaches": [breach.as_dict() for breach in self.account.breaches],
            "lowest_balance": float(self.account.balance.min()),
        }


def ways_worth_most(problem: PlanProblem) -> dict[int, str]:
    """The technique of each stand that is worth most per tree, every day charged at the wage; none below 0.

    A technique is weighed by its first start, n candidates at once:
    value = Σ_t (cash − wage · days)(t) / (1+r)^((t+1)/12).
    """
    value = (problem.cash - problem.wage * problem.days) @ problem.discount
    best: dict[int, tuple[float, str]] = {}
    seen: set[tuple[int, str]] = set()
    for candidate, each in zip(problem.candidates, value, strict=True):
        if (candidate.stand, candidate.technique) in seen:
            continue
        seen.add((candidate.stand, candidate.technique))
        if each > max(0.0, best.get(candidate.stand, (0.0, ""))[0]):
            best[candidate.stand] = (float(each), candidate.technique)
    return {stand: key for stand, (_, key) in best.items()}


def spread(problem: PlanProblem, shares: Sequence[float] | None) -> IntArray:
    """Trees by candidate where each stand starts these shares of its trees, one for each year it can start in.

    In each year all at once, in the first month that can be. shares: equal parts over those years where None. Whole
    trees: the cumulative share is rounded, so that shares that
    sum to 1 start every tree.
    """
    trees = np.zeros(len(problem.candidates), dtype=np.int64)
    for stand, key in ways_worth_most(problem).items():
        first: dict[int, int] = {}
        for place, c in enumerate(problem.candidates):
            if c.stand == stand and c.technique == key:
                first.setdefault(c.year, place)
        mine = list(first.values())
        yearly = (1 / len(mine),) * len(mine) if shares is None else shares[: len(mine)]
        total = np.minimum(1.0, np.cumsum(np.asarray(yearly)))
        done = np.floor(total * problem.trees[stand] + 0.5 + 1e-9).astype(np.int64)
        trees[mine[: done.size]] = np.diff(done, prepend=0)
    return trees


def _judged(problem: PlanProblem, trees: IntArray) -> Account:
    """The exact account with the loan that suits the trees best; nothing done takes no loan."""
    return account(problem, trees, best_loan(problem, trees) if trees.any() else 0.0)


def yardsticks(plan: Plan) -> tuple[Yardstick, ...]:
    """Do nothing, all at once, equal parts over the planning years with a start, and the best fixed share a year.

    The fixed share is the one of the highest aim among those that keep the promises; where none does, of all. A rule
    of a lower aim may have a higher NPV: one is counted by month and with the loan, the other by year and without.
    On a farm that is not at its beginning, the plan that its file states too: the plan carried on.
    """
    problem = plan.problem
    fixed = list(_fixed_shares(problem))
    keeping = [yardstick for yardstick in fixed if yardstick.keeps_promises]
    return (
        Yardstick("nothing", _judged(problem, spread(problem, ()))),
        Yardstick("all_at_once", _judged(problem, spread(problem, (1.0,)))),
        Yardstick("equal_parts", _judged(problem, spread(problem, None))),
        max(keeping or fixed, key=lambda yardstick: yardstick.aim),
        *_carried_on(problem),
    )


def _carried_on(problem: PlanProblem) -> Iterator[Yardstick]:
    """The plan that the file of a farm under way states, by the same planning and its own takes; else none."""
    scenario = problem.scenario
    if scenario.plan and (scenario.under_way or problem.planning.records):
        own = as_held(scenario.model_copy(update={"planning": problem.planning}), scenario.plan)
        stated = replace(build(own, problem.planning, stated_starts(own)), eased=problem.eased)
        trees = np.array([entry.trees for entry in scenario.plan], dtype=np.int64)
        yield Yardstick("carried_on", _judged(stated, trees))


def _fixed_shares(problem: PlanProblem) -> Iterator[Yardstick]:
    """Every share a year, each number of trees judged once."""
    seen: set[bytes] = set()
    for share in SHARES:
        trees = spread(problem, (float(share),) * problem.years)
        if trees.tobytes() not in seen:
            seen.add(trees.tobytes())
            yield Yardstick("fixed_share", _judged(problem, trees), float(share))


def yardsticks_table(plan: Plan, rules: Sequence[Yardstick]) -> "pd.DataFrame":
    """One row for the plan and one per yardstick: NPV, aim, NPV below the plan's, promises kept."""
    import pandas as pd

    rows = [
        {
            "rule": "plan",
            "share": None,
            "trees": plan.trees,
            "npv": plan.npv,
            "aim": plan.aim,
            "below_plan": 0.0,
            "keeps_promises": not plan.breaches,
        }
    ]
    rows += [
        {
            "rule": rule.rule,
            "share": rule.share,
            "trees": rule.trees,
            "npv": rule.npv,
            "aim": rule.aim,
            "below_plan": plan.npv - rule.npv,
            "keeps_promises": rule.keeps_promises,
        }
        for rule in rules
    ]
    return pd.DataFrame(rows)


@dataclass(frozen=True)
class CautionPoint:
    """What the best plan by its aim is worth with one floor. npv, aim, gap: None where no plan keeps the floor."""

    floor: float
    npv: float | None
    aim: float | None
    trees: int | None
    gap: float | None
    proven: bool

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "floor": self.floor,
            "npv": self.npv,
            "aim": self.aim,
            "trees": self.trees,
            "gap": self.gap,
            "proven": self.proven,
        }


def price_of_caution(
    problem: PlanProblem, floors: Sequence[float] | None = None, cancel: Cancel | None = None
) -> tuple[CautionPoint, ...]:
    """What a higher floor costs: the plan's NPV against the floor, all else the same.

    floors: money; 0, the household's own, and up to six months of living costs where None. One solve for each.
    """
    floors = floors_of(problem) if floors is None else floors
    return tuple(_with_floor(problem, floor, cancel) for floor in floors)


def floors_of(problem: PlanProblem) -> list[float]:
    """The household's own floor, 0, and up to six months of living costs, in order: money."""
    living = float(np.mean(twelve(problem.scenario.household.living_costs)))
    unit = max(problem.money_unit, 1.0)
    several = (float(np.round(living * months / unit) * unit) for months in LIVING_MONTHS)
    return sorted({problem.scenario.household.floor, *several})


def with_floor(problem: PlanProblem, floor: float) -> PlanProblem:
    """The same problem with another floor, eased by nothing."""
    household = problem.scenario.household.model_copy(update={"floor": floor})
    scenario = problem.scenario.model_copy(update={"household": household})
    return replace(problem, scenario=scenario, eased=replace(problem.eased, floor=0.0))


def _with_floor(problem: PlanProblem, floor: float, cancel: Cancel | None) -> CautionPoint:
    """Solve with another floor."""
    found = solve(with_floor(problem, floor), cancel=cancel)
    if found is None or not found.account.keeps_promises:
        return CautionPoint(floor, None, None, None, None, found is None)
    best = found.account
    return CautionPoint(floor, best.npv, best.aim, int(best.trees.sum()), found.gap, found.status == "proven")
