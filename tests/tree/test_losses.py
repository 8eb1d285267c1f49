"""Trees lost to chance and pods lost to disease, by closed forms and by throwing dice for single trees."""

import numpy as np
import pytest
from factories import figure, stand, supplies, technique
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.tree import Setting, profile, untouched

YEARS = 30
EVEN = Setting(12 * YEARS, np.full(12 * YEARS, 1 / 12), 0.0, 1)


@settings(max_examples=30)
@given(st.floats(0.001, 0.9), st.floats(0, 0.4))
def test_crop_and_upkeep_of_a_year_are_a_geometric_sum(loss, pods):
    """Σ_{m<12} (1 − h)^((12y + m)/12) = (1 − h)^y · h / (1 − (1 − h)^(1/12))."""
    field = stand(crop_per_tree=1.2, decline_per_year=0, upkeep_days=0.6, tree_loss_per_year=loss, pods_lost=pods)
    tree = untouched(field, EVEN)
    of_year = (1 - loss) ** np.arange(YEARS) * loss / (1 - (1 - loss) ** (1 / 12)) / 12
    np.testing.assert_allclose(tree.old_kg[0].reshape(-1, 12).sum(axis=1), 1.2 * (1 - pods) * of_year, rtol=1e-9)
    np.testing.assert_allclose(tree.upkeep_days[0].reshape(-1, 12).sum(axis=1), 0.6 * of_year, rtol=1e-9)


def test_a_yearly_loss_is_what_a_faster_decline_would_be_for_the_crop():
    """(1 − δ)(1 − h): 4 % decline and 5 % loss bear as 8.8 % decline does; upkeep falls with the trees alone."""
    lossy = untouched(stand(decline_per_year=0.04, tree_loss_per_year=0.05, upkeep_days=0.6), EVEN)
    plain = untouched(stand(decline_per_year=1 - 0.96 * 0.95, upkeep_days=0.6), EVEN)
    np.testing.assert_allclose(lossy.old_kg, plain.old_kg, rtol=1e-12)
    assert lossy.upkeep_days[0, 24] == pytest.approx(0.05 * 0.95**2)


def test_old_and_new_crowns_are_lost_alike_with_and_without_the_work():
    """After three years 0.9³ of all trees stand, whenever the work began and whatever the tree bears."""
    field = stand(crop_per_tree=1.0, decline_per_year=0, tree_loss_per_year=0.1)
    alone = untouched(field, EVEN)
    worked = profile(technique(mature_crop=figure(2.0, "kg/tree/year")), field, supplies(), EVEN, [0, 20])
    assert alone.old_rate[0, 36] == pytest.approx(0.9**3)
    assert worked.new_rate[:, 36] == pytest.approx(2 * 0.9**3)


def test_the_way_has_a_chance_of_its_own_from_its_start_on():
    way = technique(tree_loss_per_year=figure(0.5, "share/year"), pods_lost=figure(0.2, "share"))
    field = stand(crop_per_tree=1.0, decline_per_year=0, tree_loss_per_year=0.1, pods_lost=0.4)
    tree = profile(way, field, supplies(), EVEN, [12])
    assert tree.old_rate[0, [0, 11]] == pytest.approx([0.6, 0.6 * 0.9 ** (11 / 12)])
    assert tree.new_rate[0, [12, 24, 36]] == pytest.approx(0.8 * 0.9 * np.array([1, 0.5, 0.25]))


def test_nothing_is_lost_on_an_empty_place_before_it_is_planted():
    way = technique(works_on="empty places", family="replant", old_crown=None, shade=None)
    field = stand(empty_places=5, tree_loss_per_year=0.2).emptied
    assert profile(way, field, supplies(), EVEN, [24]).new_rate[0, [24, 36]] == pytest.approx([1.0, 0.8])


def test_work_and_single_payments_are_of_the_trees_named_and_yearly_payments_of_those_that_stand():
    payments = (
        {"name": "Grant", "anchor": "start", "month": 6, "amount": figure(3.0, "USD/tree")},
        {"name": "Standing", "anchor": "established", "month": 12, "until": 40, "amount": figure(2.0, "USD/tree")},
    )
    way = technique(take=figure((0.5,), "share by project year"), payments=payments)
    tree = profile(way, stand(tree_loss_per_year=0.1), supplies(), EVEN, [12])
    paid = {int(month): tree.payments[0, month] for month in np.flatnonzero(tree.payments[0])}
    # half of the grafts take; 12, 24 and 36 months after, 0.9² and 0.9³ and 0.9⁴ of the trees of today stand
    assert paid == pytest.approx({18: 3.0, 24: 0.5 * 2 * 0.9**2, 36: 0.5 * 2 * 0.9**3, 48: 0.5 * 2 * 0.9**4})
    assert (tree.other_income == tree.payments).all()


def test_the_mean_of_many_trees_with_dice_thrown_each_month_is_the_expected_tree():
    """20,000 trees, each struck with chance 1 − (1 − h)^(1/12) a month: crop within four standard errors."""
    rng, trees, loss = np.random.default_rng(1), 20_000, 0.15
    alive, total = np.ones(trees, dtype=bool), np.zeros(trees)
    for _ in range(12 * 10):
        total += alive / 12
        alive &= rng.random(trees) >= 1 - (1 - loss) ** (1 / 12)
    expected = untouched(stand(crop_per_tree=1.0, decline_per_year=0, tree_loss_per_year=loss), EVEN)
    error = total.std() / trees**0.5
    assert abs(total.mean() - expected.old_kg[0, :120].sum()) < 4 * error


def test_an_event_takes_a_share_of_every_tree_from_its_month_on():
    spared = np.where(np.arange(12 * YEARS) < 24, 1.0, 0.8)
    struck = Setting(12 * YEARS, EVEN.season, 0.0, 1, spared)
    field = stand(upkeep_days=0.6)
    for tree, plain in (
        (untouched(field, struck), untouched(field, EVEN)),
        (profile(technique(), field, supplies(), struck, [6]), profile(technique(), field, supplies(), EVEN, [6])),
    ):
        np.testing.assert_allclose(tree.old_kg + tree.new_kg, (plain.old_kg + plain.new_kg) * spared)
        np.testing.assert_allclose(tree.upkeep_days, plain.upkeep_days * spared)
