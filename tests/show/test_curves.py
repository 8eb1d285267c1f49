"""Curves in a sentence: every number said stands in the data, and the ends, the top and the bottom are told."""

import re

from hypothesis import given
from hypothesis import strategies as st

from renovation.inputs import default_techniques
from renovation.show.curves import by_year_sentence, curve_sentence
from renovation.words import Words

WORDS = Words("en")
PART = re.compile(r"(nothing|\d+%) (?:until|at|from) (\d+) (months?|years?)(?: to (\d+) (months?|years?))?")
curves = st.dictionaries(st.integers(0, 400), st.integers(0, 100), min_size=1, max_size=12).map(
    lambda found: tuple((float(age), found[age] / 100) for age in sorted(found))
)


def told(sentence):
    """Every age in months with the percent said of it."""
    for part in sentence.split(", "):
        share, *ages = PART.match(part).groups()
        percent = 0 if share == "nothing" else int(share[:-1])
        for number, unit in zip(ages[::2], ages[1::2], strict=True):
            if number:
                yield int(number) * (12 if unit.startswith("year") else 1), percent


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
        share, first, last = re.match(r"(\d+%) (?:in|from) year (\d+)(?: to year (\d+)| on)?", part).groups()
        end = len(entries) if part.endswith(" on") else int(last or first)
        told_years += [share] * (end - int(first) + 1)
    assert told_years == entries


def test_the_side_graft_s_own_curve():
    new = default_techniques()["side_graft"].new_crown.value
    assert curve_sentence(new, WORDS).startswith(
        "nothing until 9 months, 58% at 3 years, 100% from 5 years to 15 years"
    )
