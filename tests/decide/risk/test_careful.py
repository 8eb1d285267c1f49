"""The careful plan, against the promise, against counted futures, and against plans counted out one by one."""

from dataclasses import replace

import numpy as np
import pytest
from factories import loan_offer
from random_farms import changed_planning, random_farm
from risk_reference import lean_farm, paid
from tiny_farms import tiny_farm

from renovation.decide.plan import learned_plan, make_plan
from renovation.decide.plan.clock import Clock
from renovation.decide.plan.exact import account
from renovation.decide.plan.rows import minimising
from renovation.decide.risk import Strategy, draw_futures, judge, lay_out
from renovation.decide.risk.careful import TRAINING, bolder_plan, careful_plan
from renovation.decide.risk.careful_rows import SHARE, Lines
from renovation.decide.risk.careful_search import CarefulSearch
from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE
from renovation.inputs import Learning, Treatment, demo_names, demo_scenario
from renovation.inputs.planning import Planning

QUICK = Planning(years=2, time_limit_seconds=20.0)


@pytest.mark.long
def test_the_promise_costs_something_where_money_is_short_and_holds_on_fresh_futures():
    found = careful_plan(make_plan(lean_farm(), QUICK))
    assert found.settled
    assert found.at_floor
    assert found.bound is None
    assert found.holds
    assert not found.same
    expected, robust = found.answers[EXPECTED], found.answers[CAREFUL]
    assert found.kept[EXPECTED].value < SHARE  # the plan on expected figures breaks it
    assert found.kept[CAREFUL].value >= found.kept[EXPECTED].value
    assert found.cost == pytest.approx(expected.expected_npv - robust.expected_npv)
    assert found.cost > 0
    assert sum(t.trees for t in found.careful.treatments) < found.expected.trees
    assert robust.deepest.p10.value >= expected.deepest.p10.value


def test_where_money_is_plenty_the_plan_is_the_expected_one():
    found = careful_plan(make_plan(lean_farm(savings=1e6), QUICK))
    assert found.at_floor
    assert found.same
    assert found.cost == 0
    assert found.rounds == 0
    assert sum(t.trees for t in found.careful.treatments) == found.expected.trees


def test_the_promise_kept_is_the_share_of_futures_counted_one_by_one():
    farm = lean_farm()
    found = careful_plan(make_plan(farm, QUICK), fresh=1024)
    futures = draw_futures(farm.risk, 12, 1024, farm.risk.seed + 2)
    lowest = judge(lay_out(farm, found.careful), futures).deepest
    counted = np.mean([low >= found.level - 1.0 for low in lowest])
    assert found.kept[CAREFUL].value == pytest.approx(counted, abs=0.01)


def in_january(farm):
    """The lean farm whose trees are grafted in January only, so that two years have two starts to count out."""
    way = farm.techniques["way_a"].model_copy(update={"start_months": (1,)})
    return farm.model_copy(update={"techniques": type(farm.techniques)({"way_a": way})})


def _counted_out(farm, step):
    """Worth, mean of the worst tenth, and lowest balances of every plan of the lean farm in steps of some trees."""
    futures = draw_futures(farm.risk, farm.appraisal.horizon_years, TRAINING, farm.risk.seed + 1)
    plan = make_plan(farm, QUICK)
    months = [start.start for start in plan.problem.candidates]
    assert len(months) == 2
    found = []
    for first in range(0, 301, step):
        for second in range(0, 301 - first, step):
            treatments = tuple(
                Treatment(
                    stand=farm.stands[0].name,
                    technique="way_a",
                    trees=trees,
                    start=f"{2027 + month // 12}-{month % 12 + 1:02d}",
                )
                for trees, month in zip((first, second), months, strict=True)
                if trees
            )
            lowest = np.sort(judge(lay_out(farm, Strategy("counted", treatments)), futures).deepest)
            worth = account(plan.problem, np.array([first, second])).aim
            found.append((worth, lowest[: round(TRAINING * 0.1)].mean(), lowest))
    return plan, found


@pytest.mark.long
def test_no_plan_counted_out_keeps_the_promise_and_is_worth_more():
    """In steps of ten trees; what one step is worth is the most by which a plan between two steps is better."""
    farm = in_january(lean_farm())
    plan, counted = _counted_out(farm, 10)
    margin = 1.645 * np.sqrt(SHARE * (1 - SHARE) / TRAINING)
    keeping = [worth for worth, _, lowest in counted if (lowest >= farm.household.floor).mean() >= SHARE + margin]
    assert 0 < len(keeping) < len(counted)
    found = careful_plan(plan)
    worth = account(plan.problem, _trees_of(plan, found.careful)).aim
    a_tree = (plan.aim - plan.nothing.aim) / plan.trees
    assert worth >= max(keeping) - 10 * a_tree
    assert worth <= max(keeping) + 20 * a_tree


def _trees_of(plan, strategy):
    """Trees of each candidate of a plan in a strategy."""
    started = {(t.technique, t.start): t.trees for t in strategy.treatments}
    named = [(c.technique, plan.problem.months_named[c.start]) for c in plan.problem.candidates]
    return np.array([started.get(name, 0) for name in named])


@pytest.mark.long
def test_where_the_floor_cannot_be_kept_the_smallest_breach_is_and_the_bound_holds_for_every_plan():
    farm = in_january(lean_farm(savings=200.0))
    plan, counted = _counted_out(farm, 20)
    found = careful_plan(plan)
    floor = farm.household.floor
    assert found.settled
    assert not found.at_floor
    assert found.level < floor
    assert found.holds
    margin = 1.645 * np.sqrt(SHARE * (1 - SHARE) / TRAINING)
    assert all((lowest >= floor).mean() < SHARE + margin for _, _, lowest in counted)  # truly none keeps it
    means = [mean for _, mean, _ in counted]
    assert found.bound is not None
    assert max(means) <= found.bound
    assert found.bound - max(means) <= 0.05 * (floor - found.bound)  # and it is no idle bound
    place = TRAINING - int(np.ceil((SHARE + margin) * TRAINING))
    levels = [lowest[place] for _, _, lowest in counted]
    assert found.level >= max(levels) - 0.01 * (floor - max(levels))
    lowest = judge(lay_out(farm, Strategy(LEAVE)), draw_futures(farm.risk, 12, TRAINING, farm.risk.seed + 1)).deepest
    assert found.level >= np.sort(lowest)[place]  # doing nothing breaks the floor by no less


def small_farm(savings, trees=12):
    """The lean farm with few trees, everything else in proportion."""
    share = trees / 300
    farm = in_january(lean_farm(savings * share))
    stand = farm.stands[0].model_copy(update={"trees": trees})
    household = {"family_days": 8.0 * share, "living_costs": 38.0 * share, "floor": 50.0 * share}
    household = farm.household.model_copy(update=household)
    return farm.model_copy(update={"household": household, "stands": (stand,)})


@pytest.mark.long
@pytest.mark.parametrize("savings", [100.0, 200.0, 300.0, 400.0])
def test_the_level_promised_where_the_floor_is_out_of_reach_is_the_highest_of_all_plans_counted(savings):
    """Every plan of twelve trees in two Januaries, none left out: that no plan keeps more, within a tree's rounding."""
    farm = small_farm(savings)
    plan = make_plan(farm, QUICK)
    found = careful_plan(plan)
    futures = draw_futures(farm.risk, 12, TRAINING, farm.risk.seed + 1)
    place = TRAINING - int(np.ceil((SHARE + 1.645 * np.sqrt(SHARE * (1 - SHARE) / TRAINING)) * TRAINING))
    levels, search = {}, CarefulSearch(plan, futures)
    for first in range(13):
        for second in range(13 - first):
            trees = np.array([first, second])
            lowest = np.sort(judge(lay_out(farm, search.strategy(trees, 0.0)), futures).deepest)
            if not trees.any() or account(plan.problem, trees).keeps_promises:
                levels[first, second] = lowest[place]
    highest = max(levels.values())
    assert len(levels) >= 15
    assert highest < farm.household.floor  # truly none keeps it
    assert not found.at_floor
    assert found.holds
    assert found.level == pytest.approx(levels[tuple(_trees_of(plan, found.careful))], abs=1e-9)  # its own, no more
    mends = highest - levels[0, 0]
    assert mends > 3 * (farm.household.floor - highest)  # of what a plan can mend on this farm
    assert found.level >= highest - 0.01 * mends


@pytest.mark.long
def test_a_search_that_is_stopped_gives_the_best_plan_so_far():
    asked = []
    found = careful_plan(make_plan(lean_farm(), QUICK), on_round=asked.append, cancel=lambda: len(asked) >= 3)
    assert not found.settled
    assert found.rounds == 3
    assert found.careful.treatments is not None


def _plan_at_random(problem, rng):
    """Trees of some candidates, no more on a stand than stand there, and any amount of the loan on offer."""
    trees = np.zeros(len(problem.candidates), dtype=np.int64)
    for stand, number in enumerate(problem.trees):
        here = np.flatnonzero((problem.stand == stand) & (rng.random(trees.size) < 0.4))
        if here.size:
            trees[here] = rng.multinomial(rng.integers(0, number + 1), np.ones(here.size) / here.size)
    offer = problem.planning.loan
    return trees, float(rng.integers(0, offer.limit)) if offer else 0.0


def _point(search, plan):
    """A plan as a point of the programme: its trees, what its tools cost at each month, and its loan."""
    trees, loan = plan
    point = np.zeros(search.model.program.gain.size)
    point[search.model.trees] = trees
    result = account(search.problem, trees, loan)
    pieces = {}
    for tool in search.problem.tools:  # tools of one life and one need are bought as one
        pieces.setdefault((tool.life_months, tool.need.tobytes()), result.bought[tool.name])
    months = search.tools.month
    ends = np.flatnonzero(np.diff(months, append=-1) <= 0) + 1  # each tool's columns go forward in time
    for bought, first, after in zip(pieces.values(), [0, *ends], ends, strict=False):
        point[search.model.bought][first:after] = bought[months[first:after]]
    assert search.tools.price @ point[search.model.bought] == pytest.approx(result.tools.sum())
    if search.model.loan is not None:
        point[search.model.loan] = loan / search.model.scale
    return point


def _farms_with_everything():
    """Hired limits, several ways and stands, tools, premiums; with and without a loan; many trees and few."""
    yield paid(lean_farm()), QUICK
    yield random_farm(0, stands=2, years=2, horizon=14)
    for seed in (2, 5, 7, 9):
        yield tiny_farm(seed)


@pytest.mark.long
def test_no_plan_lies_above_a_line_that_was_learned():
    """Each row holds for the mean of the worst tenth of any plan, and for the expected run: on plans at random."""
    lent = tooled = 0
    for farm, planning in _farms_with_everything():
        futures = draw_futures(farm.risk, farm.appraisal.horizon_years, 256, 3)
        search = CarefulSearch(make_plan(farm, planning, gap=0.05, time_limit_seconds=20), futures, None, None)
        problem, scale = search.problem, search.model.scale
        rng = np.random.default_rng(1)
        plans = [_plan_at_random(problem, rng) for _ in range(6)]
        points = [_point(search, plan) for plan in plans]
        lent += sum(loan > 0 for _, loan in plans)
        tooled += sum(point[search.model.bought].any() for point in points)
        instalments = problem.planning.loan.term_months + 2 if problem.planning.loan else 0
        cents = 0.005 * instalments  # instalments are rounded to the cent, the row is not
        for lines, seen_on, floor, some in (
            (search.tail, futures, farm.household.floor, None),
            (search.calm, search.sure, problem.floor, None),
            (Lines(), futures, farm.household.floor, rng.permutation(256)[:230]),
        ):
            means = [search._see(plan, seen_on, some).mean for plan in plans]
            before = len(lines.rows)
            for plan in plans[:4]:
                search._learn(lines, plan, search._see(plan, seen_on, some))
            for number, (line, limit) in enumerate(zip(lines.rows, lines.limits, strict=True)):
                bounds = [floor + scale * float(line @ point - limit) for point in points]
                for mean, bound in zip(means, bounds, strict=True):
                    assert mean <= bound + cents + 1e-6 * (1 + abs(bound))
                if number >= before:  # and it touches where it was learned
                    place = number - before
                    assert bounds[place] == pytest.approx(means[place], abs=1e-6 * (1 + abs(means[place])))
    assert lent >= 5
    assert tooled >= 5


OFFER = loan_offer(limit=3000.0, rate_per_year=0.11, term_months=60, grace_months=12)
STILL = {f"risk__{name}": 0.0 for name in ("price_sd", "crop_sd", "take_spread", "wage_drift_sd", "input_drift_sd")}


def test_a_plan_that_only_borrows_more_is_not_the_expected_one():
    # a family day costs nothing here: two starts in other months would be worth less otherwise
    planning = Planning(years=2, time_limit_seconds=20.0, loan=OFFER, value_per_family_day=0.0)
    found = careful_plan(make_plan(lean_farm(400.0), planning), fresh=1024)
    assert found.kept[EXPECTED].value < SHARE <= found.kept[CAREFUL].value
    assert sum(t.trees for t in found.careful.treatments) == found.expected.trees
    # worth is counted without the loan; both searches end within their gaps
    assert abs(found.cost) <= 1e-3 * found.expected.account.aim
    assert found.careful.loans[0].amount > found.expected.account.loan
    assert not found.same


def test_where_nothing_strays_the_plan_is_the_expected_one_though_instalments_are_rounded():
    farm = lean_farm(460.0).changed(**STILL)
    plan = make_plan(farm, Planning(years=2, time_limit_seconds=20.0, loan=OFFER))
    low = lay_out(farm, Strategy("it", plan.treatments, (plan.loan,))).cash.deepest
    assert farm.household.floor - 0.1 < low < farm.household.floor - 0.01  # some cents, which no family misses
    found = careful_plan(plan, fresh=1024)
    assert found.same
    assert found.at_floor
    assert found.rounds == 0
    assert found.kept[CAREFUL].value == 1


def test_a_farm_on_which_nothing_may_be_started_is_judged_too():
    farm = lean_farm()
    farm = farm.model_copy(update={"stands": tuple(s.model_copy(update={"untouched": True}) for s in farm.stands)})
    found = careful_plan(make_plan(farm, QUICK), fresh=1024)
    assert found.careful.treatments == ()
    assert found.same
    assert not found.at_floor
    assert found.level < found.floor


def test_how_often_the_floor_is_kept_is_what_the_table_of_risk_says():
    found = careful_plan(make_plan(lean_farm(), QUICK), fresh=1024)
    for key, answer in found.answers.items():
        assert found.kept[key].value == pytest.approx(1 - answer.below_floor.value, abs=1e-12)


@pytest.mark.long
def test_no_bound_is_claimed_where_savings_bear_interest():
    """A balance that earns interest may lie above every line; so the lines prove nothing of it."""
    assert careful_plan(make_plan(lean_farm(200.0), QUICK), fresh=1024).bound is not None
    earning = lean_farm(200.0).changed(household__savings_rate=0.05)
    assert careful_plan(make_plan(earning, QUICK), fresh=1024).bound is None


@pytest.mark.long
def test_no_bound_is_claimed_where_hands_learn():
    """Another plan has another practice, and so other takes than those that the lines were learned with."""
    learning = QUICK.model_copy(update={"learning": Learning(first_take=0.6, highest_take=0.6, rate=1.0)})
    found = careful_plan(learned_plan(lean_farm(200.0), learning).plan, fresh=1024)
    assert not found.at_floor
    assert found.bound is None


@pytest.mark.long
def test_the_work_done_ends_the_search_for_the_bolder_plan_and_not_the_clock(monkeypatch):
    """The demo farm whose best plan is long to prove: without any clock the plan, its bound and its status stay."""
    found = bolder_plan(demo_scenario("few_hands")).plan
    monkeypatch.setattr(Clock, "left", 1e6)
    unhurried = bolder_plan(demo_scenario("few_hands")).plan
    assert found.solution.status == unhurried.solution.status == "proven"
    assert 1e-4 < found.solution.gap <= 0.005
    assert found.treatments == unhurried.treatments
    assert found.solution.bound == unhurried.solution.bound


def test_a_search_that_the_clock_cuts_short_says_so():
    plan = make_plan(lean_farm(), QUICK)
    hurried = replace(plan.problem, planning=QUICK.model_copy(update={"time_limit_seconds": 1e-9}))
    found = careful_plan(replace(plan, problem=hurried), training=256, fresh=256)
    assert not found.settled


def test_a_plan_that_comes_again_ends_the_rounds():
    """Of few trees a fraction is rounded down to the same plan over and over; its row is there already."""
    farm, planning = tiny_farm(25)
    search = CarefulSearch(make_plan(farm, planning), draw_futures(farm.risk, 7, 512, 3), None, None)
    aim = minimising(search.model, "floor")
    for program in (aim, aim.relaxed):
        tried = [(*plan[0], plan[1]) for _, plan, _ in search._rounds(program, 15, 0.01)]
        assert tried
        assert len(tried) == len(set(tried))
    assert search.rounds < 30


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
def test_the_floor_is_kept_in_nine_of_ten_fresh_futures_on_every_demo_farm(name):
    """With each farm's own limits, loan and learning, planned for a year; on 16,384 futures that no plan has seen."""
    farm = demo_scenario(name)
    plan = learned_plan(farm, changed_planning(farm.planning, years=1)).plan
    found = careful_plan(plan, fresh=16_384)
    assert found.settled
    assert found.at_floor
    assert found.holds
    assert found.as_dict()["cost"] == found.cost
    assert found.cost >= 0
    again = judge(
        lay_out(plan.scenario, replace(found.careful, key="again")),
        draw_futures(farm.risk, farm.appraisal.horizon_years, 16_384, 4711),
    ).deepest
    assert (again >= farm.household.floor).mean() >= SHARE - 1.96 * np.sqrt(SHARE * (1 - SHARE) / 16_384)
    sure = lay_out(plan.scenario, found.careful)
    assert sure.cash.balance.min() >= plan.problem.floor - 0.01  # nor is it broken if all goes as expected
    print(name, found.kept[CAREFUL], found.kept[EXPECTED], found.kept[LEAVE], found.cost)


def _owing(savings, floor, limit, rate=0.05):
    """The lean farm with a loan on offer, and a floor that may lie below 0: what the shop would let the family owe."""
    farm = lean_farm(savings)
    farm = farm.model_copy(update={"household": farm.household.model_copy(update={"floor": floor})})
    return farm, Planning(
        years=2,
        time_limit_seconds=20.0,
        loan=OFFER.model_copy(update={"limit": limit, "rate_per_year": rate}),
    )


def _kept_alone(farm, strategy, level, draws=4096):
    """Shares of futures of another seed that keep the level, that miss no instalment, and that do both."""
    found = judge(
        lay_out(farm, strategy), draw_futures(farm.risk, farm.appraisal.horizon_years, draws, farm.risk.seed + 77)
    )
    kept, paid = found.deepest >= level - 0.5, ~found.missed.any(axis=1)
    return kept.mean(), paid.mean(), (kept & paid).mean()


def test_instalments_are_kept_too_where_the_floor_lies_far_below_nothing():
    farm, planning = _owing(100.0, -5000.0, 1500.0, 0.05)
    found = careful_plan(make_plan(farm, planning), fresh=2048)
    assert found.settled
    assert found.at_floor
    assert found.instalments
    assert found.holds
    expected = Strategy(EXPECTED, found.expected.treatments, (found.expected.loan,))
    floor_kept, paid, _ = _kept_alone(farm, expected, -5000.0)
    assert floor_kept == 1  # the floor alone asks nothing
    assert paid < 0.88  # and yet the plan on expected figures misses instalments
    assert found.kept[EXPECTED].value == pytest.approx(1 - found.missed[EXPECTED].value, abs=1e-12)
    _, paid, _ = _kept_alone(farm, found.careful, -5000.0)
    assert paid >= SHARE - 0.01
    assert found.missed[LEAVE].value == 0
    assert found.as_dict()["missed"][CAREFUL] == found.answers[CAREFUL].any_missed.as_dict()


@pytest.mark.long
def test_instalments_are_kept_where_the_promise_is_lowered_below_nothing():
    """The plan that owes least at its worst borrows, and misses instalments; the careful one pays them first."""
    farm, planning = _owing(200.0, 50.0, 300.0, 0.11)
    plan = make_plan(farm, planning)
    found = careful_plan(plan, fresh=2048)
    assert not found.at_floor
    assert found.level < 0
    assert found.instalments
    assert found.holds
    let_be = CarefulSearch(plan, draw_futures(farm.risk, 12, TRAINING, farm.risk.seed + 1), None, None)
    let_be.owes[:] = False  # the same search, in which no month counts as one with an instalment
    let_be.instalments = False
    borrows = let_be.strategy(*let_be.run())
    kept, paid, _ = _kept_alone(farm, borrows, let_be.level)
    assert kept >= SHARE - 0.01
    assert paid < 0.85
    assert let_be.level > found.level
    kept, paid, both = _kept_alone(farm, found.careful, found.level)
    assert min(kept, paid, both) >= SHARE - 0.01


@pytest.mark.long
def test_where_no_plan_keeps_the_instalments_the_smallest_breach_is_kept_and_that_is_said():
    """Without the loan the floor breaks in the first month, all as expected; so every plan has instalments."""
    farm, planning = _owing(20.0, 50.0, 400.0, 0.3)
    plan = make_plan(farm, planning)
    assert plan.loan is not None
    found = careful_plan(plan, fresh=2048)
    assert not found.instalments
    assert not found.at_floor
    assert found.holds
    assert found.missed[CAREFUL].value > 0.1
    assert found.kept[CAREFUL].value == pytest.approx(
        (found.answers[CAREFUL].deepests >= found.level - 0.5).mean(), abs=0.002
    )
    assert found.as_dict()["promise"]["instalments"] is False


@pytest.mark.long
@pytest.mark.parametrize(
    ("savings", "floor", "limit", "rate"), [(300.0, -5000.0, 1000.0, 0.05), (100.0, -400.0, 1500.0, 0.03)]
)
def test_no_plan_with_a_loan_counted_out_keeps_floor_and_instalments_and_is_worth_more(savings, floor, limit, rate):
    """In steps of twenty trees and a tenth of the loan."""
    farm, planning = _owing(savings, floor, limit, rate)
    farm = in_january(farm)
    plan = make_plan(farm, planning)
    futures = draw_futures(farm.risk, 12, TRAINING, farm.risk.seed + 1)
    margin = 1.645 * np.sqrt(SHARE * (1 - SHARE) / TRAINING)
    search = CarefulSearch(plan, futures, None, None)
    keeping = []
    for first in range(0, 301, 20):
        for second in range(0, 301 - first, 20):
            for loan in np.linspace(0, limit, 11):
                trees = np.array([first, second])
                if account(plan.problem, trees, loan).breaches:
                    continue
                found = judge(lay_out(farm, search.strategy(trees, loan)), futures)
                if ((found.deepest >= floor) & ~found.missed.any(axis=1)).mean() >= SHARE + margin:
                    keeping.append((account(plan.problem, trees, loan).aim, first, second, loan))
    found = careful_plan(plan)
    loan = sum(one.amount for one in found.careful.loans)
    worth = account(plan.problem, _trees_of(plan, found.careful), loan).aim
    assert len(keeping) > 0
    assert found.kept[EXPECTED].value < SHARE + margin
    assert worth >= max(keeping)[0] - 0.002 * abs(max(keeping)[0])  # the gap to which plans are proven on the way
