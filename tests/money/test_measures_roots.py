"""Every internal rate: against chosen roots, exact counts, other programs and substitution."""

import itertools
from fractions import Fraction

import numpy as np
import numpy_financial as npf
import pytest
import pyxirr
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from renovation import money

whole_flows = st.lists(st.integers(-1000, 1000), min_size=2, max_size=40)
one_change = st.builds(
    lambda out, back: [-x for x in out] + back,
    st.lists(st.integers(0, 1000), min_size=1, max_size=20).filter(lambda f: f[0] > 0),
    st.lists(st.integers(0, 1000), min_size=1, max_size=20).filter(any),
)


def flow_with_rates(rates):
    """The flow whose internal rates are exactly `rates`: a product of (-1, 1 + r), as one period follows another."""
    flow = np.array([1.0])
    for rate in rates:
        flow = np.convolve(flow, [-1.0, 1.0 + rate])
    return flow


def spaced(rates, least):
    """Whether sorted rates are at least `least` apart."""
    return all(b - a > least for a, b in zip(sorted(rates), sorted(rates)[1:], strict=False))


def relative_npv(flow, rate):
    """NPV over the sum of its terms' sizes, at a scale that cannot overflow."""
    logs = -np.arange(len(flow)) * np.log1p(rate)
    terms = np.asarray(flow, dtype=float) * np.exp(logs - logs[np.flatnonzero(flow)].max())
    return terms.sum() / np.abs(terms).sum()


def exact_count(flow):
    """Number of distinct positive roots of sum flow_k x^k by Sturm's theorem in exact arithmetic."""

    def trimmed(poly):
        while poly and poly[-1] == 0:
            poly = poly[:-1]
        return poly

    def remainder(a, b):
        a = list(a)
        while len(a) >= len(b):
            factor = a[-1] / b[-1]
            shift = len(a) - len(b)
            a = [c - factor * b[k - shift] if k >= shift else c for k, c in enumerate(a)][:-1]
            a = trimmed(a)
        return a

    def changes(values):
        signs = [v > 0 for v in values if v != 0]
        return sum(s != t for s, t in itertools.pairwise(signs))

    poly = trimmed([Fraction(c) for c in flow])
    while poly and poly[0] == 0:
        poly = poly[1:]
    if len(poly) < 2:
        return 0
    chain = [poly, [k * c for k, c in enumerate(poly)][1:]]
    while rest := remainder(chain[-2], chain[-1]):
        chain.append([-c for c in rest])
    return changes([p[0] for p in chain]) - changes([p[-1] for p in chain])


@given(st.lists(st.floats(-0.85, 2.0), min_size=1, max_size=5))
def test_chosen_rates_are_found(rates):
    assume(spaced(rates, 0.02))
    found = money.irr_roots(flow_with_rates(rates))
    assert found == pytest.approx(sorted(rates), abs=1e-6)


@given(st.lists(st.floats(-0.8, 1.5), min_size=1, max_size=3), st.integers(0, 2))
def test_a_double_rate_is_given_once(rates, which):
    assume(spaced(rates, 0.1))
    doubled = [*rates, rates[which % len(rates)]]
    found = money.irr_roots(flow_with_rates(doubled))
    assert found == pytest.approx(sorted(rates), abs=1e-6)


# Rates at and around the places where the search halves its interval (x = 0.47) and where people's rates
# are round.
@pytest.mark.parametrize("rate", [0.0, 0.10, 0.25, 0.5, 1.0, -0.5, 1 / 0.47 - 1, 3 / 0.47 - 1, 1 / (3 * 0.47) - 1])
@pytest.mark.parametrize("other", [None, "same", 0.07, 7.0, -0.95])
def test_rates_on_round_and_awkward_places(rate, other):
    rates = [rate] if other is None else [rate, rate if other == "same" else other]
    found = money.irr_roots(flow_with_rates(rates) * 1e6)
    assert found == pytest.approx(sorted(set(rates)), abs=1e-7)


def test_a_triple_rate_is_given_once():
    # Rounding of the coefficients alone moves a triple root by about 1e-5.
    assert money.irr_roots(flow_with_rates([0.1, 0.1, 0.1])) == pytest.approx([0.1], abs=3e-5)


def test_near_rates_are_one_only_within_a_millionth():
    assert len(money.irr_roots(flow_with_rates([0.1, 0.1 + 4e-6]))) == 2
    assert len(money.irr_roots(flow_with_rates([0.1, 0.1 + 4e-7]))) == 1


def test_no_rate_is_invented_beside_a_near_miss():
    # (1.1 x - 1)^2 + e touches zero only for e = 0: x = 1/(1+r), method §5.
    for e, count in [(0.0, 1), (1e-6, 0), (1e-9, 0), (-1e-6, 2)]:
        assert len(money.irr_roots([1.0 + e, -2.2, 1.21])) == count


@settings(max_examples=300)
@given(st.lists(st.integers(-20, 20), min_size=2, max_size=9))
def test_number_of_rates_by_sturm(flow):
    """Exact arithmetic, a third way of counting; flows short enough that distinct rates are well apart."""
    assert len(money.irr_roots(flow)) == exact_count(flow)


@settings(max_examples=200)
@given(whole_flows)
def test_npv_is_zero_at_every_rate(flow):
    for rate in money.irr_roots(flow):
        # A rate r near -1 is itself rounded: 1 + r carries an error of 1e-16 / (1 + r) into each of the
        # powers.
        assert abs(relative_npv(flow, rate)) < 1e-11 + 1e-14 / (1.0 + rate)


@settings(max_examples=200)
@given(whole_flows)
def test_same_rates_as_the_companion_matrix(flow):
    """np.roots, where it is sure of itself: simple roots far from the next."""
    cut = np.trim_zeros(flow)
    assume(len(cut) > 1)
    roots = np.roots(cut[::-1])
    real = roots[(np.abs(roots.imag) < 1e-9 * np.abs(roots)) & (roots.real > 0)].real
    near = [np.sort(np.abs(roots - x))[1] if len(roots) > 1 else 1.0 for x in real]
    found = money.irr_roots(flow)
    for x, distance in zip(real, near, strict=True):
        if distance > 0.01 * x:
            assert min(abs(1 / (1 + np.array(found)) - x)) < 1e-6 * x
    # and the other way round: nothing that np.roots knows nothing of
    for rate in found:
        assert min(abs(roots * (1 + rate) - 1)) < 1e-3


@settings(max_examples=300)
@given(one_change)
def test_one_change_of_sign_against_two_programs(flow):
    found = money.irr(flow)
    assert found.verdict == "one"
    if found.value > -0.8:
        second = pyxirr.irr(flow)
        if second is not None and abs(relative_npv(flow, second)) < 1e-9:
            assert found.value == pytest.approx(second, rel=1e-6, abs=1e-7)
        third = npf.irr(np.trim_zeros(flow))
        if np.isfinite(third) and abs(relative_npv(flow, third)) < 1e-9:
            assert found.value == pytest.approx(float(third), rel=1e-6, abs=1e-7)


def test_the_two_programs_do_answer_on_ordinary_flows():
    """Guards the test above against comparing nothing: a fixed sample, each answer compared."""
    rng = np.random.default_rng(20)
    flows = np.concatenate([-rng.uniform(100, 900, (200, 3)), rng.uniform(50, 400, (200, 12))], axis=1)
    ours = money.irr_many(flows).value
    assert ours == pytest.approx([pyxirr.irr(f) for f in flows], abs=1e-7)
    assert ours == pytest.approx([npf.irr(f) for f in flows], abs=1e-7)


@given(st.lists(st.lists(st.integers(-9, 9), min_size=6, max_size=6), min_size=1, max_size=12))
def test_a_batch_gives_what_each_flow_gives(rows):
    flows = np.array(rows, dtype=float).reshape(1, len(rows), 6)
    before = flows.copy()
    many = money.irr_many(flows)
    assert (flows == before).all()
    assert many.counts.shape == many.value.shape == (1, len(rows))
    for i, row in enumerate(rows):
        alone = money.irr(row)
        assert many.rates[0, i, : many.counts[0, i]] == pytest.approx(alone.roots, rel=1e-9, abs=1e-9)
        assert np.isnan(many.rates[0, i, many.counts[0, i] :]).all()
        verdict = {0: "none", 1: "one"}.get(int(many.counted[0, i]), "several")
        assert verdict == alone.verdict
        value = None if np.isnan(many.value[0, i]) else float(many.value[0, i])
        assert value == (None if alone.value is None else pytest.approx(alone.value, rel=1e-9, abs=1e-9))


def test_extreme_rates_over_forty_years():
    # x^39 = 1e8 and 1e-8 by hand; 1 + r = 1e8 where only the first two years count
    assert money.irr_roots([-1e-8] + [0] * 38 + [1]) == pytest.approx([1e8 ** (1 / 39) - 1], rel=1e-12)
    assert money.irr_roots([-1] + [0] * 38 + [1e-8]) == pytest.approx([1e-8 ** (1 / 39) - 1], rel=1e-12)
    assert money.irr_roots([-1e-8, 1] + [0] * 38) == pytest.approx([1e8 - 1], rel=1e-12)
    assert money.irr_roots([0] * 38 + [-1, 1e-8]) == pytest.approx([1e-8 - 1], abs=1e-15)


def test_rates_below_minus_ninety_percent_are_listed_but_do_not_spoil_the_irr():
    beside = money.irr(flow_with_rates([-0.95, 0.12]))
    assert beside.verdict == "one"
    assert beside.value == pytest.approx(0.12)
    assert beside.roots == pytest.approx((-0.95, 0.12))
    assert money.irr(flow_with_rates([-0.85, 0.12])).verdict == "several"
    assert money.irr(flow_with_rates([-0.95])).value == pytest.approx(-0.95)
    assert money.irr(flow_with_rates([-0.95, -0.92])).verdict == "several"


def test_amounts_that_are_rounding_are_no_change_of_sign():
    flow = [-1000.0, 1200.0, -1e-7]
    assert money.irr(flow).value == pytest.approx(0.2)
    assert money.irr([-1000.0, 1200.0, -1e-5]).verdict == "one"  # a second root below -90 % is real, but absurd
    assert len(money.irr_roots([-1000.0, 1200.0, -1e-5])) == 2
    difference = money.incremental([1e6, 0.3], [1e6 - 1e-4, 0.1 + 0.2])
    assert difference.tolist() == [0.0, 0.0]


def test_crossover_of_two_flows():
    a, b = np.array([-1000.0, 0.0, 0.0, 2000.0]), np.array([-1000.0, 600.0, 600.0, 300.0])
    rates = money.crossover_rates(a, b)
    assert len(rates) == 1
    values = money.net_present_value(np.array([a, b]), np.array(rates))
    assert values[0] == pytest.approx(values[1], abs=1e-9)
    assert money.crossover_rates(a, a) == ()


@pytest.mark.parametrize(
    ("bad", "words"),
    [([], "at least one period"), ([1.0, np.nan], "finite"), ([1.0, np.inf], "finite"), (["a"], "numbers")],
)
def test_bad_flows_are_refused(bad, words):
    for call in (money.irr, money.irr_roots_many, money.payback, money.zero_small):
        with pytest.raises(ValueError, match=words):
            call(bad)


def test_one_flow_is_not_many():
    for call in (money.irr, money.irr_roots, money.payback):
        with pytest.raises(ValueError, match="one flow"):
            call([[1.0, 2.0]])
