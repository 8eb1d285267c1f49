"""Measures of an appraisal: ratios, equivalent annual value, all measures of one flow or of thousands."""

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from renovation.money.flows import checked_flows, net_present_value, present_value_split, zero_small
from renovation.money.payback import discounted_payback_many, payback_many
from renovation.money.rates import Irr, IrrMany, blank, irr_many, mirr_many
from renovation.types import FloatArray


def benefit_cost_ratio(present_value_benefits: float, present_value_costs: float) -> float | None:
    """Return benefits over costs, both present values; None where the costs are not above 0.

    Raises ValueError if a figure is not finite. Source of the example: bank training case ACA-TM-37.

    >>> round(benefit_cost_ratio(53780.746, 51541.926), 7)
    1.0434369
    """
    return _ratio(present_value_benefits, present_value_costs)


def net_benefit_investment_ratio(flows: npt.ArrayLike, rate: float, *, first_period: int = 1) -> FloatArray:
    """Return the net benefit-investment ratio of each flow (..., Y), shape (...); nan if no year is negative.

    Present value of the positive years over that of the negative ones. Raises ValueError for a bad flow or
    rate. Source: Gittinger, Economic Analysis of Agricultural Projects.

    >>> float(net_benefit_investment_ratio([-110.0, 242.0], 0.10).round(9))
    2.0
    """
    positive, negative = present_value_split(zero_small(flows), rate, first_period=first_period)
    return np.where(negative > 0.0, positive / np.where(negative > 0.0, negative, 1.0), np.nan)


def return_per_day(present_value_money: float, present_value_days: float) -> float | None:
    """Return money per day worked, both as present values; None where the days are not above 0.

    Raises ValueError if a figure is not finite. Source of the example: Norton et al. 2014, farmer training
    in Ghana.

    >>> round(return_per_day(20050.0, 252.0), 2)
    79.56
    """
    return _ratio(present_value_money, present_value_days)


def annuity_factor(rate: float, years: int) -> float:
    """Return the present value of 1 a year for `years` years, the first a year from now.

    (1 - (1 + r)^-n) / r, n at rate 0. Raises ValueError for a rate of -1 or less or no years.

    >>> round(annuity_factor(0.15, 6), 6)
    3.784483
    """
    if years < 1:
        raise ValueError(f"years must be 1 or more, not {years}")
    return float(net_present_value(np.ones(years), rate))


def equivalent_annual_value(npv: npt.ArrayLike, rate: float, years: int) -> FloatArray:
    """Return the level yearly amount over `years` years worth `npv` (...) today, shape (...).

    npv / annuity_factor(rate, years). Raises ValueError as `annuity_factor`, or if npv is not finite.

    >>> float(equivalent_annual_value(3_000_000, 0.10, 5).round(2))
    791392.44
    """
    array = np.asarray(npv, dtype=np.float64)
    if not np.isfinite(array).all():
        raise ValueError("npv must be finite")
    return np.asarray(array / annuity_factor(rate, years), dtype=np.float64)


@dataclass(frozen=True)
class Measures:
    """Every measure of one incremental flow; None is a blank, as each function defines it.

    >>> Measures(1.0, Irr(None, (), "none"), None, None, None, 0.5, 0.0, 0.0).as_dict()["irr"]["verdict"]
    'none'
    """

    npv: float
    irr: Irr
    mirr: float | None
    benefit_cost: float | None
    net_benefit_cost: float | None
    equivalent_annual_value: float
    payback_years: float | None
    discounted_payback_years: float | None

    def as_dict(self) -> dict[str, Any]:
        """Return the measures under stable keys, as numbers, lists and None only.

        Raises nothing.

        >>> appraise([-100.0, 121.0], 0.10).as_dict()["irr"]["roots"][0].__round__(9)
        0.21
        """
        table = asdict(self)
        table["irr"]["roots"] = list(self.irr.roots)
        return table


@dataclass(frozen=True)
class MeasuresMany:
    """Every measure of many incremental flows, each an array (n,); nan is a blank.

    >>> appraise_many([[-100.0, 121.0]], 0.10).irr.value.round(9)
    array([0.21])
    """

    npv: FloatArray
    irr: IrrMany
    mirr: FloatArray
    net_benefit_cost: FloatArray
    equivalent_annual_value: FloatArray
    payback_years: FloatArray
    discounted_payback_years: FloatArray

    def single(self, *place: int, benefit_cost: float | None = None) -> Measures:
        """Return the measures of the flow at one place; no place where there was one flow.

        Raises IndexError for a place that is not there.

        >>> round(appraise_many([[-100.0, 121.0], [1.0, 2.0]], 0.10).single(0).npv, 6)
        9.090909
        """
        return Measures(
            npv=float(self.npv[place]),
            irr=self.irr.single(*place),
            mirr=blank(self.mirr[place]),
            benefit_cost=benefit_cost,
            net_benefit_cost=blank(self.net_benefit_cost[place]),
            equivalent_annual_value=float(self.equivalent_annual_value[place]),
            payback_years=blank(self.payback_years[place]),
            discounted_payback_years=blank(self.discounted_payback_years[place]),
        )


def appraise_many(
    flows: npt.ArrayLike,
    rate: float,
    *,
    finance_rate: float | None = None,
    reinvest_rate: float | None = None,
    first_period: int = 1,
    irr: IrrMany | None = None,
) -> MeasuresMany:
    """Return every measure of many incremental flows (..., Y) at the discount rate `rate`, all arrays (...).

    `irr` are the flows' internal rates where a caller has them already: `irr_many(zero_small(flows))`. The
    finance and reinvestment rates of MIRR are the discount rate unless given. `first_period` as in
    `net_present_value`; the equivalent annual value runs over the years from the first period to the last.
    Raises ValueError for a bad flow or rate, or where the only figure is at time 0.

    >>> many = appraise_many([[-100.0, 121.0], [50.0, 50.0]], 0.10)
    >>> many.npv.round(6), many.payback_years.round(6)
    (array([ 9.090909, 86.77686 ]), array([1.826446, 0.      ]))
    """
    array = zero_small(flows)
    npv = net_present_value(array, rate, first_period=first_period)
    if npv.shape != array.shape[:-1]:
        raise ValueError("rate must be one number")
    years = array.shape[-1] - 1 + first_period
    return MeasuresMany(
        npv=npv,
        irr=irr_many(array) if irr is None else irr,
        mirr=mirr_many(
            array,
            rate if finance_rate is None else finance_rate,
            rate if reinvest_rate is None else reinvest_rate,
        ),
        net_benefit_cost=net_benefit_investment_ratio(array, rate, first_period=first_period),
        equivalent_annual_value=equivalent_annual_value(npv, rate, years),
        payback_years=payback_many(array, first_period=first_period),
        discounted_payback_years=discounted_payback_many(array, rate, first_period=first_period),
    )


def appraise(
    incremental: npt.ArrayLike,
    rate: float,
    *,
    benefits: npt.ArrayLike | None = None,
    costs: npt.ArrayLike | None = None,
    finance_rate: float | None = None,
    reinvest_rate: float | None = None,
    first_period: int = 1,
) -> Measures:
    """Return every measure of one incremental flow (Y,) at the discount rate `rate`.

    `benefits` and `costs` (Y,), both incremental and costs positive, give the benefit-cost ratio, which is
    blank without them. Other arguments as in `appraise_many`. Raises ValueError for a bad flow or rate, for
    lengths that differ, for one of benefits and costs without the other, or where benefits less costs are
    not the incremental flow.

    >>> measures = appraise([-100.0, 121.0], 0.10, benefits=[0.0, 121.0], costs=[100.0, 0.0])
    >>> round(measures.npv, 6), round(measures.irr.value, 6), round(measures.benefit_cost, 6)
    (9.090909, 0.21, 1.1)
    """
    flow = checked_flows(incremental)
    if flow.ndim != 1:
        raise ValueError(f"this takes one flow, one figure per year, not an array of shape {flow.shape}")
    many = appraise_many(flow, rate, finance_rate=finance_rate, reinvest_rate=reinvest_rate, first_period=first_period)
    return many.single(benefit_cost=_benefit_cost(flow, rate, benefits, costs, first_period))


def _benefit_cost(
    flow: FloatArray,
    rate: float,
    benefits: npt.ArrayLike | None,
    costs: npt.ArrayLike | None,
    first_period: int,
) -> float | None:
    """The benefit-cost ratio of one flow, after checking that benefits less costs are the flow."""
    if benefits is None and costs is None:
        return None
    if benefits is None or costs is None:
        raise ValueError("a benefit-cost ratio needs both benefits and costs")
    gains, outlays = zero_small(benefits), zero_small(costs)
    if gains.shape != flow.shape or outlays.shape != flow.shape:
        raise ValueError("benefits, costs and the incremental flow must have one length")
    largest = max(float(np.abs(gains).max()), float(np.abs(outlays).max()))
    if (np.abs(gains - outlays - flow) > 1e-6 * largest).any():
        raise ValueError("benefits less costs must be the incremental flow")
    return benefit_cost_ratio(
        float(net_present_value(gains, rate, first_period=first_period)),
        float(net_present_value(outlays, rate, first_period=first_period)),
    )


def _ratio(above: float, below: float) -> float | None:
    """One figure over another, None where the lower is not above 0, or so near that no number is so large."""
    if not (np.isfinite(above) and np.isfinite(below)):
        raise ValueError(f"a ratio needs finite numbers, not {above} and {below}")
    ratio = above / below if below > 0.0 else np.inf
    return ratio if np.isfinite(ratio) else None
