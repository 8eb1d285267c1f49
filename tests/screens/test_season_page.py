"""The season page: what is written in its form is the record, and next year's farm is the program's own."""

import pytest
from factories import some_plain
from screens.visiting import farm, key, run, said, shown, visit
from streamlit.testing.v1 import AppTest

from renovation.decide.dossier import Dossier
from renovation.decide.happened import planned_and_happened
from renovation.decide.next_year import next_year
from renovation.inputs import (
    Cohort,
    LoanRecord,
    SeasonRecord,
    Try,
    demo_names,
    demo_scenario,
    read_scenario,
    season_cells,
    season_csv,
)
from renovation.screens.controls.text import plain
from renovation.screens.parts.next_year import next_name
from renovation.show.season.happened import figures_table, happened_sentences, parts_table
from renovation.show.season.next_year import next_file, note_sentences
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
NAME = "few_hands"
FARM = demo_scenario(NAME)
RECORD = SeasonRecord(
    season="2026-09",
    cohorts=(
        Cohort(stand="Near trees", technique="side_graft", start="2026-10", tries=(Try(number=1, made=40, taken=11),)),
    ),
    money_in_hand=210000.0,
    loans=(LoanRecord(loan="Three-year loan", owed=750000.0),),
)


def written(row):
    """The key of a row's control."""
    return ".".join(["season", *(part for name, part in row.items() if name != "value")])


def fill(at, **counted):
    for row in season_cells(farm(at)):
        for start, value in counted.items():
            if written(row).startswith(start):
                at.text_input(key=key(at, written(row))).set_value(value)


def labelled(at, label):
    return next(button for button in at.button if button.label == label)


def taken_in(at):
    labelled(at, WORDS("screen.season.take_in")).click()
    return run(at)


@pytest.mark.parametrize("name", some_plain(demo_names(), [NAME]))
def test_every_figure_of_the_table_has_its_control(name):
    at = visit("season", farm=name)
    rows = [row for row in season_cells(farm(at)) if row["what"] != "season"]
    there = {entry.key for entry in at.text_input}
    assert {key(at, written(row)) for row in rows} <= there
    taken_in(at)
    assert WORDS("screen.season.next") in [header.value for header in at.header]


def test_what_is_written_down_opens_next_years_farm():
    at = visit("season", farm=NAME)
    fill(
        at,
        **{
            "season.made.Near trees.side_graft.2026-10.1": "40",
            "season.taken.Near trees.side_graft.2026-10.1": "11",
            "season.money_in_hand": "210 000",
            "season.loan_owed": "750000",
        },
    )
    taken_in(at)
    found = next_year(FARM, RECORD)
    text = shown(at)
    for assumed in (False, True):
        assert all(plain(line) in text for line in note_sentences(found, WORDS, assumed=assumed))
    labelled(at, WORDS("screen.season.open")).click()
    run(at)
    assert farm(at) == found.farm
    assert at.session_state["origin"] == next_name(found.farm) == "few_hands_2027_09.toml"
    assert said(at) == [WORDS("screen.season.opened", month="September 2027")]
    assert not at.header  # the record was of the season before


def test_the_season_is_set_beside_what_was_expected_of_it():
    at = visit("season", farm=NAME)
    fill(at, **{"season.money_in_hand": "210000", "season.price_per_kg": "2000"})
    taken_in(at)
    found = planned_and_happened(FARM, SeasonRecord(season="2026-09", price_per_kg=2000.0, money_in_hand=210000.0))
    assert at.header[0].value == "Planned and happened"
    text = shown(at)
    assert all(plain(sentence) in text for sentence in happened_sentences(found, WORDS))
    cells = [cell for table in at.table for row in table.value.to_numpy().tolist() for cell in row]
    for table in (parts_table(found, WORDS), figures_table(found, WORDS)):
        assert {plain(cell) for row in table.rows for cell in row} <= set(cells)


def _reported():
    import streamlit as st

    from renovation.inputs import SeasonRecord, demo_scenario
    from renovation.screens.memory import cash, season, state

    farm = demo_scenario("few_hands")
    state.take_up(farm, "few_hands.toml", is_demo=True)
    season.keep(SeasonRecord(season="2026-09", price_per_kg=2000.0), as_planned=False)
    st.text(str("Planned and happened" in cash.report_file(cash.Asked.now(farm))))


@pytest.mark.long
def test_the_report_has_the_season_where_its_record_is_in_hand():
    at = AppTest.from_function(_reported, default_timeout=60).run()
    assert at.text[0].value == "True"


def test_a_plan_that_was_followed_is_taken_as_followed():
    at = visit("season", farm=NAME)
    at.toggle(key=key(at, "season_as_planned")).set_value(True)
    fill(at, **{"season.money_in_hand": "210000"})
    taken_in(at)
    labelled(at, WORDS("screen.season.open")).click()
    run(at)
    assert farm(at).under_way[0].trees == 50


def test_trees_that_nobody_planned_are_written_down_too():
    at = visit("season", farm=NAME)
    choices = {"stand": "Far trees", "technique": "rooted_cutting", "start": "2027-04"}
    for field, value in choices.items():
        at.selectbox(key=key(at, f"season.other.{field}")).set_value(value)
    for field, value in {"made": "20", "taken": "15"}.items():
        at.text_input(key=key(at, f"season.other.{field}")).set_value(value)
    fill(at, **{"season.money_in_hand": "210000"})
    taken_in(at)
    labelled(at, WORDS("screen.season.open")).click()
    entry = farm(run(at)).under_way[0]
    assert (entry.stand, entry.technique, entry.trees, entry.taken) == ("Far trees", "rooted_cutting", 20, (15,))


def test_a_mistake_is_told_beside_the_name_of_its_figure_and_nothing_is_made():
    at = visit("season", farm=NAME)
    first = "season.{}.Near trees.side_graft.2026-10.1"
    fill(at, **{first.format("made"): "40", first.format("taken"): "41", "season.kg_sold": "1,500"})
    taken_in(at)
    told = at.error[0].value
    assert "1,500 can be read in two ways" in told
    assert not at.header
    fill(at, **{"season.kg_sold": ""})
    taken_in(at)
    assert at.error[0].value == plain(
        "Near trees, Side graft of October 2026, Of these, took, try 1: "
        "41 are said to have taken, but only 40 were made. Write 40 or less."
    )


def test_a_table_that_was_filled_in_elsewhere_is_read_and_its_mistakes_are_told():
    at = visit("season", farm=NAME)
    text = season_csv(season_cells(FARM))
    good = text.replace("money_in_hand,,,,,,,,", "money_in_hand,,,,,,,,210000")
    upload = at.file_uploader(key=key(at, "season_upload"))
    upload.set_value(("bad.csv", text.replace("kg_sold,,,,,,,,", "kg_sold,,,,,,,,many").encode(), "text/csv"))
    run(at)
    assert "bad.csv, line 16: many is not a number" in at.error[0].value
    at.file_uploader(key=key(at, "season_upload")).set_value(("good.csv", good.encode(), "text/csv"))
    run(at)
    assert WORDS("screen.season.next") in [header.value for header in at.header]


def test_a_farm_whose_money_cannot_be_reckoned_is_told_to_count_it():
    at = visit("season", farm=NAME)
    at.session_state["scenario"] = farm(at).changed(household__living_costs=200_000.0, loans=())
    taken_in(run(at))
    assert "Count the money in hand and record it." in " ".join(said(at))


def test_the_file_that_is_saved_is_the_farm_that_is_opened():
    found = next_year(FARM, RECORD)
    assert read_scenario(next_file(found, WORDS), "next.toml") == found.farm


def test_the_season_s_works_are_drawn_each_with_its_words():
    at = visit("season", farm=NAME)
    works = {kind for month in range(12) for kind, days in Dossier(FARM).labour.work.items() if days[month] >= 0.05}
    assert {"graft", "harvest", "upkeep"} <= works
    drawn = [caption.value for caption in at.caption]
    for kind in works:
        assert Voice.of(FARM, WORDS).work(kind) in drawn
