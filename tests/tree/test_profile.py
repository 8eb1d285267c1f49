"""One tree by month, against a plain simulation of single trees, identities, and cases for paper."""

import numpy as np
import pytest
from factories import beside_the_crop, curves, figure, operation, stand, supplies, technique, techniques, use
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_tree import ARRAYS, FIRST_MONTH, MONTHS, SEASON, SETTING, expected_tree

from renovation.inputs import Technique
from renovation.tree import (
    Setting,
    StartTooEarly,
    attempts,
    new_crown_share,
    old_crown_share,
    profile,
    takes_of_attempts,
    untouched,
)


@settings(max_examples=150)
@given(techniques(), st.integers(6, MONTHS - 1), st.floats(0, 2), st.floats(-0.1, 0.4))
def test_the_expected_tree_is_the_mixture_of_all_definite_trees(data, start, crop, decline):
    way = Technique.model_validate(data)
    field = stand(crop_per_tree=crop, decline_per_year=decline, upkeep_days=0.3, upkeep_inputs=0.7)
    check_against_plain_tree(way, field, start)


@settings(max_examples=50)
@given(techniques(), beside_the_crop(), st.integers(6, MONTHS - 1), st.floats(0, 0.9), st.floats(0, 1))
def test_losses_shade_and_payments_are_those_of_single_trees_month_by_month(data, more, start, loss, pods):
    way = Technique.model_validate(data | more)
    field = stand(upkeep_days=0.3, upkeep_inputs=0.7, tree_loss_per_year=loss, pods_lost=pods)
    check_against_plain_tree(way, field, start)


def check_against_plain_tree(way, field, start):
    tree = profile(way, field, supplies(), SETTING, [start])
    expected = expected_tree(way, field, supplies(), start)
    for name, array in zip(ARRAYS, expected, strict=True):
        np.testing.assert_allclose(getattr(tree, name)[0], array, rtol=1e-9, atol=1e-9, err_msg=name)


# --- identities ----------------------------------------------------------------------------------------------


@settings(max_examples=50)
@given(techniques(), st.lists(st.integers(6, MONTHS - 1), min_size=2, max_size=5))
def test_many_starts_at_once_equal_one_at_a_time(data, starts):
    way = Technique.model_validate(data)
    together = profile(way, stand(), supplies(), SETTING, starts)
    for row, start in enumerate(starts):
        alone = profile(way, stand(), supplies(), SETTING, [start])
        for name in ARRAYS:
            np.testing.assert_array_equal(getattr(together, name)[row], getattr(alone, name)[0])


@settings(max_examples=50)
@given(techniques(), st.integers(6, 40))
def test_no_crown_ever_bears_less_than_nothing(data, start):
    tree = profile(Technique.model_validate(data), stand(decline_per_year=0.2), supplies(), SETTING, [start])
    assert (tree.old_kg >= 0).all()
    assert (tree.new_kg >= -1e-12).all()
    assert (tree.days >= -1e-12).all()


@settings(max_examples=50)
@given(techniques(), st.integers(6, 40))
def test_chances_of_the_attempts_sum_to_one(data, start):
    tries = attempts(Technique.model_validate(data), np.array([start]), MONTHS, start_calendar_month=FIRST_MONTH)
    assert tries.succeeds.sum() + tries.never[0] == pytest.approx(1, abs=1e-12)
    assert (tries.made >= tries.succeeds - 1e-15).all()


@settings(max_examples=60)
@given(techniques(), st.integers(6, 40))
def test_a_graft_that_never_takes_costs_work_and_changes_no_crop(data, start):
    data["old_crown"] = {**data["old_crown"], "anchor": "established"}
    data.pop("intercrop", None)
    way = Technique.model_validate(data)
    tree = profile(way, stand(upkeep_days=0.2), supplies(), SETTING, [start], np.array([0.0]))
    alone = untouched(stand(upkeep_days=0.2), SETTING)
    np.testing.assert_allclose(tree.old_kg, alone.old_kg, atol=1e-12)
    assert not tree.new_kg.any()
    assert (tree.days >= alone.days - 1e-12).all()
    assert (tree.materials_cost >= alone.materials_cost - 1e-12).all()


@settings(max_examples=60)
@given(curves(), st.integers(6, 40))
def test_a_sure_single_attempt_is_no_mixture(curve, start):
    way = technique(new_crown=figure(curve, "months, share"))
    tree = profile(way, stand(), supplies(), SETTING, [start])
    age = np.arange(MONTHS) - start
    np.testing.assert_allclose(tree.new_rate[0], new_crown_share(curve, age), atol=1e-12)
    assert (tree.old_rate[0][:start] == 1).all()
    assert (tree.old_rate[0][start:] == 0).all()


# --- cases for paper -----------------------------------------------------------------------------------------


def test_three_attempts_at_a_quarter_by_hand():
    """q = 1/4, 3/16, 9/64 and 27/64 never; months 6, 9, 12."""
    way = technique(
        attempts=figure(3, "attempts"),
        gap_months=figure(3, "months"),
        take=figure((0.25,), "share by project year"),
    )
    tries = attempts(way, np.array([6]), MONTHS, start_calendar_month=FIRST_MONTH)
    assert tries.month.tolist() == [[6, 9, 12]]
    assert tries.succeeds.tolist() == [[1 / 4, 3 / 16, 9 / 64]]
    assert tries.made.tolist() == [[1, 3 / 4, 9 / 16]]
    assert tries.never.tolist() == [27 / 64]


def test_people_learn_by_project_year():
    """The attempt in month 6 has year 1's take, the one in month 12 year 2's, which holds from then on."""
    way = technique(
        attempts=figure(3, "attempts"),
        gap_months=figure(6, "months"),
        take=figure((0.2, 0.5), "share by project year"),
    )
    tries = attempts(way, np.array([6]), MONTHS, start_calendar_month=FIRST_MONTH)
    assert tries.succeeds[0].tolist() == pytest.approx([0.2, 0.8 * 0.5, 0.8 * 0.5 * 0.5])


def test_an_attempt_after_the_horizon_is_not_made():
    way = technique(
        attempts=figure(3, "attempts"),
        gap_months=figure(2, "months"),
        take=figure((0.5,), "share by project year"),
        operations={"look": operation("never", 0, 1.0), "graft": operation("attempt", 0, 2.0)},
    )
    tree = profile(way, stand(), supplies(), SETTING, [MONTHS - 3])
    assert tree.operation_days[0, -3:].tolist() == [2.0, 0.0, 0.5 * 2.0 + 0.25 * 1.0]


def test_tries_without_a_factor_have_factor_1():
    """Take 0.5 and one factor of 0.4: chances 0.2, 0.5, 0.5; made 1, 0.8, 0.4; live 0.2, 0.4, 0.2; never 0.2."""
    way = technique(
        attempts=figure(3, "attempts"),
        take=figure((0.5,), "share by project year"),
        attempt_factor=figure((0.4,), "factor by attempt"),
    )
    tries = attempts(way, np.array([0]), MONTHS, start_calendar_month=FIRST_MONTH)
    assert tries.made[0].tolist() == pytest.approx([1, 0.8, 0.4])
    assert tries.succeeds[0].tolist() == pytest.approx([0.2, 0.4, 0.2])
    assert tries.never.tolist() == pytest.approx([0.2])


def test_factors_beyond_the_tries_are_not_counted():
    way = technique(
        take=figure((0.5,), "share by project year"), attempt_factor=figure((1.0, 3.0), "factor by attempt")
    )
    assert attempts(way, np.array([0]), MONTHS, start_calendar_month=FIRST_MONTH).succeeds.tolist() == [[0.5]]


def test_factors_by_calendar_month_by_hand():
    """Month 0 is November. Take 0.5, tries in November, February, May with factors 0.4, 1, 1.2: 0.2, 0.5, 0.6.

    Made 1, 0.8, 0.4; live 0.2, 0.4, 0.24; never 0.16. One day and one bag at 0.5 for each try made.
    """
    by_month = (1.0,) * 4 + (1.2,) + (1.0,) * 5 + (0.4, 1.0)
    way = technique(
        attempts=figure(3, "attempts"),
        gap_months=figure(3, "months"),
        take=figure((0.5,), "share by project year"),
        take_by_month=figure(by_month, "factor by calendar month"),
        operations={"graft": operation("attempt", 0, 1.0, materials={"bag": use(1.0)})},
    )
    tries = attempts(way, np.array([0]), MONTHS, start_calendar_month=11)
    assert tries.made[0].tolist() == pytest.approx([1, 0.8, 0.4])
    assert tries.succeeds[0].tolist() == pytest.approx([0.2, 0.4, 0.24])
    assert tries.never.tolist() == pytest.approx([0.16])
    tree = profile(way, stand(), supplies(), Setting(MONTHS, SEASON, 0.0, 11), [0])
    assert tree.operation_days[0, [0, 3, 6]].tolist() == pytest.approx([1, 0.8, 0.4])
    assert tree.operation_cost[0, [0, 3, 6]].tolist() == pytest.approx([0.5, 0.4, 0.2])
    assert tree.new_rate[0, [0, 3, 6]].tolist() == pytest.approx([0.2, 0.6, 0.84])


def test_both_factors_and_the_year_multiply_by_hand():
    """Take 0.4 then 0.8; tries in June of year 1 and June of year 2: 0.4 · 1 · 0.5 and 0.8 · 0.9 · 0.5."""
    way = technique(
        attempts=figure(2, "attempts"),
        gap_months=figure(12, "months"),
        take=figure((0.4, 0.8), "share by project year"),
        attempt_factor=figure((1.0, 0.9), "factor by attempt"),
        take_by_month=figure((1.0,) * 5 + (0.5,) + (1.0,) * 6, "factor by calendar month"),
    )
    takes = takes_of_attempts(way, np.array([5]), MONTHS, start_calendar_month=1)
    assert takes.tolist() == pytest.approx(np.array([[0.2, 0.36]]))


def test_a_start_with_a_product_above_1_is_told_and_refused():
    """Practice brings 0.9; times 1.2 in April it is 1.08; in May, and after the years looked at, nothing is wrong."""
    way = technique(
        take=figure((0.5,), "share by project year"),
        take_by_month=figure((1.0,) * 3 + (1.2,) + (1.0,) * 8, "factor by calendar month"),
    )
    practised = np.array([0.9])
    takes = takes_of_attempts(way, np.array([3, 4, MONTHS + 3]), MONTHS, practised, start_calendar_month=1)
    assert takes[:, 0].tolist() == pytest.approx([1.08, 0.9, 0])
    with pytest.raises(ValueError, match="between 0 and 1"):
        profile(way, stand(), supplies(), Setting(MONTHS, SEASON, 0.05, 1), [3], practised)
    assert profile(way, stand(), supplies(), Setting(MONTHS, SEASON, 0.05, 1), [4], practised).new_kg.any()


def test_felling_and_planting_by_hand():
    """Felled in month 2, planted at once, half crop from age 12 months: 1 kg a year before, 0, then 1 of 2 kg."""
    way = technique(
        family="replant",
        mature_crop=figure(2.0, "kg/tree/year"),
        old_crown={"anchor": "start", "curve": figure(((-1.0, 1.0), (0.0, 0.0)), "months, share")},
        new_crown=figure(((11.0, 0.0), (12.0, 0.5)), "months, share"),
    )
    tree = profile(way, stand(), supplies(), SETTING, [2])
    assert tree.old_rate[0, :4].tolist() == [1, 1, 0, 0]
    assert tree.new_rate[0, 12:16].tolist() == [0, 0, 1, 1]


def test_planting_under_old_trees_is_shaded_until_they_are_felled():
    """κ = 0.5 halves the new crop while the old crown stands; felled 18 months on."""
    way = technique(
        family="replant",
        old_crown={"anchor": "start", "curve": figure(((17.0, 1.0), (18.0, 0.0)), "months, share")},
        shade=figure(0.5, "share"),
    )
    tree = profile(way, stand(), supplies(), SETTING, [0])
    assert tree.new_rate[0, 16:20].tolist() == [0.5, 0.5, 1, 1]
    assert tree.old_rate[0, 16:20].tolist() == [1, 1, 0, 0]


def test_hard_pruning_has_no_new_crown_and_no_new_upkeep():
    way = technique(
        family="prune",
        mature_crop=figure(0.0, "kg/tree/year"),
        new_crown=figure((), "months, share"),
        old_crown={"anchor": "start", "curve": figure(((0.0, 0.3), (24.0, 1.5)), "months, share")},
        upkeep_days=figure((9.0,), "person-days/tree/year by year of age"),
    )
    tree = profile(way, stand(upkeep_days=1.2), supplies(), SETTING, [0])
    assert not tree.new_kg.any()
    assert tree.old_rate[0, 24] == 1.5
    assert tree.upkeep_days[0, 0] == pytest.approx(0.3 * 0.1)
    assert tree.upkeep_days[0, 30] == pytest.approx(0.1)


def test_losses_in_the_nursery_raise_demand_not_the_mixture():
    """One plant each with a fifth lost before use: 1.25 plants at 2 = 2.5, for every attempt made."""
    way = technique(
        attempts=figure(2, "attempts"),
        gap_months=figure(4, "months"),
        take=figure((0.5,), "share by project year"),
        operations={"plant": operation("attempt", 0, 0.0, materials={"plant": use(1.0, 0.2)})},
    )
    tree = profile(way, stand(), supplies(), SETTING, [0])
    assert tree.operation_cost[0, 0] == pytest.approx(2.5)
    assert tree.operation_cost[0, 4] == pytest.approx(1.25)


def test_recurring_work_by_hand():
    """Every 3 months from month 1 after the start, 3 times in all: months 3, 6, 9 of a start in month 2."""
    way = technique(operations={"weed": operation("start", 1, 1.0, every=3, times=3)})
    tree = profile(way, stand(), supplies(), SETTING, [2])
    assert np.flatnonzero(tree.operation_days[0]).tolist() == [3, 6, 9]


def test_a_nursery_before_month_0_is_refused_with_the_month_that_works():
    way = technique(operations={"nursery": operation("start", -7, 1.0)})
    with pytest.raises(StartTooEarly) as refusal:
        profile(way, stand(), supplies(), SETTING, [3])
    assert refusal.value.earliest == 7
    assert profile(way, stand(), supplies(), SETTING, [7]).operation_days[0, 0] == 1


def test_a_start_outside_the_horizon_is_refused():
    with pytest.raises(ValueError, match="months 0 to 47"):
        profile(technique(), stand(), supplies(), SETTING, [MONTHS])


def test_an_untouched_tree_declines_by_its_yearly_rate():
    """1 kg less a tenth a year: 0.9 after a year, 0.81 after two."""
    rate = untouched(stand(decline_per_year=0.1), SETTING).old_rate[0]
    assert rate[[0, 12, 24]].tolist() == pytest.approx([1, 0.9, 0.81])


def test_curves_hold_their_ends():
    assert old_crown_share((), np.array([-5, 5]), from_establishment=True).tolist() == [1, 1]
    assert old_crown_share(((-6, 0.4),), np.array([-5, 5]), from_establishment=True).tolist() == [1, 0.4]
    assert old_crown_share(((-6, 0.4),), np.array([-5, 5]), from_establishment=False).tolist() == [0.4, 0.4]
    assert new_crown_share(((-6, 0.4),), np.array([-5, 5])).tolist() == [0, 0.4]
