"""Sentences: every case of the answer by hand-made results, and true on the demo farm by substitution."""

import re
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from factories import scenario, technique_data
from results import stated, with_measures

from renovation.decide import BreakEven, Swing, Ties, compare, ranges, weigh
from renovation.decide.switching import Line, TakeCurve
from renovation.inputs import Scenario, demo_scenario
from renovation.money import Irr
from renovation.show.compare import answer, sentences
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
PAIR = ("side_graft", "rooted_cutting")


@pytest.fixture(scope="module")
def pair():
    """Side graft against rooted cuttings on the demo farm."""
    return compare(demo_scenario(), techniques=PAIR)


def alone(comparison, way="side_graft"):
    """The comparison with one way only."""
    outcomes = MappingProxyType({way: comparison.outcomes[way]})
    return replace(comparison, outcomes=outcomes, headline=way, against=None)


def empty(comparison, not_possible=()):
    """The comparison with no way at all."""
    return replace(comparison, outcomes=MappingProxyType({}), headline=None, against=None, not_possible=not_possible)


AFTER_3_4, AFTER_7_2 = 3 + 4 / 12, 7 + 2 / 12


@pytest.mark.parametrize(
    ("first", "second", "sentence"),
    [
        # the sentence that the job itself asks for
        (
            AFTER_3_4,
            AFTER_7_2,
            "Side grafting pays back in 3 years 4 months; planting rooted cuttings in 7 years 2 months.",
        ),
        (AFTER_3_4, 0.0, "Side grafting pays back in 3 years 4 months; planting rooted cuttings is never behind."),
        (
            1.0,
            None,
            "Side grafting pays back in 1 year; planting rooted cuttings does not pay back within 25 years.",
        ),
        (0.0, AFTER_7_2, "Side grafting is never behind; planting rooted cuttings pays back in 7 years 2 months."),
        (0.0, 0.0, "Neither side grafting nor planting rooted cuttings is ever behind."),
        (
            0.0,
            None,
            "Side grafting is never behind; planting rooted cuttings does not pay back within 25 years.",
        ),
        (
            None,
            AFTER_7_2,
            "Side grafting does not pay back within 25 years; planting rooted cuttings pays back in 7 years 2 months.",
        ),
        (
            None,
            0.0,
            "Side grafting does not pay back within 25 years; planting rooted cuttings is never behind.",
        ),
        (None, None, "Neither side grafting nor planting rooted cuttings pays back within 25 years."),
    ],
)
def test_the_headline_says_every_pair_of_paybacks(pair, first, second, sentence):
    changed = with_measures(pair, side_graft={"payback_years": first}, rooted_cutting={"payback_years": second})
    assert sentences.headline(changed, WORDS) == sentence


@pytest.mark.parametrize(
    ("payback", "sentence"),
    [
        (0.25, "Side grafting pays back in 3 months."),
        (0.0, "Side grafting is never behind."),
        (None, "Side grafting does not pay back within 25 years."),
    ],
)
def test_the_headline_of_one_way_alone(pair, payback, sentence):
    changed = with_measures(alone(pair), side_graft={"payback_years": payback})
    assert sentences.headline(changed, WORDS) == sentence


def test_a_headline_is_given_where_no_way_is_possible(pair):
    nothing = empty(pair, PAIR)
    assert answer.answer(nothing, (), WORDS) == [
        "None of the ways can start within 25 years. There is nothing to compare.",
        "Left out, for no month within the years looked at suits: side grafting and planting rooted cuttings.",
    ]
    one = replace(pair, not_possible=("air_layer",))
    assert sentences.not_possible(one, WORDS) == (
        "Left out, for no month within the years looked at suits: planting air layers."
    )
    assert sentences.not_possible(pair, WORDS) == ""


def test_the_spans_of_the_headline_are_those_of_the_running_sum(pair):
    """Payback by hand: the last year that ends below zero, and the part of the next that brings the sum to zero."""
    for way, said in zip(PAIR, sentences.headline(pair, WORDS).split(";"), strict=True):
        rows = pair.outcomes[way].year_rows()
        behind = max(i for i, row in enumerate(rows) if row["cumulative_economic"] < 0)
        years = behind + 1 + -rows[behind]["cumulative_economic"] / rows[behind + 1]["economic_change"]
        assert WORDS.span(years) in said


def test_the_best_way_is_named_with_its_money(pair):
    changed = with_measures(pair, side_graft={"npv": 1234.4}, rooted_cutting={"npv": 99.5})
    assert sentences.best(changed, WORDS) == (
        "Side grafting is worth most: $1,234 more in today's money than leaving the farm as it is."
    )
    lost = with_measures(pair, side_graft={"npv": -300.0}, rooted_cutting={"npv": -20.0})
    assert sentences.best(lost, WORDS) == (
        "No way is worth more than leaving the farm as it is. The nearest is planting rooted cuttings, at $20.00 less."
    )
    one = with_measures(alone(pair), side_graft={"npv": 300.0})
    assert sentences.best(one, WORDS) == (
        "Side grafting is worth $300 more in today's money than leaving the farm as it is."
    )
    one_lost = with_measures(alone(pair), side_graft={"npv": -300.0})
    assert sentences.best(one_lost, WORDS) == (
        "Side grafting is worth $300 less in today's money than leaving the farm as it is."
    )


def test_a_scenarios_own_name_of_a_way_is_said_as_it_stands():
    farm = scenario({"way_a": technique_data(label="Graft of aunt Ada"), "way_b": technique_data()})
    said = sentences.headline(compare(farm), WORDS)
    assert "Graft of aunt Ada" in said
    assert "way b" in said  # a way without a label is its key made readable


def test_the_subject_says_what_is_compared(pair):
    farm = demo_scenario()
    said = sentences.subject(pair, WORDS)
    assert said.startswith(f"{farm.comparison.trees} trees of {farm.comparison.stand}, ")
    assert said.endswith("over 25 years from January 2027.")


# What the answer rests on


def test_the_range_of_an_answer(pair):
    changed = with_measures(pair, side_graft={"npv": 500.0})
    swings = (
        Swing("take", (0.2,), (0.3,), 400.0, 600.0),
        Swing("price_per_kg", 3.2, 4.8, -50.0, 1050.0),
        Swing("together", None, None, -300.0, 2000.0),
    )
    assert sentences.rests_on(changed, "side_graft", swings, WORDS) == [
        "For side grafting it is $500 as stated. "
        "It is -$300 if everything goes badly at once, $2,000 if everything goes well.",
        "It rests most on the price: that alone moves it from -$50.00 to $1,050.",
        "One figure alone can turn it into a loss: the price.",
    ]
    held = (Swing("take", (0.2,), (0.3,), 400.0, 600.0), swings[-1])
    assert sentences.rests_on(changed, "side_graft", held, WORDS)[-1] == (
        "None of these alone turns it into a loss at either end of its range: the share that takes."
    )


def test_the_range_of_a_loss_says_what_could_turn_it(pair):
    changed = with_measures(pair, side_graft={"npv": -500.0})
    rising = (Swing("mature_crop", 0.5, 1.5, -900.0, 100.0), Swing("old_crown", None, None, 20.0, -600.0))
    assert sentences.rests_on(changed, "side_graft", rising, WORDS)[-1] == (
        "2 figures can each alone turn it into a gain: the crop of the grown tree and how fast the old crown goes."
    )
    sunk = (Swing("mature_crop", 0.5, 1.5, -900.0, -100.0),)
    said = sentences.rests_on(changed, "side_graft", sunk, WORDS)
    assert said[0] == "For side grafting it is -$500 as stated."  # without the run of all together
    assert said[-1] == (
        "None of these alone turns it into a gain at either end of its range: the crop of the grown tree."
    )


def test_a_refused_end_is_left_out_of_the_range(pair):
    refused = (Swing("take", (0.2,), (0.9,), 400.0, None),)
    assert len(sentences.rests_on(pair, "side_graft", refused, WORDS)) == 1


def test_the_answer_keeps_its_order(pair):
    swings = ranges(pair, "side_graft")
    assert answer.answer(pair, swings, WORDS) == [
        *answer.turns(pair, WORDS),
        *answer.worth_most(pair, WORDS),
        WORDS("compare.turn.counts"),
        sentences.headline(pair, WORDS),
        f"After practice: {sentences.paybacks(pair.after_practice, WORDS)}",
        *sentences.rests_on(pair, "side_graft", swings, WORDS),
    ]


# Break-even values


def with_break_even(comparison, way="side_graft", npv=100.0, **changes):
    """The comparison with hand-made break-even values of one way."""
    changed = with_measures(comparison, **{way: {"npv": npv}})
    outcome = changed.outcomes[way]
    outcome = stated(outcome, break_even=stated(outcome.break_even, **changes))
    return replace(changed, outcomes=MappingProxyType({**changed.outcomes, way: outcome}))


def lines(npv, slope):
    """The three lines of an NPV that rises with its driver by `slope`."""
    return {name: Line(4.0, npv, slope) for name in ("price_per_kg", "wage_per_day", "mature_crop")}


@pytest.mark.parametrize(
    ("npv", "slope", "at", "expected"),
    [
        (
            100.0,
            50.0,
            2.001,
            [
                "Side grafting still pays if the price stays at $2.01 a kilogram or above.",
                "Side grafting still pays if a day of work costs $2.01 or more.",
                "Side grafting still pays if a grown tree bears at least 2.01 kg a year.",
            ],
        ),
        (
            -100.0,
            50.0,
            6.0,
            [
                "Side grafting would pay only if the price were $6.00 a kilogram or above.",
                "Side grafting would pay only if a day of work cost $6.00 or more.",
                "Side grafting would pay only if a grown tree bore at least 6.00 kg a year.",
            ],
        ),
        (
            100.0,
            -50.0,
            6.009,
            [
                "Side grafting still pays if the price stays at $6.00 a kilogram or below.",
                "Side grafting still pays if a day of work costs up to $6.00.",
                "Side grafting still pays if a grown tree bears at most 6.00 kg a year.",
            ],
        ),
        (
            -100.0,
            -50.0,
            2.0,
            [
                "Side grafting would pay only if the price were $2.00 a kilogram or below.",
                "Side grafting would pay only if a day of work cost $2.00 or less.",
                "Side grafting would pay only if a grown tree bore at most 2.00 kg a year.",
            ],
        ),
        (
            100.0,
            10.0,
            None,
            [
                "Side grafting pays whatever the price.",
                "Side grafting pays whatever a day of work costs.",
                "Side grafting pays whatever a grown tree bears.",
            ],
        ),
        (
            -100.0,
            -10.0,
            None,
            [
                "Side grafting does not pay at any price.",
                "Side grafting does not pay even if work costs nothing.",
                "Side grafting does not pay whatever a grown tree bears.",
            ],
        ),
    ],
)
def test_break_even_values_are_said_on_the_side_that_pays(pair, npv, slope, at, expected):
    values = {"price_per_kg": at, "wage_per_day": at, "mature_crop": at}
    changed = with_break_even(pair, npv=npv, lines=lines(npv, slope), take_curve=None, take=(), **values)
    assert sentences.break_even(changed, "side_graft", WORDS) == expected


@pytest.mark.parametrize(
    ("npv", "curve", "takes", "sentence"),
    [
        # the sentence that the job itself asks for
        (100.0, (-50.0, 200.0), (0.304,), "Side grafting still pays if at least 31% of grafts take."),
        (-10.0, (-50.0, 200.0), (0.8,), "Side grafting would pay only if at least 80% of grafts took."),
        (10.0, (50.0, -20.0), (0.809,), "Side grafting still pays if at most 80% of grafts take."),
        (-10.0, (50.0, -20.0), (0.2,), "Side grafting would pay only if at most 20% of grafts took."),
        (100.0, (20.0, 200.0), (), "Side grafting pays whatever share of grafts takes."),
        (-100.0, (-200.0, -20.0), (), "Side grafting does not pay even if every graft takes."),
        (10.0, (-20.0, -5.0), (0.2, 0.7), "Side grafting just pays where 20.0% and 70.0% of grafts take."),
    ],
)
def test_the_take_at_which_a_way_just_pays(pair, npv, curve, takes, sentence):
    points = TakeCurve(1.0, np.array([0.0, 1.0]), np.array(curve))
    changed = with_break_even(pair, npv=npv, take_curve=points, take=takes)
    # one take for every season and for the three tries of a side graft: method §5 asks for one value
    counts = " That share counts for every season and each of 5 tries on a tree." if takes else ""
    assert sentences.break_even(changed, "side_graft", WORDS)[0] == sentence + counts


def test_young_plants_live_where_grafts_take(pair):
    points = TakeCurve(1.0, np.array([0.25, 0.75]), np.array([-50.0, 200.0]))
    changed = with_break_even(pair, "rooted_cutting", 100.0, take_curve=points, take=(0.4,))
    tries = pair.scenario.techniques["rooted_cutting"].attempts.value
    assert sentences.break_even(changed, "rooted_cutting", WORDS)[0] == (
        "Planting rooted cuttings still pays if at least 40% of the young plants live. "
        f"That share counts for every season and each of {tries} tries on a tree."
    )


def dollars(said: str) -> float:
    """The sum of money that a sentence names."""
    return float(re.search(r"\$(\d+\.\d\d)", said)[1])


def npv_at(farm: Scenario, **changes) -> float:
    changed = farm.changed(**changes)
    comparison = compare(changed, techniques=["side_graft"])
    return comparison.outcomes["side_graft"].measures.npv


def test_at_the_price_and_wage_that_are_said_the_way_pays_and_one_cent_worse_it_does_not(pair):
    farm = demo_scenario()
    _, price, wage, _ = sentences.break_even(pair, "side_graft", WORDS)
    low = dollars(price)
    assert npv_at(farm, market__price_per_kg=low) >= 0 > npv_at(farm, market__price_per_kg=low - 0.01)
    high = dollars(wage)
    assert npv_at(farm, household__wage_per_day=high) >= 0 > npv_at(farm, household__wage_per_day=high + 0.01)


def test_at_the_take_that_is_said_the_way_pays_and_one_percent_worse_it_does_not(pair):
    farm = demo_scenario()
    percent = int(re.search(r"(\d+)%", sentences.break_even(pair, "side_graft", WORDS)[0])[1])
    start = pair.outcomes["side_graft"].start

    def npv(take: float) -> float:
        data = farm.model_dump()
        data["techniques"]["side_graft"]["take"].update(value=(take,), low=(take,), high=(take,))
        return weigh(Scenario.model_validate(data), pair.stand, pair.trees, "side_graft", start).measures.npv

    assert npv(percent / 100) >= 0 > npv((percent - 1) / 100)


# Ties, rates, months


def test_where_the_pair_ties(pair):
    def with_slopes(price: float, wage: float) -> BreakEven:
        pays = pair.outcomes["side_graft"].break_even
        return replace(pays, lines={"price_per_kg": Line(4, 1, price), "wage_per_day": Line(12, 1, wage)})

    outcomes = {
        "side_graft": stated(pair.outcomes["side_graft"], break_even=with_slopes(10.0, -5.0)),
        "rooted_cutting": stated(pair.outcomes["rooted_cutting"], break_even=with_slopes(30.0, -9.0)),
    }
    tied = stated(pair, outcomes=outcomes, ties=Ties(2.5, 20.0, (0.05, 0.1427), (0.4,)))
    assert sentences.ties(tied, WORDS) == [
        "Side grafting and planting rooted cuttings are worth the same at a price of $2.50 a kilogram. "
        "Above it, planting rooted cuttings is worth more.",
        "Side grafting and planting rooted cuttings are worth the same where a day of work costs $20.00. "
        "Above it, side grafting is worth more.",
        "Side grafting and planting rooted cuttings are worth the same at a discount rate of 5.0% and 14.3%.",
        "Side grafting would be worth the same as planting rooted cuttings if 40.0% of its grafts took.",
    ]
    beyond = stated(tied, ties=Ties(None, None, (-0.3, 0.067, 6.458), ()))
    assert sentences.ties(beyond, WORDS) == [
        "Side grafting and planting rooted cuttings are worth the same at a discount rate of 6.7%."
    ]
    never = stated(pair, ties=Ties(None, None, (), ()))
    assert sentences.ties(never, WORDS) == [
        "No price, wage, discount rate or take makes side grafting and planting rooted cuttings worth the same."
    ]
    assert sentences.ties(alone(pair), WORDS) == []
    other = stated(pair, headline="rooted_cutting", against="side_graft", ties=Ties(None, None, (), (0.4,)))
    assert sentences.ties(other, WORDS) == [
        "Planting rooted cuttings would be worth the same as side grafting if 40.0% of its young plants lived."
    ]


@pytest.mark.parametrize(
    ("irr", "sentence"),
    [
        # roots of -1600, 10000, -10000: 25 % and 400 %, a textbook classic
        (
            Irr(None, (0.25, 4.0), "several"),
            "Side grafting has no single rate of return: 25.0% and 400.0% all fit. Look at the net present value.",
        ),
        (Irr(0.113321, (0.113321,), "one"), "Side grafting returns 11.3% a year on what is put in."),
        # a root below -90 % is listed by the measures but is not the rate
        (Irr(0.2, (-0.95, 0.2), "one"), "Side grafting returns 20.0% a year on what is put in."),
        (Irr(None, (), "none"), "Side grafting has no rate of return. Look at the net present value."),
    ],
)
def test_the_rate_of_return_is_one_several_or_none(pair, irr, sentence):
    changed = with_measures(pair, side_graft={"irr": irr})
    assert sentences.rate_of_return(changed, "side_graft", WORDS) == sentence


def test_blank_measures_are_explained_once_each(pair):
    assert sentences.blanks(pair.outcomes.values(), WORDS) == []
    changed = with_measures(
        pair,
        side_graft={"irr": Irr(None, (), "none"), "mirr": None, "benefit_cost": None, "net_benefit_cost": None},
        rooted_cutting={"mirr": None},
    )
    outcomes = dict(changed.outcomes)
    outcomes["side_graft"] = stated(outcomes["side_graft"], return_per_day=None, return_per_family_day=None)
    said = sentences.blanks(outcomes.values(), WORDS)
    assert len(said) == len(set(said)) == len(sentences.BLANKS)


def test_the_start_names_its_nursery(pair):
    assert sentences.start(pair, "side_graft", WORDS) == "Side grafting: work on the trees starts in March 2027."
    farm = demo_scenario()
    months = -farm.techniques["rooted_cutting"].earliest_month
    assert months > 0
    field = farm.month_of(pair.outcomes["rooted_cutting"].treatment.start)
    assert sentences.start(pair, "rooted_cutting", WORDS) == (
        "Planting rooted cuttings: work starts in "
        f"{Voice.of(farm, WORDS).month(field - months)}, in the trees in "
        f"{Voice.of(farm, WORDS).month(field)}."
    )


def test_the_deepest_point_is_the_lowest_of_the_running_sum(pair):
    running, lowest, when = 0.0, 0.0, 0
    for month, change in enumerate(pair.outcomes["side_graft"].flows.cash_change):
        running += change
        if running < lowest:
            lowest, when = running, month
    assert sentences.trough(pair, "side_graft", WORDS) == (
        f"Side grafting: at the deepest, in {Voice.of(demo_scenario(), WORDS).month(when)}, "
        f"the work has cost {WORDS.round_money(-lowest, 'USD')} more than it brought."
    )


def test_work_that_costs_nothing_never_goes_deep():
    free = scenario({"way_a": technique_data(), "way_b": technique_data()})  # full crop at once, no work, no cost
    assert sentences.trough(compare(free), "way_a", WORDS) == (
        "Way a: in no month has the work cost more than it brought."
    )


@pytest.mark.parametrize(
    ("labour_value", "sentence"),
    [
        (0.6, "A day of work counts 60% of the wage here. Hired work costs more than that."),
        (0.0, "A day of work counts nothing here. Hired work costs more than that."),
    ],
)
def test_a_labour_value_below_one_is_said(labour_value, sentence):
    farm = demo_scenario()
    assert sentence in sentences.notes(farm.changed(household__labour_value=labour_value), WORDS)
    assert sentence not in sentences.notes(farm, WORDS)


def test_an_invented_farm_is_called_invented():
    farm = demo_scenario()
    said = "This farm is invented. Put in your own numbers before you decide."
    assert said in sentences.notes(farm, WORDS)
    assert said not in sentences.notes(farm.changed(about__invented=False), WORDS)


def test_todays_money_is_explained_with_a_sum():
    """At 12.5 % a year 1,125 a year from now is worth 1,000 today."""
    said = " ".join(sentences.notes(demo_scenario().changed(appraisal__discount_rate=0.125), WORDS))
    assert "at a discount rate of 12.5%, $1,125 a year from now counts as $1,000 today." in said
