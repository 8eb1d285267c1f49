"""A strategy laid out so that any future of it is a few products (method §§3, 4, 9).

A tree's crop, work and cost are a mixture over which attempt succeeds: Σ_j q_j · outcome_j + m_{J+1} · never. The
outcomes do not depend on luck, only the shares do, so a future of a farm is

    expected run + Σ_j (q_j − expected q_j) · trees · (outcome_j − never)

and price, crop, wage and cost factors multiply its parts. With every factor at 1 and every share as expected, the
sums below give the expected run to the last digit.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from renovation.decide.appraise import worth_of_change
from renovation.decide.belief import Practice
from renovation.decide.risk.hands import practice_counted
from renovation.decide.starts import NoStart, earliest_start
from renovation.farm import (
    Begun,
    FarmFlows,
    Flows,
    by_year,
    farm_flows,
    farm_left_alone,
    household_cash,
    running_loans,
    setting_of,
    tree_flows,
)
from renovation.farm.household import CashSide
from renovation.farm.standing import months_of_tries
from renovation.inputs import Loan, Scenario, Technique, Treatment, month_count, year_month
from renovation.tree import attempts, attempts_under_way, profile, takes_of_attempts, under_way, weighted
from renovation.types import FloatArray

LEAVE, PLAN = "leave", "plan"
EXPECTED, CAREFUL = "expected_plan", "robust_plan"
"""Names of strategies, as they stand in the JSON: the farm as it is, the stated plan, and the two plans sought."""


@dataclass(frozen=True)
class Strategy:
    """What the family might do: trees treated, and loans taken for it. `key` names it in results.

    A technique's key for one way on the compared trees, `plan` for the scenario's plan, `leave` for nothing.
    """

    key: str
    treatments: tuple[Treatment, ...] = ()
    loans: tuple[Loan, ...] = ()


def strategies_of(scenario: Scenario, techniques: Sequence[str] | None = None) -> tuple[Strategy, ...]:
    """The strategies a scenario speaks of: its plan with its loans, and ways on the compared trees without a new loan.

    techniques: the two of the headline where None. A way that no month of the horizon suits is left out.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> [strategy.key for strategy in strategies_of(demo_scenario())]
        ['plan', 'side_graft', 'rooted_cutting']
    """
    found = [Strategy(PLAN, scenario.plan, scenario.loans)] if scenario.plan else []
    keys = [key for key in scenario.compared_pair if key] if techniques is None else techniques
    for key in keys:
        try:
            found.append(one_way(scenario, key))
        except NoStart:
            continue
    return tuple(found)


def one_way(scenario: Scenario, technique: str) -> Strategy:
    """One technique on the compared trees, started as early as it can be; raises NoStart where it cannot."""
    compared = scenario.comparison
    stand = scenario.stand(compared.stand or scenario.stands[0].name)
    free = scenario.free_trees(stand.name)
    trees = free if compared.trees is None else min(compared.trees, free)
    start = earliest_start(scenario, scenario.techniques[technique])
    month = year_month(month_count(scenario.appraisal.start) + start)
    treatment = Treatment(stand=stand.name, technique=technique, trees=trees, start=month)
    return Strategy(technique, (treatment,), running_loans(scenario))


@dataclass(frozen=True, eq=False)
class Parts:
    """Monthly series that futures multiply, (..., T): money of sales, kg, person-days, money for supplies.

    payments: money for the work, which no future multiplies but which goes as the trees go; None where no way of the
    farm is paid for.
    """

    sales: FloatArray
    kg: FloatArray
    days: FloatArray
    materials: FloatArray
    payments: FloatArray | None = None

    @classmethod
    def of(cls, scenario: Scenario, flows: Flows) -> "Parts":
        """The parts of a tree's or a farm's flows, (..., T)."""
        paid = flows.payments if scenario.states_payments else None
        return cls(flows.sales, flows.old_kg + flows.new_kg, flows.days, flows.materials, paid)

    @property
    def each(self) -> tuple[FloatArray, ...]:
        """The series in turn: four, or five where there are payments."""
        four = self.sales, self.kg, self.days, self.materials
        return four if self.payments is None else (*four, self.payments)

    def by_year(self) -> "Parts":
        """The same summed by project year, (..., H)."""
        return Parts(*(by_year(part) for part in self.each))

    def side_by_side(self) -> FloatArray:
        """All in one row, (..., 4·T) or (..., 5·T)."""
        return np.concatenate(self.each, axis=-1)


@dataclass(frozen=True, eq=False)
class Outcomes:
    """Trees that share a technique and a start, by the attempt that succeeds.

    takes: (J,) expected chance p_j of each attempt that is made. seasons: (J,) its project year, from 0. factors: (J,)
    what the take of that year is multiplied by. trees: how many there are.
    parts: (J, T) all these trees if attempt j succeeds, less the same if none does.
    begun: whether they are under way and wait: then they stand on both sides, and only the balance knows of their luck.
    """

    technique: str
    start: int
    takes: tuple[float, ...]
    seasons: tuple[int, ...]
    factors: tuple[float, ...]
    trees: float
    parts: Parts
    begun: bool = False


@dataclass(frozen=True, eq=False)
class Layout:
    """A strategy laid out: expected run, loans, and the outcomes that may turn out otherwise.

    flows, cash: of the expected run. outcomes: only of trees whose establishment is uncertain. practice: what is held
    of the hands that these trees are grafted by, to draw from; None where nothing was counted. grafts_before: (H,)
    those before each season that takes rest on; None where they are the strategy's own, in each future others.
    """

    scenario: Scenario
    strategy: Strategy
    flows: FarmFlows
    cash: CashSide
    outcomes: tuple[Outcomes, ...]
    practice: Practice | None = None
    grafts_before: FloatArray | None = None

    @cached_property
    def expected_npv(self) -> float:
        """NPV of the expected run: of the farm's incremental economic account by project year."""
        return float(worth_of_change(self.scenario, self.flows.with_plan.economic, self.flows.without.economic))

    @cached_property
    def change_by_month(self) -> Parts:
        """The expected run less the farm as it is, by month, (T,)."""
        side, other = self.flows.with_plan, self.flows.without
        return Parts(
            side.sales - other.sales,
            side.old_kg + side.new_kg - other.old_kg - other.new_kg,
            side.days - other.days,
            side.materials - other.materials,
            side.payments - other.payments if self.scenario.states_payments else None,
        )

    @cached_property
    def change(self) -> Parts:
        """The same by project year, (H,)."""
        return self.change_by_month.by_year()

    @cached_property
    def tools(self) -> FloatArray:
        """Money for tools by project year beyond what the farm as it is buys, (H,)."""
        return by_year(self.flows.with_plan.tools - self.flows.without.tools)

    @property
    def _parts(self) -> int:
        return 5 if self.scenario.states_payments else 4

    @cached_property
    def outcomes_by_month(self) -> FloatArray:
        """Every outcome's parts side by side, (ΣJ, 4·T), or 5·T where there are payments."""
        none = np.zeros((0, self._parts * self.scenario.appraisal.months))
        return np.concatenate([none, *(outcome.parts.side_by_side() for outcome in self.outcomes)])

    @cached_property
    def outcomes_by_year(self) -> FloatArray:
        """What they change by project year, (ΣJ, 4·H) or 5·H: nothing where they stand on both sides."""
        none = np.zeros((0, self._parts * self.scenario.appraisal.horizon_years))
        return np.concatenate([none, *(one.parts.by_year().side_by_side() * (not one.begun) for one in self.outcomes)])


OneTrees = dict[tuple[str, str, int, int | None], "Parts"]
"""What one tree adds, by technique, stand, start and the attempt that succeeds: kept by who lays out a farm often."""


def lay_out(
    scenario: Scenario,
    strategy: Strategy,
    without: Flows | None = None,
    grafts_before: FloatArray | None = None,
    known: OneTrees | None = None,
) -> Layout:
    """Lay a strategy out for futures.

    without: `farm_left_alone(scenario)`, where a caller has it already. grafts_before: as in `Layout`. known: of this
    scenario; what is missing there is added. Raises as `farm_flows` and `household_cash` do.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> layout = lay_out(s, strategies_of(s)[1])
        >>> layout.outcomes[0].takes
        (0.25, 0.25, 0.25, 0.25, 0.75)
    """
    flows = farm_flows(scenario, strategy.treatments, without or farm_left_alone(scenario))
    cash = household_cash(scenario, flows, strategy.loans).with_plan
    together: dict[tuple[str, int], list[Treatment]] = {}
    for treatment in strategy.treatments:
        if treatment.trees:
            key = treatment.technique, scenario.month_of(treatment.start)
            together.setdefault(key, []).append(treatment)
    practice = practice_counted(scenario) if together or scenario.under_way else None
    drawn = () if practice is None else practice.learners
    known = {} if known is None else known
    outcomes = [_outcomes(scenario, key, start, group, key in drawn, known) for (key, start), group in together.items()]
    waiting = [item for item in flows.begun if item.entry.waiting > 0]
    outcomes += [_outcomes_begun(scenario, item, item.entry.technique in drawn) for item in waiting]
    uncertain = tuple(outcome for outcome in outcomes if outcome.seasons)
    if not any(outcome.technique in drawn for outcome in uncertain):
        practice = None
    return Layout(scenario, strategy, flows, cash, uncertain, practice, grafts_before)


def _outcomes(
    scenario: Scenario, key: str, start: int, group: Sequence[Treatment], drawn: bool, known: OneTrees
) -> Outcomes:
    """The trees of treatments with one technique and start, attempt by attempt; of a sure thing none.

    drawn: whether hands are drawn for them, so that nothing is sure.
    """
    technique, appraisal = scenario.techniques[key], scenario.appraisal
    months = appraisal.months
    tries = attempts(technique, np.array([start]), months, start_calendar_month=appraisal.start_calendar_month)
    within = tries.month[0] < months
    made, succeeds = tries.made[0][within], tries.succeeds[0][within]
    # an attempt after a sure success is never made; whatever its chance is called, it has no trees
    takes = np.divide(succeeds, made, out=np.zeros_like(made), where=made > 0)
    trees = sum(treatment.trees for treatment in group)
    if not drawn and not ((takes > 0) & (takes < 1)).any():
        return Outcomes(key, start, (), (), (), trees, Parts(*(np.zeros((0, months)),) * 4))
    never = _if_attempt(scenario, technique, start, group, None, known)
    parts = _less([_if_attempt(scenario, technique, start, group, j, known) for j in range(takes.size)], never)
    seasons = tuple(int(month) // 12 for month in tries.month[0][within])
    factors = takes_of_attempts(
        technique, np.array([start]), months, np.ones(1), start_calendar_month=appraisal.start_calendar_month
    )[0][within]
    return Outcomes(key, start, tuple(takes.tolist()), seasons, tuple(factors.tolist()), trees, parts)


def _outcomes_begun(scenario: Scenario, item: Begun, drawn: bool) -> Outcomes:
    """Trees that wait for their next attempt, attempt by attempt from there; those that took are facts."""
    appraisal, entry, technique = scenario.appraisal, item.entry, item.technique
    start, made_in = scenario.month_of(entry.start), np.array(months_of_tries(scenario, entry), dtype=np.int64)
    done, months, first = made_in.size, appraisal.months, appraisal.start_calendar_month
    tries = attempts_under_way(technique, start, made_in, months, start_calendar_month=first)
    at = np.flatnonzero((np.arange(tries.month.shape[1]) >= done) & (tries.month[done] < months))
    made, succeeds = tries.made[done, at], tries.succeeds[done, at]
    takes = np.divide(succeeds, made, out=np.zeros_like(made), where=made > 0)
    if not drawn and not ((takes > 0) & (takes < 1)).any():
        return Outcomes(entry.technique, start, (), (), (), entry.waiting, Parts(*(np.zeros((0, months)),) * 4), True)

    def waiting_if(succeeds: int | None) -> Parts:
        """All trees that wait if this attempt succeeds, or none."""
        sure = certain_attempt(technique, succeeds)
        stand, setting = scenario.stand(entry.stand), setting_of(scenario)
        rows = under_way(sure, stand, scenario.supplies, setting, start, made_in)
        weights = np.zeros(done + 2)
        weights[done] = entry.waiting
        return Parts.of(scenario, tree_flows(scenario, weighted(rows, weights), technique.material))

    parts = _less([waiting_if(int(j)) for j in at], waiting_if(None))
    seasons = tuple((tries.month[done, at] // 12).tolist())
    calendar = (first - 1 + tries.month[done, at]) % 12
    factors = np.array(technique.factors_by_attempt)[at] * np.array(technique.factors_by_month)[calendar]
    facts = tuple(takes.tolist()), seasons, tuple(factors.tolist())
    return Outcomes(entry.technique, start, *facts, entry.waiting, parts, begun=True)


def _less(rows: Sequence[Parts], never: Parts) -> Parts:
    """Each row less the same trees if no attempt succeeds, (J, T)."""
    by_part = zip(*(row.each for row in rows), strict=True)
    return Parts(*(np.stack(part) - without for part, without in zip(by_part, never.each, strict=True)))


def _if_attempt(
    scenario: Scenario,
    technique: Technique,
    start: int,
    group: Sequence[Treatment],
    succeeds: int | None,
    known: OneTrees,
) -> Parts:
    """All trees of a group if this attempt (counted from 0) succeeds on every one; None if none does, (T,)."""
    totals: list[FloatArray] = []
    for treatment in group:
        at = treatment.technique, treatment.stand, start, succeeds
        if at not in known:
            stand = scenario.found_by(treatment.technique, treatment.stand)
            sure = certain_attempt(technique, succeeds)
            tree = profile(sure, stand, scenario.supplies, setting_of(scenario), [start])
            known[at] = Parts.of(scenario, tree_flows(scenario, tree, technique.material))
        some = [treatment.trees * part for part in known[at].each]
        totals = [total + part for total, part in zip(totals, some, strict=True)] if totals else some
    return Parts(*totals)


def certain_attempt(technique: Technique, succeeds: int | None) -> Technique:
    """The technique with one attempt sure to succeed and all others sure to fail; None fails them all."""
    chances = tuple(float(j == succeeds) for j in range(technique.attempts.value))
    sure = technique.take.model_copy(update={"value": (1.0,)})
    by_attempt = technique.take.model_copy(update={"value": chances})
    return technique.model_copy(update={"take": sure, "attempt_factor": by_attempt, "take_by_month": None})
