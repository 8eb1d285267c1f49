"""Practise first, against sums by hand, closed forms in fractions, another way to integrate, and Gittins' index."""

from fractions import Fraction
from functools import cache
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from renovation.money.learning import Belief
from renovation.money.trial import MOST_TRIED, Places, joint_of, trial


def rising(a, n):
    """a (a + 1) … (a + n − 1)."""
    product = Fraction(1)
    for i in range(n):
        product *= a + i
    return product


def by_fractions(slope, level, alpha, beta, number, factor):
    """V(0) … V(N) and the least k of each, exactly, v = slope·p + level and whole α and β."""
    worth, least = [], []
    for n in range(number + 1):
        rest, on = Fraction(0), n + 1
        for k in range(n, -1, -1):
            mean = slope * Fraction(alpha + k, alpha + beta + n) + level
            if mean > 0:
                chance = comb(n, k) * rising(alpha, k) * rising(beta, n - k) / rising(alpha + beta, n)
                rest, on = rest + chance * mean, k
        worth.append(n * (slope * Fraction(alpha, alpha + beta) + level) + factor * (number - n) * rest)
        least.append(on)
    return worth, least


def test_a_hundred_trees_on_paper():
    """v = 10p − 6, a hundred trees, every take equally likely, no discount: worked out by hand for 0, 1, 2 and 4."""
    found = trial(lambda p: 10 * p - 6, Belief(), 100)
    assert found.worth[[0, 1, 2, 4]] == pytest.approx([0, 32, 47, 53.6], abs=1e-9)
    assert (found.best, int(found.going_on_from[7])) == (7, 5)
    assert found.worth[7] == pytest.approx(55, abs=1e-9)
    assert found.value == pytest.approx(55, abs=1e-9)
    assert found.chance[7] == pytest.approx(3 / 8, abs=1e-9)


@settings(max_examples=25)
@given(
    st.integers(-20, 40),
    st.integers(-20, 20),
    st.integers(1, 9),
    st.integers(1, 9),
    st.integers(1, 40),
    st.sampled_from([Fraction(1), Fraction(9, 10), Fraction(1, 2)]),
)
def test_every_number_of_first_trees_as_in_fractions(slope, level, alpha, beta, number, factor):
    """Linear v: exact. Where fewer are looked at than there are, none of the others is worth more."""
    expected, least = by_fractions(slope, level, alpha, beta, number, factor)
    found = trial(lambda p: slope * p + level, Belief(alpha, beta), number, float(factor))
    seen = found.worth.size
    exact = np.array([float(worth) for worth in expected])
    scale = max(1.0, float(np.abs(exact).max()))
    assert found.worth == pytest.approx(exact[:seen], abs=1e-9 * scale)
    assert found.all_now == pytest.approx(exact[-1], abs=1e-9 * scale)
    if slope > 0:
        assert found.going_on_from.tolist() == least[:seen]
    top = max(expected)
    assert exact[found.best] == pytest.approx(float(top), abs=2e-9 * scale)
    assert all(float(top - worth) > 1e-10 * scale for worth in expected[: found.best])
    assert found.value == pytest.approx(max(0.0, float(top - max(0, expected[-1]))), abs=2e-9 * scale)


def test_more_trees_than_are_looked_at_one_by_one():
    """14,000 trees: the search ends far below, and no larger trial, told by plain sums, is worth more."""
    found = trial(lambda p: 10 * p - 6, Belief(), 14_000, 1 / 1.1)
    assert found.best < found.worth.size - 1 < 400
    for n in (found.best, 2 * found.best, 500, 1600):
        rest = 0.0
        for k, chance in enumerate(stats.betabinom.pmf(np.arange(n + 1), n, 1, 1)):
            rest += chance * max(0.0, 10 * (1 + k) / (2 + n) - 6)
        worth = -n + (14_000 - n) * rest / 1.1
        assert worth <= found.worth.max() + 1e-6
        if n == found.best:
            assert worth == pytest.approx(found.worth.max(), abs=1e-6)


def test_any_worth_of_the_share():
    """A worth that bends, integrated by another routine: a bend costs a hundred-thousandth."""
    belief = Belief(2.5, 0.7)

    def worth(p):
        return np.minimum(6 * p**3 - 2, 2.5)

    joint = joint_of(Places(belief), worth(Places(belief).share)[None], 12)[0]
    for k in (0, 1, 5, 11, 12):
        density = stats.beta(2.5 + k, 0.7 + 12 - k).pdf
        bend = (4.5 / 6) ** (1 / 3)
        mean = sum(
            integrate.quad(lambda p, density=density: worth(p) * density(p), low, high, epsabs=1e-10)[0]
            for low, high in ((0, bend), (bend, 1))
        )
        assert joint[k] == pytest.approx(stats.betabinom.pmf(k, 12, 2.5, 0.7) * mean, abs=2e-5)


@pytest.mark.parametrize("shape", [(1, 1), (0.05, 0.05), (2, 6), (0.01, 3), (2000, 900)])
def test_counts_are_as_likely_as_a_beta_binomial_says(shape):
    places = Places(Belief(*shape))
    for tried in (1, 64, 300):
        seen = joint_of(places, np.ones((1, places.share.size)), tried)[0]
        assert seen == pytest.approx(stats.betabinom.pmf(np.arange(tried + 1), tried, *shape), abs=1e-9)


@pytest.mark.parametrize(("alpha", "beta"), [(1e-320, 1.0), (1.0, 1e-320), (1e-300, 1e-300)])
@pytest.mark.filterwarnings("error")
def test_a_belief_of_next_to_nothing_is_weighed_without_a_warning(alpha, beta):
    found = trial(lambda p: 10 * p - 6, Belief(alpha, beta), 100)
    assert np.isfinite(found.worth).all()


def test_the_gittins_index_of_a_share_that_nothing_is_known_of():
    """Gittins 1979, J. R. Stat. Soc. B 41: 0.70289 at Beta(1, 1) and discount 0.9; 0.7029 in Christian & Griffiths.

    The same step, tried, counted and decided, again and again: the sure income at which one more trial and
    stopping are worth the same. The chance of one more success is read from the trial's own integrals.
    """
    discount, deep = 0.9, 160
    chances = []
    for n in range(deep):
        uniform = Places(Belief())
        seen, more = joint_of(uniform, np.stack([np.ones_like(uniform.share), uniform.share]), n)
        chances.append(more / seen)

    @cache
    def gain(sure):
        """Worth of one more trial and the best after it, less that of the sure income from now on."""
        stopped = sure / (1 - discount)
        after = np.maximum(stopped, chances[-1] / (1 - discount))
        for chance in chances[-2::-1]:
            going_on = chance * (1 + discount * after[1:]) + (1 - chance) * discount * after[:-1]
            after = np.maximum(stopped, going_on)
        return float(going_on[0]) - stopped

    low, high = 0.5, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if gain(middle) > 0 else (low, middle)
    assert low == pytest.approx(0.70289, abs=1e-5)


def test_none_and_a_factor_beyond_one_are_refused():
    for number, factor in ((0, 1.0), (10, 0.0), (10, 1.1)):
        with pytest.raises(ValueError, match="a trial of"):
            trial(lambda p: p, Belief(), number, factor)


def test_no_more_than_the_most_are_looked_at_even_where_the_bound_hardly_falls():
    """d·E[max(0, v)] a hair above E[v]: a farm of a million trees is answered all the same."""
    found = trial(lambda p: p - 1e-3, Belief(), 1_000_000, 1.0)
    assert found.worth.size <= MOST_TRIED + 1
    assert found.value >= 0
