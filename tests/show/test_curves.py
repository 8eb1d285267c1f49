"""Curves in a sentence: every number said stands in the data, and the ends, the top and the bottom are told."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from renovation.inputs import default_techniques
from renovation.show.curves import by_year_sentence, curve_sentence
from renovation.tree.crowns import new_crown_share, old_crown_share
from renovation.words import Words

WORDS = Words("en")
PART = re.compile(
    r"(nothing|\d+%) (?:until|at|from) (?:(the start)|(\d+)(?: (months?|years?))?)(?: to (\d+) (months?|years?))?"
)
curves = st.dictionaries(st.integers(0, 400), st.integers(0, 100), min_size=1, max_size=12).map(
    lambda found: tuple((float(age), found[age] / 100) for age in sorted(found))
)


def told(sentence):
    """Every age in months with the percent said of it."""
    for part in sentence.split(", "):
        share, start, first, unit, last, unit_of_last = PART.match(part).groups()
        percent = 0 if share == "nothing" else int(share[:-1])
        for number, of in ((0 if start else first, unit or unit_of_last), (last, unit_of_last)):
            if number is not None:
                yield int(number) * (12 if (of or "").startswith("year") else 1), percent


@given(curves)
def test_every_number_of_a_curve_stands_in_its_table(points):
    table = {int(age): round(share * 100) for age, share in points}
    said = list(told(curve_sentence(points, WORDS)))
    assert all(table[age] == percent for age, percent in said)
    assert [age for age, _ in said] == sorted(age for age, _ in said)
    shares = [percent for _, percent in said]
    assert {min(table.values()), max(table.values()), table[max(table)]} <= set(shares)


@given(st.lists(st.sampled_from(["10%", "20%", "30%"]), min_size=1, max_size=8))
def test_numbers_by_year_are_each_told_once(entries):
    told_years = []
    for part in by_year_sentence(entries, WORDS).split(", "):
        share, first, last = re.match(r"(\d+%) (?:in|from) years? (\d+)(?: to (\d+)| on)?", part).groups()
        end = len(entries) if part.endswith(" on") else int(last or first)
        told_years += [share] * (end - int(first) + 1)
    assert told_years == entries


def test_the_side_graft_s_own_curve():
    new = default_techniques()["side_graft"].new_crown.value
    assert curve_sentence(new, WORDS).startswith("nothing until 9 months, 58% at 3 years, 100% from 5 to 15 years")


def told_before(points, before):
    return curve_sentence(points, WORDS, before=before)


def test_what_holds_ahead_of_the_first_point_is_said_as_the_crown_has_it():
    """A new crown bears nothing ahead of its first point, an old one all of its crop: method, section 3."""
    assert told_before(((24.0, 1.0), (60.0, 0.5)), 0.0).startswith("nothing before 2 years, 100% at 2 years")
    assert told_before(((24.0, 1.0), (60.0, 0.5)), 1.0).startswith("100% until 2 years")
    assert told_before(((-1.0, 1.0), (0.0, 0.0)), 1.0) == "nothing from the start on"
    assert told_before(((0.0, 0.4), (12.0, 0.9)), 1.0) == "40% at the start, 90% from 12 months on"
    ages = np.array([0, 23, 24])
    assert new_crown_share(((24.0, 1.0), (60.0, 0.5)), ages).tolist() == [0.0, 0.0, 1.0]
    assert old_crown_share(((24.0, 1.0), (60.0, 0.5)), ages, from_establishment=True).tolist() == [1.0, 1.0, 1.0]


@pytest.mark.parametrize("way", list(default_techniques()))
def test_no_default_curve_speaks_of_a_time_before_the_start(way):
    technique = default_techniques()[way]
    curves_of = [(technique.new_crown, 0.0), *([(technique.old_crown.curve, 1.0)] if technique.old_crown else [])]
    for figure, before in curves_of:
        for points in (figure.value, figure.low, figure.high):
            assert not re.search(r"-\d|\b0 months|months to \d+ months|years to \d+ years", told_before(points, before))
