"""Cash and loans in words: every case of the answer by hand-made farms; tables and commands on every scenario."""

import csv
import io
import json
import re

import numpy as np
import pytest
from factories import loan_data, scenario, stand, ten_a_month
from farm_files import FARMS

from renovation.commands.program import answer, main
from renovation.decide import appraise_loans
from renovation.decide.held import as_held
from renovation.farm import CashSide, HouseholdCash, farm_flows, household_cash, labour_by_month
from renovation.inputs import Loan, Payout, load_scenario, scenario_folder
from renovation.money.loan_terms import LoanError
from renovation.show.cash import sentences as cash_sentences
from renovation.show.cash import tables as cash_tables
from renovation.show.loans.refused import refusal
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
NAMES = [path.stem for path in FARMS]


def side(farm_cash, savings=0.0, floor=0.0):
    """One side with nothing but farm cash, given as {month: money} over four years."""
    money = np.zeros(48)
    for month, amount in farm_cash.items():
        money[month] = amount
    none = np.zeros(48)
    return CashSide(money, none, none, none, none, none, savings, floor, 0.0)


def household(with_plan, without=None, loans=(), start="2027-01"):
    return HouseholdCash(start, "USD", "", with_plan, without or side({}), loans, ())


TROUGH = {11: 100.0, 17: -300.0, 26: -140.0, 35: 100.0, 40: 500.0}
"""100 by the end of 2027, −200 from June 2028, −340 from March 2029, −240 at the end of 2029, 260 from May 2030."""


def farm(people=None, cover=1.1, shares=(1 / 12,) * 12, **terms):
    """Ten trees that bring 10 a month, with a loan of 120 at no interest over a year."""
    return ten_a_month(loan_data(**terms), people=people, test={"cover": cover}, shares=shares)


def judged(**changes):
    return appraise_loans(farm(**changes)).loans[0]


# --- the family ----------------------------------------------------------------------------------------


def test_the_answer_to_the_family():
    assert " ".join(cash_sentences.family_answer(household(side(TROUGH)), WORDS)) == (
        "Money runs short in 3 years: 2028 to 2030. The deepest point is -$340 in March 2029. "
        "2 years spend more than they bring: 2028 and 2029. "
        "Keep $340 in reserve."
    )


@pytest.mark.parametrize(
    ("chosen", "loans", "said"),
    [
        (
            side(TROUGH, savings=400.0),
            (),
            "Money is enough in every year. The lowest balance is $60.00 in March 2029. "
            "2 years spend more than they bring: 2028 and 2029. "
            "The savings carry the family through. No further reserve is needed.",
        ),
        (
            side(TROUGH, savings=400.0),
            (Loan(name="A", amount=1.0, payouts=(Payout(month="2027-01"),), rate_per_year=0.0, term_months=2),),
            "Money is enough in every year. The lowest balance is $60.00 in March 2029. "
            "2 years spend more than they bring: 2028 and 2029. "
            "Savings and loan carry the family through. No further reserve is needed.",
        ),
        (
            side(TROUGH, floor=60.0),
            (),
            # 0 below a floor of 60 until November 2027, 100 in December, below it again from June 2028 to April 2030
            "Money runs short in every year. The deepest point is -$340 in March 2029. "
            "2 years spend more than they bring: 2028 and 2029. "
            "Keep $400 in reserve, so that the balance stays at $60.00 or above.",
        ),
        (
            side({0: 5.0, 4: -25.0, 8: 30.0}),
            (),
            "Money runs short in 1 year: 2027. The deepest point is -$20.00 in May 2027. "
            "No year spends more than it brings. Keep $20.00 in reserve.",
        ),
        (
            side(dict.fromkeys(range(48), -1.0), savings=48.0),
            (),
            "Money is enough in every year. The lowest balance is $0.00 in December 2030. "
            "Every year spends more than it brings. "
            "The savings carry the family through. No further reserve is needed.",
        ),
        (
            side({3: -1.0, 12: 2.0}, savings=5.0),
            (),
            "Money is enough in every year. The lowest balance is $4.00 in April 2027. "
            "1 year spends more than it brings: 2027. "
            "The savings carry the family through. No further reserve is needed.",
        ),
        (
            side({}),
            (),
            "Money is enough in every year. The lowest balance is $0.00 in January 2027. "
            "No year spends more than it brings. No reserve beyond the savings is needed.",
        ),
    ],
)
def test_every_case_of_the_answer_to_the_family(chosen, loans, said):
    assert " ".join(cash_sentences.family_answer(household(chosen, loans=loans), WORDS)) == said


def test_years_that_do_not_begin_in_january_are_named_by_both_years_that_they_lie_in():
    told = cash_sentences.spends_more(cash := household(side(TROUGH), start="2027-04"), cash.with_plan, WORDS)
    assert told == "2 years spend more than they bring: 2028/29 and 2029/30."
    one = household(side({13: -1.0, 20: 2.0}), start="2027-04")
    assert cash_sentences.short(one, one.with_plan, WORDS) == "Money runs short in 1 year: 2028/29."


def test_what_stands_beside_no_plan():
    cash = household(side(TROUGH), without=side({0: 50.0, 40: -80.0}))
    assert cash_sentences.beside_no_plan(cash, WORDS) == [
        "In 2 years the plan brings less than the farm as it is: 2028 and 2029.",
        "With the farm as it is, money runs short in 1 year: 2030.",
        "With the farm as it is, 1 year spends more than it brings: 2030.",
        "With the farm as it is, the lowest balance is -$30.00 in May 2030.",
        "At the end of December 2030 the balance is $260 with the plan, and -$30.00 with the farm as it is.",
    ]


def test_hands_in_words():
    """2 days a month: the family has 1.5; half a day is hired, 0.25 at most."""
    some = scenario(
        stands=(stand(upkeep_days=2.4).model_dump(),),
        household={"family_days": 1.5, "wage_per_day": 8.0, "hired_days_limit": 0.25},
    )
    labour = labour_by_month(some, farm_flows(some, []))
    assert cash_sentences.hands(labour, WORDS) == [
        "The busiest month is January 2027, with 2 days of work. The family has 1.5 days.",
        "Most is hired in 2027: 6 days, for $48.00.",
        "There are not enough hands in 120 months. The worst is January 2027, with 0.2 days too few.",
    ]
    easy = some.changed(household__family_days=2.0, household__hired_days_limit=1.0)
    told = cash_sentences.hands(labour_by_month(easy, farm_flows(easy, [])), WORDS)
    assert told[1:] == ["The family does all the work itself.", "There are always enough hands."]


# --- the lender ----------------------------------------------------------------------------------------


def test_a_loan_that_fits():
    """Half the loan: 55 due in year 1 from 120; 119 is the most, as 1.1 · 11/12 · 119 is 119.99."""
    assert cash_sentences.lender_answer(judged(amount=60.0), WORDS) == [
        "Every instalment falls when there is money to pay it.",
        "The loan fits. Money covers each year's payments at least 1.10 times, and the balance stays at "
        "$0.00 or above.",
        "The largest loan that fits is $119.00.",
    ]


def test_a_loan_that_cannot_be_paid():
    """5 a month is lost: 15 with the loan's 10. In December 2027 60 less is there than at the start."""
    assert cash_sentences.lender_answer(judged(people={"living_costs": 15.0}), WORDS) == [
        "The first instalment that cannot be paid is due in September 2027. "
        "In today's money it asks for $10.00; $5.00 is there.",
        "5 of 12 payments cannot be made.",
        "The loan does not fit. What breaks first: at the end of September 2027 the balance is -$5.00, and "
        "$0.00 is always to be kept.",
        # 12/12 of the loan less 11/12 repaid must carry 60 over December: 720, six times the loan; nobody is told of it
        "No amount near to this one fits.",
    ]


def test_a_loan_short_of_coverage():
    """72 is left a year for 110: 0.65. 71.40 is the most: 1.1 · 11/12 · 71.40 is 71.995."""
    said = cash_sentences.loan_said(judged(people={"living_costs": 4.0}), WORDS)
    assert said[:5] == [
        "The loan does not fit. What breaks first: in 2027 the money covers the payments 0.65 times, and 1.10 "
        "times is asked for.",
        "If all goes as expected, every instalment can still be paid.",
        "The largest loan that fits is $71.40.",
        "The hardest year is 2027. The money left after living costs covers the payments 0.65 times, farm cash "
        "alone 1.09 times. That is a high risk.",
        # Grace of 10 months: the first of two instalments of 60 in December 2027, 72/60 is 1.2.
        "The shortest grace that works is 10 months. The first instalment may be due as late as December 2027.",
    ]


def test_interest_missed_within_grace_and_nothing_left():
    told = judged(people={"living_costs": 15.0}, amount=60.0, rate_per_year=0.12, grace_months=11)
    # 60 − 5 a month − 0.60 a month from month 1: −0.4 − 0.6 in month 10.
    assert cash_sentences.when_there_is_money(told, WORDS) == [
        "The first interest that cannot be paid is due in November 2027. "
        "In today's money it asks for $0.60; nothing is there.",
        "3 of 12 payments cannot be made.",
    ]
    assert cash_sentences.tightest_year(told, WORDS) == (
        "The hardest year is 2027. After living costs no money is left for the payments. Farm cash alone covers "
        "them 18.18 times. That is a high risk."
    )


def test_a_year_without_money_is_the_reason_for_both():
    told = judged(people={"living_costs": 10.0, "savings": 500.0})
    assert cash_sentences.lender_answer(told, WORDS) == [
        "The loan does not fit. What breaks first: in 2027 there is no money left to pay from.",
        "If all goes as expected, every instalment can still be paid.",
        "No amount of this loan fits, for the same reason.",
    ]
    assert cash_sentences.grace(told, WORDS) == "No grace makes this amount fit, the term of 1 year kept."


def test_a_loan_that_the_balance_needs():
    told = judged(people={"savings": 10.0, "floor": 30.0})
    assert cash_sentences.largest(told, WORDS) == (
        "The largest loan that fits is $119.00. Less than $10.00 would not carry the balance."
    )


def test_harvest_months_and_other_ways_of_repaying():
    shares = tuple(0.5 if month in (5, 6) else 0.0 for month in range(1, 13))
    told = judged(shares=shares, amount=60.0, people={"savings": 60.0}, rate_per_year=0.12)
    assert cash_sentences.beside_harvest(told, WORDS) == "10 of 12 payments fall in months without harvest."
    ways = cash_sentences.other_ways(told, WORDS)
    # In whole cents: 6000 at 1 % a month, 533 each month (6000 · 0.01 / (1 − 1.01^−12) is 533.09).
    owed, level = 6000, 0
    for _ in range(12):
        charged = int(owed * 0.01 + 0.5)
        owed, level = owed + charged - 533, level + charged
    # Half in May, half in June: 60 = A (1.01^−4 + 1.01^−5).
    half = 60 / (1.01**-4 + 1.01**-5)
    interest = f"${2 * half - 60:.2f}"
    assert ways == [
        f"Repaid in equal monthly instalments it fits, for ${level / 100:.2f} of interest.",
        f"Repaid only in May and June it fits, for {interest} of interest.",
    ]
    even = judged(amount=60.0)
    assert cash_sentences.beside_harvest(even, WORDS) == ("Every payment falls in a month in which cocoa is harvested.")
    assert len(cash_sentences.other_ways(even, WORDS)) == 1  # every month is a harvest month


def test_lower_prices_in_words():
    """At 9 a month 108 covers 55 · 1.1; 107.10 is the most. With living costs of 15 the first payment is missed."""
    assert cash_sentences.lower_prices(judged(amount=60.0), WORDS) == [
        "With a price 10% lower it still fits.",
        "The largest loan that fits is then $107.10.",
        "With a price 20% lower it still fits.",
        "The largest loan that fits is then $95.20.",
        "With a price 33% lower it still fits.",
        "The largest loan that fits is then $79.73.",
    ]
    # 6 a month is lost: 104 after month 0 (living costs 15, 9 from the farm: 114), less 16 a month: −14 in month 8.
    assert cash_sentences.lower_prices(judged(people={"living_costs": 15.0}), WORDS)[:2] == [
        "With a price 10% lower the first payment is missed in September 2027.",
        "No amount fits then.",
    ]
    # 119 fits as stated and not at a lower price: 108 / 109.08 is 0.99. Every payment can still be made.
    assert cash_sentences.lower_prices(judged(amount=119.0), WORDS)[0] == (
        "With a price 10% lower it does not fit, but every payment can still be made."
    )


def test_titles():
    assert cash_sentences.loan_title(judged(rate_per_year=0.125, term_months=30, grace_months=6), WORDS) == (
        "Tree loan: $120 at 12.5% a year, over 2 years 6 months, of which 6 months grace"
    )
    assert cash_sentences.loan_title(judged(), WORDS) == "Tree loan: $120 at 0% a year, over 1 year"


# --- refusals ------------------------------------------------------------------------------------------


def test_a_loan_that_cannot_be_worked_out_is_refused_in_words():
    twice = LoanError("payout_months_not_rising", loan="Tree loan", months=(1, 1))  # a file is refused before
    assert refusal(twice, WORDS) == ("Loan Tree loan: two payouts fall in one month. Add them up into one.")


def test_a_refusal_names_months_and_what_has_no_words_goes_by_its_code():
    early = LoanError("payout_before_start", loan="A", month="2026-12", first="2027-01")
    assert refusal(early, WORDS) == ("Loan A: a payout in December 2026 comes before the plan starts in January 2027.")
    other = LoanError("harvest_months_missing", loan="A")
    assert "harvest months missing" in refusal(other, WORDS)


def test_payouts_in_thirds_and_out_of_order_are_taken():
    thirds = ({"month": "2027-03", "share": 0.3333333}, {"month": "2027-02", "share": 0.6666667})
    told = judged(payouts=thirds, grace_months=3)
    assert told.as_stated.schedule.payout[[1, 2]].tolist() == [80.0, 40.0]


# --- tables --------------------------------------------------------------------------------------------


def test_the_year_table_of_the_family():
    table = cash_tables.cash_years(household(side(TROUGH), without=side({0: 50.0, 40: -80.0})), WORDS)
    assert [column.key for column in table.columns] == [
        *("year", "from_month", "farm_cash", "margin", "balance", "lowest_balance", "lowest_month", "what")
    ]
    assert [row["what"] for row in table.records()] == [
        "",
        "money runs short, spends more than it brings, brings less than the farm as it is",
        "money runs short, spends more than it brings, brings less than the farm as it is",
        "money runs short",
    ]
    assert [row["balance"] for row in table.records()] == ["100", "-200", "-240", "260"]
    assert table.records()[2]["lowest_month"].split() == ["Mar", "2029"]


def test_the_tables_of_a_loan():
    shares = tuple(0.5 if month in (5, 6) else 0.0 for month in range(1, 13))
    told = judged(shares=shares, people={"savings": 30.0})
    cases = {row["measure"]: row for row in cash_tables.cases(told, WORDS).records()}
    assert cases["Instalments"]["as_stated"] == "12"
    assert cases["Instalments"]["harvest"] == "2"
    assert cases["Fits"]["as_stated"] == "no"
    assert cases["Breaks first"]["as_stated"] == "coverage, 2027"
    payments = cash_tables.payments(told, WORDS).records()
    assert len(payments) == 12
    assert [row["result"] for row in payments[2:6]] == ["paid, no harvest", "paid", "paid", "paid, no harvest"]
    assert payments[0]["due"] == "10.00"
    # 120 and savings of 30, nothing harvested yet.
    assert payments[0]["available"] == "150.00"
    calendar = cash_tables.calendar(told, WORDS).records()
    assert [row["harvest_share"] for row in calendar[3:7]] == ["0%", "50%", "50%", "0%"]
    cover = cash_tables.cover(told, WORDS).records()
    assert [(row["year"], row["band_farm_only"]) for row in cover] == [("1", "high risk"), ("2", "good")]


def test_columns_of_zeros_are_left_out_and_the_fee_is_taken_off_what_is_received():
    some = farm(fee_share=0.1)
    cash = household_cash(some, farm_flows(some, ()))
    table = cash_tables.cash_years(cash, WORDS)
    keys = [column.key for column in table.columns]
    assert "other_income" not in keys
    assert "savings_interest" not in keys
    assert table.records()[0]["loan_payout"] == "108"


def test_operations_go_by_their_own_label():
    some = load_scenario(scenario_folder() / "first_grafters.toml")
    assert Voice.of(some, WORDS).work("graft") == "Graft"
    ways = dict(some.techniques)
    labelled = ways["side_graft"].operations["graft"].model_copy(update={"label": "Join the wood"})
    way = ways["side_graft"]
    ways["side_graft"] = way.model_copy(update={"operations": {**way.operations, "graft": labelled}})
    assert Voice.of(some.model_copy(update={"techniques": ways}), WORDS).work("graft") == "Join the wood"


# --- commands ------------------------------------------------------------------------------------------


def printed(*argv):
    return answer([str(word) for word in argv])


@pytest.mark.parametrize("path", FARMS, ids=NAMES)
def test_cash_answers_in_a_sentence_first(path):
    some = load_scenario(path)
    out = printed("cash", path)
    flows = farm_flows(some, some.plan)
    first = cash_sentences.family_answer(household_cash(some, flows), WORDS)[0]
    one_line = " ".join(out.split())
    assert one_line.index(" ".join(first.split())) < one_line.index(WORDS("cash.table.years"))
    assert some.digest in out
    assert WORDS("caution.planning_aid") in one_line
    assert max(map(len, out.splitlines())) <= 100
    assert not re.search(r"[{}]|\bnan\b|\bNone\b", out)


@pytest.mark.parametrize("path", FARMS, ids=NAMES)
def test_loan_answers_in_a_sentence_first(path):
    out = printed("loan", path, "--payments")
    one_line = " ".join(out.split())
    for told in appraise_loans(load_scenario(path)).loans:
        for sentence in cash_sentences.loan_said(told, WORDS):
            assert " ".join(sentence.split()) in one_line
    assert WORDS("lending.table.payments") in out
    assert max(map(len, out.splitlines())) <= 100
    assert not re.search(r"[{}]|\bnan\b|\bNone\b", out)


@pytest.mark.parametrize("path", FARMS, ids=NAMES)
def test_json_and_csv_hold_the_results_in_full(path):
    some = load_scenario(path)
    held = as_held(some, some.plan)
    flows = farm_flows(held, some.plan)
    cash, labour = household_cash(held, flows), labour_by_month(held, flows)
    told = json.loads(printed("cash", path, "--json"))
    assert told["cash"] == json.loads(json.dumps(cash.as_dict()))
    assert told["labour"] == json.loads(json.dumps(labour.as_dict()))
    assert told["stamp"]["scenario_digest"] == some.digest
    lent = json.loads(printed("loan", path, "--json"))
    assert lent["lending"] == json.loads(json.dumps(appraise_loans(some).as_dict()))
    months = list(csv.DictReader(io.StringIO(printed("cash", path, "--csv", "-"))))
    assert [float(row["balance"]) for row in months] == cash.with_plan.balance.tolist()
    years = list(csv.DictReader(io.StringIO(printed("cash", path, "--csv", "-", "--csv-table", "years"))))
    assert [int(row["year"]) for row in years if row["cash_gap"] == "True"] == list(cash.with_plan.gap_years)
    work = list(csv.DictReader(io.StringIO(printed("cash", path, "--csv", "-", "--csv-table", "labour"))))
    assert sum(float(row["hired_days"]) for row in work) == pytest.approx(labour.hired_days.sum())


def test_a_scenario_without_a_loan_says_so(tmp_path):
    text = (scenario_folder() / "first_grafters.toml").read_text("utf-8")
    without = re.sub(r"(?ms)^\[\[loans\]\].*?(?=^\[)", "", text)
    path = tmp_path / "no_loan.toml"
    path.write_text(without, "utf-8")
    assert WORDS("lending.no_loans") in printed("loan", path)
    assert json.loads(printed("loan", path, "--json"))["lending"]["loans"] == []


def test_a_loan_that_cannot_be_is_refused_by_both_commands(tmp_path, capsys):
    text = (scenario_folder() / "few_hands.toml").read_text("utf-8")
    path = tmp_path / "odd_cents.toml"
    path.write_text(re.sub(r"(?m)^amount = .*$", "amount = 450000.5", text), "utf-8")
    for command in ("cash", "loan"):
        assert main([command, str(path)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.startswith('odd_cents.toml: loans "Three-year loan".amount is 450000.5. Write a whole number')


def test_one_output_at_a_time(capsys):
    assert main(["cash", str(FARMS[0]), "--csv", "-", "--json"]) == 2
    assert capsys.readouterr().err.strip() == WORDS("command.error.two_outputs")


def test_tables_and_files_are_checked_by_name(tmp_path, capsys):
    assert main(["cash", str(FARMS[0]), "--csv", "-", "--csv-table", "month"]) == 2
    assert "Did you mean months?" in capsys.readouterr().err
    path = tmp_path / "book.csv"
    assert main(["cash", str(FARMS[0]), "--csv", str(path)]) == 0
    assert WORDS("command.done.written", path=path) in capsys.readouterr().out.replace("\n", " ")
    assert path.read_text("utf-8") == printed("cash", FARMS[0], "--csv", "-")
