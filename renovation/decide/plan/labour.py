"""The columns of hired labour: the months in which a plan decides whether the family's days are enough."""

from dataclasses import dataclass

import numpy as np

from renovation.decide.plan.question import PlanProblem
from renovation.types import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Labour:
    """Cash with the hired days that no plan decides already paid; `months` are those a plan decides on.

    cash, base_cash: (n, A), (A,). family, base_family: days the family works, per tree and on the farm, but for
    hired days at `months`. most: (A,) days at most. affine: (A,) months in which hands are always hired.
    """

    cash: FloatArray
    base_cash: FloatArray
    family: FloatArray
    base_family: FloatArray
    most: FloatArray
    affine: BoolArray
    months: IntArray

    @classmethod
    def of(cls, problem: PlanProblem) -> "Labour":
        """Bound the days of every month over all plans that leave the stands their trees."""
        most, least = problem.base_days.copy(), problem.base_days.copy()
        for stand, trees in enumerate(problem.trees):
            here = problem.days[problem.stand == stand]
            if here.size:
                most += trees * np.maximum(0.0, here.max(axis=0))
                least += trees * np.minimum(0.0, here.min(axis=0))
        affine = least >= problem.family_days
        wage = problem.wage
        return cls(
            cash=problem.cash - wage * problem.days * affine,
            base_cash=problem.base_cash - wage * (problem.base_days - problem.family_days) * affine,
            family=problem.days * ~affine,
            base_family=np.where(affine, problem.family_days, problem.base_days),
            most=most,
            affine=affine,
            months=np.flatnonzero(~affine & (most > problem.family_days)),
        )
