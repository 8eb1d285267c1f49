"""Trees under way: they go on as the expected tree would have, and a start in month 0 is that tree (method §11)."""

import numpy as np
import pytest
from factories import figure, operation, stand, supplies, technique, techniques
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.inputs import Technique
from renovation.tree import Setting, attempts, attempts_under_way, profile, under_way, weighted

MONTHS, FIRST_MONTH = 60, 11
SEASON = np.resize(np.array([1, 0, 0, 2, 3, 0, 0, 0, 1, 2, 2, 1]) / 12, MONTHS)
ARRAYS = ("old_kg", "new_kg", "days", "materials_cost", "other_income", "touched")


def setting(months=MONTHS):
    return Setting(months, SEASON[:months], 0.05, FIRST_MONTH)


@settings(max_examples=60)
@given(way=techniques())
def test_a_start_in_month_0_with_nothing_made_is_the_expected_tree_to_the_last_digit(way):
    way = Technique.model_validate(way)
    start = max(0, -way.earliest_month)
    tree = way, stand(decline_per_year=0.07, upkeep_days=0.02), supplies(), setting()
    expected, begun = profile(*tree, [start]), weighted(under_way(*tree, start), [1.0, 0.0])
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(begun, name), getattr(expected, name), err_msg=name)


@settings(max_examples=60)
@given(way=techniques(), later=st.integers(0, 24), years=st.integers(1, 3))
def test_the_expected_tree_written_down_years_later_goes_on_as_it_would_have(way, later, years):
    """A second reckoning of months 12·years … T − 1: from the counts of a tree that was begun before them."""
    way, field, cut = Technique.model_validate(way), stand(decline_per_year=0.07, upkeep_days=0.02), 12 * years
    nursery = min(0, way.earliest_month)
    start = min(later, cut - 1) - nursery
    whole = profile(way, field, supplies(), setting(), [start])
    tries = attempts(way, np.array([start]), MONTHS, start_calendar_month=FIRST_MONTH)
    done = int(((tries.month[0] < cut) & (tries.month[0] < MONTHS)).sum())
    taken = tries.succeeds[0, :done]
    left = 1.0 - taken.sum()
    ended = done == way.attempts.value
    takes = way.take.value[years:] or way.take.value[-1:]
    aged = field.model_copy(update={"crop_per_tree": field.crop_per_tree * 0.93**years})
    rest = under_way(
        way, aged, supplies(), setting(MONTHS - cut), start - cut, tries.month[0, :done] - cut, np.array(takes)
    )
    found = weighted(rest, [*taken, 0.0 if ended else left, left if ended else 0.0])
    for name in ARRAYS:
        after = getattr(whole, name)[..., cut:]
        np.testing.assert_allclose(getattr(found, name), after, rtol=0, atol=1e-9, err_msg=name)


def grafted(**changes):
    """Three tries, four months apart, half of them taking; 2 days a try, 5 days for a tree given up a month on."""
    work = {"graft": operation("attempt", 0, 2.0), "clear": operation("never", 1, 5.0)}
    tries = {"attempts": figure(3, "attempts"), "gap_months": figure(4, "months")}
    take = figure((0.5,), "share by project year")
    return technique(**{**tries, "take": take, "operations": work, **changes})


def test_counts_by_hand():
    """Of 10 trees begun four months ago 3 took at once; 7 wait for a second try now, half of them for a third."""
    rows = under_way(grafted(), stand(), supplies(), setting(24), -4, [-4])
    found = weighted(rows, [3.0, 7.0, 0.0])
    assert found.operation_days[0, :6].tolist() == [14.0, 0.0, 0.0, 0.0, 7.0, 7 / 4 * 5]
    # the old crown goes in the month of the take: 3 are new, of 7 that wait 3.5 take now and 1.75 in month 4
    assert found.new_rate[0, [0, 3, 4]].tolist() == [6.5, 6.5, 8.25]
    assert found.old_rate[0, [0, 3, 4]].tolist() == [3.5, 3.5, 1.75]


def test_trees_given_up_keep_what_is_still_to_come_for_them():
    rows = under_way(grafted(), stand(), supplies(), setting(24), -8, [-8, -4, -1])
    found = weighted(rows, [0.0, 0.0, 0.0, 0.0, 4.0])
    assert found.operation_days[0, :3].tolist() == [20.0, 0.0, 0.0]
    assert (found.old_rate == 4.0).all()
    assert not found.new_rate.any()


def test_a_try_that_is_late_falls_in_month_0():
    tries = attempts_under_way(grafted(), -20, np.array([-20]), 24, start_calendar_month=1)
    assert tries.month[0].tolist() == [-20, 0, 4]


@pytest.mark.parametrize("made", [[0], [-9, -6, -3, -1]])
def test_a_try_made_in_month_0_or_beyond_the_last_is_refused(made):
    with pytest.raises(ValueError, match="attempts made"):
        under_way(grafted(), stand(), supplies(), setting(24), -9, made)


def test_nothing_that_a_nursery_did_before_month_0_is_charged_again():
    work = {"bag": operation("attempt", -7, 1.0), "water": operation("attempt", -3, 0.5, every=1, times=3)}
    way = grafted(operations=work, attempts=figure(1, "attempts"))
    found = weighted(under_way(way, stand(), supplies(), setting(24), 1), [10.0, 0.0])
    assert found.operation_days[0, :3].tolist() == [5.0, 0.0, 0.0]
