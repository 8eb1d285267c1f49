"""What is said of loans near to one that does not fit: what changes and what it costs; or that no loan mends it."""

import pytest
from factories import loan_data as loan
from factories import ten_a_month as farm

from renovation.decide.lending import appraise_loans
from renovation.inputs import demo_scenario
from renovation.show.cash.sentences import largest
from renovation.show.loans.near import near
from renovation.words import Words

WORDS = Words("en")


def said(some_farm):
    judged = appraise_loans(some_farm).loans[0]
    return judged, near(judged, WORDS)


def test_nothing_is_said_of_a_loan_that_fits():
    assert said(demo_scenario("first_grafters"))[1] == []


def test_each_offer_says_what_it_changes_and_its_full_cost():
    judged, lines = said(demo_scenario("few_hands"))
    assert len(lines) == 1 + len(judged.near)
    for verdict, line in zip(judged.near, lines[1:], strict=True):
        terms, asked = verdict.terms, judged.as_stated.terms
        assert ("in place of FCFA" in line) == (terms.amount != asked.amount)
        assert (f"a term of {terms.term_months} months in place of {asked.term_months} months" in line) == (
            terms.term_months != asked.term_months
        )
        assert WORDS.percent(verdict.credit_cost.effective_per_year, 2) in line


def test_what_no_loan_mends_is_said_to_be_that_and_no_far_amount_is_named():
    """15 a month is spent and 10 comes in: 500 a year's end would not carry it, whatever the loan."""
    judged, lines = said(farm(loan(), people={"living_costs": 40.0}))
    assert judged.near == ()
    assert judged.without_it is not None
    assert "not mended by a loan's terms" in lines[1]
    assert judged.as_stated.largest.lowest > 1.5 * judged.loan.amount
    assert largest(judged, WORDS) == "No amount near to this one fits."


@pytest.mark.parametrize("name", ["few_hands", "first_grafters"])
def test_the_offers_stand_in_the_json(name):
    found = appraise_loans(demo_scenario(name)).loans[0]
    document = found.as_dict()
    assert [one["amount"] for one in document["near"]] == [verdict.terms.amount for verdict in found.near]
    assert all(one["fits"] for one in document["near"])
