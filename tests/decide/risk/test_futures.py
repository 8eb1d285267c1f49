"""Futures of a farm against the same one by one, against trees drawn one by one, and against the expected run."""

import numpy as np
import pytest
from factories import figure, operation, scenario, some_plain, stand, technique_data
from farm_files import MOST, stated
from risk_reference import one_future, paid
from scipy import stats

from renovation.decide.held import as_held
from renovation.decide.risk import (
    Strategy,
    as_expected,
    draw_futures,
    judge,
    judged_on,
    lay_out,
    npv_in,
    risk,
    strategies_of,
)
from renovation.decide.risk.answers import worst_tenth
from renovation.decide.risk.attempts import means_in_season, outcome_shares, season_take
from renovation.decide.risk.quantiles import beta_quantile
from renovation.inputs import Risk, Treatment, demo_names, demo_scenario

CERTAIN = {f"risk__{name}": 0.0 for name in ("price_sd", "crop_sd", "take_spread", "wage_drift_sd", "input_drift_sd")}
FARMS = some_plain(demo_names(), MOST)


def only(farm, **spreads):
    """The farm with nothing uncertain but what is named."""
    return farm.changed(**{**CERTAIN, **{f"risk__{name}": value for name, value in spreads.items()}})


# Against the expected run


@pytest.mark.parametrize("name", FARMS)
def test_with_nothing_uncertain_every_figure_is_the_expected_run_exactly(name):
    farm = stated(name).changed(**CERTAIN)
    assert farm.risk.certain
    result = risk(farm, draws=512)
    assert len(result.answers) >= 3
    for answer in result.answers.values():
        layout = lay_out(farm, answer.strategy)
        for found in (answer.npv.p10, answer.npv.p50, answer.npv.p90, answer.mean_npv, answer.worst_tenth):
            assert found.value == layout.expected_npv
            assert found.error == 0
        for found in (answer.deepest.p10, answer.deepest.p50, answer.deepest.p90):
            assert found.value == layout.cash.deepest
            assert found.error == 0
        gaps = [chance.value for chance in answer.gap_by_year]
        assert gaps == [float(gap) for gap in layout.cash.gap_by_year]
        assert (answer.fan == layout.cash.balance[11::12]).all()
        assert all(chance.error == 0 for chance in (*answer.gap_by_year, *answer.missed_by_year))


@pytest.mark.parametrize("name", FARMS)
def test_npv_of_the_expected_future_is_that_of_the_comparison(name):
    from renovation.decide import compare

    farm = stated(name)
    comparison = compare(farm)
    for key, outcome in comparison.outcomes.items():
        (strategy,) = (s for s in strategies_of(farm, [key]) if s.key == key)
        held = as_held(farm, strategy.treatments)  # the takes that these trees bring about, as the comparison has them
        assert npv_in(lay_out(held, strategy), as_expected(farm.appraisal.horizon_years))[0] == pytest.approx(
            outcome.measures.npv, rel=1e-12
        )


@pytest.mark.parametrize("name", FARMS)
def test_the_mean_future_is_the_expected_run_within_its_stated_error(name):
    farm = stated(name)
    for changed in (only(farm, take_spread=0.1), only(farm, price_sd=0.218), farm):
        for answer in risk(changed, draws=2048).answers.values():
            # 95 % intervals, several of them at once: three half-widths, and what rounding leaves
            assert abs(answer.mean_npv.value - answer.expected_npv) <= 3 * answer.mean_npv.error + 1e-6


def test_tries_that_share_a_season_would_not_average_to_the_expected_run_if_their_means_were_left_alone():
    """E[(1 − p) p] = (1 − Ep) Ep − Var p for one draw of p: the reason for `means_in_season`."""
    luck = (np.arange(200_000) + 0.5) / 200_000
    naive = season_take(luck, 0.25, 0.1)
    variance = 0.1 * 0.25 * 0.75
    assert ((1 - naive) * naive).mean() == pytest.approx(0.75 * 0.25 - variance, rel=1e-4)
    adjusted = outcome_shares((0.25, 0.25), (0, 0), luck[:, None], 0.1, luck.size)[:, 1]
    assert adjusted.mean() == pytest.approx(0.75 * 0.25, rel=1e-5)


@pytest.mark.parametrize("spread", [0.01, 0.04, 0.3])
@pytest.mark.parametrize("takes", [(0.25, 0.25, 0.25), (0.9, 0.5), (0.02, 0.6, 0.1), (0.75,) * 12, (0.98, 0.98)])
def test_means_in_a_season_leave_every_share_as_stated(takes, spread):
    """Shares averaged by a general integrator over luck, beside the product of the stated takes."""
    from scipy.integrate import quad

    expected = outcome_shares(takes, (0,) * len(takes), None, 0.0, 1)[0]
    means = means_in_season(takes, spread)

    def share(luck, j):
        found = [stats.beta.ppf(luck, m * (1 / spread - 1), (1 - m) * (1 / spread - 1)) for m in means[: j + 1]]
        return np.prod([1 - p for p in found[:-1]]) * found[-1]

    for j in range(min(len(takes), 3)):
        mean, _ = quad(share, 0, 1, args=(j,), limit=400, epsabs=1e-9)
        assert mean == pytest.approx(expected[j], abs=2e-6)


def test_a_seasons_take_is_a_beta_draw():
    """Mean and variance of Beta(α, β): α/(α+β) and p(1 − p)/(α+β+1) (any textbook)."""
    luck = (np.arange(200_000) + 0.5) / 200_000
    take = season_take(luck, 0.7, 0.04)
    assert take.mean() == pytest.approx(0.7, rel=1e-6)
    assert take.var() == pytest.approx(0.04 * 0.7 * 0.3, rel=1e-4)
    assert season_take(luck, 1.0, 0.04).tolist() == [1.0] * luck.size


# Against the same futures one by one


def takes_in(futures, row, first_month=1):
    """A function that gives the take of every attempt in one future, from the luck of its season."""

    def chances(technique, start):
        months = [start + j * technique.gap_months.value for j in range(technique.attempts.value)]
        table = technique.take.value
        factor = technique.attempt_factor.value if technique.attempt_factor else (1.0,)
        factors = [*factor, *[1.0] * len(months)]
        by_month = technique.take_by_month.value if technique.take_by_month else (1.0,) * 12
        stated = [
            table[min(m // 12, len(table) - 1)] * (factors[j] * by_month[(first_month - 1 + m) % 12])
            for j, m in enumerate(months)
        ]
        found = []
        for season in dict.fromkeys(m // 12 for m in months):
            members = tuple(p for p, m in zip(stated, months, strict=True) if m // 12 == season)
            luck = futures.luck[row, min(season, futures.years - 1)]
            for mean in means_in_season(members, futures.spread):
                size = 1 / futures.spread - 1
                sure = mean in (0.0, 1.0)
                found.append(mean if sure else stats.beta.ppf(luck, size * mean, size * (1 - mean)))
        return found

    return chances


@pytest.mark.parametrize("name", FARMS)
def test_each_future_is_what_the_farm_comes_to_when_worked_out_alone(name):
    each_future_alone(stated(name).changed(household__savings_rate=0.03, under_way=()))


def test_each_future_holds_the_factors_by_try_and_by_month():
    farm = demo_scenario()
    way = farm.techniques["side_graft"]
    twelve = (0.3, 0.9, *(1.0,) * 4, 1.2, *(0.8,) * 5)
    farm = farm.changed(
        techniques__side_graft__take_by_month=figure(twelve, "factor by calendar month"),
        techniques__side_graft__attempt_factor=figure((1.0, 0.7), "factor by attempt"),
    )
    assert any(treatment.technique == "side_graft" for s in strategies_of(farm) for treatment in s.treatments)
    months = {(m - 1 + j * way.gap_months.value) % 12 for m in way.start_months for j in range(way.attempts.value)}
    assert len({twelve[m] for m in months}) > 2
    each_future_alone(farm)


def test_payments_go_as_the_trees_go_in_each_future():
    farm = paid(demo_scenario())
    assert all(layout.outcomes_by_month.shape[1] == 5 * 12 * farm.appraisal.horizon_years for layout in laid_out(farm))
    each_future_alone(farm)


def laid_out(farm):
    return [lay_out(farm, strategy) for strategy in strategies_of(farm)]


def each_future_alone(farm):
    """Some futures of a farm's strategies against the farm worked out anew in each."""
    futures = draw_futures(farm.risk, farm.appraisal.horizon_years, draws=512)
    for strategy in strategies_of(farm):
        layout = lay_out(farm, strategy)
        judged, owed = judge(layout, futures), layout.cash.debt_service
        for row in (0, 300):
            factors = (futures.price[row], futures.crop[row], futures.wage[row], futures.inputs[row])
            npv, balance, cash = one_future(
                farm, strategy, *factors, takes_in(futures, row, farm.appraisal.start_calendar_month)
            )
            close = 1e-7 * (1 + np.abs(balance).max())
            assert judged.npv[row] == pytest.approx(npv, abs=1e-7 * (1 + abs(npv)))
            assert judged.deepest[row] == pytest.approx(balance.min(), abs=close)
            assert judged.year_end[row] == pytest.approx(balance[11::12], abs=close)
            late = ((owed > 0) & (balance < -close)).reshape(-1, 12).any(axis=1)
            assert (judged.missed[row] == late).all()
            margin = (cash + layout.cash.other_income - layout.cash.money_out).reshape(-1, 12).sum(axis=1)
            assert (judged.gap[row] == (margin < 0)).all()


# Against trees drawn one by one


def two_seasons():
    """Ten-year farm; three tries eight months apart from month 2: months 2, 10 and 18, so that two share a season."""
    way = technique_data(
        attempts=figure(3, "attempts"),
        gap_months=figure(8, "months"),
        take=figure((0.3, 0.6), "share by project year"),
        mature_crop=figure(2.0, "kg/tree/year"),
        new_crown=figure(((12.0, 0.0), (24.0, 1.0)), "months, share"),
        operations={"graft": operation("attempt", 0, 0.1)},
    )
    farm = scenario(
        {"way_a": way},
        stands=(stand(trees=1000, crop_per_tree=0.5).model_dump(),),
    )
    farm = only(farm, take_spread=0.2)
    return farm, Strategy("a", (Treatment(stand="Lower field", technique="way_a", trees=1000, start="2027-03"),))


def npv_of_a_tree(established):
    """NPV of one tree of `two_seasons`, by hand: crop and grafts month by month, discounted by project year."""
    tried = [2, 10, 18] if established is None else [m for m in (2, 10, 18) if m <= established]
    years = np.zeros(10)
    for t in range(120):
        crop = 0.0
        if established is not None and t >= established:
            crop = 2.0 * min(1.0, max(0.0, (t - established - 12) / 12)) / 12 - 0.5 / 12
        years[t // 12] += 4.0 * crop - 8.0 * 0.1 * (t in tried)
    return sum(flow / 1.1 ** (y + 1) for y, flow in enumerate(years))


def test_the_futures_agree_with_trees_drawn_one_by_one():
    """1,000 trees in each of 4,000 seasons' luck: each tree's grafts take or fail by a throw of its own."""
    farm, strategy = two_seasons()
    worth = {month: npv_of_a_tree(month) for month in (2, 10, 18, None)}
    rng = np.random.default_rng(11)
    runs, trees = 4000, 1000
    first, again = means_in_season((0.3, 0.3), 0.2)
    means, seasons = (first, again, 0.6), (0, 0, 1)
    luck = rng.random((runs, 2))
    npv = np.zeros(runs)
    waiting = np.full(runs, trees)
    for month, mean, season in zip((2, 10, 18), means, seasons, strict=True):
        take = stats.beta.ppf(luck[:, season], 4 * mean, 4 * (1 - mean))
        lives = rng.binomial(waiting, take)  # as many throws as trees still wait
        npv += lives * worth[month]
        waiting = waiting - lives
    npv += waiting * worth[None]

    layout = lay_out(farm, strategy)
    expected = trees * (0.3 * worth[2] + 0.21 * worth[10] + 0.49 * 0.6 * worth[18] + 0.49 * 0.4 * worth[None])
    assert layout.expected_npv == pytest.approx(expected, rel=1e-9)
    error = npv.std() / np.sqrt(runs)
    assert abs(npv.mean() - layout.expected_npv) < 3.5 * error
    answer = risk(farm, [strategy], draws=8192).answers["a"]
    assert abs(answer.mean_npv.value - layout.expected_npv) <= 2 * answer.mean_npv.error + 1e-6
    for share, found in ((0.1, answer.npv.p10), (0.5, answer.npv.p50), (0.9, answer.npv.p90)):
        # the standard error of a quantile of the trees' runs, from the spread of nearby quantiles
        near = np.quantile(npv, [share - 0.02, share + 0.02])
        error = (near[1] - near[0]) / 0.04 * np.sqrt(share * (1 - share) / runs)
        assert abs(np.quantile(npv, share) - found.value) < 4 * error + found.error


# The figures


def test_worst_tenth_and_quantiles_on_numbers_small_enough_for_paper():
    values = np.array([5.0, 1.0, 2.0, 3.0, 4.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0])
    # a tenth of twelve is 1.2: the lowest whole, a fifth of the next: (1 + 0.2 · 2) / 1.2
    assert worst_tenth(values) == pytest.approx((1 + 0.2 * 2) / 1.2)
    assert worst_tenth(np.full(7, 3.3)) == 3.3


def test_errors_are_students_intervals_of_the_independent_samples():
    farm = demo_scenario()
    futures = draw_futures(farm.risk, farm.appraisal.horizon_years, draws=512)
    layout = lay_out(farm, strategies_of(farm)[1])
    answer = judged_on(layout, futures)
    means = npv_in(layout, futures).reshape(16, 32).mean(axis=1)
    interval = stats.t.interval(0.95, 15, loc=means.mean(), scale=stats.sem(means))
    assert answer.mean_npv.value == pytest.approx(means.mean())
    assert answer.mean_npv.error == pytest.approx((interval[1] - interval[0]) / 2)
    quantiles = np.quantile(npv_in(layout, futures).reshape(16, 32), 0.1, axis=1)
    assert answer.npv.p10.error == pytest.approx(stats.sem(quantiles) * stats.t.ppf(0.975, 15))


def test_a_run_and_the_same_futures_held_at_once_give_the_same_answers():
    farm = demo_scenario()
    result = risk(farm, draws=1024, seed=9)
    futures = draw_futures(farm.risk, farm.appraisal.horizon_years, draws=1024, seed=9)
    for answer in result.answers.values():
        again = judged_on(lay_out(farm, answer.strategy), futures)
        assert again.as_dict() == answer.as_dict()
    assert result.as_dict() == risk(farm, draws=1024, seed=9).as_dict()


def test_a_chance_never_seen_is_not_called_impossible():
    farm = only(demo_scenario(), price_sd=0.01)
    answer = risk(farm, draws=1024).answers["plan"]
    assert answer.worse_than_leaving.value == 0
    assert answer.worse_than_leaving.error == pytest.approx(3 / 1024)
    leave = risk(farm, draws=1024).answers["leave"]
    assert leave.any_missed.error == 0  # no debt, no instalment to miss
    assert leave.npv.p90.value == 0


def test_more_spread_takes_more_futures():
    farm = demo_scenario()
    small, large = (risk(farm.changed(risk__price_sd=sd), draws=1024) for sd in (0.05, 0.5))
    wanted = small.futures_for(0.01)
    assert wanted & (wanted - 1) == 0
    assert small.futures_for(0.005) >= 2 * wanted
    plan_small, plan_large = small.answers["plan"], large.answers["plan"]
    assert plan_large.npv.p90.value - plan_large.npv.p10.value > plan_small.npv.p90.value - plan_small.npv.p10.value
    assert plan_large.worst_tenth.value < plan_small.worst_tenth.value < plan_small.npv.p10.value


def test_tables_hold_what_the_answers_hold():
    result = risk(demo_scenario(), draws=512)
    table = result.answers_table().set_index(["strategy", "figure"])
    plan = result.answers["plan"]
    assert table.loc[("plan", "npv_p10"), "value"] == plan.npv.p10.value
    years = result.years_table()
    assert len(years) == 25 * len(result.answers)
    assert years.query("strategy == 'plan' and year == 3")["gap"].item() == plan.gap_by_year[2].value
    futures = result.futures_table()
    assert len(futures) == 512 * len(result.answers)
    assert futures.query("strategy == 'plan'")["npv"].to_numpy() == pytest.approx(plan.npvs)


def test_what_cannot_be_judged_is_refused():
    farm = demo_scenario()
    with pytest.raises(ValueError, match="name of its own"):
        risk(farm, [Strategy("a"), Strategy("a")], draws=512)
    with pytest.raises(ValueError, match="futures of 4 years"):
        judge(lay_out(farm, Strategy("leave")), as_expected(4))
    with pytest.raises(ValueError, match="nothing of its error"):
        judged_on(lay_out(farm, Strategy("leave")), as_expected(25))


@pytest.mark.long
def test_stated_errors_hold_the_truth_as_often_as_they_claim():
    """200 seeds of 512 futures against one run of 2^20: 95 % intervals should hold the truth about 190 times."""
    farm = demo_scenario()
    strategy = next(s for s in strategies_of(farm) if s.key == "side_graft")
    names = ("mean_npv", "worst_tenth", "worse_than_leaving", "any_gap")

    def figures(answer):
        found = {name: getattr(answer, name) for name in names}
        found |= {f"npv_{q}": getattr(answer.npv, q) for q in ("p10", "p50", "p90")}
        found |= {f"deepest_{q}": getattr(answer.deepest, q) for q in ("p10", "p50")}
        return found | {f"gap_{y}": answer.gap_by_year[y] for y in (0, 1, 2, 10)}

    truth = figures(risk(farm, [strategy], draws=1 << 20, seed=12345).answers["side_graft"])
    held = dict.fromkeys(truth, 0)
    for seed in range(200):
        for name, found in figures(risk(farm, [strategy], draws=512, seed=seed).answers["side_graft"]).items():
            held[name] += abs(found.value - truth[name].value) <= found.error + truth[name].error
    print(held)
    # by chance alone 95 of 100 ranges from 181 to 197 of 200 (binomial, 0.5 % each side 179 and 199)
    assert all(count >= 179 for count in held.values()), held
    assert np.mean(list(held.values())) / 200 == pytest.approx(0.95, abs=0.03)


def test_risk_of_a_scenario_reads_and_writes():
    from renovation.inputs import read_scenario, write_scenario

    farm = demo_scenario().changed(risk__price_sd=0.3, risk__price_path="typed", risk__price_by_year=(1.0, 0.8))
    assert read_scenario(write_scenario(farm), "again.toml").risk == farm.risk
    assert Risk() == demo_scenario().risk


@pytest.mark.parametrize("spread", [5e-324, 1e-300, 1e-12, 1e-9, 0.04, 0.5])
def test_odd_takes_and_spreads_keep_every_share_a_share(spread):
    luck = np.linspace(1e-9, 1 - 1e-9, 50)
    takes = (0.0, 5e-324, 1e-12, 0.3, 1 - 1e-9, 1 - 2**-53, 1.0)
    for pair in [(a, b) for a in takes for b in takes]:
        for mean in means_in_season(pair, spread):
            shares = season_take(luck, mean, spread)
            assert ((shares >= 0) & (shares <= 1)).all()


@pytest.mark.parametrize("spread", [1e-9, 0.001, 0.04, 0.3, 0.5])
@pytest.mark.parametrize("mean", [0.001, 0.1, 0.25, 0.5, 0.9, 0.9999])
def test_quantiles_on_a_curve_are_those_that_scipy_inverts_one_by_one(mean, spread):
    alpha, beta = (1 / spread - 1) * mean, (1 / spread - 1) * (1 - mean)
    middle, tails = np.linspace(0.001, 0.999, 999), 2.0 ** -np.arange(2, 33)
    for shares, allowed in ((middle, 1e-10), (np.concatenate([tails, 1 - tails]), 1e-9)):
        found = beta_quantile(alpha, beta, shares)
        assert found == pytest.approx(stats.beta.ppf(shares, alpha, beta), abs=allowed)


def test_quantiles_at_the_very_ends_are_the_ends():
    assert beta_quantile(6.0, 18.0, np.array([0.0, 1.0])).tolist() == [0.0, 1.0]


def test_an_odd_spread_next_to_nothing_is_none():
    assert season_take(np.array([0.001, 0.999]), 0.4, 1e-15).tolist() == [0.4, 0.4]
