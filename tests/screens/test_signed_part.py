"""After signing on the lender's page: by the record in hand, what it says is what the program's own call says."""

import pytest
from screens.visiting import cells, choose, farm, key, run, said, shown, tables_of, type_in, visit

from renovation.decide.after_signing import after_signing
from renovation.inputs import LoanMoney, LoanRecord, SeasonRecord, demo_scenario, season_cells
from renovation.screens.controls.text import plain
from renovation.screens.parts import signed as part
from renovation.show.loans import signed
from renovation.words import Words

pytestmark = pytest.mark.long
WORDS = Words("en")
NAME = "few_hands"
FARM = demo_scenario(NAME)
MONTHS = {"2026-11": 8750.0, "2026-12": 8750.0, "2027-03": 0.0}
RECORD = SeasonRecord(
    season="2026-09",
    money_in_hand=60_000.0,
    loans=(
        LoanRecord(
            loan="Three-year loan",
            by_month=tuple(LoanMoney(month=month, paid=money) for month, money in MONTHS.items()),
        ),
    ),
)


def test_what_was_written_month_by_month_is_the_record():
    at = visit("season", farm=NAME)
    for row in season_cells(FARM):
        name = ".".join(["season", *(part for column, part in row.items() if column != "value")])
        if row["what"] == "loan_paid" and row["month"] in MONTHS:
            at.text_input(key=key(at, name)).set_value(f"{MONTHS[row['month']]:g}")
        elif row["what"] == "money_in_hand":
            at.text_input(key=key(at, name)).set_value("60000")
    next(button for button in at.button if button.label == WORDS("screen.season.take_in")).click()
    run(at)
    assert at.session_state["season_record"] == (RECORD, False)
    assert WORDS("screen.season.loans_where") in [caption.value for caption in at.caption]
    at.text_input(key=key(at, "season.loan_paid.....2027-03..Three-year loan")).set_value("-3")
    next(button for button in at.button if button.label == WORDS("screen.season.take_in")).click()
    run(at)
    assert "Paid on the loan in March 2027: Three-year loan" in at.error[0].value


def test_the_part_says_what_the_program_says():
    at = visit("lender", farm=NAME)
    assert "signed" not in at.button_group(key=key(at, "section.lender")).options
    at.session_state["season_record"] = (RECORD, False)
    run(at)
    choose(at, "lender", "signed")
    found = after_signing(FARM, RECORD)
    (one,) = found.loans
    assert one.season.late > 70_000
    on_page = shown(at)
    for sentence in (*signed.account_said(found, one, WORDS), *signed.now_said(found, one, WORDS)):
        assert plain(sentence) in on_page
    for table in (signed.ways_table(found, one, WORDS), signed.account_table(found, one, WORDS)):
        assert cells(table) in tables_of(at)
    assert said(at) == []


def test_it_is_there_of_a_loan_under_way_and_of_no_other():
    assert not part.there(FARM)
    at = choose(visit("lender", farm="third_year"), "lender", "signed")
    assert "is owed as the plan begins" in shown(at)


def test_a_contract_takes_a_count_of_live_trees_and_the_works_that_count():
    at = choose(visit("lender", farm=NAME), "lender", "terms")
    type_in(at, "loans.0.payouts.0.live_trees", "30")
    assert farm(at).loans[0].payouts[0].live_trees == 30
    works = at.button_group(key=key(at, "loan.0.works"))
    works.set_value([next(iter(FARM.techniques))])
    run(at)
    assert farm(at).loans[0].works == (next(iter(FARM.techniques)),)
    for typed, refusal in (
        ("many", "is not a number"),
        ("3.5", "is not a whole number"),
        ("9999", "empty places of the farm: 1,500"),
    ):
        type_in(at, "loans.0.payouts.0.live_trees", typed)
        assert refusal in at.error[0].value
        assert farm(at).loans[0].payouts[0].live_trees == 30
    type_in(at, "loans.0.payouts.0.live_trees", "")
    assert farm(at).loans[0].payouts[0].live_trees is None
