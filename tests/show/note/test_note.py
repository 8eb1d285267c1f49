"""The credit note: two pages by Chromium, with the same figures as the program."""

import re
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from html import unescape

import numpy as np
import pytest
from command_line import said as said_by
from factories import some_plain
from screens.looking import FLAGS, chromium, missing, pdf_of

from renovation.decide.after_signing import after_signing
from renovation.decide.dossier import Dossier
from renovation.decide.funds import use_of_funds
from renovation.inputs import (
    LoanMoney,
    LoanRecord,
    SeasonRecord,
    demo_names,
    demo_scenario,
    month_count,
    scenario_folder,
    year_month,
)
from renovation.inputs.loans import Payout
from renovation.show.loans import signed
from renovation.show.loans.near import near
from renovation.show.note import credit_note, note_of, with_appendix
from renovation.words import Words, languages

WORDS, DAY = Words("en"), date(2026, 11, 29)


def plain(text: str) -> str:
    """What a reader sees, its spaces plain."""
    body = text.partition("<body>")[2] or text
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", body)))


def said(amount: str) -> str:
    return amount.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("name", some_plain(demo_names(), ["few_hands"]))
def test_its_figures_are_the_program_s(name):
    dossier = Dossier(demo_scenario(name))
    shown = plain(note_of(dossier, WORDS, DAY))
    scenario = dossier.scenario
    currency = scenario.appraisal.currency
    judged = next((loan for loan in dossier.lending.loans if loan.loan.owed is None), dossier.lending.loans[0])
    assert scenario.about.name in shown
    assert scenario.digest in shown
    assert said(WORDS.round_money(judged.loan.amount, currency)) in shown
    for row in judged.as_stated.cover_rows():
        if row["debt_service"] and row["year"] <= 10:
            assert WORDS.number(row["cover_after_living"], 2) in shown
    lowest = float(judged.lowest_price[1].fit.balance.min())
    assert said(WORDS.money(lowest, currency, 0)) in shown
    by_case = {row.case: row for row in dossier.stress.rows["plan"]}
    for case in ("lost_main_crop", "beginners"):
        row = by_case[case]
        words = f"{WORDS(f'risk.case.{case}')} {len(row.missed_months)} "
        assert words + said(WORDS.money(row.deepest, currency, 0)) in shown
    for loan in dossier.lending.loans:
        assert loan.loan.name in shown


def test_a_loan_that_does_not_fit_is_not_recommended_as_asked():
    shown = plain(credit_note(demo_scenario("few_hands"), WORDS, DAY))
    (judged,) = Dossier(demo_scenario("few_hands")).lending.loans
    assert not judged.as_stated.holds
    largest = said(WORDS.money(judged.as_stated.largest.amount, "XAF"))
    assert f"Not as it is asked for. On the same terms up to {largest} can be given" in shown
    assert "can be given as it is asked for" not in shown
    small = demo_scenario("few_hands")
    loan = small.loans[0].model_copy(update={"amount": 300000.0})
    fits = plain(credit_note(small.model_copy(update={"loans": (loan,)}), WORDS, DAY))
    assert "The loan can be given as it is asked for" in fits


def test_the_nearest_loans_that_fit_are_named_with_their_cost():
    (judged,) = Dossier(demo_scenario("few_hands")).lending.loans
    shown = plain(credit_note(demo_scenario("few_hands"), WORDS, DAY))
    lead, *each = near(judged, WORDS)
    assert len(each) == len(judged.near) >= 2
    assert said(lead) in shown
    for verdict, sentence in zip(judged.near, each, strict=True):
        assert verdict.holds
        assert said(sentence) in shown
        assert said(WORDS.money(verdict.credit_cost.more_than_received, "XAF", 0)) in shown


def test_where_no_loan_fits_none_is_given_on_conditions():
    farm = demo_scenario("few_hands").changed(household__floor=500000.0)
    (judged,) = Dossier(farm).lending.loans
    assert (judged.near, judged.as_stated.largest.amount) == ((), None)
    shown = plain(credit_note(farm, WORDS, DAY))
    assert WORDS("note.recommend.not") in shown
    assert said(" ".join(near(judged, WORDS))) in shown
    assert WORDS("note.condition.count") not in shown


def crowded():
    """A farm with the longest names, a payout a month for two years, and nine loans."""
    farm = demo_scenario("few_hands")
    (loan,) = farm.loans
    paid = [Payout(month=year_month(month_count("2026-10") + at), share=1 / 24) for at in range(24)]
    names = [("Loan of the upper valley " * 4)[:80], *(f"{'W' * 79}{n}" for n in range(8))]
    first = loan.model_copy(update={"payouts": tuple(paid), "term_months": 60, "grace_months": 24})
    loans = [one.model_copy(update={"name": name}) for name, one in zip(names, [first, *[loan] * 8], strict=True)]
    about = farm.about.model_copy(update={"name": "W" * 80})
    return farm.model_copy(update={"about": about, "loans": tuple(loans)})


def test_many_payouts_and_loans_go_into_sums():
    shown = plain(credit_note(crowded(), WORDS, DAY))
    rest = said(WORDS.money(20 * 31250, "XAF", 0))
    assert f"31,250 in January 2027, 20 more, {rest} in all, the last in September 2028." in shown
    assert "in February 2027," not in shown
    assert "Count in the same way before the 20 payouts that follow." in shown
    assert "And 4 more loans." in shown


def test_funds_add_up_on_paper():
    """Need and payout by month against sums made here from the farm's own accounts."""
    dossier = Dossier(demo_scenario())
    flows, months = dossier.flows, dossier.months
    paid = np.zeros(months)
    paid[[3, 15]] = 700.0, 500.0
    found = use_of_funds(flows, dossier.scenario.appraisal.start, paid)
    planned, without = flows.with_plan, flows.without
    need = sum(getattr(planned, name) - getattr(without, name) for name in ("materials", "tools", "wages"))
    first = next(t for t in range(months) if need[t] >= 0.5 or paid[t])
    assert found.paid_out == 1200
    assert found.needed == pytest.approx(float(need[first : 15 + 12].sum()))
    for month in found.months:
        at = dossier.labels.index(month.month)
        assert month.supplies + month.hands == pytest.approx(need[at])
        assert month.payout == paid[at]


def test_nothing_is_fetched_and_a_stranger_s_words_stay_words():
    farm = demo_scenario("few_hands")
    farm = farm.model_copy(update={"about": farm.about.model_copy(update={"name": "<b>Farm</b>"})})
    text = credit_note(farm, WORDS, DAY)
    assert re.findall(r"<script|<img|<link|https?://(?!www\.w3\.org/2000/svg)", text) == []
    assert "<b>Farm</b>" not in text


def test_the_command_writes_it(capsys, tmp_path):
    out = tmp_path / "note.html"
    told = said_by(capsys, "report", scenario_folder() / "few_hands.toml", "-o", out)
    assert told == f"Written: {out}\n"
    text = out.read_text("utf-8")
    assert text.count('<section class="note-page"') == 2
    assert WORDS("report.title") not in text


@pytest.mark.parametrize("asked", [["--appendix"], ["--plan"], ["--expected"], ["--robust"], ["--record", "s.csv"]])
def test_what_only_the_appendix_sets_out_brings_it_along(capsys, tmp_path, monkeypatch, asked):
    for read in ("_happened", "signed_by"):
        monkeypatch.setattr(f"renovation.commands.report.{read}", lambda *_: None)
    monkeypatch.setattr("renovation.show.note.with_appendix", lambda *_: "both")
    monkeypatch.setattr("renovation.show.note.note_of", lambda *_: "note")
    for options, made in (([], "note"), (asked, "both")):
        out = tmp_path / f"{made}.html"
        said_by(capsys, "report", scenario_folder() / "few_hands.toml", *options, "-o", out)
        assert out.read_text("utf-8") == made


def pages(html, folder):
    """The text of each page that Chromium prints."""
    if shutil.which("pdftotext") is None:
        missing("pdftotext")
    pdf = pdf_of(html, folder / "note.html")
    told = subprocess.run(["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True, text=True).stdout
    return [re.sub(r"\s+", " ", text) for text in told.split("\f")[:-1]]


def printed_in(dossier: Dossier) -> dict[str, int]:
    """Pages of the note in each language but English, all printed by one browser; each set in eight points or more.

    In a thread of its own, for another test's browser may be open in this one.
    """
    notes = {language: note_of(dossier, Words(language), DAY) for language in languages() if language != "en"}
    for text in notes.values():
        assert all(9.5 * float(scale) >= 8 for scale in re.findall(r"zoom:([\d.]+)", text))
    with ThreadPoolExecutor(1) as aside:
        return aside.submit(_printed_in, notes).result()


def _printed_in(notes: dict[str, str]) -> dict[str, int]:
    from playwright.sync_api import sync_playwright

    found = {}
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=chromium() or missing("Chromium"), args=FLAGS)
        page = browser.new_page()
        for language, html in notes.items():
            page.set_content(html)
            found[language] = len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))
        browser.close()
    return found


@pytest.mark.browser
@pytest.mark.parametrize("name", demo_names())
def test_it_is_two_pages_and_the_appendix_begins_on_the_third(name, tmp_path):
    dossier = Dossier(demo_scenario(name))
    printed = pages(note_of(dossier, WORDS, DAY), tmp_path)
    assert len(printed) == 2
    for number, text in enumerate(printed, 1):
        assert f"Page {number} of 2" in text
    long = pages(with_appendix(dossier, WORDS, DAY), tmp_path)
    assert len(long) > 10
    assert "Page 1 of 2" in long[0]
    assert "Page 2 of 2" in long[1]
    assert WORDS("report.title") in long[2]
    for language, found in printed_in(dossier).items():
        assert found == 2, language


@pytest.mark.browser
def test_long_names_and_many_payouts_keep_to_two_pages(tmp_path):
    text = credit_note(crowded(), WORDS, DAY)
    assert "zoom:" in text
    printed = pages(text, tmp_path)
    assert ["Page 1 of 2" in printed[0], "Page 2 of 2" in printed[-1], len(printed)] == [True, True, 2]


@pytest.mark.browser
def test_without_a_loan_it_is_two_pages(tmp_path):
    farm = demo_scenario("few_hands").model_copy(update={"loans": ()})
    printed = pages(credit_note(farm, WORDS, DAY), tmp_path)
    assert len(printed) == 2
    assert WORDS("lending.no_loans") in printed[0]


@pytest.mark.browser
def test_with_a_season_recorded_it_says_what_is_late_and_what_now_on_two_pages(tmp_path):
    farm = demo_scenario("few_hands")
    paid = (LoanMoney(month="2026-10", received=735_000.0), LoanMoney(month="2026-11", paid=8750.0))
    loans = (LoanRecord(loan="Three-year loan", by_month=paid),)
    farm = farm.changed(loans__0__payouts=({"month": "2026-10", "share": 1.0, "live_trees": 1},))
    found = after_signing(farm, SeasonRecord(season="2026-09", money_in_hand=60_000.0, loans=loans))
    printed = pages(note_of(Dossier(farm, signed=found), WORDS, DAY), tmp_path)
    assert len(printed) == 2
    assert "in October 2026 once 1 live tree is counted" in printed[0]
    (one,) = found.loans
    assert one.season.late > 80_000
    for line in (*signed.account_said(found, one, WORDS), *signed.now_said(found, one, WORDS)):
        assert re.sub(r"\s+", " ", line) in printed[1]
