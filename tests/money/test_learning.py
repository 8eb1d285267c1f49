"""Learning: Beta updating and learning curves against published numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from renovation.money.learning import Belief, exponent, take_after, take_from_table, total_cost, unit_cost


def test_uniform_prior_and_437_of_980():
    """G6: Gelman et al., Bayesian Data Analysis, 3rd ed., p. 37."""
    belief = Belief().after(made=980, taken=437)
    assert (belief.alpha, belief.beta) == (438, 544)
    assert belief.mean == pytest.approx(0.4460285132, abs=1e-10)
    assert belief.sd == pytest.approx(0.0158543433, abs=1e-10)
    # the upper end, 0.47719977063 by summing the binomial tail too, is printed as 0.4771997720
    assert belief.interval(0.95) == pytest.approx((0.4150654921, 0.4771997720), abs=2e-9)


def test_records_add_up_in_any_order():
    assert Belief(2, 3).after(10, 4).after(5, 5) == Belief(2, 3).after(15, 9)


@pytest.mark.parametrize(("made", "taken"), [(3, 4), (3, -1)])
def test_more_taken_than_made_is_refused(made, taken):
    with pytest.raises(ValueError, match="taken of"):
        Belief().after(made, taken)


def test_a_belief_needs_counts_above_zero():
    with pytest.raises(ValueError, match="above 0"):
        Belief(0, 1)


def test_unit_time_curve_at_80_percent():
    """G7: an operations-management manual, ch. 13 (unit time, Crawford): T1 = 300 h, 80 %."""
    assert float(unit_cost(300.0, 0.8, 5)) == pytest.approx(178.69120, abs=5e-6)
    # the manual multiplies its table's factor, rounded to 9.716, by 300: 2,914.8
    assert round(total_cost(1.0, 0.8, 18), 3) == 9.716
    assert total_cost(300.0, 0.8, 18) == pytest.approx(2914.8, abs=0.15)


def test_wright_averages_what_crawford_says_of_one_unit():
    """By Wright the mean of the first n is first · n^b, so the totals are n times that."""
    for n in (1, 2, 7, 40):
        assert total_cost(300.0, 0.8, n, "wright") == pytest.approx(n * 300 * n ** exponent(0.8))


@given(st.floats(0.05, 0.6), st.floats(0.6, 0.95), st.floats(0.5, 1.0), st.sampled_from(["wright", "crawford"]))
def test_the_take_rises_from_the_first_to_the_highest(first, highest, rate, form):
    takes = take_after(np.arange(0, 2000, 7), first, highest, rate, form)
    assert takes[0] == pytest.approx(first)
    assert (np.diff(takes) >= -1e-12).all()
    assert takes.max() <= highest + 1e-12


def test_a_table_is_linear_between_its_points():
    assert take_from_table([50], ((0, 0.2), (100, 0.6)))[0] == pytest.approx(0.4)
    with pytest.raises(ValueError, match="rising"):
        take_from_table([1], ((10, 0.2), (5, 0.6)))


def test_units_are_counted_from_one():
    with pytest.raises(ValueError, match="from 1"):
        unit_cost(1.0, 0.8, 0)
    with pytest.raises(ValueError, match="learning rate"):
        exponent(0.0)
