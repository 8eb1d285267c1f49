"""One tree by month: its crop, work, supplies and other income under a technique (method §3).

Everything here is for one tree; trees multiply it. Tools are the farm's and stand in `renovation.farm`.
"""

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from renovation.inputs import Stand, Supplies, Technique
from renovation.tree.basis import basis_of
from renovation.tree.beside import grown_beside, payments, upkeep
from renovation.tree.crowns import Attempts, attempts, attempts_under_way
from renovation.tree.losses import Shares, left_alone_shares, worked_shares
from renovation.types import FloatArray, IntArray


class StartTooEarly(ValueError):  # noqa: N818 - the name says what is wrong
    """A nursery or other early work would fall before month 0.

    earliest: the first project month in which the work on the tree may start.
    """

    def __init__(self, earliest: int) -> None:
        """Keep the first month that works."""
        super().__init__(f"work before the start would fall before month 0: start at month {earliest} or later")
        self.earliest = earliest


@dataclass(frozen=True, eq=False)
class Setting:
    """What surrounds every tree of a farm; one is the same as another only where it is that other.

    months: the horizon T. season: (T,) share of the year's crop that ripens in each project month.
    harvest_days_per_kg: person-days to harvest, open, ferment and dry one kg of dry beans. start_calendar_month:
    calendar month (1–12) of month 0. spared: (T,) share of all trees that an event leaves standing; None for no event.
    """

    months: int
    season: FloatArray
    harvest_days_per_kg: float
    start_calendar_month: int
    spared: FloatArray | None = None


@dataclass(frozen=True)
class Profile:
    """One tree from S start months over T months; an untouched tree has S = 1.

    old_rate, new_rate: (S, T) crop of the old and the new crown at the annual rate, kg/tree/year.
    season: (T,). touched: (O, S, T) trees (a share of one) that each operation touches in each month.
    operations: the O operation keys. operation_days, upkeep_days, intercrop_days: (S, T) person-days/tree.
    operation_cost, upkeep_cost: (S, T) money/tree for supplies. other_income: (S, T) money/tree beside the crop, of
    which payments: (S, T) money/tree.

    The method's five arrays are `old_kg`, `new_kg`, `days`, `materials_cost` and `other_income`.
    """

    starts: IntArray
    season: FloatArray
    harvest_days_per_kg: float
    old_rate: FloatArray
    new_rate: FloatArray
    operations: tuple[str, ...]
    touched: FloatArray
    operation_days: FloatArray
    upkeep_days: FloatArray
    intercrop_days: FloatArray
    operation_cost: FloatArray
    upkeep_cost: FloatArray
    other_income: FloatArray
    payments: FloatArray

    @cached_property
    def old_kg(self) -> FloatArray:
        """(S, T) kg of dry beans from the old crown, by month."""
        return self.old_rate * self.season

    @cached_property
    def new_kg(self) -> FloatArray:
        """(S, T) kg of dry beans from the new crown, by month."""
        return self.new_rate * self.season

    @cached_property
    def harvest_days(self) -> FloatArray:
        """(S, T) person-days to harvest, open, ferment and dry."""
        return (self.old_kg + self.new_kg) * self.harvest_days_per_kg

    @cached_property
    def days(self) -> FloatArray:
        """(S, T) person-days of all work."""
        return self.operation_days + self.upkeep_days + self.intercrop_days + self.harvest_days

    @cached_property
    def materials_cost(self) -> FloatArray:
        """(S, T) money for all supplies."""
        return self.operation_cost + self.upkeep_cost


def old_crop_rate(stand: Stand, months: int) -> FloatArray:
    """Crop of an untouched tree at the annual rate: old(t) = today · (1 − δ)^(t/12), kg/tree/year, (T,).

    Example:
        >>> from renovation.inputs import Stand
        >>> stand = Stand(name="A", trees=1, crop_per_tree=0.5, decline_per_year=0.1, upkeep_days=0.05)
        >>> round(float(old_crop_rate(stand, 13)[12]), 3)
        0.45
    """
    return stand.kg_per_tree * _declined(stand.decline_per_year, months)


@lru_cache(maxsize=64)
def _declined(decline_per_year: float, months: int) -> FloatArray:
    """What is left of a crop of 1 by month, (T,)."""
    return np.asarray((1 - decline_per_year) ** (np.arange(months) / 12))


def untouched(stand: Stand, setting: Setting) -> Profile:
    """The tree left as it is: the yardstick of every comparison. All arrays have S = 1."""
    shape = (1, setting.months)
    nothing = np.zeros(shape)
    tree = Profile(
        starts=np.zeros(1, dtype=np.int64),
        season=setting.season,
        harvest_days_per_kg=setting.harvest_days_per_kg,
        old_rate=old_crop_rate(stand, setting.months)[None, :],
        new_rate=nothing,
        operations=(),
        touched=np.zeros((0, *shape)),
        operation_days=nothing,
        upkeep_days=np.full(shape, stand.upkeep_days / 12),
        intercrop_days=nothing,
        operation_cost=nothing,
        upkeep_cost=np.full(shape, stand.upkeep_inputs / 12),
        other_income=nothing,
        payments=nothing,
    )
    return _after_losses(tree, left_alone_shares(stand, setting.months, setting.spared))


def _after_losses(tree: Profile, shares: Shares | None) -> Profile:
    """The tree with crop and upkeep times what still stands, the crop times what is kept of it."""
    if shares is None:
        return tree
    left = {name: getattr(tree, name) * shares.standing for name in ("upkeep_days", "upkeep_cost")}
    borne = {name: getattr(tree, name) * (shares.standing * shares.kept) for name in ("old_rate", "new_rate")}
    return replace(tree, **left, **borne)


def profile(
    technique: Technique,
    stand: Stand,
    supplies: Supplies,
    setting: Setting,
    starts: npt.ArrayLike,
    take_by_year: FloatArray | None = None,
) -> Profile:
    """One tree of a stand under a technique, from each of S start months (method §3).

    Crop, old crown anchored at `established`, annual rate:

        old:  old(t)·[Σ_j q_j·o(t − a_j) + m_{J+1}]
        new:  M·Σ_j q_j·n(t − a_j)·(1 − κ·min(1, o(t − a_j)))

    and at `start`, with o(t − s) in place of o(t − a_j) and no last term.

    starts: (S,) project months. take_by_year: (Y,) or (S, Y) in place of the technique's take.
    Raises StartTooEarly where an operation would fall before month 0; ValueError for a start outside the horizon.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> from renovation.farm import setting_of
        >>> s = demo_scenario()
        >>> p = profile(s.techniques["side_graft"], s.stands[0], s.supplies, setting_of(s), [6])
        >>> p.old_kg.shape == (1, s.appraisal.months)
        True
    """
    tries = attempts(
        technique,
        np.atleast_1d(np.asarray(starts, dtype=np.int64)),
        setting.months,
        take_by_year,
        start_calendar_month=setting.start_calendar_month,
    )
    if tries.start.size and tries.start.min() + technique.earliest_month < 0:
        raise StartTooEarly(-technique.earliest_month)
    return _profile_of(technique, stand, supplies, setting, tries)


def under_way(
    technique: Technique,
    stand: Stand,
    supplies: Supplies,
    setting: Setting,
    start: int,
    made_in: npt.ArrayLike = (),
    take_by_year: FloatArray | None = None,
    now: int = 0,
) -> Profile:
    """One tree on which work began before month 0, by what became of it: S = k + 2 rows (method §11).

    Rows E_1 … E_k: established by attempt i, in month a_i. Row R: waiting for attempt k + 1. Row G: given up after
    attempt k. Trees under way are Σ_i n_i·E_i + w·R + g·G: `weighted(under_way(…), [n_1, …, n_k, w, g])`.

    start: s, before month 0, or later where a nursery has begun. made_in: (k,) months of the attempts made, before
    `now`, up to which they were counted. What an operation did before month 0 is done and paid: it is in no month.
    Raises as `attempts_under_way` does.

    Example: a start in month 0 with nothing made is the expected tree itself.
        >>> from renovation.inputs import demo_scenario
        >>> from renovation.farm import setting_of
        >>> s = demo_scenario()
        >>> tree = s.techniques["side_graft"], s.stands[0], s.supplies, setting_of(s)
        >>> bool((under_way(*tree, 6).days[0] == profile(*tree, [6]).days[0]).all())
        True
    """
    tries = attempts_under_way(
        technique,
        start,
        np.asarray(made_in, dtype=np.int64),
        setting.months,
        take_by_year,
        start_calendar_month=setting.start_calendar_month,
        now=now,
    )
    return _profile_of(technique, stand, supplies, setting, tries)


def weighted(tree: Profile, weights: npt.ArrayLike) -> Profile:
    """Trees of each row of a profile together, as a profile with one row: Σ_s weights[s] · row s.

    weights: (S,) trees, whole or not. The start of the first row stands for all.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> from renovation.farm import setting_of
        >>> s = demo_scenario()
        >>> one = untouched(s.stands[0], setting_of(s))
        >>> bool(np.allclose(weighted(one, [3.0]).old_kg, 3 * one.old_kg))
        True
    """
    trees = np.asarray(weights, dtype=np.float64)
    sums = {name: (trees @ getattr(tree, name))[None, :] for name in _PER_TREE}
    touched = np.einsum("s,ost->ot", trees, tree.touched)[:, None, :]
    return replace(tree, starts=tree.starts[:1], touched=touched, **sums)


_PER_TREE = (
    "old_rate",
    "new_rate",
    "operation_days",
    "upkeep_days",
    "intercrop_days",
    "operation_cost",
    "upkeep_cost",
    "other_income",
    "payments",
)


def _profile_of(technique: Technique, stand: Stand, supplies: Supplies, setting: Setting, tries: Attempts) -> Profile:
    """The tree of each row of attempts: the basis of the technique, times the chances and the stand's own numbers."""
    basis = basis_of(technique, tries.months_alone, setting.months)
    month = np.arange(setting.months)
    old_share, standing = basis.old_shares(tries)
    loss = technique.shade.value if technique.shade else 0.0
    touched = basis.touched(tries)
    days_each, cost_each = per_touch(technique, supplies)
    upkeep_days, upkeep_cost = upkeep(technique, stand, tries.succeeds, basis.crown_upkeep, standing)
    income, income_days = grown_beside(technique, tries.start, month)
    shares = worked_shares(technique, stand, tries.start, setting.months, setting.spared)
    paid = payments(technique, tries, setting.months, None if shares is None else shares.standing)
    tree = Profile(
        starts=tries.start,
        season=setting.season,
        harvest_days_per_kg=setting.harvest_days_per_kg,
        old_rate=old_crop_rate(stand, setting.months) * old_share,
        new_rate=technique.mature_crop.value * basis.new_share(tries, loss),
        operations=tuple(technique.operations),
        touched=touched,
        operation_days=_each_times(days_each, touched),
        upkeep_days=upkeep_days,
        intercrop_days=income_days,
        operation_cost=_each_times(cost_each, touched),
        upkeep_cost=upkeep_cost,
        other_income=income + paid if technique.payments else income,
        payments=paid,
    )
    return _after_losses(tree, shares)


def _each_times(figure: FloatArray, touched: FloatArray) -> FloatArray:
    """A figure of each operation, (O,), times the trees it touches, (O, S, T), all operations together: (S, T)."""
    operations, rows, months = touched.shape
    return np.asarray((figure[None] @ touched.reshape(operations, rows * months)).reshape(rows, months))


def per_touch(technique: Technique, supplies: Supplies) -> tuple[FloatArray, FloatArray]:
    """Person-days and supplies' cost of each operation on one tree that it touches, (O,) each."""
    operations = technique.operations.values()
    days = np.array([op.days.value for op in operations])
    cost = np.array(
        [
            sum(use.demand * supplies.items[item].unit_cost.value for item, use in op.materials.items())
            for op in operations
        ]
    )
    return days, cost
