"""Trees under way on futures: what waits is drawn, what took is a fact, and both sides have it (method §11)."""

from dataclasses import replace

import numpy as np
import pytest
from factories import figure, operation, scenario, stand, technique_data

from renovation.decide.plan.why_not_more import with_take
from renovation.decide.risk import Strategy, lay_out, risk
from renovation.decide.risk.attempts import season_take
from renovation.decide.risk.futures import as_expected
from renovation.decide.risk.judge import judge
from renovation.decide.risk.strategy import LEAVE
from renovation.farm import farm_flows, household_cash
from renovation.inputs import Treatment

SPREAD = 0.05
LUCK = np.random.default_rng(3).uniform(0.05, 0.95, (8, 10))


def farm(**entry):
    """Twenty trees, of which fourteen were begun a year ago: three tries a year apart, dear to make."""
    way = technique_data(
        attempts=figure(3, "attempts"),
        gap_months=figure(12, "months"),
        take=figure((0.5,), "share by project year"),
        mature_crop=figure(3.0, "kg/tree/year"),
        operations={"graft": operation("attempt", 0, 2.0)},
    )
    begun = {"stand": "Lower field", "technique": "way_a", "trees": 14, "start": "2026-03", "taken": (5,), **entry}
    money = {"family_days": 5.0, "wage_per_day": 8.0, "savings": 500.0}
    return scenario({"way_a": way}, stands=(stand(trees=20).model_dump(),), under_way=(begun,), household=money)


def drawn(at):
    """Futures in which nothing strays but the take."""
    sure = as_expected(at.appraisal.horizon_years)
    ones = {name: np.repeat(getattr(sure, name), len(LUCK), axis=0) for name in ("price", "crop", "wage", "inputs")}
    return replace(sure, **ones, luck=LUCK, spread=SPREAD)


def test_the_balance_is_that_of_the_takes_that_a_future_has():
    at = farm()
    plan = (Treatment(stand="Lower field", technique="way_a", trees=4, start="2028-03"),)
    for strategy in (Strategy(LEAVE), Strategy("plan", plan)):
        judged = judge(lay_out(at, strategy), drawn(at))
        for row, luck in enumerate(LUCK):
            takes = tuple(season_take(luck, 0.5, SPREAD).tolist())
            other = with_take(at, "way_a", takes)
            flows = farm_flows(other, strategy.treatments)
            side = household_cash(other, flows).with_plan
            assert judged.deepest[row] == pytest.approx(side.balance.min(), rel=1e-9)
            assert judged.year_end[row] == pytest.approx(side.balance[11::12], rel=1e-9)


def test_what_took_or_was_given_up_is_no_matter_of_luck():
    at = farm(taken=(9,), given_up=5)
    assert lay_out(at, Strategy(LEAVE)).outcomes == ()
    assert np.ptp(judge(lay_out(at, Strategy(LEAVE)), drawn(at)).deepest) == 0
    waits = farm()
    assert np.ptp(judge(lay_out(waits, Strategy(LEAVE)), drawn(waits)).year_end[:, -1]) > 0


def test_a_plan_on_the_free_trees_is_worth_the_same_in_every_future_whatever_stands_beside():
    plan = Strategy("plan", (Treatment(stand="Lower field", technique="way_a", trees=6, start="2027-03"),))
    at = farm()
    bare = at.changed(under_way=(), stands__0__trees=6)
    answers = [risk(one, [plan], draws=1024).answers["plan"] for one in (at, bare)]
    np.testing.assert_allclose(answers[0].npvs, answers[1].npvs, rtol=1e-9)
