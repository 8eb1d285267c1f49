"""The planner's answer beside all plans of a tiny farm, counted out."""

import pytest
from tiny_farms import count_out

from renovation.decide.plan import Plan, make_plan, replay
from renovation.inputs import Scenario
from renovation.inputs.planning import Planning

CENT = 0.005


def as_counted(farm: Scenario, planning: Planning) -> Plan:
    """The plan that is found: the best of all, proven, whole when replayed, and breaking no promise."""
    counted = count_out(farm, planning)
    found = make_plan(farm, planning)
    assert (counted.worth is None) == (found.impossible is not None)
    if counted.worth is not None:
        assert found.aim == pytest.approx(counted.worth, rel=1e-6, abs=1e-6)
        assert found.solution.status == "proven"
    assert replay(found).difference <= CENT
    assert found.breaches == ()
    return found
