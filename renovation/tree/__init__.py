"""One tree (floor 1): crown curves, attempts, work and its profile by month."""

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
    "Profile",
    "Setting",
    "StartTooEarly",
    "attempts",
    "attempts_under_way",
    "new_crown_share",
    "old_crop_rate",
    "old_crown_share",
    "profile",
    "takes_of_attempts",
    "under_way",
    "untouched",
    "weighted",
]
