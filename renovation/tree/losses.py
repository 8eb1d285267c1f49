"""What a tree loses to chance: the place it stands on, and pods of its crop.

With h the yearly chance that a tree is lost, the share of trees that still stand in month t is

    S(t) = (1 − h)^(t/12),     with the work begun in month s:  (1 − h)^(min(t, s)/12) · (1 − h′)^(max(0, t − s)/12)

h that of the stand, h′ that of the way, the stand's where the way states none. Crop, upkeep and yearly payments of old
and new crowns are times S(t), for nothing is planted again where a tree was lost. Work on trees and single payments
are those of the trees that the plan names. On an empty place nothing can be lost before s.
"""

from typing import NamedTuple

import numpy as np

from renovation.inputs import Stand, Technique
from renovation.types import FloatArray, IntArray


def standing_share(loss: float, worked_loss: float, starts: IntArray, months: int) -> FloatArray:
    """Share of trees that still stand in each month, (S, T).

    loss, worked_loss: yearly chance of being lost, before and from the start of the work. starts: (S,) project months.

    Example:
        >>> standing_share(0.1, 0.2, np.array([12]), 25)[0, [0, 12, 24]].round(3).tolist()
        [1.0, 0.9, 0.72]
    """
    month = np.arange(months)
    worked = np.maximum(0, month - np.maximum(0, starts)[:, None])
    return np.asarray((1 - loss) ** ((month - worked) / 12) * (1 - worked_loss) ** (worked / 12))


class Shares(NamedTuple):
    """What chance leaves of a tree: the share that stands and the share of the crop kept of those, (S, T) each."""

    standing: FloatArray
    kept: FloatArray


def left_alone_shares(stand: Stand, months: int, spared: FloatArray | None = None) -> Shares | None:
    """The shares of untouched trees, S = 1; None where nothing is lost.

    spared: (T,) share of all trees that an event leaves standing, by month.
    """
    if not (stand.tree_loss_per_year or stand.pods_lost) and spared is None:
        return None
    never = np.array([months])
    standing = standing_share(stand.tree_loss_per_year, stand.tree_loss_per_year, never, months)
    return Shares(standing if spared is None else standing * spared, np.full((1, months), 1 - stand.pods_lost))


def worked_shares(
    technique: Technique, stand: Stand, starts: IntArray, months: int, spared: FloatArray | None = None
) -> Shares | None:
    """The shares of trees under a technique; None where nothing is lost and no shade changes the crop.

    The crop kept is 1 less the share of pods lost, the stand's before the start and the way's from then on, there
    times the factor of permanent shade. spared: as in `left_alone_shares`.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> worked_shares(s.techniques["side_graft"], s.stands[0], np.array([0]), 300) is None
        True
    """
    before = stand.tree_loss_per_year if technique.works_on == "trees" else 0.0
    after = technique.tree_loss_per_year.value if technique.tree_loss_per_year else stand.tree_loss_per_year
    lost = technique.pods_lost.value if technique.pods_lost else stand.pods_lost
    factor = technique.permanent_shade.crop_factor.value if technique.permanent_shade else 1.0
    if not (before or after or stand.pods_lost or lost) and factor == 1 and spared is None:
        return None
    standing = standing_share(before, after, starts, months)
    worked = np.arange(months) >= starts[:, None]
    kept = np.where(worked, (1 - lost) * factor, 1 - stand.pods_lost)
    return Shares(standing if spared is None else standing * spared, kept)
