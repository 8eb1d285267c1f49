"""The program's own results for a scenario's plan: the numbers that stand behind every formula when written."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from renovation.decide import appraise_plan, compare
from renovation.farm import FarmFlows, HouseholdCash, farm_flows, household_cash, month_labels
from renovation.inputs import Loan, Scenario
from renovation.money import Measures, Schedule
from renovation.show.risk.risks import Risks, risks_of
from renovation.types import FloatArray


@dataclass(frozen=True, eq=False)
class Results:
    """Flows, household cash and measures of a scenario's plan, worked out by the program."""

    scenario: Scenario
    flows: FarmFlows
    cash: HouseholdCash
    measures: Measures

    @property
    def months(self) -> int:
        """The horizon T in months."""
        return self.scenario.appraisal.months

    @property
    def years(self) -> int:
        """The horizon H in years."""
        return self.scenario.appraisal.horizon_years

    @property
    def loans(self) -> tuple[tuple[Loan, Schedule], ...]:
        """Each loan with its schedule, nominal money."""
        return tuple(zip(self.cash.loans, self.cash.schedules, strict=True))

    @cached_property
    def risks(self) -> Risks:
        """Futures and hard cases of the plan and of the ways of the headline."""
        return risks_of(self.scenario, compare(self.scenario))

    @cached_property
    def labels(self) -> tuple[str, ...]:
        """Calendar month `YYYY-MM` of each project month."""
        return month_labels(self.scenario.appraisal.start, self.months)

    @cached_property
    def calendar(self) -> list[int]:
        """Calendar month (1–12) of each project month."""
        return [int(label[5:]) for label in self.labels]

    @cached_property
    def new_kg(self) -> dict[str, FloatArray]:
        """Crop of the new crowns by planting material, (T,) kg each: Σ trees · kg of one tree."""
        kg: dict[str, FloatArray] = {}
        for item in self.flows.treated:
            material = item.technique.material
            crop = item.treatment.trees * item.tree.new_kg[0]
            kg[material] = kg.get(material, np.zeros(self.months)) + crop
        return kg


def results_of(scenario: Scenario) -> Results:
    """Work out a scenario's plan with its loans; raises as `farm_flows` and `household_cash` do."""
    flows = farm_flows(scenario, scenario.plan)
    return Results(scenario, flows, household_cash(scenario, flows), appraise_plan(scenario, flows))
