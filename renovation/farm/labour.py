"""Work by month against the hands there are: family days, hired days, and where hands run out (method §4).

family(t) = min(days(t), family days of that calendar month)
hired(t)  = days(t) − family(t)          cost(t) = hired(t) · wage
short(t)  = max(0, hired(t) − most that can be hired)
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from renovation.farm.flows import FarmFlows, by_year, rows_by_year
from renovation.farm.trees import by_project_month
from renovation.inputs import Scenario, month_count, year_month
from renovation.types import FloatArray

if TYPE_CHECKING:
    import pandas as pd


DUST = 1e-9
"""An amount below this share of the largest of its series is what rounding leaves of nothing."""


def month_labels(start: str, months: int) -> tuple[str, ...]:
    """Calendar months `YYYY-MM` of project months 0 … months − 1.

    Example:
        >>> month_labels("2027-11", 3)
        ('2027-11', '2027-12', '2028-01')
    """
    first = month_count(start)
    return tuple(year_month(first + month) for month in range(months))


def days_short(hired_days: FloatArray, hired_days_limit: FloatArray | None) -> FloatArray:
    """Hired days that cannot be had, (..., T): max(0, hired − limit); all 0 where no limit is stated.

    Example:
        >>> days_short(np.array([10.0, 31.5]), np.array([30.0, 30.0])).tolist()
        [0.0, 1.5]
    """
    if hired_days_limit is None:
        return np.zeros_like(hired_days)
    over = hired_days - hired_days_limit
    return np.where(over > DUST * np.maximum(np.abs(hired_days), 1.0), over, 0.0)


@dataclass(frozen=True, eq=False)
class Labour:
    """The farm's work by month with the plan, beside the days without it; each (T,), person-days.

    work: days of each kind (an operation's key, `upkeep`, `harvest`, `intercrop`), which sum to `days`. days,
    family_days, hired_days: with the plan. family_days_available: what the family has. hired_days_limit: the
    most that can be hired, None where there is no limit. days_without, hired_days_without: the farm left
    alone.
    """

    start: str
    currency: str
    wage_per_day: float
    work: Mapping[str, FloatArray]
    days: FloatArray
    family_days: FloatArray
    hired_days: FloatArray
    family_days_available: FloatArray
    hired_days_limit: FloatArray | None
    days_without: FloatArray
    hired_days_without: FloatArray

    @cached_property
    def months(self) -> tuple[str, ...]:
        """Calendar month `YYYY-MM` of each project month."""
        return month_labels(self.start, self.days.size)

    @cached_property
    def hired_cost(self) -> FloatArray:
        """Money paid to hired hands, (T,)."""
        return self.hired_days * self.wage_per_day

    @cached_property
    def short_days(self) -> FloatArray:
        """Days of work for which there are not enough hands, (T,)."""
        return days_short(self.hired_days, self.hired_days_limit)

    @cached_property
    def short_months(self) -> tuple[int, ...]:
        """Project months in which there are not enough hands."""
        return tuple(int(month) for month in np.flatnonzero(self.short_days))

    @cached_property
    def worst_short_month(self) -> int | None:
        """First project month of the greatest shortage; None where there are always enough hands."""
        return int(np.argmax(self.short_days)) if self.short_months else None

    @cached_property
    def busiest_month(self) -> int:
        """First project month with the most days of work."""
        top = self.days.max()
        return int(np.flatnonzero(self.days >= top - DUST * abs(top))[0])

    def year_rows(self) -> list[dict[str, float]]:
        """One dict per project year: days, family, hired, cost, short, and hired without the plan."""
        return rows_by_year(
            {
                "days": self.days,
                "family_days": self.family_days,
                "hired_days": self.hired_days,
                "hired_cost": self.hired_cost,
                "short_days": self.short_days,
                "days_without": self.days_without,
                "hired_days_without": self.hired_days_without,
            }
        )

    def work_by_year(self) -> dict[str, FloatArray]:
        """Days of each kind of work by project year, (H,) each, the kind with most work first."""
        yearly = {kind: by_year(days) for kind, days in self.work.items()}
        return dict(sorted(yearly.items(), key=lambda item: -float(item[1].sum())))

    def table(self) -> "pd.DataFrame":
        """One row per month: days, who works them, what is short, then one column per kind of work."""
        import pandas as pd

        limit = self.hired_days_limit
        return pd.DataFrame(
            {
                "project_month": np.arange(self.days.size),
                "month": self.months,
                "days": self.days,
                "family_days_available": self.family_days_available,
                "family_days": self.family_days,
                "hired_days": self.hired_days,
                "hired_days_limit": np.full(self.days.size, np.nan) if limit is None else limit,
                "hired_cost": self.hired_cost,
                "short_days": self.short_days,
                "days_without": self.days_without,
                "hired_days_without": self.hired_days_without,
                **{f"work_{kind}": days for kind, days in self.work.items()},
            }
        )

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        busiest, worst = self.busiest_month, self.worst_short_month
        return {
            "busiest_month": {
                "project_month": busiest,
                "month": self.months[busiest],
                "days": float(self.days[busiest]),
                "hired_days": float(self.hired_days[busiest]),
            },
            "not_enough_hands": [
                {"project_month": m, "month": self.months[m], "days": float(self.short_days[m])}
                for m in self.short_months
            ],
            "worst_month": None if worst is None else self.months[worst],
            "years": self.year_rows(),
            "work_by_year": {kind: days.tolist() for kind, days in self.work_by_year().items()},
            "months": {
                "days": self.days.tolist(),
                "family_days_available": self.family_days_available.tolist(),
                "hired_days": self.hired_days.tolist(),
                "hired_cost": self.hired_cost.tolist(),
                "short_days": self.short_days.tolist(),
            },
        }


def labour_by_month(scenario: Scenario, flows: FarmFlows) -> Labour:
    """Set the work of the plan against the family's days and the hands that can be hired.

    flows: the scenario's, from `farm_flows`. Family days of a month are not carried over.

    Example:
        >>> from renovation.farm import farm_flows
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> labour = labour_by_month(s, farm_flows(s, s.plan))
        >>> bool(np.allclose(labour.family_days + labour.hired_days, labour.days))
        True
    """
    household, appraisal = scenario.household, scenario.appraisal
    limit = household.hired_days_limit
    side = flows.with_plan
    return Labour(
        start=appraisal.start,
        currency=appraisal.currency,
        wage_per_day=household.wage_per_day,
        work=flows.work,
        days=side.days,
        family_days=side.family_days,
        hired_days=side.hired_days,
        family_days_available=side.family_days_available,
        hired_days_limit=None
        if limit is None
        else by_project_month(limit, appraisal.start_calendar_month, appraisal.months),
        days_without=flows.without.days,
        hired_days_without=flows.without.hired_days,
    )
