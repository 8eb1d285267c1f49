"""The dossier of a scenario: every question that is asked of it, each once, when its answer is first read.

The command line, the pages, the report and the workbook read it and work nothing out themselves. A dossier is made in
no time; an answer costs what its question costs, the first time, and nothing after.
"""

import time
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, TypeVar, cast

from renovation.decide.appraise import appraise_plan, changes_by_year
from renovation.decide.compare import Comparison, compare
from renovation.decide.held import as_held
from renovation.decide.practise import PractiseFirst, practise_first
from renovation.decide.ranges import Swing, ranges
from renovation.decide.worth import npv_per_tree
from renovation.farm import FarmFlows, HouseholdCash, Labour, farm_flows, household_cash, labour_by_month, month_labels
from renovation.inputs import Loan, Scenario
from renovation.money import Measures, Schedule
from renovation.types import FloatArray

if TYPE_CHECKING:  # planner and futures cost an import of their own: a comparison does not pay for it
    from renovation.decide.after_signing import AfterSigning
    from renovation.decide.happened import Happened
    from renovation.decide.lending import Lending
    from renovation.decide.plan import LearnedPlan, Limit, Plan, Repair, Replay, Sheet, Yardstick
    from renovation.decide.replacement import WhenToRenovate
    from renovation.decide.risk import RiskResult, Sensitivity, Strategy, StressResult, WinMap
    from renovation.decide.risk.careful import CarefulPlan

Answer = TypeVar("Answer")
ShownAs = Literal["careful", "expected", "breaks_least"]
"""The careful plan, the one on expected figures, or, where no plan keeps every promise, the one that breaks least."""


@dataclass(frozen=True, eq=False)
class Dossier:
    """One scenario and the answers to the questions that are asked of it.

    draws, seed: futures to judge on, the scenario's where None. seconds: how long the planner may search, as the
    scenario says where None, and how long the careful plan may be sought, to its end where None. cancel: asked between
    two searches; True ends them. bolder: whether the plan that is shown is the one made on expected figures, not the
    careful one. year_is_stated: whether the first year laid out in print is the stated plan's, not that of the plan
    that is shown. prints_careful: whether the careful plan is set out in print. learned_found, careful_found,
    repairs_found: what a search made elsewhere has found; where None, the dossier searches when it is asked. happened:
    the season looked back upon, where its record was given; signed: the loans after signing, by the same record.

    Every answer raises as the function does that its docstring names: LoanError for a loan that cannot be,
    StartTooEarly for a start that no nursery is in time for.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> dossier = Dossier(demo_scenario())
        >>> dossier.flows is dossier.flows
        True
        >>> list(dossier.as_dict("cash", "labour"))
        ['cash', 'labour']
    """

    scenario: Scenario
    draws: int | None = None
    seed: int | None = None
    seconds: float | None = None
    cancel: Callable[[], bool] | None = None
    bolder: bool = False
    year_is_stated: bool = True
    prints_careful: bool = False
    learned_found: "LearnedPlan | None" = None
    careful_found: "CarefulPlan | None" = None
    repairs_found: "tuple[Repair, ...] | None" = None
    happened: "Happened | None" = None
    signed: "AfterSigning | None" = None

    @property
    def months(self) -> int:
        """The horizon T in months."""
        return self.scenario.appraisal.months

    @property
    def years(self) -> int:
        """The horizon H in years."""
        return self.scenario.appraisal.horizon_years

    @cached_property
    def labels(self) -> tuple[str, ...]:
        """Calendar month `YYYY-MM` of each project month."""
        return month_labels(self.scenario.appraisal.start, self.months)

    # The stated plan

    @cached_property
    def held(self) -> Scenario:
        """The scenario with the takes and days that are held when its plan is followed: `as_held`."""
        return as_held(self.scenario, self.scenario.plan)

    @cached_property
    def flows(self) -> FarmFlows:
        """The farm by month with the stated plan and without: `farm_flows`."""
        return farm_flows(self.held, self.scenario.plan)

    @cached_property
    def cash(self) -> HouseholdCash:
        """The household's money by month with the stated plan, its loans, and without: `household_cash`."""
        return household_cash(self.held, self.flows)

    @cached_property
    def labour(self) -> Labour:
        """Person-days by month and kind of work: `labour_by_month`."""
        return labour_by_month(self.held, self.flows)

    @cached_property
    def measures(self) -> Measures:
        """NPV, rates, paybacks and ratios of the whole stated plan: `appraise_plan`."""
        return appraise_plan(self.held, self.flows)

    @property
    def followed(self) -> dict[str, Any] | None:
        """The stated plan in short, for `--json` of what follows it: trees, NPV (§5); None where nothing is planned."""
        if not self.scenario.plan:
            return None
        return {"shown": "stated", "trees": sum(one.trees for one in self.scenario.plan), "npv": self.measures.npv}

    @property
    def loans(self) -> tuple[tuple[Loan, Schedule], ...]:
        """Each loan of the stated plan with its schedule, nominal money."""
        return tuple(zip(self.cash.loans, self.cash.schedules, strict=True))

    @cached_property
    def change_by_year(self) -> FloatArray:
        """(H,) incremental economic account of the whole stated plan by project year."""
        return changes_by_year(self.flows.with_plan.economic, self.flows.without.economic)

    @cached_property
    def new_kg(self) -> dict[str, FloatArray]:
        """Crop of the new crowns with the stated plan by planting material, (T,) kg each: Σ trees · kg of one tree."""
        kg: dict[str, FloatArray] = {}
        for item in self.flows.treated:
            crop = item.treatment.trees * item.tree.new_kg[0]
            kg[item.technique.material] = kg.get(item.technique.material, 0.0) + crop
        for begun in self.flows.begun:
            kg[begun.technique.material] = kg.get(begun.technique.material, 0.0) + begun.tree.new_kg[0]
        return kg

    @cached_property
    def lending(self) -> "Lending":
        """Every loan judged on the money that the stated plan leaves: `appraise_loans`."""
        from renovation.decide.lending import appraise_loans

        return appraise_loans(self.held, self.flows, self.cash)

    @cached_property
    def _stated(self) -> "tuple[Plan, Replay]":
        from renovation.decide.plan import stated_plan

        return stated_plan(self.held, self.flows, self.cash)

    # The ways

    @cached_property
    def comparison(self) -> Comparison:
        """Every way on the compared trees: `compare`."""
        return compare(self.scenario)

    @cached_property
    def npv_per_tree(self) -> dict[str, dict[str, float | None]]:
        """NPV of one tree by stand and way: `npv_per_tree`."""
        return npv_per_tree(self.scenario)

    @cached_property
    def practise(self) -> PractiseFirst | None:
        """How many trees to graft before deciding on the rest: `practise_first`."""
        return practise_first(self.comparison)

    @property
    def pair(self) -> tuple[str, ...]:
        """The ways of the headline, none to two."""
        return tuple(key for key in (self.comparison.headline, self.comparison.against) if key)

    def swings(self, way: str | None = None) -> tuple[Swing, ...]:
        """NPV of one way over the ranges of its figures, that of the headline where None; none where no way is."""
        key = way or self.comparison.headline
        return self._once(("swings", key), lambda: ranges(self.comparison, key)) if key else ()

    def sensitivity(self, way: str | None = None) -> "Sensitivity":
        """Every figure that the answer of one way rests on, that of the headline where None: `sensitivity`."""
        from renovation.decide.risk import sensitivity

        key = way or self.comparison.headline
        return self._once(("sensitivity", key), lambda: sensitivity(self.comparison, key))

    @property
    def ranked(self) -> "Sensitivity | None":
        """Every figure that the headline's answer rests on; None where no way can be compared."""
        return self.sensitivity() if self.comparison.headline else None

    def win_map(self, x: str, y: str, way: str | None = None) -> "WinMap":
        """Which way wins over two drivers: `win_map`."""
        from renovation.decide.risk import win_map

        return self._once(("map", x, y, way), lambda: win_map(self.comparison, x, y, headline=way))

    @cached_property
    def when(self) -> "WhenToRenovate":
        """When to renovate at all, by stand and way: `when_to_renovate`."""
        from renovation.decide.replacement import when_to_renovate

        return when_to_renovate(self.scenario)

    # Futures and hard cases

    @cached_property
    def strategies(self) -> "tuple[Strategy, ...]":
        """The stated plan and the ways of the headline: `strategies_of`."""
        from renovation.decide.risk import strategies_of

        return strategies_of(self.scenario)

    @property
    def risk(self) -> "RiskResult":
        """These strategies, and leaving the farm as it is, on the same futures: `risk`."""
        return self.judged(self.strategies)

    def judged(
        self, strategies: "Sequence[Strategy]", on_progress: Callable[[float], None] | None = None
    ) -> "RiskResult":
        """Chosen strategies on the same futures, known again by their names: `risk`."""
        from renovation.decide.risk import risk

        def ask() -> "RiskResult":
            return risk(self.scenario, strategies, self.draws, self.seed, on_progress)

        return self._once(("judged", *(strategy.key for strategy in strategies)), ask)

    @property
    def stress(self) -> "StressResult":
        """These strategies in every hard case: `stress_tests`."""
        return self.stressed(self.strategies)

    def stressed(self, strategies: "Sequence[Strategy]") -> "StressResult":
        """Chosen strategies in every hard case, known again by their names: `stress_tests`."""
        from renovation.decide.risk import stress_tests

        names = (strategy.key for strategy in strategies)
        return self._once(("stressed", *names), lambda: stress_tests(self.scenario, strategies))

    # The plan that is sought

    @cached_property
    def learned(self) -> "LearnedPlan":
        """How many trees this year, with the takes that practice brings: `bolder_plan`, as the page has it.

        Where a number of seconds was asked for: `learned_plan` for as long.
        """
        from renovation.decide.plan import learned_plan
        from renovation.decide.risk.careful import bolder_plan

        if self.learned_found is not None:
            return self.learned_found
        if self.seconds is None:
            return bolder_plan(self.scenario, cancel=self.cancel)
        return learned_plan(self.scenario, time_limit_seconds=self.seconds, cancel=self.cancel)

    @property
    def plan(self) -> "Plan":
        """The plan on expected figures."""
        return self.learned.plan

    @cached_property
    def limits(self) -> "tuple[Limit, ...] | None":
        """What holds the plan on expected figures back: `why_not_more`."""
        from renovation.decide.plan import why_not_more

        return why_not_more(self.plan, cancel=self.cancel)

    @cached_property
    def repairs(self) -> "tuple[Repair, ...] | None":
        """The changes that would each alone make a plan possible; None where the plan keeps every promise."""
        from renovation.decide.plan import repairs

        if not self.plan.broken:
            return None
        return repairs(self.plan, cancel=self.cancel) if self.repairs_found is None else self.repairs_found

    @cached_property
    def careful(self) -> "CarefulPlan | None":
        """The plan that keeps floor and instalments in nine futures of ten: found elsewhere, else `careful_plan`.

        None where no plan keeps every promise as expected.
        """
        from renovation.decide.risk.careful import careful_plan

        return self.careful_found or (None if self.plan.broken else careful_plan(self.plan, cancel=self._in_time()))

    def _in_time(self) -> Callable[[], bool] | None:
        """Ends a search that begins now, as `cancel` or after `seconds`."""
        if self.seconds is None:
            return self.cancel
        ends, asked = time.monotonic() + self.seconds, self.cancel or bool
        return lambda: asked() or time.monotonic() > ends

    @cached_property
    def family_plan(self) -> "Plan":
        """The plan that the family is shown first: the careful one; where no plan keeps every promise as expected, the
        one that breaks least, which is no answer."""
        from renovation.decide.risk.family import family_plan

        return self.plan if self.careful is None else family_plan(self.careful)

    # The plan that is shown

    @property
    def shown_as(self) -> "ShownAs":
        """Which plan is shown."""
        return "breaks_least" if self.plan.broken else "expected" if self.bolder else "careful"

    @cached_property
    def shown(self) -> "LearnedPlan":
        """The plan that is laid out: the family's, or the one on expected figures where `bolder`."""
        from renovation.decide.taught import taught

        return self.learned if self.bolder else taught(self.learned, self.family_plan)

    @cached_property
    def yardsticks(self) -> "tuple[Yardstick, ...]":
        """What simple rules come to beside the plan that is shown: `yardsticks`."""
        from renovation.decide.plan import yardsticks

        return yardsticks(self.shown.plan)

    @cached_property
    def sheet(self) -> "Sheet":
        """The first year of the plan that is shown, laid out for the family: `sheet`."""
        from renovation.decide.plan import sheet

        return sheet(self.shown.plan)

    # The year to come

    @property
    def year_plan(self) -> "Plan":
        """The plan whose first year is laid out in print: the stated one, or the one that is shown."""
        return self._stated[0] if self.year_is_stated else self.shown.plan

    @cached_property
    def year_sheet(self) -> "Sheet":
        """The first year of that plan: `sheet`."""
        from renovation.decide.plan import sheet

        return sheet(self._stated[0], replayed=self._stated[1]) if self.year_is_stated else self.sheet

    # All of it

    def as_dict(self, *names: str) -> dict[str, Any]:
        """Answers by name for `--json`, each as its own `as_dict`; all but `SEARCHED` where none is named.

        names: of `ANSWERS`; KeyError for another. A plan is sought only where one of `SEARCHED` is named.
        """
        wanted = names or tuple(name for name in ANSWERS if name not in SEARCHED)
        return {name: ANSWERS[name](self) for name in wanted}

    @cached_property
    def _kept(self) -> dict[Hashable, Any]:
        return {}

    def _once(self, name: Hashable, ask: Callable[[], Answer]) -> Answer:
        """The answer kept under a name, asked for the first time."""
        if name not in self._kept:
            self._kept[name] = ask()
        return cast("Answer", self._kept[name])


def _listed(answers: "Sequence[Any]") -> list[dict[str, Any]]:
    return [answer.as_dict() for answer in answers]


ANSWERS: Mapping[str, Callable[[Dossier], Any]] = {
    "comparison": lambda d: d.comparison.as_dict(),
    "ranges": lambda d: {key: _listed(d.swings(key)) for key in d.comparison.outcomes},
    "npv_per_tree": lambda d: {stand: dict(row) for stand, row in d.npv_per_tree.items()},
    "practise": lambda d: None if d.practise is None else d.practise.as_dict(),
    "cash": lambda d: d.cash.as_dict(),
    "labour": lambda d: d.labour.as_dict(),
    "lending": lambda d: d.lending.as_dict(),
    "risk": lambda d: d.risk.as_dict(),
    "stress": lambda d: d.stress.as_dict(),
    "sensitivity": lambda d: _listed([d.sensitivity(key) for key in d.pair]),
    "shown": lambda d: d.shown_as,
    "plan": lambda d: d.shown.as_dict(),
    "yardsticks": lambda d: _listed(d.yardsticks),
    "limits": lambda d: None if d.limits is None else _listed(d.limits),
    "sheet": lambda d: d.sheet.as_dict(),
    "repairs": lambda d: None if d.repairs is None else _listed(d.repairs),
    "robust": lambda d: None if d.careful is None else d.careful.as_dict(),
}
"""The answers that are written as JSON, under the keys of the commands' documents."""
SEARCHED = ("shown", "plan", "yardsticks", "limits", "sheet", "repairs", "robust")
"""Answers that take a search."""
