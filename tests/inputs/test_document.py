"""A file that somebody wrote keeps its comments and its order when it is opened, changed and saved."""

import difflib
import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from odd_farms import odd_farm

from renovation.inputs import demo_names, demo_scenario, read_scenario, write_scenario
from renovation.inputs import document as written_over
from renovation.inputs.demos import demo_text
from renovation.inputs.files import written

OURS = """\
# Our farm, written by hand.

consider = ["side_graft", "hard_pruning"]   # two ways are enough

[about]
name = "Ours"

[appraisal]
start = "2027-01"
horizon_years = 25
discount_rate = 0.10  # what the bank gives
currency = "USD"

[household]
wage_per_day = 6      # food and all
family_days = [
    10, 10, 10, # winter
    12, 12, 12,
    12, 12, 12,
    10, 10, 10,
]
living_costs = 100.0
savings = 300.0

[market]
season = { window = "Ghana" }
price_per_kg = 2.5

# By the house.
[[stands]]
name = "Near"
trees = 200
crop_per_tree = 0.4
decline_per_year = 0.05
upkeep_days = 0.025
upkeep_inputs = 0.1

# Beyond the river.
[[stands]]
name = "Far"
trees = 300
crop_per_tree = 0.3
decline_per_year = 0.05
upkeep_days = 0.025
upkeep_inputs = 0.1

# From our own count.
[techniques.side_graft]
take = [0.5, 0.7]

# The bank's.
[[loans]]
name = "Bank"
amount = 200.0
payouts = [{ month = "2027-03" }]
rate_per_year = 0.12
term_months = 24

# What we want.
[planning]
years = 3
"""
FARM = read_scenario(OURS, "ours.toml")
STANDS = FARM.model_dump()["stands"]


def lines(before, after):
    """The lines that were taken out and those that came in."""
    found = [line for line in difflib.ndiff(before.splitlines(), after.splitlines()) if line[0] in "+-"]
    return [line[2:] for line in found if line[0] == "-"], [line[2:] for line in found if line[0] == "+"]


def changed(text=OURS, **changes):
    """The text with the farm changed, and the lines out and in."""
    farm = read_scenario(text, "ours.toml").changed(**changes)
    after = write_scenario(farm, text)
    assert read_scenario(after, "ours.toml") == farm
    return after, *lines(text, after)


def comments(text):
    return sorted(line.partition("#")[2] for line in text.splitlines() if "#" in line)


TEXTS = {"ours": OURS, **{name: demo_text(name) for name in demo_names()}}


@pytest.mark.parametrize("name", TEXTS)
def test_opened_and_saved_without_a_change_the_text_is_the_same(name):
    assert write_scenario(read_scenario(TEXTS[name], "x.toml"), TEXTS[name]) == TEXTS[name]


def test_the_mark_at_a_files_head_and_ends_of_lines_of_another_system_stay():
    text = "\N{ZERO WIDTH NO-BREAK SPACE}" + OURS.replace("\n", "\r\n")
    assert write_scenario(read_scenario(text, "x.toml"), text) == text
    after, _, _ = changed(text, household__wage_per_day=7.0)
    assert after == text.replace("wage_per_day = 6 ", "wage_per_day = 7.0 ")


@pytest.mark.parametrize("name", TEXTS)
def test_one_changed_figure_changes_its_line_and_no_other(name):
    text = TEXTS[name]
    after, out, come = changed(text, stands__0__decline_per_year=0.0625)
    assert [line.partition(" = ")[0] for line in out + come] == ["decline_per_year"] * 2
    assert comments(after) == comments(text)


def test_the_comment_behind_a_figure_and_those_within_a_list_stay():
    assert changed(household__wage_per_day=7.0)[1:] == (
        ["wage_per_day = 6      # food and all"],
        ["wage_per_day = 7.0      # food and all"],
    )
    days = [12.0 if month == 1 else float(day) for month, day in enumerate(FARM.household.family_days)]
    assert changed(household__family_days=tuple(days))[1:] == (
        ["    10, 10, 10, # winter"],
        ["    10, 12.0, 10, # winter"],
    )


def test_a_key_that_is_new_stands_in_its_table_before_the_next_ones_comment():
    after, out, come = changed(stands__0__empty_places=9)
    assert (out, come) == ([], ["empty_places = 9"])
    assert "upkeep_inputs = 0.1\nempty_places = 9\n\n# Beyond the river.\n[[stands]]" in after


def test_a_part_that_is_as_the_defaults_have_it_goes_with_its_comment():
    after, out, come = changed(appraisal__discount_rate=0.08, planning={})
    assert come == ["discount_rate = 0.08  # what the bank gives"]
    assert out[1:] == ["", "# What we want.", "[planning]", "years = 3"]
    assert after.endswith("term_months = 24\n")


def test_a_field_more_and_a_field_less_leave_the_others_and_their_comments():
    after, out, _ = changed(stands=(*STANDS, {**STANDS[0], "name": "New"}))
    assert out == []
    assert after.index("# Beyond the river.") < after.index('"New"') < after.index("# From our own count.\n[techniques")
    after, out, come = changed(stands=(STANDS[0],))
    assert come == []
    assert comments(after) == [line for line in comments(OURS) if line != " Beyond the river."]
    assert len(out) == 9
    after, _, come = changed(stands=(STANDS[1],))
    assert come == []
    assert "# Beyond the river.\n[[stands]]" in after


def test_a_loan_repaid_goes_with_its_comment():
    after, out, come = changed(loans=())
    assert come == []
    assert out[0] == "# The bank's."
    assert "take = [0.5, 0.7]\n\n# What we want.\n[planning]" in after


def test_a_season_of_our_own_takes_the_place_of_the_window():
    _, out, come = changed(market__season={"shares": (1.0, *(0.0,) * 11)})
    assert (len(out), len(come)) == (1, 1)
    assert come[0].startswith("season = {shares = [1.0, ")


def test_tables_in_no_order_and_dotted_keys_are_written_so_that_they_are_read():
    mixed = OURS + "learning.rate = 0.9 # ours\n\n[techniques.hard_pruning]\nattempts = 1\n"
    for changes in (
        {"planning__learning": None},
        {"planning__years": 4},
        {"techniques__side_graft__take__value": (0.6, 0.8)},
        {"loans": (), "stands__1__trees": 5},
    ):
        changed(mixed, **changes)


def inline(value):
    """A value on one line, tables in braces."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {inline(entry)}" for key, entry in value.items()) + " }"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(inline, value))}]"
    return str(value).lower() if isinstance(value, bool) else json.dumps(value, ensure_ascii=False)


def dotted(table, path=""):
    """A line for each key, its tables joined by dots, with a comment behind."""
    for key, value in table.items():
        if isinstance(value, dict):
            yield from dotted(value, f"{path}{key}.")
        else:
            yield f"{path}{key} = {inline(value)} # {key}"


@pytest.mark.parametrize("name", ["few_hands", "third_year"])
def test_other_ways_to_lay_out_a_file_are_kept_too(name):
    farm = demo_scenario(name)
    for way in (
        [f"{key} = {inline(value)} # {key}" for key, value in written(farm).items()],
        [*dotted(written(farm))],
    ):
        after, out, come = changed("\n".join(way) + "\n", household__wage_per_day=7.5)
        assert (len(out), len(come)) == (1, 1)
        assert "wage_per_day = 7.5" in come[0]
        after, _, _ = changed("\n".join(way) + "\n", planning={}, stands__0__empty_places=3)
        assert len(comments(after)) > len(way) / 2


def test_a_text_that_cannot_be_kept_is_written_anew():
    farm = FARM.changed(household__wage_per_day=7.0)
    anew = write_scenario(farm)
    assert write_scenario(farm, "no farm at all") == anew
    long = OURS + "#" * written_over.LONGEST_KEPT
    assert write_scenario(farm, long) == anew
    assert read_scenario(anew, "anew.toml") == farm


def commented(text, seed):
    """A text with comments everywhere that a person may write one."""
    draw, made = random.Random(seed), []
    for number, line in enumerate(text.splitlines()):
        if line.startswith("[") and draw.random() < 0.6:
            made.append(f"# head {number}")
        plain = line and '"""' not in line and not line.endswith(",")
        made.append(f"{line} # line {number}" if plain and draw.random() < 0.5 else line)
    return "\n".join(made) + "\n"


def check(first, second, seed):
    """Whatever farm is written over whatever text, it is read again."""
    text = commented(write_scenario(odd_farm(first)), seed)
    farm = odd_farm(second)
    assert read_scenario(write_scenario(farm, text), "x.toml") == farm
    assert write_scenario(odd_farm(first), text) == text


ANY = st.integers(0, 10_000)


@settings(max_examples=2, derandomize=True)
@given(ANY, ANY, ANY)
def test_whatever_is_written_over_a_text_is_read_again(first, second, seed):
    check(first, second, seed)


@pytest.mark.long
@settings(max_examples=80)
@given(ANY, ANY, ANY)
def test_whatever_is_written_over_many_texts_is_read_again(first, second, seed):
    check(first, second, seed)


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
def test_every_demo_farm_written_over_every_other_is_read_again(name):
    for other in demo_names():
        farm = demo_scenario(other)
        assert read_scenario(write_scenario(farm, demo_text(name)), "x.toml") == farm
