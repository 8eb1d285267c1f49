"""What a plan needs by month, and how far it may stray with the takes: scions, plants, other supplies, days of work.

Takes are each farm's own (method §9), so that farms stray by themselves and the variances of their needs add up:

    need of all  Σ_f E_f(t),   variance  Σ_f Var_f(t),   P10 and P90  E ∓ z₀.₉·√Var, never below 0

The two quantiles are those of a normal distribution, near enough for ten farms and more. Var_f is that of some hundred
futures of the farm's seasons, in which the attempts of one season share their luck. Days to hire, and the money to have
in hand for them and for supplies, follow in each future from what the attempts take; crop and harvest stay as expected.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from renovation.decide.risk.attempts import outcome_shares
from renovation.farm import FarmFlows
from renovation.farm.flows import Treated
from renovation.tree.basis import basis_of
from renovation.tree.crowns import Attempts, attempts
from renovation.tree.profile import per_touch
from renovation.types import FloatArray

FUTURES = 256
Z90 = 1.2815515655446004
"""The 90 % quantile of the standard normal distribution."""


@dataclass(frozen=True)
class Need:
    """Of one thing by month: expected (T,) and variance (T,), units or person-days and their squares."""

    expected: FloatArray
    variance: FloatArray


@dataclass(frozen=True)
class Needs:
    """What the treatments of a farm need. supplies: units to get, by technique and supply. work: days by operation.

    more_days, more_cost: (n, T) person-days, and money for supplies, beyond the expected ones in each future; the
    harvest and its days stay as expected.
    """

    supplies: Mapping[tuple[str, str], Need]
    work: Mapping[str, Need]
    more_days: FloatArray
    more_cost: FloatArray

    def hired(self, days: FloatArray, available: FloatArray) -> FloatArray:
        """(n, T) person-days hired in each future: max(0, days + more days − available), both (T,)."""
        return np.maximum(0.0, days + self.more_days - available)


def needs_of(flows: FarmFlows, futures: int = FUTURES) -> Needs:
    """What the treatments of a farm's flows need by month, trees under way left out.

    Futures differ in the luck of the seasons alone, drawn from the scenario's seed and the farm's name. Units to get
    are those used / (1 − losses before use), method §3.

    Example:
        >>> from renovation.farm import farm_flows
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> scions = needs_of(farm_flows(farm, farm.plan), 64).supplies["side_graft", "scion"]
        >>> bool(scions.expected.sum() > 400), bool(scions.variance.max() > 0)
        (True, True)
    """
    luck = _luck(flows, futures)
    more_days, more_cost = np.zeros((2, futures, flows.scenario.appraisal.months))
    supplies: dict[tuple[str, str], list[FloatArray]] = {}
    work: dict[str, list[FloatArray]] = {}
    for item in flows.treated:
        touched = _touched(flows, item, luck) * item.treatment.trees
        beyond = touched[:, :-1] - touched[:, -1:]
        days_each, cost_each = per_touch(item.technique, flows.scenario.supplies)
        more_days += np.tensordot(days_each, beyond, axes=1)
        more_cost += np.tensordot(cost_each, beyond, axes=1)
        for trees, (key, operation) in zip(touched, item.technique.operations.items(), strict=True):
            if operation.days.value:
                work.setdefault(key, []).append(trees * operation.days.value)
            for supply, use in operation.materials.items():
                supplies.setdefault((item.treatment.technique, supply), []).append(trees * use.demand)
    return Needs(
        {key: _need(parts) for key, parts in supplies.items()},
        {key: _need(parts) for key, parts in work.items()},
        more_days,
        more_cost,
    )


def banded(months: pd.DataFrame) -> pd.DataFrame:
    """Needs of many farms by month with `p10` and `p90`: the expected amount where nothing strays.

    months: `amount` and `variance`, summed over farms, and any other columns.

    Example:
        >>> banded(pd.DataFrame({"amount": [100.0, 5.0], "variance": [100.0, 0.0]})).round(2)[["p10", "p90"]].to_numpy()
        array([[ 87.18, 112.82],
               [  5.  ,   5.  ]])
    """
    amount, far = months["amount"], Z90 * np.sqrt(months["variance"])
    return months.assign(p10=np.maximum(amount - far, 0.0), p90=amount + far).drop(columns="variance")


def _luck(flows: FarmFlows, futures: int) -> FloatArray:
    """(n, H) how good each season is for grafts and plants, evenly spread between 0 and 1 in each."""
    scenario = flows.scenario
    name = hashlib.sha256(scenario.about.name.encode("utf-8", "surrogatepass")).digest()
    rng = np.random.default_rng([scenario.risk.seed, *np.frombuffer(name, dtype=np.uint32).tolist()])
    years = scenario.appraisal.horizon_years
    strata = rng.permuted(np.tile(np.arange(futures), (years, 1)), axis=1).T
    drawn: FloatArray = (strata + rng.random((futures, years))) / futures
    return drawn


def _touched(flows: FarmFlows, item: Treated, luck: FloatArray) -> FloatArray:
    """(O, n + 1, T) trees (a share of one) that each operation touches in each future; the last is the expected run."""
    scenario = flows.scenario
    months = scenario.appraisal.months
    start = np.array([scenario.month_of(item.treatment.start)])
    tries = attempts(item.technique, start, months, start_calendar_month=scenario.appraisal.start_calendar_month)
    expected, shares = item.tree.touched[:, 0], _weights(tries, luck, scenario.risk.take_spread)
    vectors = basis_of(item.technique, tries, months).vectors().touched[:, 0]
    every = np.tensordot(vectors, shares, axes=(1, 1)).transpose(0, 2, 1)
    plain = every[:, -1:, :]
    still = np.divide(expected[:, None], plain, out=np.zeros_like(plain), where=plain > 0)
    return np.asarray(every * still)  # where trees are lost, so many of those touched still stand


def _weights(tries: Attempts, luck: FloatArray, spread: float) -> FloatArray:
    """(n + 1, V) 1, m_1 … m_J, q_1 … q_J and m_{J+1} of each future; the last row that of the expected run."""
    made, succeeds = tries.made[0], tries.succeeds[0]
    count = int((made > 0).sum())
    takes = tuple(float(take) for take in succeeds[:count] / made[:count])
    seasons = tuple(int(month) // 12 for month in tries.month[0][:count])
    shares = np.zeros((len(luck) + 1, len(made)))
    shares[:-1, :count] = outcome_shares(takes, seasons, luck if spread > 0 else None, spread, len(luck))
    shares[-1] = succeeds
    left = 1 - np.cumsum(shares, axis=1)
    begun = np.concatenate([np.ones((len(shares), 1)), left[:, :-1]], axis=1) * (made > 0)
    return np.concatenate([np.ones((len(shares), 1)), begun, shares, left[:, -1:]], axis=1)


def _need(parts: list[FloatArray]) -> Need:
    """The need of several treatments in the same futures."""
    every = np.sum(parts, axis=0)
    return Need(every[-1], every[:-1].var(axis=0))
