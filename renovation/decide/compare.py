"""Compare the ways of renovating the same trees: crop, work, money, return, break-even (method §§4, 5).

Every way is weighed against leaving the farm as it is, on the same number of trees of one stand, each
started as early as its calendar and its nursery allow.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from renovation.decide.appraise import Accounts, per_day_worked, per_family_day
from renovation.decide.hands import Turn, practised, turns, worth_most
from renovation.decide.held import as_each_begins
from renovation.decide.starts import NoStart, earliest_start, number_of_trees, one_treatment, techniques_for
from renovation.decide.switching import BreakEven, TakeCurve, Ties, break_even, take_curve, tie_values
from renovation.farm import FarmFlows, Flows, by_year, farm_flows, farm_left_alone
from renovation.inputs import Scenario, Treatment, month_count, year_month
from renovation.inputs.techniques import WorksOn
from renovation.money import Measures
from renovation.tree import Profile
from renovation.types import FloatArray

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Outcome:
    """What one technique does to the compared trees.

    start: project month of the work on the tree. tree, left_alone: profiles of one tree (S = 1). flows: the
    whole farm by month, with only these trees treated. tree_with, tree_without: economic account of one tree.
    accounts: those of all ways weighed together; from `place` on this way's, of all its trees and of one. What else
    is asked is worked out when it is asked for. None is blank, as the method defines it.
    """

    technique: str
    label: str | None
    start: int
    treatment: Treatment
    tree: Profile
    left_alone: Profile
    flows: FarmFlows
    tree_with: Flows
    tree_without: Flows
    accounts: Accounts
    place: int

    @cached_property
    def npv(self) -> float:
        """Of the incremental economic account of all the compared trees, tools included."""
        return float(self.accounts.npv[self.place])

    @cached_property
    def measures(self) -> Measures:
        """All measures of that account."""
        return self.accounts.measures(self.place)

    @cached_property
    def per_tree(self) -> Measures:
        """The same for one tree, tools left out."""
        return self.accounts.measures(self.place + 1)

    @cached_property
    def return_per_day(self) -> float | None:
        """Money per person-day worked, one tree."""
        return per_day_worked(self.flows.scenario, self.tree_with, self.tree_without)

    @cached_property
    def return_per_family_day(self) -> float | None:
        """Farm cash per family day."""
        return per_family_day(self.flows.scenario, self.flows)

    @cached_property
    def break_even(self) -> BreakEven:
        """Where the way just pays, and how its NPV moves."""
        return break_even(self.flows.scenario, self.flows, self.take_curve)

    @cached_property
    def take_curve(self) -> TakeCurve | None:
        """NPV by take; None where nothing has to take."""
        return take_curve(self.flows.scenario, self.flows)

    @cached_property
    def cumulative_cash(self) -> FloatArray:
        """(T,) running sum of the farm's incremental cash: what the work has cost or brought so far."""
        return np.cumsum(self.flows.cash_change)

    @cached_property
    def cumulative_economic(self) -> FloatArray:
        """(T,) running sum of the incremental economic account."""
        return np.cumsum(self.flows.economic_change)

    @cached_property
    def most_money_out(self) -> tuple[float, int]:
        """Deepest point of the cumulative incremental cash (0 or below) and its first project month."""
        month = int(np.argmin(self.cumulative_cash))
        return min(0.0, float(self.cumulative_cash[month])), month

    @cached_property
    def crop_by_year(self) -> FloatArray:
        """(H, 2) kg of one tree by project year, old crown and new crown."""
        return np.stack([by_year(self.tree.old_kg[0]), by_year(self.tree.new_kg[0])], axis=1)

    def year_rows(self) -> list[dict[str, float]]:
        """One dict per project year of all compared trees: crop, work, money with, without and change.

        Money is in constant prices; `economic` charges every person-day, `cash` only the hired ones.
        """
        with_plan, without = self.flows.with_plan, self.flows.without
        series = {
            "crop_change_kg": with_plan.old_kg + with_plan.new_kg - without.old_kg - without.new_kg,
            "days_change": with_plan.days - without.days,
            "hired_days_change": with_plan.hired_days - without.hired_days,
            "benefits_change": with_plan.benefits - without.benefits,
            "materials_and_tools": with_plan.materials + with_plan.tools - without.materials - without.tools,
            "labour_change": with_plan.labour_cost - without.labour_cost,
            "economic_change": self.flows.economic_change,
            "cash_change": self.flows.cash_change,
            "cash_with": with_plan.cash,
            "cash_without": without.cash,
        }
        yearly = {name: by_year(values) for name, values in series.items()}
        yearly["cumulative_economic"] = np.cumsum(yearly["economic_change"])
        yearly["cumulative_cash"] = np.cumsum(yearly["cash_change"])
        years = len(yearly["cash_change"])
        return [{"year": y + 1, **{k: float(v[y]) for k, v in yearly.items()}} for y in range(years)]

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        out, month = self.most_money_out
        return {
            "technique": self.technique,
            "label": self.label,
            "start": self.treatment.start,
            "measures": self.measures.as_dict(),
            "per_tree": self.per_tree.as_dict(),
            "return_per_day": self.return_per_day,
            "return_per_family_day": self.return_per_family_day,
            "break_even": self.break_even.as_dict(),
            "most_money_out": {"amount": out, "project_month": month},
            "kg_per_tree_by_year": {
                "old_crown": self.crop_by_year[:, 0].tolist(),
                "new_crown": self.crop_by_year[:, 1].tolist(),
                "left_alone": by_year(self.left_alone.old_kg[0]).tolist(),
            },
            "years": self.year_rows(),
        }


@dataclass(frozen=True)
class Comparison:
    """Every technique on the same trees of one stand, beside leaving them alone.

    outcomes: by technique key, in the scenario's order. headline, against: the pair that the sentence at the
    head speaks of, None where fewer than two ways can be compared. not_possible: techniques that no month of the
    horizon suits. not_before: first project month in which
    work may start.

    scenario: with what is held of takes and days: by project year those of hands that begin, where they learn as the
    compared trees of each way let them; `after_practice` is the same question to practised hands. works_on: the stand's
    empty places may be weighed in place of its trees, by ways of their own, each against nothing: `on_empty_places`.
    """

    scenario: Scenario
    stand: str
    trees: int
    outcomes: Mapping[str, Outcome]
    headline: str | None
    against: str | None
    not_possible: tuple[str, ...]
    not_before: int = 0
    works_on: WorksOn = "trees"

    @cached_property
    def on_empty_places(self) -> "Comparison | None":
        """The ways for the empty places of the same stand, on all of them; None where there are none of either."""
        if self.works_on != "trees" or not self.scenario.free_places(self.stand):
            return None
        found = compare(self.scenario, self.stand, not_before=self.not_before, works_on="empty places")
        return found if found.outcomes or found.not_possible else None

    @cached_property
    def ties(self) -> Ties | None:
        """Values of drivers at which the pair ties; None where there is no pair."""
        if self.headline is None or self.against is None:
            return None
        return tie_values(self.outcomes[self.headline].break_even, self.outcomes[self.against].break_even)

    @cached_property
    def after_practice(self) -> "Comparison | None":
        """The same ways on the same trees with practised hands; None where no take changes by year.

        Each take is its last entry from the first year on: what a start by those who have practised comes to.
        """
        later = practised(self.scenario)
        if later is self.scenario:
            return None
        # what practice does not change is known already, unless trees under way that still wait for a try stand beside
        known = {} if self.scenario.under_way else self.outcomes
        as_now = {key: way for key, way in known.items() if later.techniques[key] is self.scenario.techniques[key]}
        starts = {key: outcome.start for key, outcome in self.outcomes.items()}
        trees = self.stand, self.works_on, self.trees
        return _compared(later, *trees, starts, self.not_possible, self.not_before, as_now)

    @cached_property
    def graft_curves(self) -> dict[str, TakeCurve]:
        """NPV by take of the ways that graft: those whose take the hands decide."""
        return {
            key: outcome.take_curve
            for key, outcome in self.outcomes.items()
            if self.scenario.techniques[key].family == "graft" and outcome.take_curve is not None
        }

    @cached_property
    def turns(self) -> tuple[Turn, ...]:
        """The takes at which another way becomes the one worth most, all grafts taking alike; ascending."""
        return turns(self._worth, self.graft_curves)

    def best_at(self, take: float) -> str | None:
        """The technique of highest NPV where all grafts take alike; None where leaving the trees is worth more."""
        return worth_most(self._worth, self.graft_curves, take)

    @cached_property
    def _worth(self) -> dict[str, float]:
        return {key: outcome.npv for key, outcome in self.outcomes.items()}

    @cached_property
    def best(self) -> str | None:
        """The technique of highest NPV, None where leaving the trees alone is worth more."""
        if not self.outcomes:
            return None
        top = max(self.outcomes.values(), key=lambda outcome: outcome.npv)
        return top.technique if top.npv > 0 else None

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        return {
            "stand": self.stand,
            "trees": self.trees,
            "works_on": self.works_on,
            "currency": self.scenario.appraisal.currency,
            "scenario_digest": self.scenario.digest,
            "headline": self.headline,
            "against": self.against,
            "best": self.best,
            "ties": self.ties.as_dict() if self.ties else None,
            "not_possible": list(self.not_possible),
            "turns": [turn.as_dict() for turn in self.turns],
            "outcomes": [outcome.as_dict() for outcome in self.outcomes.values()],
            "after_practice": self.after_practice.as_dict() if self.after_practice else None,
            "on_empty_places": self.on_empty_places.as_dict() if self.on_empty_places else None,
        }

    def measures_table(self) -> "pd.DataFrame":
        """One row per technique: start, measures, returns and break-even values."""
        import pandas as pd

        rows = [
            {
                "technique": outcome.technique,
                "start": outcome.treatment.start,
                **outcome.measures.as_dict(),
                "return_per_day": outcome.return_per_day,
                "return_per_family_day": outcome.return_per_family_day,
                **{f"break_even_{k}": v for k, v in outcome.break_even.as_dict().items()},
            }
            for outcome in self.outcomes.values()
        ]
        return pd.DataFrame(rows)

    def years_table(self) -> "pd.DataFrame":
        """One row per technique and project year: the columns of `Outcome.year_rows`."""
        import pandas as pd

        rows = [{"technique": key, **row} for key, outcome in self.outcomes.items() for row in outcome.year_rows()]
        return pd.DataFrame(rows)

    def crop_table(self) -> "pd.DataFrame":
        """One row per technique and month: kg/tree/year of old crown, new crown and a tree left alone."""
        import pandas as pd

        start = month_count(self.scenario.appraisal.start)
        parts = [
            pd.DataFrame(
                {
                    "technique": key,
                    "project_month": np.arange(outcome.tree.old_rate.shape[1]),
                    "month": [year_month(start + m) for m in range(outcome.tree.old_rate.shape[1])],
                    "old_crown": outcome.tree.old_rate[0],
                    "new_crown": outcome.tree.new_rate[0],
                    "left_alone": outcome.left_alone.old_rate[0],
                }
            )
            for key, outcome in self.outcomes.items()
        ]
        return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def compare(
    scenario: Scenario,
    stand: str | None = None,
    trees: int | None = None,
    techniques: Iterable[str] | None = None,
    not_before: int = 0,
    works_on: WorksOn = "trees",
) -> Comparison:
    """Weigh each technique on the same trees of one stand against leaving them alone.

    stand, trees: the scenario's comparison where None (else its first stand, all its trees). techniques:
    keys; all that the stand allows where None. not_before: first project month in which work may start. works_on: or on
    empty places, against nothing; all of them where `trees` is None.
    Raises KeyError for an unknown stand or technique, ValueError for more trees than the stand has.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> result = compare(demo_scenario())
        >>> sorted(result.outcomes)[:1]
        ['air_layer']
    """
    stand = stand or scenario.comparison.stand or scenario.stands[0].name
    trees = number_of_trees(scenario, stand, trees, works_on)
    starts: dict[str, int] = {}
    not_possible = []
    for key in techniques_for(scenario, stand, works_on) if techniques is None else techniques:
        try:
            starts[key] = earliest_start(scenario, scenario.techniques[key], not_before)
        except NoStart:
            not_possible.append(key)
    held = as_each_begins(scenario, (one_treatment(scenario, stand, trees, key, at) for key, at in starts.items()))
    return _compared(held, stand, works_on, trees, starts, tuple(not_possible), not_before)


def _compared(
    scenario: Scenario,
    stand: str,
    works_on: WorksOn,
    trees: int,
    starts: Mapping[str, int],
    not_possible: tuple[str, ...],
    not_before: int,
    known: Mapping[str, Outcome] = MappingProxyType({}),
) -> Comparison:
    """The comparison of a scenario whose takes are settled. known: outcomes that need not be worked out again."""
    new = {key: start for key, start in starts.items() if key not in known}
    weighed = _weigh(scenario, stand, trees, new, farm_left_alone(scenario))
    outcomes = {key: known.get(key) or weighed[key] for key in starts}
    headline, against = pair_of(scenario, outcomes)
    return Comparison(scenario, stand, trees, outcomes, headline, against, not_possible, not_before, works_on)


def weigh(
    scenario: Scenario, stand: str, trees: int, technique: str, start: int, without: Flows | None = None
) -> Outcome:
    """Work out what one technique does to `trees` trees of a stand, started in project month `start`; takes as stated.

    without: `farm_left_alone(scenario)`, where a caller has it already. Raises as `farm_flows` does.
    """
    return _weigh(scenario, stand, trees, {technique: start}, without or farm_left_alone(scenario))[technique]


def _weigh(scenario: Scenario, stand: str, trees: int, starts: Mapping[str, int], without: Flows) -> dict[str, Outcome]:
    """What each technique does to the trees, by key, each from its project month on."""
    farms = {
        key: farm_flows(scenario, [one_treatment(scenario, stand, trees, key, start)], without)
        for key, start in starts.items()
    }
    pairs = [pair for flows in farms.values() for pair in ((flows.with_plan, flows.without), flows.each[0])]
    accounts = Accounts(scenario, tuple(pairs))
    return {
        key: Outcome(
            technique=key,
            label=flows.treated[0].technique.label,
            start=starts[key],
            treatment=flows.treated[0].treatment,
            tree=flows.treated[0].tree,
            left_alone=flows.treated[0].left_alone,
            flows=flows,
            tree_with=flows.each[0][0],
            tree_without=flows.each[0][1],
            accounts=accounts,
            place=2 * number,
        )
        for number, (key, flows) in enumerate(farms.items())
    }


def pair_of(scenario: Scenario, outcomes: Iterable[str]) -> tuple[str | None, str | None]:
    """The two techniques of the headline: as the scenario says where both stand, else the first that do."""
    wanted = [scenario.comparison.headline, scenario.comparison.against]
    found = list(outcomes)
    present = [key for key in wanted if key in found] + [key for key in found if key not in wanted]
    if len(present) < 2:
        return (present[0] if present else None), None
    return present[0], present[1]
