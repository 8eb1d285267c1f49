"""The vectors of a technique add up to its tree, whatever the chances (method §13)."""

import numpy as np
from factories import stand, supplies, techniques
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.inputs import Technique
from renovation.tree import Setting, attempts, basis_of, profile

MONTHS = 48
SEASON = np.resize(np.array([1, 0, 0, 2, 3, 0, 0, 0, 1, 2, 2, 1]) / 12, MONTHS)


@settings(max_examples=20, deadline=None)
@given(way=techniques(), take=st.floats(0, 1), later=st.integers(0, 20))
def test_vectors_times_chances_are_the_profile(way, take, later):
    way = Technique.model_validate(way)
    start = np.array([later + max(0, -way.earliest_month)])
    takes = np.array([take / max(1.0, max(way.factors_by_attempt) * max(way.factors_by_month))])
    field = stand(crop_per_tree=1.0, decline_per_year=0.0, upkeep_days=0.12, upkeep_inputs=0.3)
    tree = profile(way, field, supplies(), Setting(MONTHS, SEASON, 0.05, 1), start, takes)
    tries = attempts(way, start, MONTHS, takes, start_calendar_month=1)
    parts = basis_of(way, tries, MONTHS).vectors()

    succeeds, never = tries.succeeds[0], tries.never[0]
    weights = np.concatenate([[1.0], tries.made[0], succeeds, [never]])
    kept = np.append(succeeds, never) if parts.old.shape[1] == succeeds.size + 1 else np.ones(1)
    new = succeeds @ parts.new[0] - (way.shade.value if way.shade else 0.0) * (succeeds @ parts.shaded[0])
    crowns = (way.mature_crop.value > 0) * (succeeds @ parts.crown_days[0])
    close = {"rtol": 1e-12, "atol": 1e-14}
    np.testing.assert_allclose(way.mature_crop.value * new, tree.new_rate[0], **close)
    np.testing.assert_allclose(kept @ parts.old[0], tree.old_rate[0], **close)
    np.testing.assert_allclose(kept @ parts.standing[0] * 0.01 + crowns, tree.upkeep_days[0], **close)
    np.testing.assert_allclose(np.tensordot(parts.touched[:, 0], weights, axes=([1], [0])), tree.touched[:, 0], **close)
    np.testing.assert_allclose(weights @ parts.paid[0], tree.payments[0], **close)


@settings(max_examples=20, deadline=None)
@given(way=techniques(), later=st.integers(0, 20))
def test_a_tree_under_one_take_is_the_same_alone_and_among_others(way, later):
    way = Technique.model_validate(way)
    start = later + max(0, -way.earliest_month)
    most = 1 / max(1.0, max(way.factors_by_attempt) * max(way.factors_by_month))
    takes = np.array([0.0, 0.3, 1.0])[:, None] * most
    tree = way, stand(crop_per_tree=1.0, upkeep_days=0.12), supplies(), Setting(MONTHS, SEASON, 0.05, 1)
    together = profile(*tree, [start] * 3, takes)
    for row, take in enumerate(takes):
        alone = profile(*tree, [start], take)
        for name in ("old_rate", "new_rate", "days", "materials_cost", "other_income"):
            np.testing.assert_array_equal(getattr(together, name)[row], getattr(alone, name)[0])
        np.testing.assert_array_equal(together.touched[:, row], alone.touched[:, 0])
