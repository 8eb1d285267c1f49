"""What stands already in words: the check, the report and the loan that is running."""

from command_line import refused, said
from farm_files import GRAFTED, SMALL

from renovation.decide.lending import appraise_loans
from renovation.inputs import read_scenario
from renovation.screens.memory.plan import question
from renovation.show.cash.sentences import first_due, loan_said
from renovation.show.loans.contract import loan_schedule
from renovation.show.report.rows import stands
from renovation.show.terminal import check_text
from renovation.words import Words

WORDS = Words("en")
RUNNING = """
[[loans]]
name = "Bank"
running = true
amount = 120
payouts = [{ month = "2026-06" }]
rate_per_year = 0
term_months = 12
"""


def test_a_stand_of_which_every_tree_is_under_way_is_not_compared(capsys, tmp_path):
    beside = SMALL.partition("[[stands]]")[2].replace("Lower field", "Upper field").replace("trees = 100", "trees = 40")
    path = tmp_path / "begun.toml"
    path.write_text(SMALL + "[[stands]]" + beside + GRAFTED.replace("Lower field", "Upper field"), "utf-8")
    assert "Lower field" in said(capsys, "compare", path)
    assert refused(capsys, "compare", path, "--stand", "Upper field") == (
        "begun.toml: all trees of Upper field are under way, and none is left to weigh. "
        "Write in --stand a stand that has other trees."
    )


def test_a_running_loan_belongs_to_the_question_that_a_plan_answers():
    farm = read_scenario(SMALL + RUNNING, "running.toml")
    assert question(farm) != question(farm.changed(loans=()))
    new = farm.changed(loans__0__running=False, loans__0__payouts=({"month": "2027-06"},))
    assert question(new) == question(farm.changed(loans=()))


def test_trees_under_way_are_told_beside_their_stand():
    farm = read_scenario(SMALL + GRAFTED, "begun.toml")
    assert "It holds 1 stand with 100 trees.\nOf these: 40 under way." in check_text(farm, WORDS, 90)
    table = stands(farm, WORDS)
    assert [column.heading for column in table.columns][1:3] == ["Trees", "Under way"]
    assert table.rows[0][:3] == ("Lower field", "100", "40")
    assert len(stands(read_scenario(SMALL, "small.toml"), WORDS).columns) == len(table.columns) - 1


def test_a_running_loan_tells_what_is_owed_and_when_it_goes_on():
    """120 at no interest in June 2026 over twelve months: 60 left in January 2027; or 72, as the lender says."""
    lending = appraise_loans(read_scenario(SMALL + RUNNING, "running.toml"))
    judged = lending.loans[0]
    said = loan_said(judged, WORDS)
    assert "As January 2027 begins, $60.00 is still owed." in said
    assert "It is running: its amount can no longer be chosen." in said
    assert first_due(judged, lending.cash, WORDS) == "The next instalment is due in January 2027."
    assert [row[0] for row in loan_schedule(judged, WORDS).rows][:1] == ["Jan\u00a02027"]
    other = appraise_loans(read_scenario(SMALL + RUNNING + "owed = 72\n", "running.toml")).loans[0]
    assert (
        "As January 2027 begins, $72.00 is still owed as the lender says. By the contract it would be $60.00. "
        "The instalments left are set on what the lender says."
    ) in loan_said(other, WORDS)
    assert other.as_stated.schedule.debt_service[:7].tolist() == [12.0] * 6 + [0.0]
