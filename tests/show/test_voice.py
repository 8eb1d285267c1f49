"""The one voice: what is there is never said to be 0, and a rounding is half a unit of what is shown at most."""

import re
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from renovation.show.voice import Voice, at_head, runs
from renovation.words import Words

VOICE = Voice(Words("en"), "USD", "2027-01")


@given(st.floats(1e-9, 5000.0))
def test_some_days_are_never_no_days_and_are_rounded_by_half_a_unit_at_most(days):
    said = VOICE.days(days)
    shown = float(re.search(r"[\d.,]+", said).group().replace(",", ""))
    if said.startswith("less than"):
        assert days < shown
    else:
        assert shown > 0
        assert abs(shown - days) <= (0.5 if days >= 10 else 0.05) + 1e-9


def test_no_days_are_no_days():
    assert VOICE.days(0.0) == "0 days"


@given(st.sets(st.integers(1, 60)))
def test_runs_hold_every_number_once_and_none_beside(numbers):
    found = runs(tuple(sorted(numbers)))
    assert [number for run in found for number in run] == sorted(numbers)
    assert all(run == list(range(run[0], run[-1] + 1)) for run in found)
    assert all(later[0] - earlier[-1] > 1 for earlier, later in pairwise(found))


def test_only_the_first_letter_changes_at_the_head():
    assert at_head("bud graft of IMC") == "Bud graft of IMC"
    assert at_head("") == ""
