"""Hands drawn in each future, against the posterior's moments, draws weighed by the tests' own, and farms worked out
anew with the takes of one future's hands (method §10).
"""

from dataclasses import replace

import numpy as np
import pytest
from factories import figure, some_plain
from risk_reference import lean_farm, one_future
from scipy import stats

from renovation.decide.held import as_held
from renovation.decide.plan import learned_plan
from renovation.decide.risk import Strategy, draw_futures, judge, lay_out, risk
from renovation.decide.risk.attempts import means_by_take, means_in_season
from renovation.decide.risk.careful import careful_plan
from renovation.decide.risk.careful_rows import SHARE
from renovation.decide.risk.careful_search import CarefulSearch
from renovation.decide.risk.hands import grafts_before, practice_counted, shares_by_hands
from renovation.decide.risk.strategy import CAREFUL, EXPECTED
from renovation.inputs import GraftRecord, Learning, Scenario, Treatment, demo_scenario
from renovation.inputs.planning import Planning, Practice
from renovation.money.hands import Counted, CurveHands
from renovation.money.practice import Practised

NUMBER = 8192
STILL = {f"risk__{name}": 0.0 for name in ("price_sd", "crop_sd", "take_spread", "wage_drift_sd", "input_drift_sd")}
TABLE = tuple(Practice(grafts_before=n, take=p) for n, p in ((0, 0.25), (60, 0.6), (200, 0.72)))
RECORDS = (
    GraftRecord(technique="way_a", made=20, taken=6, season="2025-03"),
    GraftRecord(technique="way_a", made=40, taken=22, season="2026-03"),
)
GRAFTED = (("2027-03", 40), ("2028-03", 30), ("2029-03", 200))
"""Trees by month of start."""


def farm(tries=1, gap=3, records=RECORDS, still=True, **learning):
    """The lean farm, its one way learning, with two seasons counted."""
    lean = lean_farm()
    changed = {"techniques__way_a__attempts": figure(tries, "attempts")}
    changed |= {"techniques__way_a__gap_months": figure(gap, "months")}
    found = lean.changed(**changed, **(STILL if still else {}))
    learned = Learning(table=TABLE if learning.get("form") == "table" else (), **learning)
    return found.model_copy(update={"planning": Planning(learning=learned, records=records)})


def plan_of(scenario, started=GRAFTED):
    stand = scenario.stands[0].name
    return Strategy("it", tuple(Treatment(stand=stand, technique="way_a", trees=n, start=s) for s, n in started))


def drawn_shares(scenario, strategy, number=NUMBER):
    """Shares by start, (n, J) each, and the futures."""
    futures = draw_futures(scenario.risk, scenario.appraisal.horizon_years, number, hands=True)
    layout = lay_out(as_held(scenario, strategy.treatments), strategy)
    return list(shares_by_hands(layout, futures).values()), layout, futures


def hands_weighed(form, number=200_000):
    """Hands drawn from what was held before, as takes by grafts made before, and the weights that RECORDS give them."""
    rng = np.random.default_rng(5)
    if form == "table":
        factor = np.exp(rng.normal(-1 / 8, 1 / 2, number))
        points = np.array([(point.grafts_before, point.take) for point in TABLE])

        def take(n):
            return np.minimum(1.0, factor * np.interp(n, points[:, 0], points[:, 1]))
    else:
        f, b = rng.beta(2, 6, number), np.log2((1 + rng.beta(7, 3, number)) / 2)

        def take(n):
            left = (1 + n) ** b if form == "crawford" else (1 + n) ** (1 + b) - np.where(n > 0, n ** (1 + b), 0.0)
            return np.minimum(0.75, 1 - (1 - f) * left)

    log = stats.binom.logpmf(6, 20, take(np.zeros(number))) + stats.binom.logpmf(22, 40, take(np.full(number, 20.0)))
    weight = np.exp(log - log.max())
    return take, weight / weight.sum()


def within_its_error(drawn, values, weight):
    """Mean and spread of what was drawn are those of weighed values, to four standard errors of both samples."""
    mean = weight @ values
    error = np.sqrt(drawn.var() / drawn.size + weight**2 @ (values - mean) ** 2)
    assert abs(drawn.mean() - mean) < 4 * error
    square = (values - mean) ** 2
    error = np.sqrt(((drawn - mean) ** 2).var() / drawn.size + weight**2 @ (square - weight @ square) ** 2)
    assert abs(((drawn - mean) ** 2).mean() - weight @ square) < 4 * error
    assert drawn.std() > 10 * abs(drawn.mean() - mean)


@pytest.mark.parametrize("form", some_plain(["crawford", "wright", "table"], ["crawford"]))
def test_a_seasons_take_has_the_mean_and_the_spread_of_what_is_held(form):
    scenario = farm(form=form)
    shares, layout, _ = drawn_shares(scenario, plan_of(scenario))
    held = practice_counted(scenario).held
    take, weight = hands_weighed(form)
    for start, before in zip(shares, (60, 100, 130), strict=True):
        error = np.sqrt(float(held.variance(before)) / NUMBER)
        assert start[:, 0].mean() == pytest.approx(float(held.mean(before)), abs=4 * error)
        within_its_error(start[:, 0], take(np.full(weight.size, float(before))), weight)
    # one try a tree: the mean future is the run in which takes are as expected
    assert [outcome.takes[0] for outcome in layout.outcomes] == pytest.approx(
        [float(held.mean(n)) for n in (60, 100, 130)], abs=1e-9
    )


def test_trees_tried_again_are_practice_too():
    """Three tries, a year apart: what took in a future says how many more are grafted, and what takes of those."""
    scenario = farm(tries=3, gap=12)
    shares, _, _ = drawn_shares(scenario, plan_of(scenario))
    take, weight = hands_weighed("crawford")
    waiting, before, found = {}, np.full(weight.size, 60.0), {}
    for year in range(5):
        p, made = take(before), 0.0
        for start, (_, trees) in enumerate(GRAFTED):
            if start <= year < start + 3:
                left = waiting.get(start, np.ones(weight.size))
                found[start, year - start] = left * p
                made, waiting[start] = made + trees * left, left * (1 - p)
        before = before + made
    for (start, number), values in found.items():
        within_its_error(shares[start][:, number], values, weight)


@pytest.mark.parametrize("form", ["crawford", "wright"])
def test_hands_that_are_known_take_as_their_curve_says(form):
    scenario = farm(form=form)
    known = Practised(CurveHands(form, (2.5e11, 7.5e11), 0.85, 0.75), [Counted(0, 60, 28)])
    strategy = plan_of(scenario)
    futures = draw_futures(scenario.risk, scenario.appraisal.horizon_years, 512, hands=True)
    layout = lay_out(scenario, strategy)
    layout = replace(layout, practice=replace(layout.practice, held=known))
    for share, n in zip(shares_by_hands(layout, futures).values(), (60, 100, 130), strict=True):
        left = (
            (1 + n) ** np.log2(0.85)
            if form == "crawford"
            else (1 + n) ** (1 + np.log2(0.85)) - n ** (1 + np.log2(0.85))
        )
        assert share[:, 0] == pytest.approx(min(0.75, 1 - 0.75 * left), abs=1e-5)


def test_good_and_bad_seasons_leave_the_mean_of_each_try_of_hands_that_are_known():
    """Four tries within a season share its luck, and each establishes as many trees on average as stated."""
    scenario = farm(tries=4, still=False)
    known = Practised(CurveHands("crawford", (2.5e11, 7.5e11), 0.85, 0.75), [Counted(0, 60, 28)])
    futures = draw_futures(scenario.risk, scenario.appraisal.horizon_years, NUMBER, hands=True)
    layout = lay_out(scenario, plan_of(scenario, [("2027-01", 40)]))
    layout = replace(layout, practice=replace(layout.practice, held=known))
    (shares,) = shares_by_hands(layout, futures).values()
    p = 1 - 0.75 * 61 ** np.log2(0.85)
    for number in range(4):
        error = shares[:, number].std() / np.sqrt(NUMBER)
        assert shares[:, number].mean() == pytest.approx(p * (1 - p) ** number, abs=4 * error + 1e-6)
        assert error > 0


@pytest.mark.long
@pytest.mark.parametrize("spread", [0.04, 0.3])
def test_means_by_take_are_those_of_each_take(spread):
    for take in (0.02, 0.4, 0.85):
        for factors in ((1.0, 1.0, 1.0), (1.1, 0.5)):
            stated = means_in_season(tuple(take * factor for factor in factors), spread)
            for number, mean in enumerate(stated):
                assert float(means_by_take(factors[: number + 1], spread)(take)) == pytest.approx(mean, abs=3e-4)


def test_a_future_is_the_farm_worked_out_with_the_takes_of_its_hands():
    scenario = farm(tries=3)
    shares, layout, futures = drawn_shares(scenario, plan_of(scenario), 512)
    judged = judge(layout, futures)
    for row in (0, 7, 400):
        numbers = iter(share[row] for share in shares)

        def takes(technique, start, numbers=numbers):
            q = next(numbers)
            return q / (1 - np.concatenate([[0.0], np.cumsum(q)[:-1]]))

        ones = np.ones(futures.years)
        npv, balance, _ = one_future(scenario, layout.strategy, ones, ones, ones, ones, takes)
        assert judged.npv[row] == pytest.approx(npv, abs=1e-7 * (1 + abs(npv)))
        assert judged.year_end[row] == pytest.approx(balance[11::12], abs=1e-7 * (1 + np.abs(balance).max()))


def test_nothing_is_drawn_where_nothing_was_counted_or_nothing_learns():
    counted, without = farm(still=False), farm(still=False, records=())
    strategy = plan_of(counted)
    off = as_held(without, strategy.treatments).model_copy(update={"planning": Planning()})  # its takes, stated
    found = [risk(one, [strategy], draws=512) for one in (counted, without, off)]
    assert [one.hands for one in found] == [True, False, False]
    assert (found[1].answers["it"].npvs == found[2].answers["it"].npvs).all()
    assert found[1].answers["it"].expected_npv == found[2].answers["it"].expected_npv
    # leaving the farm as it is grafts nothing: the hands do not matter to it
    assert found[0].answers["leave"].expected_npv == found[2].answers["leave"].expected_npv == 0


def test_worse_hands_are_worth_less_and_not_known_hands_spread_more():
    started = [("2027-03", 100)]

    def npvs(made, taken):
        scenario = farm(records=(GraftRecord(technique="way_a", made=made, taken=taken),))
        return risk(scenario, [plan_of(scenario, started)], draws=512).answers["it"]

    bad, good, many = npvs(20, 2), npvs(20, 16), npvs(2000, 1600)
    assert bad.npv.p50.value < good.npv.p50.value
    assert bad.worse_than_leaving.error > 0  # nothing else strays, and yet it is not sure
    assert np.std(many.npvs) < np.std(good.npvs) / 3


# The careful plan


@pytest.mark.long
def test_the_search_holds_the_practice_of_the_plan_on_expected_figures():
    """Its lines lie above every plan, and what it sees of that plan is what the futures say of it."""
    scenario = farm(tries=2, gap=6, still=False)
    plan = learned_plan(scenario, scenario.planning.model_copy(update={"years": 2})).plan
    futures = draw_futures(scenario.risk, scenario.appraisal.horizon_years, 128, 3, hands=True)
    search = CarefulSearch(plan, futures, None, None)
    rng = np.random.default_rng(1)
    size = len(search.problem.candidates)
    plans = [(rng.multinomial(rng.integers(0, 301), np.ones(size) / size), 0.0) for _ in range(4)]
    means = [search._see(one, futures).mean for one in plans]
    for plan_tried in plans:
        line, constant = search._line(plan_tried, search._see(plan_tried, futures))
        for (trees, _), mean in zip(plans, means, strict=True):
            point = np.zeros(line.size)
            point[search.model.trees] = trees
            bound = search.model.scale * float(line @ point) + constant
            assert mean <= bound + 1e-6 * (1 + abs(bound))
    assert search.grafts[0] == 60
    assert grafts_before(search.scenario, plan.treatments) == pytest.approx(search.grafts)


@pytest.mark.long
def test_the_careful_plan_keeps_its_promise_with_the_hands_of_each_future():
    """Judged on futures of other hands than it was sought on, each plan by its own practice."""
    records = (GraftRecord(technique="way_a", made=20, taken=16),)
    scenario = farm(still=False, records=records, highest_take=0.9)
    quick = scenario.planning.model_copy(update={"years": 1, "time_limit_seconds": 20.0})
    found = careful_plan(learned_plan(scenario, quick).plan, fresh=1024)
    assert found.result.hands
    assert found.holds
    assert found.kept[EXPECTED].value < SHARE <= found.kept[CAREFUL].value
    futures = draw_futures(scenario.risk, 12, 1024, scenario.risk.seed + 2, hands=True)
    lowest = judge(lay_out(as_held(found.scenario, found.careful.treatments), found.careful), futures).deepest
    assert found.kept[CAREFUL].value == pytest.approx((lowest >= found.level - 1.0).mean(), abs=0.01)


@pytest.mark.long
def test_on_the_demo_farm_what_took_orders_the_ways_that_learn_and_planting_stays():
    scenario = demo_scenario("first_grafters")

    def answers(*records):
        planning = scenario.planning.model_copy(update={"records": records})
        return risk(scenario.model_copy(update={"planning": planning}), draws=512).answers

    before, none, every = (
        answers(),
        *(answers(GraftRecord(technique="side_graft", made=20, taken=taken)) for taken in (0, 20)),
    )
    for figure_of in (lambda a: a.expected_npv, lambda a: a.npv.p50.value, lambda a: a.worst_tenth.value):
        assert figure_of(none["side_graft"]) < figure_of(every["side_graft"])
    assert none["rooted_cutting"].expected_npv == before["rooted_cutting"].expected_npv


def test_trees_that_wait_are_grafted_by_the_hands_of_each_future():
    """With a plan and without: the take of their next try is that of sixty grafts made, in each future its own."""
    scenario = farm(tries=3, gap=12)
    facts = {"stand": scenario.stands[0].name, "technique": "way_a", "trees": 60, "start": "2026-05", "taken": (20,)}
    scenario = Scenario.model_validate(scenario.model_dump() | {"under_way": (facts,)})
    take, weight = hands_weighed("crawford")
    for strategy in (plan_of(scenario, [("2027-03", 100)]), Strategy("leave")):
        shares, layout, futures = drawn_shares(scenario, strategy)
        within_its_error(shares[-1][:, 0], take(np.full(weight.size, 60.0)), weight)
        assert layout.outcomes[-1].takes[0] == pytest.approx(float(layout.practice.held.mean(60)), abs=1e-9)
        assert np.ptp(judge(layout, futures).year_end[:, -1]) > 0
    assert np.ptp(judge(layout, futures).npv) == 0  # they stand on both sides
