"""What is held of the takes by records and curve together, and the plan that is made of it."""

from itertools import pairwise

import pytest
from factories import figure, operation, scenario, stand, technique_data
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.decide.belief import beliefs_of, practice_of
from renovation.decide.learners import take_of
from renovation.decide.plan import learned_plan
from renovation.inputs import GraftRecord, Learning, Planning, demo_scenario
from renovation.money.hands import Counted

FARM = demo_scenario("first_grafters")


def record(made, taken, season=None):
    return GraftRecord(technique="side_graft", made=made, taken=taken, season=season)


def practice(*records, **learning):
    lines = tuple(record(*line) for line in records)
    return practice_of(FARM, Planning(records=lines, learning=Learning(**learning)))


def test_without_a_count_the_stated_curve_is_used_as_it_is():
    for records in ((), ((0, 0, None),)):
        known = practice(*records, grafts_before=30)
        assert known.held is None
        assert known.before == 30
        assert [known.take(n) for n in (0, 30, 500)] == [take_of(known.learning, n) for n in (0, 30, 500)]


def test_records_of_one_season_share_the_grafts_before_it():
    """Seasons are project years counted back from the first month; records without one are the first season."""
    first = FARM.appraisal.start
    year, month = int(first[:4]), first[4:]
    last, before = f"{year - 1}{month}", f"{year - 2}{month}"
    known = practice((40, 30, last), (7, 1), (10, 3, before), (5, 5, last), grafts_before=12)
    assert known.seasons == (Counted(12, 7, 1), Counted(19, 10, 3), Counted(29, 45, 35))
    assert known.before == 74


def test_records_of_ways_that_do_not_learn_are_left_to_themselves():
    records = tuple(GraftRecord(technique=key, made=20, taken=4) for key in ("side_graft", "bud_graft"))
    planning = Planning(records=records, learning=Learning(techniques=("side_graft",)))
    known = practice_of(FARM, planning)
    assert known.seasons == (Counted(0, 20, 4),)
    assert beliefs_of(planning)["bud_graft"].mean == 5 / 22


@settings(max_examples=15)
@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.integers(0, 60), st.sampled_from([None, "2020-03", "2022-11", "2023-01"])),
        min_size=1,
        max_size=6,
    ),
    st.randoms(),
)
def test_lines_of_the_record_may_stand_in_any_order(lines, shuffler):
    records = [(max(a, b), min(a, b), season) for a, b, season in lines]
    mixed = shuffler.sample(records, len(records))
    one, other = practice(*records), practice(*mixed)
    assert one.seasons == other.seasons
    assert [one.take(n) for n in (0, 40, 900)] == [other.take(n) for n in (0, 40, 900)]


@pytest.mark.parametrize("form", ["crawford", "wright", "table"])
def test_the_fewest_grafts_that_give_a_take_give_it(form):
    table = ({"grafts_before": 0, "take": 0.2}, {"grafts_before": 150, "take": 0.7}) if form == "table" else ()
    for records in ((), ((20, 4, None),)):
        known = practice(*records, form=form, table=table)
        for most in (0.0, 12.5, 4000.0):
            fewest = known.fewest(known.before, most)
            assert 0 <= fewest <= most
            assert known.take(known.before + fewest) == known.take(known.before + most)
            if fewest > 1:
                assert known.take(known.before + fewest - 1) < known.take(known.before + most)


def three_stands():
    """Trees of 1.00, 1.06 and 1.14 kg; a graft takes 0.8 days at 8 a day, and one that lives bears 1.5 kg at once.

    Over ten years at 10 % a graft that lives is worth about 12.8, 11.3 and 9.2, and trying costs about 6.4: it is worth
    trying from a take of 0.50, 0.56 and 0.69.
    """
    graft = {"graft": operation("attempt", 0, 0.8)}
    way = technique_data(start_months=(1,), mature_crop=figure(1.5, "kg/tree/year"), operations=graft)
    stands = tuple(stand(name=f"Of {kg} kg", trees=50, crop_per_tree=kg).model_dump() for kg in (1.0, 1.06, 1.14))
    household = {"family_days": 300.0, "wage_per_day": 8.0, "savings": 1000.0}
    return scenario({"way_a": way}, stands=stands, household=household)


def test_what_took_orders_the_plans():
    """Twenty grafts made: the more of them took, the more is grafted this year and the more the plan is worth.

    Twenty grafts that were made but not counted lie between none and all of them taken.
    """
    farm = three_stands()

    def plan(taken):
        learning = Learning(grafts_before=20 if taken is None else 0)
        counted = () if taken is None else (GraftRecord(technique="way_a", made=20, taken=taken),)
        learned = learned_plan(farm, Planning(years=1, learning=learning, records=counted))
        return learned.takes[0], learned.plan.trees, learned.plan.aim

    none, few, every = (plan(taken) for taken in (0, 5, 20))
    assert [trees for _, trees, _ in (none, few, every)] == [50, 100, 150]
    for lower, higher in pairwise((none, few, every)):
        assert all(less < more for less, more in zip(lower, higher, strict=True))
    uncounted = plan(None)
    assert none[0] < uncounted[0] < every[0]
    assert none[2] < uncounted[2] < every[2]
