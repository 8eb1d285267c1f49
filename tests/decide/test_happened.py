"""Planned and happened: each cause alone by hand, and parts that sum to the whole on random farms (method §11)."""

import json

import numpy as np
import pytest
from factories import figure, loan_data, operation, scenario, some_plain, stand, technique_data
from random_farms import random_record, with_plan

from renovation.decide.happened import CAUSES, UNEXPLAINED, planned_and_happened
from renovation.decide.held import as_held
from renovation.decide.next_year import next_year
from renovation.farm import farm_flows, household_cash
from renovation.inputs import (
    Cohort,
    DaysWorked,
    LoanRecord,
    Sale,
    Scenario,
    SeasonRecord,
    Spent,
    Try,
    demo_names,
    demo_scenario,
    season_problems,
)

YEAR = 12
HOUSEHOLD = {"family_days": 1.0, "wage_per_day": 8.0, "savings": 500.0, "living_costs": 5.0, "other_income": 2.0}
APPRAISAL = {"start": "2027-01", "horizon_years": 10, "discount_rate": 0.1, "currency": "USD"}


def farm(**changes):
    """Ten trees at 1 kg and 4 a kg; the plan grafts four in March, half of them take; three are tried in August."""
    way = technique_data(
        attempts=figure(3, "attempts"),
        gap_months=figure(5, "months"),
        take=figure((0.5,), "share by project year"),
        operations={"graft": operation("attempt", 0, 2.0, materials={"bag": {"quantity": figure(1.0, "units/tree")}})},
        mature_crop=figure(2.0, "kg/tree/year"),
        tools=("knife",),
    )
    plan = ({"stand": "Lower field", "technique": "way_a", "trees": 4, "start": "2027-03"},)
    loans = (loan_data(term_months=24, repayment="level"),)
    given = {"plan": plan, "household": HOUSEHOLD, "loans": loans, "stands": (stand().model_dump(),)}
    return scenario({"way_a": way}, **{**given, **changes})


def tried(*tries, start="2027-03"):
    made = tuple(Try(number=number, made=made, taken=taken) for number, (made, taken) in enumerate(tries, start=1))
    return Cohort(stand="Lower field", technique="way_a", start=start, tries=made)


AS_EXPECTED = tried((4, 2), (2, 1))


def looked_back(base=None, cohort=AS_EXPECTED, **counted):
    base = base or farm()
    record = SeasonRecord(season=base.appraisal.start, cohorts=(cohort,) if cohort else (), **counted)
    assert season_problems(record, base) == []
    return planned_and_happened(base, record)


def money(found):
    nothing = 1e-9 * max(1.0, 1e-3 * abs(found.planned))  # as sums of millions are kept
    return {part.cause: part.money for part in found.parts if abs(part.money) > nothing}


def test_a_year_that_went_as_expected_leaves_nothing_to_explain():
    found = looked_back()
    base = farm()
    cash = household_cash(base, farm_flows(base, base.plan))
    assert found.planned == pytest.approx(float(cash.with_plan.balance[YEAR - 1]), abs=1e-9)
    assert (money(found), found.counted) == ({}, False)
    assert found.happened == pytest.approx(found.planned)


def test_other_trees_started_are_the_trees_part():
    """Eight in place of four: every tree is worked on at 2 days of 8, family days aside, with a bag of 0.5 a graft."""
    assert list(money(looked_back(cohort=tried((8, 4), (4, 2))))) == ["trees"]
    late = looked_back(cohort=tried((4, 2), start="2027-09"))
    assert list(money(late)) == ["trees"]
    none = looked_back(cohort=None)
    assert list(money(none)) == ["trees"]
    base = farm(plan=())
    cash = household_cash(base, farm_flows(base, ()), base.loans)
    assert none.happened == pytest.approx(float(cash.with_plan.balance[YEAR - 1]), abs=1e-9)


def test_a_plan_that_names_the_same_start_twice_is_followed_whole():
    twice = ({"stand": "Lower field", "technique": "way_a", "trees": 2, "start": "2027-03"},) * 2
    found = planned_and_happened(farm(plan=twice), SeasonRecord(season="2027-01"), as_planned=True)
    assert money(found) == {}
    assert found.figures[0].happened == 4


def test_what_took_and_what_was_tried_is_the_take_part():
    found = looked_back(cohort=tried((4, 4)))
    # all took in March: two trees more at 2 kg from March to August, one more after it, and no second try:
    # in August its 4 days less 1 of the family, two bags
    more = (5 * 2 + 5 * 1) / 12 * 4
    assert money(found) == {"take": pytest.approx(more + 3 * 8 + 2 * 0.5)}
    assert list(money(looked_back(cohort=tried((4, 2))))) == ["take"]


def test_the_crop_the_price_the_household_by_hand():
    base = farm(plan=())
    # ten kilograms at 4 are expected; the work of harvest counts nothing here
    assert money(looked_back(base, None, sales=(Sale(kg=7.0),))) == {"crop": pytest.approx(-12)}
    assert money(looked_back(base, None, price_per_kg=3.0)) == {"price": pytest.approx(-10)}
    both = looked_back(base, None, price_per_kg=3.0, sales=(Sale(kg=7.0),))
    assert money(both) == {"crop": pytest.approx(-12), "price": pytest.approx(-7)}
    assert money(looked_back(base, None, spent=Spent(household=72.0))) == {"household": pytest.approx(-12)}
    assert money(looked_back(base, None, other_income=30.0)) == {"household": pytest.approx(6)}


def test_wages_supplies_and_loans_by_hand():
    """March: 8 days, 7 of them hired; August: 4 and 3. Six bags of 0.5 and a knife of 10."""
    assert money(looked_back(days=(DaysWorked(hired=13.0),))) == {"work": pytest.approx(-3 * 8)}
    assert money(looked_back(spent=Spent(wages=60.0))) == {"work": pytest.approx(80 - 60)}
    assert money(looked_back(spent=Spent(supplies=20.0))) == {"supplies": pytest.approx(13 - 20)}
    due = next(figure.planned for figure in looked_back().figures if figure.name == "loan_paid")
    short = looked_back(loans=(LoanRecord(loan="Tree loan", paid=due - 15),))
    assert money(short) == {"household": pytest.approx(15)}


def test_harvest_work_follows_the_crop():
    """Half the kilograms ask half the days of harvest: of 10 days, 5 a kilogram fewer, all hired."""
    market = {"price_per_kg": 4.0, "season": {"shares": (1 / 12,) * 12}, "harvest_days_per_kg": 2.0}
    base = farm(plan=(), market=market, household={**HOUSEHOLD, "family_days": 0.0})
    found = looked_back(base, None, sales=(Sale(kg=5.0),))
    assert money(found) == {"crop": pytest.approx(-5 * 4 + 5 * 2 * 8)}


def test_what_no_cause_explains_is_shown_as_such():
    found = looked_back(money_in_hand=100.0)
    assert money(found) == {UNEXPLAINED: pytest.approx(100 - found.planned)}
    assert found.counted


def test_money_spent_in_all():
    """Where one part is not known the whole tells it; where two are not, what is over is said of no cause."""
    known = Spent(supplies=13.0, wages=80.0, in_all=13 + 80 + 75)
    assert money(looked_back(spent=known)) == {"household": pytest.approx(-15)}
    assert money(looked_back(spent=Spent(supplies=13.0, in_all=13 + 80 + 75))) == {UNEXPLAINED: pytest.approx(-15)}
    counted = looked_back(spent=Spent(in_all=168.0), money_in_hand=90.0)
    assert counted.happened == 90.0


def test_a_sum_lies_over_the_months_in_proportion_and_earns_its_interest():
    """12 more spent on the household, one a month, where savings bear 10 %: each month's until the end."""
    base = farm(plan=(), household={**HOUSEHOLD, "savings_rate": 0.1})
    grown = sum(1.1 ** ((11 - month) / 12) for month in range(12))
    assert money(looked_back(base, None, spent=Spent(household=72.0))) == {"household": pytest.approx(-grown)}


def test_money_of_the_seasons_end():
    """With 10 % inflation 4.4 is the expected price, and 66 what the household spends of 60."""
    base = farm(appraisal={**APPRAISAL, "inflation": 0.1}, loans=())
    found = looked_back(base, price_per_kg=4.4, spent=Spent(household=66.0))
    assert money(found) == {}
    planned = {figure.name: figure.planned for figure in found.figures}
    assert (planned["price_per_kg"], planned["spent_on_household"]) == (pytest.approx(4.4), pytest.approx(66))


def test_figures_stand_beside_what_was_expected_of_them():
    found = looked_back(cohort=tried((5, 1), (4, 2)), sales=(Sale(kg=9.0),), days=(DaysWorked(family=6.0, hired=3.0),))
    told = {figure.name: (figure.planned, figure.happened) for figure in found.figures}
    assert told["begun"] == (4, 5)
    assert told["took"] == (pytest.approx(3), 3)
    assert told["kg_sold"][1] == 9.0
    assert told["family_days"] == (pytest.approx(2), 6.0)  # work falls in two months, with one day each
    assert told["hired_days"] == (pytest.approx(10), 3.0)
    assert told["price_per_kg"] == (pytest.approx(4), None)
    assert json.loads(json.dumps(found.as_dict()))["parts"].keys() == {*CAUSES, UNEXPLAINED}


def test_a_stand_weighed_alone_leaves_the_others_as_expected():
    two = tuple(stand(name=name).model_dump() for name in ("Lower field", "Hill"))
    base = farm(plan=(), stands=two)
    found = looked_back(base, None, sales=(Sale(stand="Hill", kg=7.0),))
    assert money(found) == {"crop": pytest.approx(-12)}
    assert next(figure for figure in found.figures if figure.name == "kg_sold").happened == pytest.approx(17)


def counted_at_random(base: Scenario, seed: int) -> SeasonRecord:
    """A random record with each other figure given or left empty."""
    rng = np.random.default_rng([seed, 13])
    record = random_record(base, seed)

    def some(most):
        return float(rng.uniform(0, most)) if rng.random() < 0.6 else None

    spent = Spent(supplies=some(500), wages=some(900), household=some(3000))
    in_all = sum(part or 0.0 for part in vars(spent).values()) + float(rng.uniform(0, 500))
    return record.model_copy(
        update={
            "sales": (Sale(kg=some(900)),),
            "price_per_kg": some(6),
            "days": (DaysWorked(family=some(200), hired=some(200)),),
            "spent": spent.model_copy(update={"in_all": in_all}) if rng.random() < 0.5 else spent,
            "other_income": some(900),
            "money_in_hand": some(4000),
            "loans": tuple(
                LoanRecord(loan=loan.name, paid=some(400))
                for loan in base.loans
                if base.month_of(loan.payouts[0].month) < YEAR
            ),
        }
    )


@pytest.mark.parametrize("seed", some_plain(range(300), range(4)))
def test_parts_sum_to_the_whole_on_random_farms(seed):
    base = with_plan(seed)
    record = counted_at_random(base, seed)
    assert season_problems(record, base) == []
    found = planned_and_happened(base, record)
    held = as_held(base, base.plan)
    cash = household_cash(held, farm_flows(held, held.plan))
    dearer = 1 + base.appraisal.inflation
    assert found.planned == pytest.approx(float(cash.with_plan.balance[YEAR - 1]) * dearer, rel=1e-9)
    assert sum(part.money for part in found.parts) == pytest.approx(found.difference, rel=1e-9, abs=1e-9 * 1e4)
    if record.money_in_hand is not None:
        assert found.happened == record.money_in_hand
    elif record.spent.in_all is None:
        assert found.parts[-1].money == pytest.approx(0, abs=1e-6)
    silent = {
        "crop": record.kg is None,
        "price": record.price_per_kg is None,
        "household": record.other_income is None
        and record.spent.household is None
        and record.spent.in_all is None
        and all(entry.paid is None for entry in record.loans),
    }
    told = money(found)
    assert not [cause for cause, nothing in silent.items() if nothing and cause in told]


ALONE = {
    "crop": {"sales": (Sale(kg=321.0),)},
    "price": {"price_per_kg": 2.9},
    "work": {"days": (DaysWorked(hired=77.0),)},
    "supplies": {"spent": Spent(supplies=45.0)},
    "household": {"spent": Spent(household=901.0), "other_income": 12.0},
    UNEXPLAINED: {"money_in_hand": 3456.0},
}


@pytest.mark.parametrize("seed", some_plain(range(40), range(2)))
def test_each_cause_alone_moves_its_own_part_on_random_farms(seed):
    """Beside what roundings of trees leave in the take's part, the same as where nothing is recorded."""
    base = with_plan(seed)
    nothing = planned_and_happened(base, SeasonRecord(season=base.appraisal.start), as_planned=True)
    assert set(money(nothing)) <= {"take"}
    for cause, counted in ALONE.items():
        record = SeasonRecord(season=base.appraisal.start, **counted)
        found = money(planned_and_happened(base, record, as_planned=True))
        assert found.pop(cause) != 0
        assert found == pytest.approx(money(nothing), rel=1e-9)


@pytest.mark.parametrize("seed", some_plain(range(60), range(2)))
def test_the_second_year_is_looked_back_upon_as_the_first(seed):
    """Trees under way, a running loan and tools that are there: a year as expected leaves only what roundings of trees
    explain, in the take's part."""
    base = with_plan(seed)
    later = next_year(base, random_record(base, seed)).farm
    record = SeasonRecord(season=later.appraisal.start)
    found = planned_and_happened(later, record, as_planned=True)
    assert set(money(found)) <= {"take"}
    none = planned_and_happened(later, record)
    assert set(money(none)) <= {"trees", "take"}


@pytest.mark.parametrize("name", demo_names())
def test_a_demo_farm_whose_plan_was_followed(name):
    base = demo_scenario(name)
    found = planned_and_happened(base, SeasonRecord(season=base.appraisal.start), as_planned=True)
    assert set(money(found)) <= {"take"}
    assert abs(found.difference) < 0.02 * abs(found.planned) + 50 * base.market.dry_price_per_kg
