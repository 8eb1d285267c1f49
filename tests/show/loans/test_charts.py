"""The pictures of a loan hold what its appraisal holds, and can be read."""

import itertools

import pytest
from drawings import rows

from renovation.decide.lending import appraise_loans
from renovation.inputs import demo_names, demo_scenario
from renovation.show.loans import charts as lending_charts
from renovation.words import Words

WORDS = Words("en")


def test_coverages_named_on_the_axis_never_overlap():
    loan = demo_scenario().loans[0].model_dump() | {"grace_interest": "paid"}
    (judged,) = appraise_loans(demo_scenario().changed(loans=(loan,), household__living_costs=260.0)).loans
    ys = [layer["encoding"]["y"] for layer in lending_charts.cover_chart(judged, WORDS).to_dict()["layer"]]
    (axis,) = [y for y in ys if y.get("axis") and y["axis"].get("orient") != "right"]
    low, high = axis["scale"]["domain"]
    # a letter is 15 pixels high, and a page leaves at least 210 of them to the axis
    places = sorted(210 * (place - low) / (high - low) for place in axis["axis"]["values"])
    assert len(places) >= 4
    assert min(b - a for a, b in itertools.pairwise(places)) >= 15


@pytest.mark.parametrize("name", demo_names())
def test_the_calendar_of_payments_holds_the_whole_crop_and_all_the_money(name):
    for judged in appraise_loans(demo_scenario(name)).loans:
        chart = lending_charts.calendar_chart(judged, WORDS)
        crop, paid = (sum(row["share"] for row in rows(chart) if row["side"] == side) for side in ("crop", "paid"))
        assert (crop, paid) == (pytest.approx(1.0), pytest.approx(1.0))
        has_missed = any(row["what"] == WORDS("chart.calendar.missed") for row in rows(chart))
        assert has_missed is (judged.first_missed is not None)
