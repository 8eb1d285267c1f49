"""One name for one thing, everywhere: no other wording of it stands in the word files."""

import re

import pytest

from renovation.words import Words

WORDS = Words("en")
TEXTS = {key: WORDS.text(key) for key in sorted(WORDS.keys())}


def saying(pattern, texts=TEXTS):
    """Keys whose words, capitals aside, hold the pattern."""
    return {key for key, text in texts.items() if re.search(pattern, text, re.IGNORECASE)}


SHORT = r"money (never )?(runs?|is) short|short of money|money short|cash runs? short"
OF_SHORT = r"cash\.short\.|cash\.cell\.short|command\.cash\.help|risk\.(answer\.)?short\.|risk\.figure\.below_floor"
SPENDS_MORE = r"spends? more than (it|they) brings?"
OTHER_NAMES = r"gap years?\b|years? (that )?((does|do) not|pays?) (for|pay)|money gap"


def test_money_runs_short_is_said_of_a_balance_below_the_floor_alone():
    allowed = re.compile(OF_SHORT + r"|screen\.cash\.short_means|workbook\.about\.balance")
    assert {key for key in saying(SHORT) if not allowed.match(key)} == set()
    assert len(saying(SHORT)) > 10


def test_a_year_that_spends_more_than_it_brings_has_no_other_name():
    assert saying(OTHER_NAMES) == set()
    assert len(saying(SPENDS_MORE)) > 15


@pytest.mark.parametrize(
    ("pattern", "text"),
    [(SHORT, "Money runs short in 2028."), (OTHER_NAMES, "A gap year."), (OTHER_NAMES, "Years that do not pay")],
)
def test_another_name_would_be_caught(pattern, text):
    assert saying(pattern, {"a.b": text}) == {"a.b"}
