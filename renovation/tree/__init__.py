"""One tree (floor 1): crown curves, attempts, work and its profile by month."""

from renovation.tree.basis import Basis, Vectors, basis_of
from renovation.tree.crowns import (
    Attempts,
    attempts,
    attempts_under_way,
    new_crown_share,
    old_crown_share,
    takes_of_attempts,
)
from renovation.tree.profile import (
    Profile,
    Setting,
    StartTooEarly,
    old_crop_rate,
    profile,
    under_way,
    untouched,
    weighted,
)

__all__ = [
    "Attempts",
    "Basis",
    "Profile",
    "Setting",
    "StartTooEarly",
    "Vectors",
    "attempts",
    "attempts_under_way",
    "basis_of",
    "new_crown_share",
    "old_crop_rate",
    "old_crown_share",
    "profile",
    "takes_of_attempts",
    "under_way",
    "untouched",
    "weighted",
]
