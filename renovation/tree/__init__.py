"""One tree (floor 1): crown curves, attempts, work and its profile by month."""

from renovation.tree.crowns import Attempts, attempts, new_crown_share, old_crown_share, takes_of_attempts
from renovation.tree.profile import Profile, Setting, StartTooEarly, old_crop_rate, profile, untouched

__all__ = [
    "Attempts",
    "Profile",
    "Setting",
    "StartTooEarly",
    "attempts",
    "new_crown_share",
    "old_crop_rate",
    "old_crown_share",
    "profile",
    "takes_of_attempts",
    "untouched",
]
