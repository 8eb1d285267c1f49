"""Risk in words: sentences that say what the results hold, tables with a row for each figure, the two commands."""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from factories import some_plain

from renovation.commands.program import answer
from renovation.decide import compare
from renovation.decide.risk import (
    Estimate,
    RiskResult,
    risk,
    sensitivity,
    strategies_of,
    stress_tests,
    win_map,
)
from renovation.inputs import demo_names, demo_scenario, save_scenario
from renovation.show import tidy
from renovation.show.risk import answers as say_answers
from renovation.show.risk import sentences as say
from renovation.show.risk import tables as risk_tables
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
CALM = {f"risk__{n}": 0.0 for n in ("price_sd", "crop_sd", "take_spread", "wage_drift_sd", "input_drift_sd")}


@pytest.fixture(scope="module")
def result():
    return risk(demo_scenario(), draws=512)


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "farm.toml"
    save_scenario(demo_scenario(), path)
    return str(path)


def test_what_is_said_of_a_strategy_is_what_the_answers_hold(result):
    plan = result.answers["plan"]
    said = " ".join(say.strategy_said(result, plan, WORDS))
    for figure in (plan.npv.p10, plan.npv.p50, plan.npv.p90, plan.worst_tenth, plan.deepest.p10):
        assert WORDS.round_money(figure.value, "USD") in said
    worst = max(range(25), key=lambda year: plan.missed_by_year[year].value)
    assert f"an instalment is missed, most often in {2027 + worst}." in said
    leave = " ".join(say.strategy_said(result, result.answers["leave"], WORDS))
    assert "instalment" not in leave
    assert "worth" not in leave


def test_a_sum_and_its_error_have_the_same_digits(result):
    """Futures know no cents: neither the sums nor their errors show any."""
    cells = [cell for row in risk_tables.answers(result, WORDS).rows for cell in row[1:] if "±" in cell]
    money = [cell for cell in cells if "$" in cell]
    assert money
    assert not [cell for cell in money if "." in cell]
    assert re.search(r"\$\d+\.\d", say.precision(result, WORDS)[0]) is None


def test_never_and_always_are_said_as_such():
    calm = demo_scenario().changed(
        **{f"risk__{n}": 0.0 for n in ("crop_sd", "take_spread", "wage_drift_sd", "input_drift_sd")},
        risk__price_sd=0.01,
        household__living_costs=260.0,  # more than the first years bring
    )
    result = risk(calm, draws=512)
    said = " ".join(say.strategy_said(result, result.answers["plan"], WORDS))
    assert "In none of 512 futures does it do worse than leaving the farm as it is." in said
    assert "In all of 512 futures some year spends more than it brings, most often in 20" in said


def test_a_worth_is_called_that_of_every_future_only_where_it_is():
    """Eight of ten futures may be alike, and the others not."""
    answer = risk(demo_scenario().changed(**CALM), draws=512).answers["plan"]
    found = RiskResult(demo_scenario(), 512, 1, {"plan": answer})
    assert say_answers.worth(found, answer, WORDS).startswith("In every future the plan is worth ")
    one = np.append(answer.npvs[:-1], answer.npvs[-1] - 500.0)
    assert say_answers.worth(found, replace(answer, npvs=one), WORDS).startswith(
        "In 8 of 10 futures the plan is worth "
    )


@pytest.mark.parametrize(
    ("value", "words"), [(0.26, "26%"), (0.004, "0.4%"), (0.0, "0%"), (1.0, "100%"), (0.996, "99.6%")]
)
def test_small_chances_keep_a_decimal(value, words):
    assert say.chance(Estimate(value, 0.0), WORDS) == words


def test_the_sentence_on_precision_names_the_widest_error(result):
    (tried, *more) = say.precision(result, WORDS)
    assert "512 futures" in tried
    widest = max(found.error for a in result.answers.values() for found in (*a.gap_by_year, a.any_missed, a.any_gap))
    assert WORDS.percent(widest, 1) in tried
    assert WORDS.number(result.futures_for()) in more[0]
    sums = [getattr(a, kind) for a in result.answers.values() for kind in ("npv", "deepest")]
    worst = max(max(spread.p10.error, spread.p50.error, spread.p90.error) for spread in sums)
    assert f"each sum to within {WORDS.money(math.ceil(worst), 'USD', 0)}" in tried


@pytest.mark.long
@pytest.mark.parametrize("name", some_plain(demo_names(), ["cooperative_nursery"]))
def test_every_farm_has_its_text_in_any_width(name):
    farm = demo_scenario(name)
    found, tests = risk(farm, draws=512), stress_tests(farm)
    for width in (50, 120):
        text = risk_tables.risk_text(found, tests, WORDS, width, with_years=True)
        assert "{" not in text
        assert all(Voice.of(farm, WORDS).strategy(key) in text for key in found.answers)
    bars = [sensitivity(compare(farm), key) for key in compare(farm).outcomes]
    for one in bars:
        named = [say.driver_name(one, bar, WORDS) for bar in one.bars]
        assert len(set(named)) == len(named)
    assert "{" not in risk_tables.sensitivity_text(bars, WORDS, 100, None)


def test_hard_cases_are_told_worst_first(result):
    farm = demo_scenario()
    tests = stress_tests(farm, strategies_of(farm))
    table = risk_tables.stress(tests, "plan", WORDS)
    assert table.rows[0][0] == "As expected"
    assert table.rows[-1][0] == "All together"
    assert len(table.rows) == 7
    notes = " ".join(say.case_notes(tests, WORDS))
    assert "1978 to 1982" in notes
    assert "costs 50% more" in notes
    lost = say.hardest(tests, WORDS)
    assert len(lost) == len(tests.rows)
    assert "from the first year" in notes
    board = stress_tests(farm.changed(risk__price_setting="board"))
    assert "from the second year" in " ".join(say.case_notes(board, WORDS))
    late = stress_tests(farm.changed(risk__stress__lost_crop_year=40))
    assert "Left out" in say.case_notes(late, WORDS)[-1]


def test_the_bars_mark_what_is_critical():
    found = sensitivity(compare(demo_scenario()))
    said = " ".join(say.rests_on(found, WORDS))
    for bar in found.critical:
        assert say.driver_name(found, bar, WORDS) in said
    turning = [bar for bar in found.bars if any((end or 0) * found.npv < 0 for end in (bar.npv_low, bar.npv_high))]
    assert (f"{len(turning)} figures can each alone turn it into a" in said) == (len(turning) > 1)
    table = risk_tables.bars(found, WORDS, only=5)
    assert len(table.rows) == 5
    marks = [row["critical"] for row in table.records()]
    assert marks == ["yes" if bar.critical else "" for bar in found.bars[:5]]


def test_the_map_in_words():
    found = win_map(compare(demo_scenario()), points=9)
    own, shares = say.map_said(found, WORDS)
    assert "wins" in own
    assert shares.count("%") == sum(share > 0 for share in found.shares.values())


# The commands


def test_the_risk_command(file):
    text = answer(["risk", file, "--futures", "512", "--years"])
    assert "What the futures say, with the error of each figure" in text
    assert "Chances year by year" in text
    again = answer(["risk", file, "--futures", "512", "--years"])
    assert again == text


def test_the_risk_command_for_other_programs(file):
    document = json.loads(answer(["risk", file, "--futures", "512", "--seed", "7", "--json"]))
    assert document["risk"]["futures"] == 512
    assert document["risk"]["seed"] == 7
    direct = risk(demo_scenario(), draws=512, seed=7)
    assert document["risk"] == json.loads(tidy.json_text(direct.as_dict()))
    assert [case["case"] for case in document["stress"]["cases"][:6]][-1] == "together"
    rows = answer(["risk", file, "--futures", "512", "--csv", "-", "--csv-table", "years"]).splitlines()
    assert rows[0].startswith("strategy,year,gap,gap_error,missed")
    assert len(rows) == 1 + 25 * len(direct.answers)


@pytest.mark.parametrize(
    ("argv", "sentence"),
    [
        (["--futures", "1000"], "--futures: 1000 is not possible. Name a number that doubles from 1, from 512 to"),
        (["--futures", "many"], "--futures: many is not possible."),
        (["--seed", "-3"], "--seed: -3 is not a whole number from 0 to"),
        (["--csv", "-", "--json"], "--json and --csv - both write here."),
        (["--csv-table", "months"], "There is no table months."),
    ],
)
def test_the_risk_command_refuses_in_words(file, argv, sentence):
    from renovation.commands.shared import Refused

    with pytest.raises(Refused) as caught:
        answer(["risk", file, *argv])
    assert caught.value.sentences[0].startswith(sentence)


def test_the_sensitivity_command(file):
    short = answer(["sensitivity", file])
    assert short.count("what the answer rests on, figure by figure") == 2
    whole = answer(["sensitivity", file, "--way", "side_graft", "--all"])
    assert "Sharpening stone: price" in whole
    assert "Sharpening stone: price" not in short
    document = json.loads(answer(["sensitivity", file, "--way", "side_graft", "--json"]))
    direct = sensitivity(compare(demo_scenario()), "side_graft")
    assert document["sensitivity"] == [json.loads(tidy.json_text(direct.as_dict()))]
    rows = answer(["sensitivity", file, "--way", "side_graft", "--csv", "-"]).splitlines()
    assert len(rows) == 1 + len(direct.bars)


@pytest.mark.long
def test_the_chance_of_a_missed_instalment_is_said_beside_that_of_doing_nothing():
    from risk_reference import lean_farm

    from renovation.decide.plan import make_plan
    from renovation.decide.risk.careful import careful_plan
    from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE
    from renovation.inputs.loans import LoanOffer, Payout
    from renovation.inputs.planning import Planning
    from renovation.show.plan import careful as careful_words
    from renovation.show.risk.answers import often

    offer = LoanOffer(
        name="Offer",
        limit=300.0,
        payouts=(Payout(month="2027-01"),),
        rate_per_year=0.3,
        term_months=60,
        grace_months=12,
    )
    lent = Planning(years=2, time_limit_seconds=20.0, loan=offer)
    for savings, paid in ((100.0, True), (20.0, False)):
        found = careful_plan(make_plan(lean_farm(savings), lent), fresh=1024)
        assert found.instalments == paid
        lines = careful_words.said(found, WORDS)
        (missed,) = [sentence for sentence in lines if "is missed" in sentence]
        for key in (CAREFUL, EXPECTED, LEAVE):
            assert often(found.answers[key].any_missed, 1024, WORDS) in missed
        assert [sentence for sentence in lines if "in hand and pays every instalment in" in sentence] == lines[
            1:2
        ] * paid
        assert (WORDS("risk.robust.unpaid") in lines) != paid
        row = next(row for row in careful_words.answers(found, WORDS).rows if row[0] == WORDS("risk.figure.any_missed"))
        assert WORDS.percent(found.missed[CAREFUL].value, 1) in row[-1]


@pytest.mark.long
def test_the_plan_that_stands_up_in_words():
    from risk_reference import lean_farm

    from renovation.decide.plan import make_plan
    from renovation.decide.risk.careful import careful_plan
    from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE
    from renovation.inputs.planning import Planning
    from renovation.show.plan import careful as careful_words
    from renovation.show.risk.answers import often

    quick = Planning(years=2, time_limit_seconds=20.0)
    found = careful_plan(make_plan(lean_farm(), quick), fresh=1024)
    kept, cost, trees, sought, tried = careful_words.said(found, WORDS)
    assert "$50.00" in kept
    for key in (CAREFUL, EXPECTED, LEAVE):
        assert often(found.kept[key], 1024, WORDS) in kept
    assert WORDS.round_money(found.cost, "USD") in cost
    assert WORDS.round_money(found.answers[CAREFUL].expected_npv, "USD") in cost
    first, every = (sum(t.trees for t in found.careful.treatments if t.start < end) for end in ("2028-01", "9999-01"))
    assert WORDS("unit.trees", n=first) in trees
    assert f"in all {every} in place of {found.expected.trees}" in trees
    assert "Not every careful plan was tried" in sought
    assert "1,024" in tried
    table = careful_words.starts(found, WORDS)
    assert table.rows[-1][-2:] == (WORDS.number(every), WORDS.number(found.expected.trees))
    for column in (3, 4):
        assert sum(int(row[column] or 0) for row in table.rows[:-1]) == int(table.rows[-1][column])
    shown = careful_words.text(found, WORDS, 100)
    assert "The careful plan, trees" in shown
    assert "The bolder plan, trees" in shown

    calm = careful_plan(make_plan(lean_farm(1e6), quick), fresh=1024)
    assert "stands up as it is" in careful_words.said(calm, WORDS)[0]
    assert len(careful_words.said(calm, WORDS)) == 2
    shown = careful_words.text(calm, WORDS, 100)
    assert "Plan on expected" not in shown  # the same plan is not shown twice
    assert WORDS("risk.robust.starts") not in shown
    short = careful_plan(make_plan(lean_farm(200.0), quick), fresh=1024)
    lowered, kept, bound, *_ = careful_words.said(short, WORDS)
    assert "$50.00" in lowered
    assert WORDS.round_money(short.level, "USD") in lowered
    assert WORDS.round_money(short.level, "USD") in kept
    assert WORDS.round_money(float(math.ceil(short.bound)), "USD") in bound  # never below what is proven
    assert not [sentence for sentence in careful_words.said(short, WORDS) if "instalment" in sentence]  # none is owed
    stopped = careful_plan(make_plan(lean_farm(), quick), fresh=1024, cancel=lambda: True)
    first, lowered, kept, tried = careful_words.said(stopped, WORDS)
    assert "was stopped" in first
    assert "the plan keeps that as it is" in lowered
    assert not any("stands up" in sentence or "areful" in sentence for sentence in (lowered, kept, tried))
