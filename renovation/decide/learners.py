"""The ways that one practice serves, and the take that it brings as stated (method §8, §10); what is held of it after
counting stands in `renovation.decide.belief`.
"""

from renovation.inputs import Scenario
from renovation.inputs.planning import Learning
from renovation.money.learning import take_after, take_from_table


def learners_of(scenario: Scenario, learning: Learning | None) -> tuple[str, ...]:
    """The techniques that one practice serves; none without learning."""
    if learning is None:
        return ()
    if learning.techniques is not None:
        return tuple(key for key in learning.techniques if key in scenario.techniques)
    return tuple(key for key, technique in scenario.techniques.items() if technique.family == "graft")


def take_of(learning: Learning, grafts_before: float) -> float:
    """The take of a season before which so many grafts were made, as stated."""
    if learning.form == "table":
        return float(take_from_table(grafts_before, points_of(learning)))
    return float(take_after(grafts_before, learning.first_take, learning.highest_take, learning.rate, learning.form))


def points_of(learning: Learning) -> tuple[tuple[float, float], ...]:
    """The table's points."""
    return tuple((float(point.grafts_before), point.take) for point in learning.table)
