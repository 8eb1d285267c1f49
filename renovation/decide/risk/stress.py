"""Named stress tests, one at a time and together: what a strategy comes to if a known bad thing happens.

Looked at as development banks ask: adverse changes, one at a time and combined (ADB, Guidelines for the Economic
Analysis of Projects). The sizes of the changes are the scenario's `risk.stress`; the price slump is the worst five
years of the shipped record.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from renovation.decide.appraise import worth_of_change
from renovation.decide.drivers import take, wage
from renovation.decide.held import as_held
from renovation.decide.plain import fields_of
from renovation.decide.risk.record import worst_years
from renovation.decide.risk.strategy import Strategy, strategies_of
from renovation.farm import (
    FarmFlows,
    Flows,
    expected_price_path,
    farm_flows,
    farm_left_alone,
    household_cash,
    setting_of,
    treated_trees,
)
from renovation.inputs import FrozenDict, Scenario, Season, Technique, Treatment, month_count, year_month
from renovation.inputs.seasons import seasons
from renovation.money import missed
from renovation.types import FloatArray

if TYPE_CHECKING:
    import pandas as pd


PRICE_SLUMP, BEGINNERS, LOST_CROP, DEAR_WORK, HAND_SHORT, LOST_TREES = (
    "price_slump",
    "beginners",
    "lost_main_crop",
    "dear_work",
    "hand_short",
    "lost_trees",
)
CASES = (PRICE_SLUMP, BEGINNERS, LOST_CROP, DEAR_WORK, HAND_SHORT, LOST_TREES)
"""The last only where a scenario states a share of trees."""
TOGETHER = "together"
PUT_OFF = "_put_off"
SLUMP_YEARS = 5
MAIN_CROP_MONTHS = 6
"""Where no harvest window is named, the main crop is that of the six months in a row that bear most: our assumption."""


@dataclass(frozen=True)
class StressRow:
    """One strategy in one bad case, beside the same as expected.

    npv, deepest: money. npv_change: against the expected run. gap_years: cash-gap years, counted from 1.
    missed_months: project months with a missed instalment. trees_put_off: trees that have to wait a year, or for
    good where the horizon ends before.
    """

    case: str
    strategy: str
    npv: float
    npv_change: float
    deepest: float
    deepest_change: float
    gap_years: tuple[int, ...]
    missed_months: tuple[int, ...]
    trees_put_off: int

    @property
    def worse_than_leaving(self) -> bool:
        """Whether leaving the farm as it is would be worth more, in the same bad case."""
        return self.npv < 0

    def as_dict(self) -> dict[str, Any]:
        """Plain data, stable keys."""
        return {**fields_of(self), "worse_than_leaving": self.worse_than_leaving}


@dataclass(frozen=True, eq=False)
class StressResult:
    """Every strategy in every bad case.

    expected: by strategy, as expected. rows: by strategy, the case that costs most NPV first, all together last.
    not_possible: cases that lie outside the horizon. slump_from: first of the record's worst years.
    """

    scenario: Scenario
    expected: dict[str, StressRow]
    rows: dict[str, tuple[StressRow, ...]]
    not_possible: tuple[str, ...]
    slump_from: int

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`."""
        return {
            "slump_years": [self.slump_from, self.slump_from + SLUMP_YEARS - 1],
            "not_possible": list(self.not_possible),
            "expected": [row.as_dict() for row in self.expected.values()],
            "cases": [row.as_dict() for rows in self.rows.values() for row in rows],
        }

    def table(self) -> "pd.DataFrame":
        """One row per strategy and case, the expected run first."""
        import pandas as pd

        every = [[self.expected[key], *rows] for key, rows in self.rows.items()]
        return pd.DataFrame([row.as_dict() for rows in every for row in rows])


@dataclass(frozen=True)
class _Case:
    """A bad case at work: the changed scenario, its treatments, the crop kept by month (T,), trees that had to wait.

    spared: (T,) share of all trees that is left standing; None for all.
    """

    scenario: Scenario
    treatments: tuple[Treatment, ...]
    kept: FloatArray
    put_off: int = 0
    spared: FloatArray | None = None


def stress_tests(scenario: Scenario, strategies: Sequence[Strategy] | None = None) -> StressResult:
    """Try strategies against each named bad case, then against all of them together.

    strategies: the plan and the ways of the headline where None. Raises as `farm_flows` does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> result = stress_tests(demo_scenario())
        >>> rows = result.rows["side_graft"]
        >>> rows[-1].case, rows[0].npv_change <= rows[1].npv_change <= 0
        ('together', True)
    """
    chosen = strategies_of(scenario) if strategies is None else tuple(strategies)
    asked = tuple(case for case in CASES if case != LOST_TREES or scenario.risk.stress.lost_trees)
    possible = tuple(case for case in asked if _lies_within(scenario, case))
    expected, rows = {}, {}
    for strategy in chosen:
        plain = _Case(as_held(scenario, strategy.treatments), strategy.treatments, np.ones(scenario.appraisal.months))
        base = _row("expected", strategy, plain, None)
        expected[strategy.key] = base
        alone = [_row(case, strategy, _MAKE[case](plain), base) for case in possible]
        whole = plain
        for case in possible:
            whole = _MAKE[case](whole)
        together = _row(TOGETHER, strategy, whole, base)
        rows[strategy.key] = (*sorted(alone, key=lambda row: row.npv), together)
    not_possible = tuple(case for case in asked if case not in possible)
    return StressResult(scenario, expected, rows, not_possible, worst_years(SLUMP_YEARS)[0])


def _lies_within(scenario: Scenario, case: str) -> bool:
    stress = scenario.risk.stress
    year = {LOST_CROP: stress.lost_crop_year, LOST_TREES: stress.lost_trees_year}.get(case, 1)
    return year <= scenario.appraisal.horizon_years


def _row(case: str, strategy: Strategy, at_work: _Case, base: StressRow | None) -> StressRow:
    """Work a case out through the same calls as the expected run."""
    scenario = at_work.scenario
    setting = None if at_work.spared is None else replace(setting_of(scenario), spared=at_work.spared)
    flows = with_crop_kept(scenario, farm_flows(scenario, at_work.treatments, setting=setting), at_work.kept)
    npv = float(worth_of_change(scenario, flows.with_plan.economic, flows.without.economic))
    cash = household_cash(scenario, flows, strategy.loans).with_plan
    late = np.flatnonzero(missed(cash.debt_service, cash.balance))
    return StressRow(
        case=case,
        strategy=strategy.key,
        npv=npv,
        npv_change=npv - base.npv if base else 0.0,
        deepest=cash.deepest,
        deepest_change=cash.deepest - base.deepest if base else 0.0,
        gap_years=cash.gap_years,
        missed_months=tuple(int(month) for month in late),
        trees_put_off=at_work.put_off,
    )


def with_crop_kept(scenario: Scenario, flows: FarmFlows, kept: FloatArray) -> FarmFlows:
    """The same farm with only a share of each month's crop kept, (T,): sales and harvest work go with it.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> flows = farm_flows(s, s.plan)
        >>> nothing = with_crop_kept(s, flows, np.zeros(s.appraisal.months))
        >>> float(nothing.with_plan.sales.sum())
        0.0
    """
    if (kept == 1).all():
        return flows

    def side(flows: Flows) -> Flows:
        picking = scenario.market.harvest_days_per_kg * (flows.old_kg + flows.new_kg)
        return replace(
            flows,
            old_kg=flows.old_kg * kept,
            new_kg=flows.new_kg * kept,
            sales=flows.sales * kept,
            days=flows.days - picking * (1 - kept),
        )

    return replace(flows, without=side(flows.without), with_plan=side(flows.with_plan))


def _price_slump(case: _Case) -> _Case:
    """From project year 1 the price goes as in the worst five years of the record, and is then as expected again."""
    risk = case.scenario.risk
    shares = 1 + risk.farm_gate_share * (worst_years(SLUMP_YEARS)[1] - 1)
    if risk.price_setting == "board":  # the board follows a year behind
        shares = np.concatenate([[1.0], shares])
    path = expected_price_path(case.scenario)[::12].copy()
    shares = shares[: path.size]
    path[: shares.size] *= shares
    changed = risk.model_copy(update={"price_path": "typed", "price_by_year": tuple(path.tolist())})
    return replace(case, scenario=case.scenario.model_copy(update={"risk": changed}))


def _beginners(case: _Case) -> _Case:
    """Grafts of the first project years take no better than those of beginners."""
    scenario, stress = case.scenario, case.scenario.risk.stress
    for key, technique in scenario.techniques.items():
        if technique.family == "graft":
            stated = take(technique, key)
            held = _held_down(stated.value, stress.beginner_take, stress.beginner_seasons)
            scenario = stated.put(scenario, held)
    return replace(case, scenario=scenario)


def _held_down(table: tuple[float, ...], most: float, seasons_long: int) -> tuple[float, ...]:
    """A take by project year that is no higher than `most` in its first seasons.

    Example:
        >>> _held_down((0.3, 0.5, 0.7), 0.4, 2)
        (0.3, 0.4, 0.7)
    """
    years = max(len(table), seasons_long + 1)
    stated = [table[min(year, len(table) - 1)] for year in range(years)]
    return tuple(min(share, most) if year < seasons_long else share for year, share in enumerate(stated))


def _lost_main_crop(case: _Case) -> _Case:
    """The main crop of one project year is lost, on old crowns and new."""
    appraisal = case.scenario.appraisal
    first = 12 * (case.scenario.risk.stress.lost_crop_year - 1)
    calendar = (appraisal.start_calendar_month - 1 + np.arange(appraisal.months)) % 12 + 1
    year = (np.arange(appraisal.months) >= first) & (np.arange(appraisal.months) < first + 12)
    lost = year & np.isin(calendar, main_crop_months(case.scenario.market.season))
    return replace(case, kept=np.where(lost, 0.0, case.kept))


def _lost_trees(case: _Case) -> _Case:
    """A share of all trees, old and new, is lost at the beginning of a project year, and with it what they need."""
    stress, months = case.scenario.risk.stress, np.arange(case.scenario.appraisal.months)
    return replace(case, spared=np.where(months < 12 * (stress.lost_trees_year - 1), 1.0, 1 - stress.lost_trees))


def main_crop_months(season: Season) -> tuple[int, ...]:
    """Calendar months of the main crop: of the named harvest window, else the six in a row that bear most.

    Example:
        >>> from renovation.inputs import season_from_window
        >>> main_crop_months(season_from_window("Ecuador"))
        (3, 4, 5, 6)
    """
    windows = seasons().windows
    if season.window in windows:
        return windows[season.window].main
    share = np.array(season.shares * 2)
    borne = [share[month : month + MAIN_CROP_MONTHS].sum() for month in range(12)]
    first = int(np.argmax(borne))
    return tuple(sorted((first + k) % 12 + 1 for k in range(MAIN_CROP_MONTHS)))


def _dear_work(case: _Case) -> _Case:
    """A day of work costs more, from the first month on."""
    today = wage(case.scenario)
    dearer = today.value * (1 + case.scenario.risk.stress.wage_rise)
    return replace(case, scenario=today.put(case.scenario, dearer))


def _hand_short(case: _Case) -> _Case:
    """One hired hand fewer in each month in which work on trees starts.

    Harvest and upkeep cannot wait, so the new work does: trees that nobody gets to are treated a year later. Practice
    is put off with them: they take as they would have taken.
    """
    scenario = case.scenario
    flows = farm_flows(scenario, case.treatments, farm_left_alone(scenario))
    work: dict[int, float] = {}
    for item in treated_trees(scenario, case.treatments):
        month = scenario.month_of(item.treatment.start)
        work[month] = work.get(month, 0.0) + item.treatment.trees * float(item.tree.operation_days[0, month])
    done: list[Treatment] = []
    put_off = 0
    for treatment in (treatment for treatment in case.treatments if treatment.trees):
        month = scenario.month_of(treatment.start)
        short = min(float(flows.with_plan.hired_days[month]), scenario.risk.stress.hand_days)
        share = max(0.0, 1 - short / work[month]) if work[month] > 0 else 1.0
        now = int(np.floor(treatment.trees * share + 1e-9))
        put_off += treatment.trees - now
        done.append(treatment.model_copy(update={"trees": now}))
        if month + 12 < scenario.appraisal.months:
            later = year_month(month_count(treatment.start) + 12)
            left = {"trees": treatment.trees - now, "start": later, "technique": treatment.technique + PUT_OFF}
            done.append(treatment.model_copy(update=left))
    techniques = FrozenDict({**scenario.techniques, **_put_off(scenario)})
    waiting = scenario.model_copy(update={"techniques": techniques})
    return replace(case, scenario=waiting, treatments=tuple(done), put_off=put_off)


def _put_off(scenario: Scenario) -> dict[str, Technique]:
    """Every technique with its take by project year moved a year on."""
    later = {}
    for key, technique in scenario.techniques.items():
        table = technique.take.value
        take = technique.take.model_copy(update={"value": (table[0], *table)})
        later[key + PUT_OFF] = technique.model_copy(update={"take": take})
    return later


_MAKE: dict[str, Callable[[_Case], _Case]] = {
    PRICE_SLUMP: _price_slump,
    BEGINNERS: _beginners,
    LOST_CROP: _lost_main_crop,
    DEAR_WORK: _dear_work,
    HAND_SHORT: _hand_short,
    LOST_TREES: _lost_trees,
}
