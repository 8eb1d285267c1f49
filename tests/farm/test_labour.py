"""Work against hands: days by paper, identities on random farms, shortages and the busiest month."""

import numpy as np
import pytest
from factories import figure, operation, scenario, stand, technique_data, techniques
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.farm import days_short, farm_flows, labour_by_month, month_labels
from renovation.inputs import Treatment


def treat(trees, start="2027-07", way="way_a"):
    return Treatment(stand="Lower field", technique=way, trees=trees, start=start)


def household(**changes):
    return {"family_days": 20.0, "wage_per_day": 8.0, "savings": 100.0, **changes}


def labour_of(farm, *treatments):
    return labour_by_month(farm, farm_flows(farm, treatments))


def by_hand(**people):
    """Ten trees of 2.4 days a year each: 2 days a month; in July 2027 three take a day each to graft."""
    way = technique_data(operations={"graft": operation(days=1.0)})
    data = stand(upkeep_days=2.4).model_dump()
    farm = scenario({"way_a": way}, stands=(data,), household=household(**people))
    return labour_of(farm, treat(3))


def test_days_by_paper():
    labour = by_hand(family_days=1.5)
    assert labour.days[:6] == pytest.approx([2.0] * 6)
    # Seven trees left at 0.2 days a month, and three grafts of a day; the new crowns need no care here.
    assert labour.days[6] == pytest.approx(7 * 0.2 + 3)
    assert labour.days[7] == pytest.approx(1.4)
    assert labour.hired_days[[0, 6, 7]] == pytest.approx([0.5, 2.9, 0.0])
    assert labour.hired_cost[[0, 6, 7]] == pytest.approx([4.0, 23.2, 0.0])
    assert labour.work["graft"][6] == pytest.approx(3.0)
    assert labour.work["upkeep"][6] == pytest.approx(1.4)
    assert (labour.months[labour.busiest_month], labour.days[labour.busiest_month]) == (
        "2027-07",
        pytest.approx(4.4),
    )
    # Without the plan: half a day hired in each of twelve months.
    assert labour.year_rows()[0]["hired_days_without"] == pytest.approx(6.0)
    assert labour.year_rows()[0]["hired_days"] == pytest.approx(6 * 0.5 + 2.9)


def test_not_enough_hands_by_paper():
    labour = by_hand(family_days=1.5, hired_days_limit=2.0)
    assert labour.short_months == (6,)
    assert labour.short_days[6] == pytest.approx(0.9)
    assert labour.worst_short_month == 6
    assert labour.as_dict()["not_enough_hands"] == [
        {"project_month": 6, "month": "2027-07", "days": pytest.approx(0.9)}
    ]


def test_a_limit_just_met_is_enough_and_no_limit_is_always_enough():
    assert by_hand(family_days=1.5, hired_days_limit=2.9).short_months == ()
    free = by_hand(family_days=0.0)
    assert (free.short_months, free.worst_short_month, free.as_dict()["worst_month"]) == ((), None, None)


def test_limit_and_family_days_go_by_calendar_month():
    """Month 0 is July here: the figure for July must meet the work of July."""
    july_only = tuple(5.0 if month == 7 else 0.0 for month in range(1, 13))
    farm = scenario(
        stands=(stand(upkeep_days=2.4).model_dump(),),
        appraisal={"start": "2027-07", "horizon_years": 2, "discount_rate": 0.1, "currency": "USD"},
        household=household(family_days=july_only, hired_days_limit=tuple(2.0 - d for d in (0.0,) * 11 + (1.0,))),
    )
    labour = labour_of(farm)
    assert np.flatnonzero(labour.hired_days == 0).tolist() == [0, 12]
    assert [labour.months[m] for m in labour.short_months] == ["2027-12", "2028-12"]


def test_the_first_of_equally_busy_months_is_named():
    labour = labour_of(scenario(stands=(stand(upkeep_days=1.2).model_dump(),)))
    assert labour.busiest_month == 0


@settings(max_examples=40)
@given(techniques(), st.integers(0, 10), st.floats(0, 30), st.none() | st.floats(0, 20))
def test_family_and_hired_days_make_up_the_work(data, trees, family_days, limit):
    data["upkeep_days"] = figure((0.5,), "person-days/tree/year by year of age")
    farm = scenario({"way_a": data}, household=household(family_days=family_days, hired_days_limit=limit))
    labour = labour_of(farm, treat(trees))
    np.testing.assert_allclose(labour.family_days + labour.hired_days, labour.days, atol=1e-12)
    np.testing.assert_allclose(sum(labour.work.values()), labour.days, atol=1e-9)
    assert (labour.family_days <= family_days).all()
    assert (labour.hired_days >= 0).all()
    # No day is hired while the family still has one.
    assert (labour.hired_days[labour.days <= family_days] == 0).all()
    for row, days in zip(labour.year_rows(), labour.hired_days.reshape(-1, 12), strict=True):
        assert row["hired_cost"] == pytest.approx(8.0 * days.sum())
    if limit is not None:
        spare = limit - labour.hired_days
        np.testing.assert_allclose(labour.short_days, np.maximum(0, -spare), atol=1e-8)


def test_many_series_at_once():
    hired = np.array([[0.0, 3.0], [5.0, 1.0]])
    assert days_short(hired, np.array([2.0, 2.0])).tolist() == [[0.0, 1.0], [3.0, 0.0]]
    assert not days_short(hired, None).any()


def test_table_has_a_row_a_month_and_a_column_for_each_work():
    labour = by_hand(family_days=1.5)
    table = labour.table()
    assert len(table) == 120
    assert {"work_graft", "work_upkeep", "work_harvest"} <= set(table.columns)
    assert table["hired_days_limit"].isna().all()
    assert list(table["month"][:2]) == list(month_labels("2027-01", 2))
