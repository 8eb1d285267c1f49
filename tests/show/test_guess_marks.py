"""What is guessed of a farm is marked wherever a figure of it stands; what was told is not."""

import io

import openpyxl
import pytest
from own_farm import ROWS

from renovation.commands.program import main
from renovation.decide import compare
from renovation.decide.guesses import telling
from renovation.decide.risk import sensitivity
from renovation.inputs import write_scenario
from renovation.inputs.notebook import QUESTIONS, answered, new_farm
from renovation.show.guesses import figure_name, guessed_lines, reasoned, summary
from renovation.show.report.stated import stated, stated_stands
from renovation.show.risk.tables import bars
from renovation.show.workbook import workbook
from renovation.words import Words

WORDS = Words("en")
LEFT = ("wage", "money")
"""Questions that the family leaves for later."""


@pytest.fixture(scope="module")
def farm():
    made = new_farm("2027-01", "My farm", "Field 1")
    for question in QUESTIONS:
        if question.name not in LEFT:
            made = answered(made, question, ROWS.get(question.name, []))
    return made


def test_one_sentence_says_how_many_and_which_two_move_the_answer_most(farm):
    comparison = compare(farm)
    ranked = telling(comparison, comparison.headline)
    two = [figure_name(farm, path, WORDS) for path, _ in ranked[:2]]
    assert ranked[0][1].width >= ranked[1][1].width >= ranked[2][1].width > 0
    said = summary(comparison, WORDS)
    assert said.startswith(f"{len(farm.guessed)} figures")
    assert all(name in said for name in two)
    assert not any(figure_name(farm, path, WORDS) in said for path, _ in ranked[2:])
    assert guessed_lines(farm.changed(guessed={}), WORDS) == []


def test_the_tables_of_the_report_mark_each_guess_with_its_range_and_what_was_told_as_told(farm):
    rows = {row["what"]: row["source"] for row in stated(farm, WORDS).records()}
    assert rows["Wage per day"] == "our guess, between 30 and 144 GHS per day of work"
    assert rows["Family days a month"] == WORDS("report.cell.stated_by_family")
    stands = {row["what"]: row for row in stated_stands(farm, WORDS).records()}
    assert stands["Decline a year"]["stand_2"] == "4% (our guess, 1% to 8%)"
    assert stands["Trees"]["stand_2"] == "140"


@pytest.mark.long
def test_the_workbook_marks_its_inputs(farm):
    sheet = openpyxl.load_workbook(io.BytesIO(workbook(farm, WORDS)))[WORDS("workbook.sheet.inputs")]
    sources = {row[0].value: row[3].value for row in sheet.iter_rows(max_col=4)}
    assert sources["Wage per day"] == "our guess, between 30 and 144 GHS per day of work"
    assert sources["Price at the farm"] == WORDS("source.own")


def test_switching_values_stand_beside_the_guesses_that_have_them(farm):
    rows = bars(sensitivity(compare(farm)), WORDS).records()
    marked = {row["driver"]: row["switching"] for row in rows if "our guess" in row["driver"]}
    assert {"Wage (our guess)", "Deductions (our guess)", "Decline of the old trees (our guess)"} <= set(marked)
    assert any(value not in ("", "–") for value in marked.values())
    assert "Price" in {row["driver"] for row in rows}, "the price was told"


def test_a_command_ends_with_what_is_guessed(farm, tmp_path, capsys):
    path = tmp_path / "own.toml"
    path.write_text(write_scenario(farm), "utf-8")
    assert main(["compare", str(path)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert f"{len(farm.guessed)} figures of this farm are our guesses." in out
    assert "Wage per day: 60 GHS per day of work, our guess, between 30 and 144 GHS per day of work" in out


def test_each_guess_says_its_class_and_why(farm):
    said = reasoned(farm, WORDS)
    assert len(said) == 7, "of three fields alike once"
    assert all("Source: " in sentence for sentence in said)
    assert any("Rates move from week to week" in sentence for sentence in said)
