"""A season's record in and out as a CSV; every mistake in one sentence with its line."""

import pytest
from farm_files import GRAFTED, SMALL

from renovation.inputs import (
    Cohort,
    LoanMoney,
    LoanRecord,
    SeasonRecord,
    Try,
    demo_names,
    demo_scenario,
    read_scenario,
    read_season,
    season_cells,
    season_csv,
    season_problems,
)
from renovation.inputs.errors import ScenarioError
from renovation.inputs.season_table import COLUMNS
from renovation.words import Words

LENT = """
[[loans]]
name = "Bank"
amount = 300.0
payouts = [{ month = "2027-02" }]
rate_per_year = 0.1
term_months = 24
[[loans]]
name = "Later"
amount = 300.0
payouts = [{ month = "2029-02" }]
rate_per_year = 0.1
term_months = 24
"""
FARM = read_scenario(SMALL + GRAFTED + LENT, "farm.toml")
"""100 trees, 40 of them grafted in April 2026, two tries counted, 22 waiting; the season is 2027."""
HEAD = ",".join(COLUMNS)
GRAFT, PLANT = "Lower field,side_graft", "Lower field,rooted_cutting"
SEASON = "season,,,,,,,,2027-01"
GOOD = [
    SEASON,
    f"made,{GRAFT},2026-04,3,2027-02,,,20",
    f"taken,{GRAFT},2026-04,3,,,,12",
    f"made,{GRAFT},2027-05,,,,,30",
    f"taken,{GRAFT},2027-05,,,,,9",
    f"made,{GRAFT},2027-05,2,,,,15",
    f"given_up,{GRAFT},2027-05,,,,,1",
    f"prepared,{PLANT},2028-05,,,,,10",
    "kg_sold,Lower field,,,,,,,31.5",
    "price_per_kg,,,,,,,,3.8",
    "family_days,,,,,,,,40",
    "hired_days,,side_graft,,,,graft,,3.5",
    "spent_on_supplies,,,,,,,,20",
    "spent_in_all,,,,,,,,50",
    "other_income,,,,,,,,0",
    "money_in_hand,,,,,,,,112",
    "loan_paid,,,,,,,Bank,80",
    "loan_owed,,,,,,,Bank,210.5",
]


def read(*lines):
    return read_season("\n".join([HEAD, *lines]), "season.csv", FARM)


def test_every_figure_finds_its_place():
    record = read(*GOOD)
    old, new, nursery = record.cohorts
    assert old.tries == (Try(number=3, month="2027-02", made=20, taken=12),)
    assert new == Cohort(
        stand="Lower field",
        technique="side_graft",
        start="2027-05",
        tries=(Try(number=1, made=30, taken=9), Try(number=2, made=15)),
        given_up=1,
    )
    assert (nursery.prepared, nursery.start) == (10, "2028-05")
    assert (record.kg, record.kg_by_stand, record.price_per_kg) == (31.5, {"Lower field": 31.5}, 3.8)
    assert (record.family_days, record.hired_days, record.spent_in_all) == (40.0, 3.5, 50.0)
    assert (record.other_income, record.money_in_hand) == (0.0, 112.0)
    assert (record.loans[0].paid, record.loans[0].owed) == (80.0, 210.5)


def test_payments_month_by_month_and_payouts_find_their_place():
    record = read(
        SEASON,
        "loan_paid,,,,,2027-04,,Bank,13.84",
        "loan_received,,,,,2027-02,,Bank,300",
        "loan_paid,,,,,2027-03,,Bank,0",
        "loan_owed,,,,,,,Bank,290",
    )
    assert record.loans[0].received == {"2027-02": 300.0}
    assert (record.loans[0].paid_in_all, record.loans[0].owed) == (13.84, 290.0)
    assert {row.month: row.paid for row in record.loans[0].by_month if row.paid is not None} == {
        "2027-03": 0.0,
        "2027-04": 13.84,
    }


def test_the_empty_table_names_each_month_in_which_something_falls_due():
    rows = [(row["what"], row["month"]) for row in season_cells(FARM) if row["loan"] == "Bank"]
    assert rows[:3] == [("loan_received", "2027-02"), ("loan_paid", ""), ("loan_paid", "2027-03")]
    assert [what for what, _ in rows].count("loan_paid") == 11
    assert rows[-1] == ("loan_owed", "")


def test_a_record_put_together_elsewhere_is_checked_alike():
    twice = tuple(LoanMoney(month="2027-04", paid=1.0) for _ in range(2))
    record = SeasonRecord(season="2027-01", loans=(LoanRecord(loan="Bank", by_month=twice),))
    assert [told.code for _, told in season_problems(record, FARM)] == ["season_error.loan_month_twice"]


def test_semicolons_and_decimal_commas_of_other_countries_are_read():
    text = "\n".join([HEAD, SEASON, "kg_sold,,,,,,,,31.5"]).replace(",", ";").replace("31.5", "31,5")
    assert read_season("\ufeff" + text.replace("\n", "\r\n"), "season.csv", FARM).kg == 31.5


@pytest.mark.parametrize("name", [*demo_names(), None])
def test_the_empty_table_of_a_farm_reads_as_an_empty_record(name):
    farm = demo_scenario(name) if name else FARM
    assert read_season(season_csv(season_cells(farm)), "blank.csv", farm) == SeasonRecord(season=farm.appraisal.start)


def test_the_empty_table_asks_for_what_is_under_way_planned_and_lent():
    asked = [tuple(row[column] for column in ("what", "start", "try", "loan")) for row in season_cells(FARM)]
    assert ("made", "2026-04", "3", "") in asked
    assert ("made", "2026-04", "2", "") not in asked
    assert ("loan_paid", "", "", "Bank") in asked
    assert ("loan_paid", "", "", "Later") not in asked
    demo = {(row["what"], row["start"]) for row in season_cells(demo_scenario("few_hands"))}
    assert {("made", "2026-10"), ("given_up", "2026-10")} <= demo
    assert not {("made", "2027-10"), ("made", "2028-10")} & demo


BAD = {
    "kg_sold,,,,,,,,many": "many is not a number. Write digits only, such as 3.5 or 1500.",
    'kg_sold,,,,,,,,"1,500"': "1,500 can be read in two ways. Write 1500 for the large number",
    "kg_sold,,,,,,,,-3": "-3 is out of bounds. Write a number of 0 or more (kg of beans, as you sell them).",
    f"made,{GRAFT},2027-05,,,,,3.5": "3.5 is not whole. Write a whole number from 0 to 1,000,000 (trees).",
    "kg_solt,,,,,,,,3": "kg_solt is no figure that is recorded. Did you mean kg_sold?",
    "kg_sold,,side_graft,,,,,,3": "kg_sold has no technique. Leave that cell empty; found side_graft.",
    "made,Lower field,,,,,,,3": "For made the column technique must be filled in.",
    f"made,{GRAFT},May,,,,,3": "May under start is no month. Write year and month, such as 2027-04.",
    f"made,{GRAFT},2027-05,first,,,,3": "first is no number of a try. Write a whole number",
    "kg_sold,Lower feld,,,,,,,3": "No stand is called Lower feld. Did you mean Lower field? Stands: Lower field.",
    "made,Lower field,side_grafft,2027-05,,,,,3": "side_grafft is not among the ways of this farm. Did you mean",
    "family_days,,side_graft,,,,grafting,,3": "grafting is no work of this way. Did you mean graft?",
    "loan_paid,,,,,,,Bnk,3": "No loan is called Bnk. Did you mean Bank? Loans: Bank and Later.",
    "loan_paid,,,,,,,Later,3": "Later is paid out from February 2029 on, after this season",
    "loan_paid,,,,,2028-01,,Bank,3": "2028-01 is not in this season. Write a month from January 2027 to December 2027.",
    "loan_paid,,,,,2027-01,,Bank,3": "A payment on Bank is recorded in 2027-01, but its first payout came in February",
    "loan_paid,,,,,March,,Bank,3": "March under month is no month. Write year and month, such as 2027-04.",
    "loan_paid,,,,,2027-03,,Bank,-3": "-3 is out of bounds. Write a number of 0 or more (USD).",
    "loan_paid,,,,,2027-03,,,3": "For loan_paid the column loan must be filled in.",
    "loan_received,,,,,,,Bank,3": "For loan_received the column month must be filled in.",
    "loan_received,,,,,2027-02,,Bank,302": "302 in all was received of Bank, which had 300 left to pay out. Write 300",
    "loan_owed,,,,,2027-03,,Bank,3": "loan_owed has no month. Leave that cell empty; found 2027-03.",
    f"made,{GRAFT},2027-05,,,,,61": "Trees begun: 61. Of Lower field only 60 more were free. Write",
    f"made,{GRAFT},,,,,,3": "Trees of Lower field by Side graft were under way before.",
    f"made,{GRAFT},2026-05,,,,,3": "No trees of Lower field by Side graft have been under way since 2026-05. Known",
    f"made,{PLANT},2026-05,,,,,3": "No trees of Lower field by Rooted cutting have been under way since 2026-05.",
    f"prepared,{PLANT},2027-05,,,,,3": "A nursery is recorded for trees planted after the season",
    f"made,{PLANT},2028-05,,,,,3": "Work on trees of 2028-05 begins after the season, which ends in December 2027.",
    f"made,{GRAFT},2026-04,6,,,,3": "There is no try number 6: Side graft has 5. Write 5 or less.",
    f"made,{GRAFT},2026-04,2,,,,3": "Try number 2 was counted before this season. The next one is number 3.",
    f"made,{GRAFT},2026-04,4,,,,3": "Try number 4 cannot come yet. The next one to record is number 3.",
    f"taken,{GRAFT},2026-04,,,,,3": "3 took, but how many were made is not recorded. Write under made how many.",
    f"made,{GRAFT},2026-04,,,,,23": "Made: 23. Trees that waited for this try: 22.",
    f"made,{GRAFT},2026-04,,2026-12,,,3": "2026-12 is no month that this try can have. Write a month from",
    f"given_up,{GRAFT},2027-05,,,,,3": "Given up: 3. No try was made on these. Leave it empty.",
    f"given_up,{GRAFT},2026-04,,,,,23": "Given up: 23. Only 22 had not taken. Write 22 or less.",
}


@pytest.mark.parametrize(("line", "sentence"), BAD.items())
def test_a_mistake_is_told_with_its_line(line, sentence):
    with pytest.raises(ScenarioError) as caught:
        read(SEASON, line)
    said = caught.value.sentences(Words("en"))
    assert len(said) == 1
    assert said[0].startswith(f"season.csv, line 3: {sentence}")


PAIRS = [
    ("loan_paid,,,,,2027-03,,Bank,5", "loan_paid,,,,,,,Bank,4", 4, "4 in all is less than its parts, which sum to 5."),
    (
        "loan_paid,,,,,2027-03,,Bank,5",
        "loan_paid,,,,,2027-03,,Bank,4",
        4,
        "loan_paid was given for the same in line 3. Keep one.",
    ),
    (
        "loan_received,,,,,2027-02,,Bank,0",
        "loan_paid,,,,,2027-03,,Bank,4",
        4,
        "A payment on Bank is recorded in 2027-03, but nothing of it was received.",
    ),
    (
        "loan_received,,,,,2027-03,,Bank,300",
        "loan_paid,,,,,2027-02,,Bank,4",
        4,
        "A payment on Bank is recorded in 2027-02, but its first payout came in March 2027.",
    ),
    (
        "loan_received,,,,,2027-02,,Bank,200",
        "loan_received,,,,,2027-05,,Bank,100",
        4,
        "Bank: a payout is recorded in 2027-05, after its grace time. Payouts end in February 2027.",
    ),
    ("kg_sold,,,,,,,,3", "kg_sold,,,,,,,,4", 4, "kg_sold was given for the same in line 3. Keep one."),
    ("kg_sold,Lower field,,,,,,,5", "kg_sold,,,,,,,,4", 4, "4 in all is less than its parts, which sum to 5."),
    ("spent_on_wages,,,,,,,,5", "spent_in_all,,,,,,,,4", 4, "4 in all is less than its parts, which sum to 5."),
    ("hired_days,,side_graft,,,,,,5", "hired_days,,,,,,,,4", 4, "4 in all is less than its parts, which sum to 5."),
    (
        f"taken,{GRAFT},2027-05,,,,,4",
        f"made,{GRAFT},2027-05,,,,,3",
        3,
        "4 are said to have taken",
    ),
]


@pytest.mark.parametrize(("one", "other", "line", "sentence"), PAIRS)
def test_figures_that_contradict_each_other_are_told(one, other, line, sentence):
    with pytest.raises(ScenarioError) as caught:
        read(SEASON, one, other)
    assert [
        told.startswith(f"season.csv, line {line}: {sentence}") for told in caught.value.sentences(Words("en"))
    ] == [True]


def test_a_tree_that_waits_though_no_try_is_left_is_told():
    tries = [
        f"{what},{GRAFT},2026-04,{number},,,,{n}" for number in (3, 4, 5) for what, n in (("made", 5), ("taken", 0))
    ]
    with pytest.raises(ScenarioError) as caught:
        read(SEASON, *tries, f"given_up,{GRAFT},2026-04,,,,,4")
    assert str(caught.value).startswith("season.csv, line 9: Given up: 4. Trees that still wait: 1, and try number 5")


@pytest.mark.parametrize(
    ("season", "said"),
    [
        ("2028-01", "line 2: The season 2028-01 is still to come for this farm, whose first month is January 2027."),
        ("2026-01", "line 2: The season 2026-01 is earlier than this farm, whose first month is January 2027."),
        ("last", "line 2: last under value is no month."),
    ],
)
def test_a_season_that_is_not_this_farms_is_told(season, said):
    with pytest.raises(ScenarioError) as caught:
        read(SEASON.replace("2027-01", season))
    assert str(caught.value).startswith(f"season.csv, {said}")


def test_a_record_without_its_season_is_told():
    with pytest.raises(ScenarioError) as caught:
        read("kg_sold,,,,,,,,3")
    assert str(caught.value) == (
        "season.csv: The season is not named. Write a line with season under what and 2027-01 under value."
    )


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "season.csv is empty. Its first line must name the columns: what, "),
        (b"\xff\xfe", "season.csv is not plain text. Save the table as CSV in UTF-8."),
        (b"a" * 1_000_001, "season.csv is too large. A table holds at most 1,000 kilobytes."),
        (f"{HEAD},crop\n", "season.csv, line 1: crop is not a column of this table. Did you mean loan?"),
        (f"{HEAD},loan\n", "season.csv, line 1: the column loan is there twice. Keep one."),
        ("what,value\n", "season.csv, line 1: there is no column stand, technique, "),
        (f"{HEAD}\nkg_sold,,,,,,,,3,4\n", "season.csv, line 2: there is more than the 9 columns hold."),
        (f'{HEAD}\nkg_sold,"Lower,,,,,,3\n', "season.csv, line 2: a quotation mark is not closed."),
        (HEAD + "\n" * 20_001, "season.csv has too many lines. A table holds at most 20,000."),
    ],
)
def test_a_file_that_is_no_such_table_is_told(content, said):
    with pytest.raises(ScenarioError) as caught:
        read_season(content, "season.csv", FARM)
    assert str(caught.value).startswith(said.removesuffix(" Did you mean loan?"))


def test_trees_of_one_start_with_fewer_tries_are_told_apart_by_the_number_of_the_try():
    """22 wait for their third try; 5 others of the same month, tried once, for their second."""
    fewer = GRAFTED.replace("40", "5").replace("[10, 8]", "[0]")
    farm = read_scenario(SMALL + GRAFTED + fewer, "farm.toml")

    def codes(*tries, **counts):
        counted = tuple(Try(number=number, made=made, taken=0) for number, made in tries)
        cohort = Cohort(stand="Lower field", technique="side_graft", start="2026-04", tries=counted, **counts)
        return [problem.code for _, problem in season_problems(SeasonRecord(season="2027-01", cohorts=(cohort,)), farm)]

    assert codes((2, 5), (3, 27), given_up=27) == []
    assert codes((3, 22)) == []
    assert codes((3, 23)) == codes((2, 6)) == ["season_error.more_made"]
    assert codes((1, 1)) == ["season_error.try_counted"]
    assert codes(given_up=28) == ["season_error.more_given_up"]


def test_one_kind_of_trees_twice_is_told():
    cohort = Cohort(stand="Lower field", technique="side_graft", start="2026-04", tries=(Try(number=3, made=1),))
    twice = season_problems(SeasonRecord(season="2027-01", cohorts=(cohort, cohort)), FARM)
    assert [problem.code for _, problem in twice] == ["season_error.cohort_twice"]
