"""Each rule at its edge: the last value that is accepted, and the first that is refused."""

import pytest
from factories import scenario
from farm_files import SMALL
from pydantic import ValidationError

from renovation.inputs import ScenarioError, Technique, declared, default_technique, read_scenario
from renovation.inputs.loans import Loan
from renovation.inputs.scenario import Stand

FARM = SMALL.replace("horizon_years = 20", "horizon_years = 10")
ANY_MONTH = "[techniques.side_graft]\nstart_months = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]\n"


def codes(text):
    """The codes of the mistakes in a farm with these lines added; none where it is accepted."""
    try:
        read_scenario(FARM + text, "edges.toml")
    except ScenarioError as error:
        return {problem.code for problem in error.problems}
    return set()


def plan(*entries):
    lines = "".join(
        f'[[plan]]\nstand = "Lower field"\ntechnique = "{way}"\ntrees = {trees}\nstart = "{start}"\n'
        for way, trees, start in entries
    )
    return ANY_MONTH + lines


def loan(payout="2027-04", grace=12, term=36, more="", payouts=None):
    payouts = payouts or f'[{{ month = "{payout}" }}]'
    return (
        f'[[loans]]\nname = "Bank"\namount = 500\npayouts = {payouts}\nrate_per_year = 0.1\n'
        f"term_months = {term}\ngrace_months = {grace}\n{more}\n"
    )


def two_payouts(second, share=0.5):
    return f'[{{ month = "2027-04", share = 0.5 }}, {{ month = "{second}", share = {share} }}]'


@pytest.mark.parametrize(
    ("accepted", "refused", "code"),
    [
        # method §2 and §1: all trees of a stand may be treated, one more may not; ten years end in December 2036
        (plan(("side_graft", 100, "2028-04")), plan(("side_graft", 101, "2028-04")), "too_many_treated"),
        (
            plan(("side_graft", 60, "2028-04"), ("side_graft", 40, "2029-04")),
            plan(("side_graft", 60, "2028-04"), ("side_graft", 41, "2029-04")),
            "too_many_treated",
        ),
        (plan(("side_graft", 9, "2027-01")), plan(("side_graft", 9, "2026-12")), "outside_horizon"),
        (plan(("side_graft", 9, "2036-12")), plan(("side_graft", 9, "2037-01")), "outside_horizon"),
        ("[comparison]\ntrees = 100\n", "[comparison]\ntrees = 101\n", "too_many_compared"),
        # method §7: payouts up to the end of grace; grace counted from the first payout
        (
            loan(payouts=two_payouts("2028-04")),
            loan(payouts=two_payouts("2028-05")),
            "payout_after_grace",
        ),
        (
            loan(payouts=two_payouts("2028-04", 0.5000005)),
            loan(payouts=two_payouts("2028-04", 0.501)),
            "payouts_not_one",
        ),
        (loan("2027-01"), loan("2026-12"), "paid_out_before"),
        # method §11: a running loan was paid out before month 0, and its last instalment falls in month 0 or later
        (loan("2026-12", more="running = true"), loan("2027-01", more="running = true"), "running_not_paid_out"),
        (
            loan("2025-12", term=13, more="running = true"),
            loan("2025-12", grace=0, term=12, more="running = true"),
            "loan_is_over",
        ),
        # method §7: months 0 … 119; a payout in month 3 and a term of 116 end in month 119, one more at month T = 120
        (loan(term=116), loan(term=117), "term_beyond_horizon"),
        (loan(term=13), loan(term=12), "term_within_grace"),
        # method §7: repaid in the months after grace (May 2028 on) up to the end of the term
        (
            loan(term=14, more='repayment = "harvest"\nharvest_months = [5]'),
            loan(term=14, more='repayment = "harvest"\nharvest_months = [4]'),
            "no_harvest_in_term",
        ),
        (
            loan(term=14, more='repayment = "harvest"\nharvest_months = [6]'),
            loan(term=14, more='repayment = "harvest"\nharvest_months = [7]'),
            "no_harvest_in_term",
        ),
        ("", '[supplies.items.cord]\nunit_cost = { value = 1, unit = "USD / unit" }\n', "wrong_unit"),
    ],
)
def test_the_last_accepted_and_the_first_refused(accepted, refused, code):
    assert codes(accepted) == set()
    assert codes(refused) == {code}


def test_a_nursery_may_begin_in_month_0_and_not_before():
    """Method §3: the program says by how much to start later."""
    ahead = -default_technique("rooted_cutting").earliest_month
    assert 0 < ahead < 12
    months = "[techniques.rooted_cutting]\nstart_months = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]\n"
    first, early = f"2027-{ahead + 1:02d}", f"2027-{ahead:02d}"
    assert codes(months + plan(("rooted_cutting", 9, first))) == set()
    with pytest.raises(ScenarioError) as caught:
        read_scenario(FARM + months + plan(("rooted_cutting", 9, early)), "edges.toml")
    (problem,) = caught.value.problems
    assert problem.code == "nursery_before_start"
    assert problem.facts["n"] == 1
    assert problem.facts["first"] == first


def test_the_first_month_that_works_is_one_in_which_the_technique_starts():
    months = "[techniques.rooted_cutting]\nstart_months = [2]\n"
    with pytest.raises(ScenarioError) as caught:
        read_scenario(FARM + months + plan(("rooted_cutting", 9, "2027-02")), "edges.toml")
    assert caught.value.problems[0].facts["first"] == "2028-02"


def test_work_on_an_attempt_may_begin_less_than_a_gap_before_it():
    """Method §3: refused where it reaches back a whole gap; with one attempt the rule does not apply."""
    gap = default_technique("side_graft").gap_months.value
    work = '[techniques.side_graft.operations.order]\nanchor = "attempt"\ndays = 0.01\nmonth = '
    assert codes(f"{work}{1 - gap}\n") == set()
    assert codes(f"{work}{-gap}\n") == {"before_gap"}
    once = "[techniques.side_graft]\nattempts = { value = 1, low = 1, high = 1 }\n"
    assert codes(f"{once}{work}{-gap}\n") == set()


def test_open_ends_are_open():
    assert not declared(Stand, "hectares").bounds.holds(0)
    assert declared(Stand, "hectares").bounds.holds(1e-9)
    assert not declared(Loan, "fee_share").bounds.holds(1)
    assert declared(Loan, "fee_share").bounds.holds(0)


def test_take_times_factor_may_reach_one():
    data = default_technique("side_graft").model_dump()
    factor = {"value": (1.0, 2.0), "low": (1.0, 1.0), "high": (1.0, 2.0), "unit": "factor by attempt", "source": "own"}
    take = {**data["take"], "value": (0.25, 0.5), "low": (0.1, 0.1), "high": (0.9, 0.9)}
    assert Technique.model_validate({**data, "take": take, "attempt_factor": factor})


def test_a_harvest_loan_may_have_a_term_that_ends_after_its_last_harvest_and_the_years_looked_at():
    """The last instalment is what must fall within the horizon (method §7), not the end of the term."""
    loan = {
        "name": "Bank",
        "amount": 100.0,
        "payouts": ({"month": "2027-04"},),
        "rate_per_year": 0.1,
        "repayment": "harvest",
        "harvest_months": (11,),
    }
    horizon_end = 12 * 10 - 1  # December 2036; the payout is in month 3
    term = horizon_end - 3 + 5
    assert scenario(loans=({**loan, "term_months": term},)).loans[0].term_months == term
    with pytest.raises(ValidationError, match="term_beyond_horizon"):
        scenario(loans=({**loan, "term_months": term + 12},))
