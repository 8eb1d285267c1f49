"""What is held of hands after counting, against closed forms, other ways to integrate, and draws of the tests' own."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.special import roots_jacobi, roots_legendre

from renovation.money.hands import Counted, CurveHands, curve_hands, table_hands
from renovation.money.learning import Belief
from renovation.money.practice import Practised

AFTER = (0, 1, 5, 20, 100, 1000, 20_000)
TABLE = ((0.0, 0.25), (60.0, 0.6), (200.0, 0.72))
SEASONS = (Counted(0, 20, 5), Counted(20, 60, 40), Counted(80, 300, 200))
flat = CurveHands("crawford", (1.0, 1.0), 1.0)


def left(form, rho, n):
    """Share of failures that n grafts leave, written out once more."""
    b = np.log2(rho)
    return (1 + n) ** b if form == "crawford" else (1 + n) ** (1 + b) - (n ** (1 + b) if n else 0)


def likelihood(takes, seasons):
    """Logarithm, from the takes of each season."""
    with np.errstate(divide="ignore"):
        return sum(
            stats.binom.logpmf(s.taken, s.made, np.clip(take, 0, 1)) for s, take in zip(seasons, takes, strict=True)
        )


def by_nodes(hands, seasons, after, f, weight_f, m, weight_m):
    """Mean takes on a product of nodes of (f, 2ρ − 1), whose weights hold the prior."""

    def take(n):
        return np.minimum(hands.highest, 1 - (1 - f) * left(hands.form, (1 + m[:, None]) / 2, n))

    log = likelihood([take(s.before) for s in seasons], seasons) + np.zeros((m.size, f.size))
    weight = np.exp(log - log.max()) * weight_m[:, None] * weight_f
    return [(weight * take(n)).sum() / weight.sum() for n in after]


def jacobi(shape, number=201):
    """The method's own nodes: Gauss–Jacobi of Beta(α, β)."""
    x, weight = roots_jacobi(number, shape[1] - 1, shape[0] - 1)
    return (x + 1) / 2, weight


def pieces(shape, number=20, panels=60):
    """Many short Gauss–Legendre pieces, for what bends; α and β of at least 1."""
    x, weight = roots_legendre(number)
    edges = np.linspace(0, 1, panels + 1)
    place = (edges[:-1, None] + (x + 1) / 2 / panels).ravel()
    return place, np.tile(weight, panels) * stats.beta.pdf(place, *shape)


def test_437_of_980_with_a_flat_curve_and_a_uniform_prior():
    """Gelman et al., Bayesian Data Analysis, 3rd ed., p. 37: posterior Beta(438, 544)."""
    held = Practised(flat, [Counted(0, 980, 437)])
    assert held.mean([0, 700]) == pytest.approx([0.4460285132] * 2, abs=1e-10)
    assert np.sqrt(held.variance(0)) == pytest.approx(0.0158543433, abs=1e-10)
    # the upper end is printed as 0.4771997720; summing the binomial tail gives 0.47719977063
    assert held.belief(0).interval(0.95) == pytest.approx((0.4150654921, 0.4771997720), abs=2e-9)


@pytest.mark.parametrize("shape", [(1.0, 1.0), (2.0, 6.0), (0.08, 7.92), (5.0, 0.5)])
@pytest.mark.parametrize(("made", "taken"), [(1, 0), (1, 1), (20, 7), (5000, 5000), (2_000_000, 900_000)])
def test_a_flat_curve_without_a_ceiling_is_beta_binomial(shape, made, taken):
    held = Practised(CurveHands("wright", shape, 1.0), [Counted(0, made, taken)])
    belief = Belief(*shape).after(made, taken)
    assert float(held.mean(3)) == pytest.approx(belief.mean, rel=1e-8)
    assert float(held.variance(3)) == pytest.approx(belief.sd**2, rel=1e-4)


def test_seasons_add_up_on_a_flat_curve():
    held = Practised(flat, SEASONS)
    assert float(held.mean(0)) == pytest.approx(Belief().after(380, 245).mean, abs=1e-9)


@pytest.mark.parametrize("form", ["crawford", "wright"])
@pytest.mark.parametrize("seasons", [(), SEASONS, (Counted(0, 20, 0),), (Counted(40, 20, 20),)])
def test_the_methods_own_nodes_give_the_same_where_no_ceiling_binds(form, seasons):
    hands = curve_hands(form, 0.25, 1.0, 0.85)
    expected = by_nodes(hands, seasons, AFTER, *jacobi(hands.first), *jacobi(hands.rate))
    assert Practised(hands, seasons).mean(AFTER) == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize("form", ["crawford", "wright"])
@pytest.mark.parametrize(
    "seasons",
    [(), SEASONS, (Counted(0, 20, 0),), (Counted(0, 20, 20),), (Counted(0, 2000, 500), Counted(2000, 2000, 1500))],
)
def test_a_ceiling_is_met_to_a_millionth(form, seasons):
    """The method's 201 × 201 nodes are 4e-5 off at 20 of 20; short pieces are not."""
    hands = curve_hands(form, 0.25, 0.75, 0.85)
    expected = by_nodes(hands, seasons, AFTER, *pieces(hands.first), *pieces(hands.rate))
    assert Practised(hands, seasons).mean(AFTER) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("form", "first", "highest", "rate"),
    [
        ("crawford", 0.25, 0.75, 0.85),
        ("wright", 0.4, 0.9, 0.7),
        ("crawford", 0.05, 0.6, 1.0),
        ("wright", 0.5, 0.6, 0.5),
    ],
)
@pytest.mark.parametrize("seasons", [SEASONS, (Counted(0, 20, 0),), (Counted(15, 20, 20),)])
def test_importance_sampling_from_the_prior_agrees(form, first, highest, rate, seasons):
    random = np.random.default_rng(20)
    first_in, slow = (min(max(share, 0.01), 0.99) for share in (first, 2 * rate - 1))
    f = random.beta(8 * first_in, 8 * (1 - first_in), 400_000)
    rho = (1 + random.beta(10 * slow, 10 * (1 - slow), f.size)) / 2

    def take(n):
        return np.minimum(max(first_in, highest), 1 - (1 - f) * left(form, rho, n))

    log = likelihood([take(s.before) for s in seasons], seasons)
    weight = np.exp(log - log.max())
    held = Practised(curve_hands(form, first, highest, rate), seasons)
    for n in AFTER:
        drawn = take(n)
        mean = (weight * drawn).sum() / weight.sum()
        error = np.sqrt((weight**2 * (drawn - mean) ** 2).sum()) / weight.sum()
        assert abs(float(held.mean(n)) - mean) < 5 * error + 1e-5  # draws too few to see what is rarer


@pytest.mark.parametrize("seasons", [(), SEASONS, (Counted(0, 20, 0),), (Counted(500, 20, 20),)])
def test_a_table_is_moved_by_one_factor(seasons):
    """The method's sum over 601 values of ln λ is 1e-4 off where the cap of 1 bends it; one over 60,001 is not."""
    stated = {n: np.interp(n, *zip(*TABLE, strict=True)) for n in (*AFTER, *(s.before for s in seasons))}
    held = Practised(table_hands(TABLE), seasons)
    for number, near in ((601, 2e-4), (60_001, 1e-6)):
        log_factor = np.linspace(-8, 8, number) / 2 - 1 / 8
        takes = {n: np.minimum(1, np.exp(log_factor) * take) for n, take in stated.items()}
        log = stats.norm.logpdf(log_factor, -1 / 8, 0.5) + likelihood([takes[s.before] for s in seasons], seasons)
        weight = np.exp(log - log.max())
        expected = [(weight * takes[n]).sum() / weight.sum() for n in AFTER]
        assert held.mean(AFTER) == pytest.approx(expected, abs=near)


def test_a_table_that_lets_nothing_take_learns_nothing_there():
    table = table_hands([(0, 0.0), (100, 0.5)])
    assert Practised(table, [Counted(0, 20, 3)]).mean(AFTER).tolist() == Practised(table).mean(AFTER).tolist()


def test_nothing_made_is_no_record():
    hands = curve_hands("crawford", 0.25, 0.75, 0.85)
    assert Practised(hands, [Counted(30, 0, 0)]).mean(AFTER).tolist() == Practised(hands).mean(AFTER).tolist()


def test_before_anything_is_counted_the_first_take_is_the_stated_one():
    """E[f] = f₀ of Beta(8 f₀, 8 (1 − f₀)); nearer than 0.01 to an end it counts as 0.01 from it."""
    for stated, held in ((0.25, 0.25), (0.0, 0.01), (1.0, 0.99)):
        assert float(Practised(curve_hands("crawford", stated, 1.0, 0.85)).mean(0)) == pytest.approx(held, abs=1e-9)


shares = st.sampled_from([0.0, 0.05, 0.2, 0.25, 0.4, 0.7, 0.95, 1.0])
stated_hands = st.one_of(
    st.builds(
        curve_hands,
        st.sampled_from(["crawford", "wright"]),
        shares,
        shares,
        st.sampled_from([0.5, 0.7, 0.85, 0.95, 1.0]),
    ),
    st.builds(table_hands, st.sampled_from([TABLE, ((0.0, 0.1), (50.0, 0.95))])),
)


@st.composite
def counts(draw):
    """Up to four seasons one after the other, the grafts of each made before the next."""
    before, found = draw(st.sampled_from([0, 0, 7, 150])), []
    for _ in range(draw(st.integers(1, 4))):
        made = draw(st.integers(1, 400))
        found.append(Counted(before, made, draw(st.integers(0, made))))
        before += made
    return found


def one_more(seasons, place):
    """The seasons with one more taken in one of them, from one that failed."""
    season = seasons[place]
    fewer = Counted(season.before, season.made, min(season.taken, season.made - 1))
    more = Counted(season.before, season.made, fewer.taken + 1)
    return [*seasons[:place], fewer, *seasons[place + 1 :]], [*seasons[:place], more, *seasons[place + 1 :]]


@settings(max_examples=25)
@given(stated_hands, counts())
def test_more_taken_in_the_latest_season_never_lowers_a_later_take(hands, seasons):
    fewer, more = one_more(seasons, len(seasons) - 1)
    now = seasons[-1].before + seasons[-1].made
    later = [seasons[-1].before, now, now + 50, 10 * now, 1e6]
    assert (Practised(hands, more).mean(later) >= Practised(hands, fewer).mean(later) - 1e-6).all()


@settings(max_examples=25)
@given(stated_hands, counts(), st.data())
def test_more_taken_in_any_season_never_lowers_the_take_at_its_own_number_of_grafts(hands, seasons, data):
    place = data.draw(st.integers(0, len(seasons) - 1))
    fewer, more = one_more(seasons, place)
    own = seasons[place].before
    assert float(Practised(hands, more).mean(own)) >= float(Practised(hands, fewer).mean(own)) - 1e-6


@settings(max_examples=15)
@given(stated_hands, counts(), st.randoms())
def test_seasons_may_stand_in_any_order(hands, seasons, random):
    mixed = random.sample(seasons, len(seasons))
    assert Practised(hands, mixed).mean(AFTER).tolist() == Practised(hands, seasons).mean(AFTER).tolist()


@settings(max_examples=15)
@given(stated_hands, counts())
def test_the_take_rises_with_practice_and_keeps_to_its_ceiling(hands, seasons):
    takes = Practised(hands, seasons).mean(np.arange(0, 2000, 37))
    assert (np.diff(takes) >= -1e-9).all()
    assert takes[0] >= 0
    assert takes[-1] <= hands.highest + 1e-12


@pytest.mark.parametrize("hands", [curve_hands("crawford", 0.25, 0.75, 0.85), table_hands(TABLE), flat])
@pytest.mark.parametrize("seasons", [(), SEASONS])
def test_hands_are_drawn_as_they_are_held(hands, seasons):
    held = Practised(hands, seasons)
    drawn = held.draw(100_000, np.random.default_rng(3))
    again = held.draw(100_000, np.random.default_rng(3))
    for n in AFTER:
        takes = drawn.take(n)
        assert (takes == again.take(n)).all()
        spread = np.sqrt(float(held.variance(n)))
        assert abs(takes.mean() - float(held.mean(n))) < 5 * spread / np.sqrt(takes.size) + 1e-6
        assert takes.std() == pytest.approx(spread, rel=0.02, abs=1e-6)


def test_a_sure_take_has_a_belief_too():
    """Every hand at its ceiling: nothing is left to learn, and the interval is that one take."""
    belief = Practised(CurveHands("crawford", (400.0, 4.0), 0.5, 0.3), []).belief(1000)
    assert belief.mean == pytest.approx(0.3, abs=1e-9)
    assert belief.interval() == pytest.approx((0.3, 0.3), abs=1e-4)


@pytest.mark.parametrize(("before", "made", "taken"), [(0, 3, 4), (0, 3, -1), (-1, 3, 1), (float("inf"), 3, 1)])
def test_counts_that_cannot_be_are_refused(before, made, taken):
    with pytest.raises(ValueError, match="taken of"):
        Counted(before, made, taken)
