"""When to renew an asset or a place that is renewed for ever: the mathematics of forestry and of asset replacement.

A place that is renewed every n years, for ever, is worth its land expectation value

    LEV(n) = Σ_{i=1..n} f_i (1+r)^−i / (1 − (1+r)^−n)

and the marginal rule says the same year by year: keep a tree another year while that year's income exceeds the rent
of its place, r·LEV; for LEV(n+1) > LEV(n) exactly where f_{n+1} > r·LEV(n).
Sources: Faustmann's formula, as in any forest-economics course; Miranda & Fackler 2002, Applied Computational
Economics and Finance, §7.6.2.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from renovation.types import BoolArray, FloatArray


def perpetuity_of(cycle: npt.ArrayLike, discount_factor: float) -> float:
    """Value of a cycle of flows repeated for ever, its first flow now: Σ δ^i f_i / (1 − δ^T).

    Raises ValueError for an empty cycle or a factor outside (0, 1).

    Example (asset kept to age 3 and replaced at 4; Miranda & Fackler 2002, §7.6.2):
        >>> round(perpetuity_of([45.0, 35.0, 20.0, -25.0], 0.9), 6)
        216.560047
    """
    flows = np.asarray(cycle, dtype=np.float64)
    if flows.ndim != 1 or flows.size == 0:
        raise ValueError("a cycle needs at least one flow")
    if not 0 < discount_factor < 1:
        raise ValueError(f"a discount factor lies between 0 and 1, not {discount_factor}")
    weights = discount_factor ** np.arange(flows.size)
    return float(flows @ weights / (1 - discount_factor**flows.size))


@dataclass(frozen=True)
class Replacement:
    """What an asset of each age is worth and whether to replace it. values, replace: (A,) for ages 1 … A."""

    values: FloatArray
    replace: BoolArray

    @property
    def age(self) -> int:
        """The first age at which it is replaced."""
        return int(np.argmax(self.replace)) + 1


def replacement(earnings: npt.ArrayLike, cost: float, discount_factor: float) -> Replacement:
    """Keep an asset or replace it, every year, for ever.

        V(a) = max{ e(a) + δ V(a+1),  e(0) − cost + δ V(1) },  the oldest age always replaced.

    earnings: (A+1,) of ages 0 … A in a year. A replacement earns e(0) in its year and is aged 1 the next.
    The candidates are the A cycles "replace at age n"; the best of them is optimal at every age, and each other
    age's value follows from it.

    Example (e(a) = 50 − 2.5a − 2.5a², cost 75, δ = 0.9; Miranda & Fackler 2002, §7.6.2):
        >>> ages = np.arange(6)
        >>> result = replacement(50 - 2.5 * ages - 2.5 * ages**2, 75.0, 0.9)
        >>> result.age, round(float(result.values[0]), 8)
        (4, 216.56004653)
    """
    e = np.asarray(earnings, dtype=np.float64)
    oldest = e.size - 1
    if oldest < 1:
        raise ValueError("earnings are needed for a new asset and at least one older age")
    renewed = e[0] - cost
    value_at_one = max(perpetuity_of([*e[1:n], renewed], discount_factor) for n in range(1, oldest + 1))
    replaced = renewed + discount_factor * value_at_one
    values = np.empty(oldest)
    values[-1] = replaced
    for age in range(oldest - 1, 0, -1):
        values[age - 1] = max(e[age] + discount_factor * values[age], replaced)
    scale = max(1.0, float(np.abs(values).max()))
    return Replacement(values, values <= replaced + 1e-12 * scale)


def renewal_under_loss(kept: npt.ArrayLike, renewed: npt.ArrayLike, loss: float, discount_factor: float) -> Replacement:
    """Keep or renew what may be lost by chance before it is a year older, every year, for ever.

        V(a) = max{ k(a) + δ [(1 − h)·V(a + 1) + h·V(1)],  c(a) + δ V(1) },  the oldest age staying the oldest.

    kept, renewed: (A,) what an asset of age 1 … A earns in a year if it is kept, or renewed. loss: h, the chance that
    one that is kept is lost; it begins again at age 1, as one that is renewed does. Solved by policy iteration: each
    policy's values are a linear system. Source: the forest of the MDP toolbox (states 1 … S, fire p).

    Example (three ages, 4 for keeping the oldest, 1 or 2 for cutting, fire 0.1, δ = 0.9: wait always):
        >>> result = renewal_under_loss([0, 0, 4], [0, 1, 2], 0.1, 0.9)
        >>> result.values.round(3).tolist(), result.replace.any()
        ([26.244, 29.484, 33.484], np.False_)
    """
    keep, renew = np.asarray(kept, dtype=np.float64), np.asarray(renewed, dtype=np.float64)
    if keep.ndim != 1 or keep.size == 0 or keep.shape != renew.shape:
        raise ValueError("earnings are needed for each age, of one kept and of one renewed")
    if not (0 <= loss <= 1 and 0 < discount_factor < 1):
        raise ValueError(f"a chance lies in [0, 1] and a discount factor in (0, 1), not {loss} and {discount_factor}")
    ages = np.arange(keep.size)
    older = np.zeros((keep.size, keep.size))
    older[ages, np.minimum(ages + 1, keep.size - 1)] = 1 - loss
    older[:, 0] += loss
    anew = np.zeros_like(older)
    anew[:, 0] = 1.0
    chosen = np.zeros(keep.size, dtype=bool)
    while True:
        system = np.eye(keep.size) - discount_factor * np.where(chosen[:, None], anew, older)
        values: FloatArray = np.asarray(np.linalg.solve(system, np.where(chosen, renew, keep)), dtype=np.float64)
        gain = renew + discount_factor * (anew @ values) - keep - discount_factor * (older @ values)
        scale = 1e-12 * max(1.0, float(np.abs(values).max()))
        better = np.where(np.abs(gain) <= scale, chosen, gain > 0)
        if (better == chosen).all():
            return Replacement(values, chosen)
        chosen = better


def land_expectation(flows: npt.ArrayLike, rate_per_year: float, standing: npt.ArrayLike | None = None) -> FloatArray:
    """Land expectation value of renewing every 1 … N years, (N,), from a cycle's yearly flows (N,).

    Flows fall at the end of their year. standing: (N,) chance s_i that what was renewed still stands at the end of year
    i; what is lost is renewed at the end of its year, and the flows are then those expected. The next cycle is worth,
    with d = 1/(1+r) and s_0 = 1, Σ_{i≤n} (s_{i−1} − s_i) d^i + s_n d^n of this one, in place of d^n.
    Raises ValueError for a rate not above 0: for ever is then worth no finite sum.

    Example (100 a year for ever at 10 %, however often it is cut up, or lost):
        >>> land_expectation([100.0, 100.0], 0.1).round(6).tolist()
        [1000.0, 1000.0]
        >>> land_expectation([100.0, 90.0], 0.1, [0.9, 0.81]).round(6).tolist()
        [1000.0, 1000.0]
    """
    f = np.asarray(flows, dtype=np.float64)
    if not rate_per_year > 0:
        raise ValueError(f"the rate must be above 0, not {rate_per_year}")
    factors = (1 + rate_per_year) ** -np.arange(1.0, f.size + 1)
    again = factors
    if standing is not None:
        share = np.asarray(standing, dtype=np.float64)
        again = np.cumsum(-np.diff(share, prepend=1.0) * factors) + share * factors
    return np.asarray(np.cumsum(f * factors) / (1 - again))


def rotation_values(
    stock_value: npt.ArrayLike, planting_cost: float, rate_per_year: float
) -> tuple[FloatArray, FloatArray]:
    """Single and perpetual value of felling after 1 … N years a stand that pays only when felled, (N,) each.

    Single: W(t) (1+r)^−t − planting. Perpetual: single / (1 − (1+r)^−t).

    Example (W = 3·(100t² − 1.25t³), planting 1200, 3 %; two years):
        >>> t = np.arange(1, 3)
        >>> single, perpetual = rotation_values(3 * (100 * t**2 - 1.25 * t**3), 1200.0, 0.03)
        >>> round(float(single[1]), 2), round(float(perpetual[1]), 2)
        (-97.16, -1692.61)
    """
    value = np.asarray(stock_value, dtype=np.float64)
    factors = (1 + rate_per_year) ** -np.arange(1.0, value.size + 1)
    single = value * factors - planting_cost
    return single, np.asarray(single / (1 - factors))


def marginal_age(flows: npt.ArrayLike, rate_per_year: float) -> int | None:
    """The age to renew at by the marginal rule: the last year n before a year's income falls below the rent r·LEV(n).

    None where no year within the flows does. Where income rises and then falls this is the age of greatest
    LEV. The rule is asked only from the age on at which LEV has passed its first valley, for a young tree costs
    more than it earns.

    Example:
        >>> marginal_age([-100.0, 50.0, 80.0, 60.0, 10.0], 0.1)
        4
    """
    f = np.asarray(flows, dtype=np.float64)
    lev = land_expectation(f, rate_per_year)
    growing = np.flatnonzero(f[1:] > rate_per_year * lev[:-1])
    if growing.size == 0:
        return None
    for n in range(int(growing[0]) + 1, f.size):
        if f[n] <= rate_per_year * lev[n - 1]:
            return n
    return None
