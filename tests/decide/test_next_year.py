"""Next year's farm: by hand, on random records, and every line of what was taken over and assumed (method §11)."""

import numpy as np
import pytest
from factories import figure, loan_data, operation, scenario, some_plain, stand, technique_data
from random_farms import random_record, with_plan

from renovation.decide.cohorts import season_went
from renovation.decide.held import as_held
from renovation.decide.next_year import next_year
from renovation.farm import expected_price_path, farm_flows
from renovation.inputs import (
    Cohort,
    DaysWorked,
    LoanRecord,
    Sale,
    SeasonRecord,
    Spent,
    Try,
    demo_names,
    demo_scenario,
    read_scenario,
    season_cells,
    season_problems,
)
from renovation.inputs.demos import demo_text
from renovation.inputs.errors import ScenarioError
from renovation.inputs.guesses import at
from renovation.inputs.quantities import month_count
from renovation.show.season.next_year import next_file, note_sentences
from renovation.words import Words

WORDS = Words("en")
YEAR = 12


def grafted(**changes):
    """Three tries five months apart, half of them taking, with a knife that lasts two years; a graft takes 2 days."""
    figures = {
        "attempts": figure(3, "attempts"),
        "gap_months": figure(5, "months"),
        "take": figure((0.5, 0.6), "share by project year"),
        "operations": {"graft": operation("attempt", 0, 2.0)},
        "tools": ("knife",),
    }
    return technique_data(**{**figures, **changes})


def planned(month, trees, key="way_a"):
    return {"stand": "Lower field", "technique": key, "trees": trees, "start": month}


def farm(**changes):
    """Ten trees at 1 kg, falling by a tenth a year, of which the plan grafts four in March and three a year later."""
    falling = stand(decline_per_year=0.1).model_dump()
    plan = (planned("2027-03", 4), planned("2028-03", 3))
    return scenario({"way_a": grafted()}, stands=(falling,), **{"plan": plan, **changes})


def tried(*tries, start="2027-03", **more):
    made = tuple(Try(number=number, made=made, taken=taken) for number, (made, taken) in enumerate(tries, start=1))
    return Cohort(stand="Lower field", technique="way_a", start=start, tries=made, **more)


def after(scenario, *cohorts, as_planned=False, **counted):
    record = SeasonRecord(season=scenario.appraisal.start, cohorts=cohorts, **{"money_in_hand": 50.0, **counted})
    assert season_problems(record, scenario) == []
    return next_year(scenario, record, as_planned=as_planned)


def codes(found):
    return [note.code for note in found.notes]


def test_a_year_on_by_hand():
    """Of four trees grafted in March one took, of the others one in August; two wait for January, a month too late."""
    found = after(farm(), tried((4, 1), (3, 1)))
    later = found.farm
    assert (later.appraisal.start, later.appraisal.horizon_years) == ("2028-01", 9)
    entry = later.under_way[0]
    assert (entry.start, entry.trees, entry.taken, entry.waiting, entry.tried) == ("2027-03", 4, (1, 1), 2, ())
    assert later.stands[0].crop_per_tree == pytest.approx(0.9)
    assert later.tools_owned == {"knife": 14.0}  # bought in March 2027 for two years
    assert later.techniques["way_a"].take.value == (0.6,)
    assert [(start.trees, start.start) for start in later.plan] == [(3, "2028-03")]
    assert later.household.savings == 50.0
    assert later.market.price_per_kg == 4.0
    record = later.planning.records[0]
    assert (record.technique, record.made, record.taken, record.season) == ("way_a", 7, 2, "2027-01")


def test_the_crop_moves_half_way_to_what_was_weighed():
    """A year's crop of ten trees that fall by a tenth is Σ 0.9^(t/12)/12 of 10 kg; half of it was weighed."""
    expected = 10 * sum(0.9 ** (month / 12) for month in range(12)) / 12
    assert after(farm(), sales=(Sale(kg=expected / 2),)).farm.stands[0].crop_per_tree == pytest.approx(0.9 * 1.5 / 2)
    assert after(farm(), sales=(Sale(kg=0.0),)).farm.stands[0].crop_per_tree == pytest.approx(0.9 / 2)


def test_trees_that_took_bear_in_what_was_expected():
    """Four trees of which all took in March bear their new 1 kg from then on: the old crowns are cut at once."""
    went = season_went(farm(), SeasonRecord(season="2027-01", cohorts=(tried((4, 4)),)))
    old = [0.9 ** (month / 12) / 12 for month in range(12)]
    assert went.kg_of("Lower field") == pytest.approx(6 * sum(old) + 4 * sum(old[:2]) + 4 * 10 / 12)


def test_stands_that_were_weighed_by_themselves_go_by_their_own_crop():
    two = tuple(stand(name=name).model_dump() for name in ("Lower field", "Hill"))
    both = scenario({"way_a": grafted()}, stands=two)
    found = after(both, sales=(Sale(stand="Hill", kg=5.0), Sale(kg=20.0))).farm
    assert [one.crop_per_tree for one in found.stands] == pytest.approx([1.0, 0.75])
    alone = after(both, sales=(Sale(stand="Hill", kg=5.0),)).farm
    assert [one.crop_per_tree for one in alone.stands] == pytest.approx([0.75, 0.75])
    # of the other stand's beans, which nobody weighed, the money is as expected: 10 kg at 4
    money = [
        after(both, sales=sales, money_in_hand=None).farm.household.savings
        for sales in ((), (Sale(stand="Hill", kg=5.0),))
    ]
    assert money[0] - money[1] == pytest.approx(5 * 4.0)


def test_classes_of_a_stand_that_was_weighed_whole_share_its_crop():
    classes = [stand(name=f"Hill, {name}", part_of="Hill").model_dump() for name in ("good", "poor")]
    hill = scenario({"way_a": grafted()}, stands=(stand().model_dump(), *classes))
    cells = [row["stand"] for row in season_cells(hill) if row["what"] == "kg_sold"]
    assert cells == ["Lower field", "Hill", ""]
    found = after(hill, sales=(Sale(stand="Hill", kg=10.0), Sale(kg=20.0))).farm
    assert [one.crop_per_tree for one in found.stands] == pytest.approx([(1 + 20 / 30) / 2, 0.75, 0.75])
    twice = (Sale(stand="Hill", kg=10.0), Sale(stand="Hill, good", kg=5.0))
    told = season_problems(SeasonRecord(season="2027-01", sales=twice), hill)
    assert [problem.code for _, problem in told] == ["season_error.weighed_twice"]


def test_beans_of_a_class_that_bears_its_stands_name_are_the_whole_stands():
    classes = [stand(name=name, part_of="Hill").model_dump() for name in ("Hill", "Hill, poor")]
    hill = scenario({"way_a": grafted()}, stands=tuple(classes))
    sales = (Sale(stand="Hill", kg=10.0),)
    assert list(season_problems(SeasonRecord(season="2027-01", sales=sales), hill)) == []
    assert [one.crop_per_tree for one in after(hill, sales=sales).farm.stands] == pytest.approx([0.75, 0.75])


@pytest.mark.parametrize(
    ("risk", "price", "path"),
    [
        ({}, 3.0, (1.0, 1.0)),
        ({"price_path": "typed", "price_by_year": (1.0, 0.5)}, 4.0, (0.5, 0.5)),
        # 4 on its way to 2 with half of the distance left a year; at 3, two thirds of it is still 2
        ({"price_path": "reverting", "long_run_price": 0.5, "price_persistence": 0.5}, 3.0, ((2 / 3) ** 0.5,)),
    ],
)
def test_the_price_got_is_todays_but_of_a_typed_path(risk, price, path):
    later = after(farm(risk=risk), price_per_kg=3.0).farm
    assert later.market.price_per_kg == pytest.approx(price)
    assert expected_price_path(later)[::12][: len(path)] == pytest.approx(path)


def test_inflation_raises_all_money_but_loans_and_what_was_counted():
    appraisal = {"start": "2027-01", "horizon_years": 10, "discount_rate": 0.1, "currency": "USD", "inflation": 0.1}
    later = after(farm(appraisal=appraisal, loans=(loan_data(term_months=24),))).farm
    assert later.household.wage_per_day == pytest.approx(8.8)
    assert later.market.price_per_kg == pytest.approx(4.4)
    assert later.supplies.tools["knife"].price.value == pytest.approx(11.0)
    assert (later.household.savings, later.loans[0].amount) == (50.0, 120.0)


def test_tries_on_some_of_the_trees_part_them():
    """Of four trees one took; of the three others two were grafted again, and one waits for its second try."""
    found = after(farm(), tried((4, 1), (2, 1)))
    assert [(entry.trees, entry.taken) for entry in found.farm.under_way] == [(3, (1, 1)), (1, (0,))]
    assert codes(found).count("trees.due") == 1
    again = next_year(found.farm, SeasonRecord(season="2028-01", money_in_hand=1.0)).farm
    assert [entry.trees for entry in again.under_way] == [3, 1]


def test_trees_given_up_with_nothing_to_come_are_free_again():
    found = after(farm(), tried((4, 1), given_up=2))
    assert [(entry.trees, entry.taken, entry.given_up) for entry in found.farm.under_way] == [(2, (1,), 0)]
    assert "trees.untouched" in codes(found)
    assert found.farm.free_trees("Lower field") == 8
    # where they are still to be felled they stay
    never = {"graft": operation("attempt", 0, 2.0), "fell": operation("never", 14, 1.0)}
    slow = scenario({"way_a": grafted(operations=never)}, plan=(planned("2027-03", 4),))
    kept = after(slow, tried((4, 1), given_up=2)).farm
    assert [(entry.trees, entry.given_up) for entry in kept.under_way] == [(4, 2)]


def test_plants_given_up_with_nothing_to_come_leave_empty_places():
    """Of four trees felled and replanted one plant lived, and two were given up: eight trees are left, two places."""
    felled = {"anchor": "start", "curve": figure(((-1.0, 1.0), (0.0, 0.0)), "months, share")}
    gaps = {key: value for key, value in grafted().items() if key not in ("old_crown", "shade")}
    gaps |= {"family": "replant", "works_on": "empty places"}
    ways = {"way_a": grafted(family="replant", old_crown=felled), "gaps": gaps}
    plan = (planned("2027-03", 4), planned("2028-03", 2, "gaps"))
    here = scenario(ways, stands=(stand(empty_places=3).model_dump(),), plan=plan)
    found = after(here, tried((4, 1), given_up=2))
    assert (found.farm.stands[0].trees, found.farm.stands[0].empty_places) == (8, 5)
    assert [(entry.trees, entry.taken, entry.given_up) for entry in found.farm.under_way] == [(2, (1,), 0)]
    assert "trees.emptied" in codes(found)
    assert [entry.trees for entry in found.farm.plan] == [2]
    # in a gap the place was empty before: what is given up there is free to be planted again
    again = tried((3, 1), given_up=2).model_copy(update={"technique": "gaps"})
    found = after(here, again)
    assert (found.farm.stands[0].trees, found.farm.stands[0].empty_places) == (10, 3)
    assert [(entry.technique, entry.trees) for entry in found.farm.under_way] == [("gaps", 1)]
    assert found.farm.free_places("Lower field") == 2
    # and no more than are empty can have been planted
    more = SeasonRecord(
        season="2027-01", cohorts=(again.model_copy(update={"tries": (Try(number=1, made=4, taken=1),)}),)
    )
    assert [problem.code for _, problem in season_problems(more, here)] == ["season_error.too_many_begun"]


def test_what_is_not_recorded_was_not_begun_unless_the_plan_was_followed():
    nothing = after(farm())
    assert nothing.farm.under_way == ()
    assert "trees.not_begun" in codes(nothing)
    followed = after(farm(), as_planned=True)
    assert [(entry.trees, entry.taken) for entry in followed.farm.under_way] == [(4, (2, 1))]
    assert codes(followed).count("trees.as_planned") == 2
    assert followed.farm.planning.records == ()  # nobody counted


def test_what_is_expected_is_what_was_held_when_the_season_began():
    """Of thirty grafts two took, after a flat start: Beta(3, 29), so of four trees none is expected to take."""
    counted = {"records": ({"technique": "way_a", "made": 30, "taken": 2, "season": "2026-01"},)}
    found = after(farm(planning=counted), as_planned=True)
    assert [(entry.trees, entry.taken) for entry in found.farm.under_way] == [(4, (0, 0))]
    assert found.farm.techniques["way_a"].take.value == (0.6,)


def test_a_month_and_a_count_that_are_missing_are_assumed_and_said():
    begun = Cohort(stand="Lower field", technique="way_a", tries=(Try(number=1, made=4),))
    found = after(farm(), begun)
    entry = found.farm.under_way[0]
    assert (entry.start, entry.taken) == ("2027-03", (2,))
    assert {"trees.start", "trees.taken"} <= set(codes(found))
    assert found.farm.planning.records == ()


def test_later_starts_give_way_to_trees_that_are_under_way():
    found = after(farm(), tried((9, 9)))
    assert [(start.trees, start.start) for start in found.farm.plan] == [(1, "2028-03")]
    assert "plan.fewer" in codes(found)


def test_a_nursery_belongs_to_the_trees_under_way_and_without_it_nothing_is_planted():
    with_nursery = grafted(operations={"bed": operation("start", -4, 0.1), "graft": operation("attempt", 0, 2.0)})
    base = scenario({"way_a": with_nursery}, plan=(planned("2028-03", 3), planned("2028-09", 2)))
    nursery = Cohort(stand="Lower field", technique="way_a", start="2028-03", prepared=3)
    found = after(base, nursery)
    assert [(entry.trees, entry.start, entry.taken) for entry in found.farm.under_way] == [(3, "2028-03", ())]
    assert [start.start for start in found.farm.plan] == ["2028-09"]
    without = after(base)
    assert without.farm.under_way == ()
    assert [start.start for start in without.farm.plan] == ["2028-09"]
    assert "plan.no_nursery" in codes(without)


def loans_after(loan, *said):
    return after(farm(loans=(loan_data(term_months=24, rate_per_year=0.12, **loan),)), loans=said)


def test_a_loan_goes_on_with_what_is_owed():
    """120 in level instalments over two years: what the lender says stands; else what was paid against what was due."""
    by_contract = loans_after({})
    loan = by_contract.farm.loans[0]
    assert (loan.running, loan.owed) == (True, None)
    contract = next(note.facts["money"] for note in by_contract.notes if note.code == "loan.contract")
    due = next(note.facts["due"] for note in by_contract.notes if note.code == "loan.contract")
    assert loans_after({}, LoanRecord(loan="Tree loan", owed=80.0)).farm.loans[0].owed == 80.0
    short = loans_after({}, LoanRecord(loan="Tree loan", paid=due - 10)).farm.loans[0]
    assert short.owed == pytest.approx(contract + 10 + 0.05)  # 4.35 of them a month late at 1 %, each sum rounded
    assert loans_after({}, LoanRecord(loan="Tree loan", owed=0.0)).farm.loans == ()


def test_a_loan_that_ended_leaves_the_file_and_one_on_offer_comes_again():
    ended = after(farm(loans=(loan_data(term_months=11),)))
    assert (ended.farm.loans, "loan.over" in codes(ended)) == ((), True)
    offer = {"name": "Offer", "limit": 100.0, "payouts": ({"month": "2027-02"},), "rate_per_year": 0.1}
    moved = after(farm(planning={"loan": {**offer, "term_months": 24}})).farm.planning.loan
    assert moved.payouts[0].month == "2028-02"
    late = after(farm(planning={"loan": {**offer, "term_months": 110}}))
    assert (late.farm.planning.loan, "offer.too_late" in codes(late)) == (None, True)
    taken = loan_data(name="Offer", term_months=24)
    assert after(farm(loans=(taken,), planning={"loan": {**offer, "term_months": 24}})).farm.planning.loan is None


def test_limits_by_year_move_on():
    planning = {"years": 10, "scions_per_year": (5.0, 6.0), "money_per_year": 7.0}
    later = after(farm(planning=planning)).farm.planning
    assert (later.years, later.scions_per_year, later.money_per_year) == (9, (6.0,), 7.0)


def test_the_last_year_and_money_below_zero_are_refused_in_a_sentence():
    short = {"start": "2027-01", "horizon_years": 1, "discount_rate": 0.1, "currency": "USD"}
    with pytest.raises(ScenarioError, match="looks at no year after its first"):
        after(scenario({"way_a": grafted()}, appraisal=short))
    poor = farm(household={"family_days": 20.0, "wage_per_day": 8.0, "living_costs": 50.0})
    with pytest.raises(ScenarioError, match="the family would lack 561"):
        after(poor, money_in_hand=None)


def test_a_farm_whose_every_tree_is_under_way_is_told():
    with pytest.raises(ScenarioError, match="every tree of this farm is under way"):
        after(farm(), tried((10, 4)))


@pytest.mark.parametrize("name", demo_names())
def test_recording_what_was_expected_changes_no_money(name):
    """Money in hand reckoned with every other figure recorded as expected is that reckoned with none."""
    base = demo_scenario(name)
    base = base.changed(household__savings=10.0 * max(base.household.savings, 1000.0))
    if base.market.wet_beans is None:
        base = base.changed(market__premium={})
    bare = SeasonRecord(season=base.appraisal.start)
    found = next_year(base, bare)
    went = season_went(as_held(base, base.plan), bare)
    flows, dearer = went.flows.with_plan, 1 + base.appraisal.inflation
    kg = float((flows.old_kg + flows.new_kg)[:YEAR].sum())
    assert sum(went.kg_of(one.name) for one in base.stands) == pytest.approx(kg)
    dry = base.market.wet_beans.dry_per_wet if base.market.wet_beans else 1.0
    price = float(flows.sales[:YEAR].sum()) / kg + base.market.deductions_per_kg
    counted = SeasonRecord(
        season=bare.season,
        sales=(Sale(kg=kg / dry),),
        price_per_kg=price * dry * dearer,
        days=(DaysWorked(hired=float(flows.hired_days[:YEAR].sum())),),
        spent=Spent(supplies=float((flows.materials + flows.tools)[:YEAR].sum()) * dearer),
        loans=tuple(
            LoanRecord(loan=note.facts["loan"], paid=note.facts["due"])
            for note in found.notes
            if note.code == "loan.contract"
        ),
    )
    same = next_year(base, counted)
    assert same.farm.household.savings == pytest.approx(found.farm.household.savings, rel=1e-9)
    assert [one.kg_per_tree for one in same.farm.stands] == pytest.approx(
        [one.kg_per_tree for one in found.farm.stands]
    )


@pytest.mark.parametrize("seed", some_plain(range(300), range(12)))
def test_next_years_farm_goes_on_as_the_season_left_it(seed):
    """Whole numbers this time: what is under way in the new file is what the season looked back upon expects."""
    base = with_plan(seed)
    record = random_record(base, seed)
    assert season_problems(record, base) == []
    went, later = season_went(base, record), next_year(base, record).farm
    assert read_scenario(next_file(next_year(base, record), WORDS), "next.toml") == later
    rest, dearer = farm_flows(later, ()).with_plan, 1 + base.appraisal.inflation
    for name in ("old_kg", "new_kg", "days"):
        expected = getattr(went.flows.with_plan, name)[YEAR:]
        np.testing.assert_allclose(getattr(rest, name), expected, rtol=1e-9, atol=1e-9, err_msg=name)
    np.testing.assert_allclose(rest.cash, went.flows.with_plan.cash[YEAR:] * dearer, rtol=1e-9, atol=1e-9)
    stated = sum(entry.trees for entry in later.plan)
    assert stated <= sum(entry.trees for entry in base.plan if base.month_of(entry.start) >= YEAR)


@pytest.mark.parametrize("name", demo_names())
def test_every_note_of_a_demo_farm_is_said(name):
    base = demo_scenario(name)
    for as_planned in (False, True):
        record = SeasonRecord(season=base.appraisal.start, money_in_hand=100.0)
        found = next_year(base, record, as_planned=as_planned)
        said = [note_sentences(found, WORDS, assumed=assumed) for assumed in (False, True)]
        assert sum(map(len, said)) == len(found.notes)
        assert all(("{" not in line and line[0].isupper()) or line[0] == '"' for line in [*said[0], *said[1]])


def test_two_years_of_records_stand_side_by_side():
    first = after(farm(), tried((4, 1)))
    more = Cohort(stand="Lower field", technique="way_a", start="2027-03", tries=(Try(number=2, made=3, taken=2),))
    second = after(first.farm, more).farm
    assert [(one.made, one.taken, one.season) for one in second.planning.records] == [
        (4, 1, "2027-01"),
        (3, 2, "2028-01"),
    ]
    assert second.under_way[0].tried == ("2027-03", "2028-01")  # due in August, made when it fell


def test_days_counted_by_operation_join_the_record():
    """Seven grafts in all took 21 days; work that was done on no tree of the record says nothing."""
    days = (DaysWorked(technique="way_a", operation="graft", family=20.0, hired=1.0), DaysWorked(family=90.0))
    record = after(farm(), tried((4, 1), (3, 1)), days=days).farm.planning.records[0]
    assert {name: (work.days, record.worked_on(name, "attempt")) for name, work in record.work.items()} == {
        "graft": (21.0, 7)
    }
    tied = grafted(operations={"graft": operation("attempt", 0, 2.0), "untie": operation("established", 1, 0.1)})
    none_took = scenario({"way_a": tied}, plan=(planned("2027-03", 4),))
    untied = (DaysWorked(technique="way_a", operation="untie", family=1.0),)
    assert after(none_took, tried((4, 0)), days=untied).farm.planning.records[0].work == {}


def test_the_plan_is_carried_on_through_several_years():
    base = with_plan(3)
    later = base
    for _ in range(4):
        later = next_year(later, SeasonRecord(season=later.appraisal.start, money_in_hand=500.0), as_planned=True).farm
    assert month_count(later.appraisal.start) == month_count(base.appraisal.start) + 4 * YEAR
    begun = sum(entry.trees for entry in base.plan if base.month_of(entry.start) < 4 * YEAR)
    assert begun / 2 < sum(entry.trees for entry in later.under_way) <= sum(entry.trees for entry in base.plan)


def test_next_years_file_keeps_this_years_comments_and_only_its_own_notes():
    farm = demo_scenario("few_hands")
    texts = [demo_text("few_hands")]
    for _ in range(2):
        found = next_year(farm, SeasonRecord(season=farm.appraisal.start, money_in_hand=90000.0))
        texts.append(next_file(found, WORDS, texts[-1]))
        farm = read_scenario(texts[-1], "next.toml")
        assert farm == found.farm
    head = "# " + WORDS("next.file_head", name=farm.about.name)
    assert [text.count(head) for text in texts] == [0, 1, 1]
    for comment in ("# Every number is invented.", "# An hour's walk away, half forgotten."):
        assert [text.count(comment) for text in texts] == [1, 1, 1]


def guessing(**changes):
    """The farm, of which five figures are our guesses, prices rising by a tenth a year."""
    appraisal = {"start": "2027-01", "horizon_years": 10, "discount_rate": 0.1, "currency": "USD", "inflation": 0.1}
    first, paths = (
        farm(appraisal=appraisal, **changes),
        ("household.savings", "market.price_per_kg", "household.wage_per_day"),
    )
    paths = (*paths, "stands.0.crop_per_tree", "stands.0.decline_per_year")
    return first.changed(guessed={path: {"low": at(first, path) / 2, "high": at(first, path) * 2} for path in paths})


def test_what_nobody_told_stays_a_guess_and_its_range_moves_with_it():
    first = guessing()
    later = after(first, money_in_hand=None).farm
    assert set(later.guessed) == set(first.guessed)
    # by hand: a crop that falls by a tenth, a price and a wage a tenth dearer
    for path, factor in (
        ("stands.0.crop_per_tree", 0.9),
        ("market.price_per_kg", 1.1),
        ("household.wage_per_day", 1.1),
    ):
        for end in ("low", "high"):
            assert getattr(later.guessed[path], end) == pytest.approx(factor * getattr(first.guessed[path], end))
    assert later.guessed["stands.0.decline_per_year"] == first.guessed["stands.0.decline_per_year"]
    width = [one.guessed["household.savings"].high - one.household.savings for one in (first, later)]
    assert width[0] == pytest.approx(width[1]), "money in hand as reckoned is as uncertain as it was"


def test_what_the_season_counted_is_no_guess_any_longer():
    first = guessing()
    told = after(first, price_per_kg=3.0, sales=(Sale(kg=8.0),)).farm
    assert set(told.guessed) == {"household.wage_per_day", "stands.0.decline_per_year"}
    assert "our guess" in next_file(after(first), WORDS), "the file says so at its head"
    assert read_scenario(next_file(after(first), WORDS), "next.toml").guessed == after(first).farm.guessed


def test_a_guessed_crop_falls_below_its_first_range_and_goes_on():
    low = guessing().changed(stands__0__decline_per_year=0.5)
    for _ in range(3):
        low = after(low, money_in_hand=100.0).farm
    guess = low.guessed["stands.0.crop_per_tree"]
    assert guess.low <= low.stands[0].crop_per_tree <= guess.high == pytest.approx(2 * 0.5**3)
