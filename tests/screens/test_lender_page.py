"""The lender page: what it says is what the program's own calls say; terms are read, refused and changed whole."""

from dataclasses import replace

import pytest
from factories import some_plain
from farm_files import MOST
from results import cash_of
from screens.looking import visit as look
from screens.visiting import choose, farm, header, key, open_with, run, shown, type_in, visit

from renovation.decide.lending import appraise_loans
from renovation.inputs import demo_names, demo_scenario, month_count, year_month
from renovation.screens.controls.text import plain, unbroken
from renovation.show.cash import sentences as cash_sentences
from renovation.words import Words

WORDS = Words("en")


TIGHT = "few_hands"
"""The demo farm whose money and hands run short."""


@pytest.mark.parametrize("name", some_plain(demo_names(), MOST))
def test_each_loan_of_a_farm_can_be_looked_at(name):
    at = visit("lender", farm=name)
    judged = appraise_loans(demo_scenario(name)).loans
    for number in range(1, len(judged)):
        at.selectbox(key=key(at, f"loan_of_{len(judged)}")).set_value(number)
        run(at)
        assert cash_sentences.loan_title(judged[number], WORDS) in [c.value.replace("\\", "") for c in at.caption]


def test_a_farm_without_loans_says_so_and_takes_one():
    at = open_with("lender", loans=())
    assert header(at) == WORDS("screen.lender.no_loan")
    for field, text in {"amount": "900,50", "rate_per_year": "12,5", "term_months": "48", "grace_months": "24"}.items():
        at.text_input(key=key(at, f"new_loan_0.{field}")).set_value(text)
    next(button for button in at.button if button.label == WORDS("screen.lender.use_loan")).click()
    run(at)
    (loan,) = farm(at).loans
    assert (loan.amount, loan.rate_per_year, loan.term_months, loan.grace_months) == (900.5, 0.125, 48, 24)
    assert header(at) == plain(cash_sentences.lender_answer(appraise_loans(farm(at)).loans[0], WORDS)[0])


@pytest.mark.parametrize("written", [{"amount": "1,500"}, {"term_months": "3,5"}, {"rate_per_year": ""}])
def test_a_loan_that_cannot_be_read_is_not_added(written):
    at = open_with("lender", loans=())
    whole = {"amount": "900", "rate_per_year": "12", "term_months": "48", "grace_months": "24", **written}
    for field, text in whole.items():
        at.text_input(key=key(at, f"new_loan_0.{field}")).set_value(text)
    next(button for button in at.button if button.label == WORDS("screen.lender.use_loan")).click()
    run(at)
    assert farm(at).loans == ()
    assert WORDS("screen.lender.not_added") in at.error[0].value
    assert at.text_input(key=key(at, f"new_loan_0.{next(iter(written))}")).value == next(iter(written.values()))


def terms_page(name=None):
    return choose(visit("lender", **({"farm": name} if name else {})), "lender", "terms")


def test_the_grace_changes_the_sentence_as_the_program_says():
    at = terms_page(TIGHT)
    told = set()
    for months in ("0", "6", "24", "30"):
        type_in(at, "loans.0.grace_months", months)
        changed = demo_scenario(TIGHT).changed(loans__0__grace_months=int(months))
        assert farm(at) == changed
        first, *rest = cash_sentences.lender_answer(appraise_loans(changed).loans[0], WORDS)
        assert header(at) == plain(first)
        assert f"**{plain(' '.join(rest))}**" in [block.value for block in at.markdown]
        told.add((first, *rest))
    assert len(told) > 1


@pytest.mark.parametrize(
    ("place", "text", "path", "value"),
    [
        ("amount", "1 500", "amount", 1500.0),
        ("rate_per_year", "7,5", "rate_per_year", 0.075),
        ("fee_share", "2", "fee_share", 0.02),
        ("term_months", "120", "term_months", 120),
    ],
)
def test_terms_are_read_with_either_decimal_sign(place, text, path, value):
    at = type_in(terms_page(), f"loans.0.{place}", text)
    assert getattr(farm(at).loans[0], path) == value
    assert not at.error


@pytest.mark.parametrize(
    ("place", "text", "told"),
    [
        ("amount", "1,500", "two ways"),
        ("amount", "-5", "not possible"),
        ("amount", "100,0055", "0.01"),  # a dollar has a hundred cents: ISO 4217
        ("rate_per_year", "400", "200"),
        ("term_months", "36", "more than 36"),
        ("term_months", "480", "Shorten|after the years"),
        ("term_months", "12,5", "whole"),
        ("grace_months", "6", "April 2027|October 2027"),
    ],
)
def test_a_term_that_cannot_be_is_refused_in_a_sentence_and_nothing_is_half_applied(place, text, told):
    at = type_in(terms_page(), f"loans.0.{place}", text)
    assert farm(at) == demo_scenario()
    assert len(at.error) == 1
    assert any(part in at.error[0].value.replace("\\", "") for part in told.split("|")), at.error[0].value
    assert ".toml" not in at.error[0].value
    assert "_" not in at.error[0].value


def test_payout_shares_are_taken_together_or_not_at_all():
    at = terms_page()
    keys = [f"loan.0.share.{place}.{share:.6g}" for place, share in enumerate((0.4, 0.6))]
    for typed, kept in ((("50", "60"), True), (("1,000", "60"), True), (("25", "75"), False)):
        for name, text in zip(keys, typed, strict=True):
            at.text_input(key=key(at, name)).set_value(text)
        next(button for button in at.button if button.label == WORDS("screen.lender.use_shares")).click()
        run(at)
        assert (farm(at) == demo_scenario()) is kept
        assert bool(at.error) is kept
    assert [payout.share for payout in farm(at).loans[0].payouts] == [0.25, 0.75]


def test_two_payouts_in_one_month_are_refused():
    at = terms_page()
    at.selectbox(key=key(at, "loan.0.payout.1")).set_value("2027-04")
    run(at)
    assert farm(at) == demo_scenario()
    assert "two payouts fall in one month" in at.error[0].value


def test_payouts_are_split_and_joined_and_still_make_the_whole():
    at = terms_page()
    at.button(key=key(at, "more.0")).click()
    run(at)
    assert [payout.share for payout in farm(at).loans[0].payouts] == pytest.approx([0.4, 0.3, 0.3])
    for _ in range(2):
        at.button(key=key(at, "fewer.0")).click()
        run(at)
    assert [payout.share for payout in farm(at).loans[0].payouts] == pytest.approx([1.0])


def test_repayment_at_harvest_begins_with_the_months_of_the_harvest():
    at = terms_page(TIGHT)
    at.selectbox(key=key(at, "loan.0.repayment")).set_value("harvest")
    run(at)
    shares = demo_scenario(TIGHT).market.season.shares
    assert all(shares[month - 1] > 0 for month in farm(at).loans[0].harvest_months)
    at.button_group(key=key(at, "loan.0.harvest_months")).set_value([])
    before = farm(at)
    run(at)
    assert farm(at) == before
    assert WORDS("screen.problem.no_harvest_months") in at.error[0].value


def test_the_coverage_asked_for_changes_the_verdict():
    at = terms_page()
    type_in(at, "loan_test.cover", "9,9")
    assert farm(at).loan_test.cover == 9.9
    assert not appraise_loans(farm(at)).loans[0].as_stated.holds
    assert "does not fit" in header(at)


def test_a_loan_is_taken_out():
    at = terms_page("cooperative_nursery")
    at.button(key=key(at, "remove_loan_0")).click()
    run(at)
    assert [loan.name for loan in farm(at).loans] == ["Tool loan"]


def test_the_first_instalment_is_set_beside_the_years_in_which_the_farm_brings_less():
    scenario = demo_scenario()
    at = visit("lender")
    (judged,), cash = appraise_loans(scenario).loans, cash_of(scenario)
    due = judged.as_stated.schedule.first_instalment_month
    said = cash_sentences.first_due(judged, cash, WORDS)
    assert WORDS.month(year_month(month_count(scenario.appraisal.start) + due)) in said
    assert plain(said) in " ".join(block.value for block in at.markdown)
    for dips in ((), (due // 12 + 1,), (due // 12,)):
        farm_cash = cash.without.farm_cash.reshape(-1, 12).copy()
        farm_cash[[year - 1 for year in dips]] -= 1.0
        dipped = replace(cash, with_plan=replace(cash.with_plan, farm_cash=farm_cash.ravel()))
        case = "first" if not dips else "first_dip" if due // 12 + 1 in dips else "first_after"
        month = WORDS.month(judged.as_stated.label(due))
        assert cash_sentences.first_due(judged, dipped, WORDS) == WORDS(f"lending.due.{case}", month=month)


@pytest.mark.browser
def test_the_grace_typed_in_a_browser_changes_the_sentence(browser, dashboard):
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/lender?farm={TIGHT}")
        seen.page.get_by_role("radio", name=WORDS("screen.lender.tab.terms")).click()
        seen.settle()
        entry = seen.page.get_by_label(WORDS("screen.field.LoanConditions.grace_months.label"), exact=True)
        entry.fill("30")
        entry.press("Enter")
        seen.settle()
        changed = demo_scenario(TIGHT).changed(loans__0__grace_months=30)
        before, after = (
            cash_sentences.lender_answer(appraise_loans(one).loans[0], WORDS) for one in (demo_scenario(TIGHT), changed)
        )
        assert before != after
        assert seen.page.get_by_role("heading", name=unbroken(after[0]), exact=True).is_visible()
        assert seen.page.get_by_text(unbroken(" ".join(after[1:])), exact=True).is_visible()


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize("label", ["screen.lender.note", "screen.lender.report", "screen.lender.workbook"])
def test_report_and_workbook_are_made_when_asked_for(browser, dashboard, label, tmp_path):
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/lender")
        with seen.page.expect_download(timeout=60_000) as waiting:
            seen.page.get_by_role("button", name=WORDS(label)).click()
        kept = tmp_path / waiting.value.suggested_filename
        waiting.value.save_as(kept)
        content = kept.read_bytes()
        if not label.endswith("workbook"):
            assert kept.suffix == ".html"
            assert demo_scenario().digest in content.decode()
        else:
            assert kept.suffix == ".xlsx"
            assert content[:2] == b"PK"
        assert seen.left == []


def test_a_loan_that_runs_already_is_typed_with_its_month_and_what_is_owed():
    at = choose(visit("lender"), "lender", "terms")
    at.toggle(key=key(at, "loan.0.running")).set_value(True)
    run(at)
    loan = farm(at).loans[0]
    assert (loan.running, loan.payouts[0].month) == (True, "2026-12")
    at.selectbox(key=key(at, "loan.0.payout.0")).set_value("2026-09")
    run(at)
    type_in(at, "loans.0.owed", "800")
    assert (farm(at).loans[0].payouts[0].month, farm(at).loans[0].owed) == ("2026-09", 800.0)
    at.selectbox(key=key(at, "loan.0.payout.0")).set_value("2027-02")
    run(at)
    assert farm(at).loans[0].payouts[0].month == "2026-09"
    assert "A running loan was paid out before January 2027. Choose an earlier month." in [e.value for e in at.error]
    at.toggle(key=key(at, "loan.0.running")).set_value(False)
    run(at)
    loan = farm(at).loans[0]
    assert (loan.running, loan.owed, loan.payouts[0].month) == (False, None, "2027-01")


def test_prices_lower_by_any_share_are_typed_and_told():
    at = type_in(terms_page(), "loan_test.lower_prices", "12,5 33")
    assert farm(at).loan_test.lower_prices == (0.125, 0.33)
    choose(at, "lender", "cases")
    assert "With a price 12.5% lower" in shown(at)
    assert "With a price 10% lower" not in shown(at)


@pytest.mark.parametrize(
    ("typed", "told"),
    [("10 95", "95 is not possible here. Write a number from 1 to 90."), ("20; 20", "lists 0.2 twice. Keep one.")],
)
def test_a_price_lower_by_a_share_that_cannot_be_is_refused_in_a_sentence(typed, told):
    at = type_in(terms_page(), "loan_test.lower_prices", typed)
    assert farm(at) == demo_scenario()
    (refused,) = at.error
    assert told in refused.value.replace("\\", "")
