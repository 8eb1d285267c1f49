"""The family cash page and the lender page: what they say is what the program's own calls say, on every farm."""

import itertools
import json
import time
from dataclasses import replace

import pytest
from factories import some_plain
from screens.looking import AXE, PAGES, missing
from screens.looking import visit as look
from screens.test_browser import BEYOND, CODE_NAME, OF_STREAMLIT, RULES, SEEN, parts
from screens.test_pages import choose, farm, key, run, said, type_in, visit

from renovation.decide.lending import appraise_loans
from renovation.farm import farm_flows, household_cash, labour_by_month
from renovation.inputs import demo_names, demo_scenario, month_count, write_scenario, year_month
from renovation.screens.controls.text import plain, unbroken
from renovation.screens.parts import plan as plan_part
from renovation.show.cash import charts as cash_charts
from renovation.show.cash import sentences as cash_sentences
from renovation.show.loans import charts as lending_charts
from renovation.show.plan.work_calendar import first_work, planned_years, work_calendar
from renovation.words import Words

WORDS = Words("en")
SECTIONS = {
    "cash": ("years", "plan", "hands", "calendar", "months", "without"),
    "lender": ("cover", "terms", "calendar", "cases", "payments", "schedule", "add"),
}
BARE = {"plan": (), "loans": ()}
OF_NARROW = {"scrollable-region-focusable"}
"""The library's box round a table wider than a telephone, which browsers let a keyboard reach by themselves."""
TIGHT = "few_hands"
"""The demo farm whose money and hands run short."""


def cash_of(scenario):
    return household_cash(scenario, farm_flows(scenario, scenario.plan))


def header(at):
    return at.header[0].value


def open_with(page, **changes):
    """A page on the demo farm changed, as if it had been changed on another page."""
    at = visit(page)
    at.session_state["scenario"] = farm(at).changed(**changes)
    return run(at)


# Every farm


@pytest.mark.parametrize("name", some_plain(demo_names(), ["cooperative_nursery", "few_hands"]))
@pytest.mark.parametrize("page", SECTIONS)
def test_every_part_opens_on_every_farm_and_says_what_the_program_says(page, name):
    at = visit(page, farm=name)
    assert not said(at)
    scenario = demo_scenario(name)
    answers = {
        "cash": lambda: cash_sentences.family_answer(cash_of(scenario), WORDS),
        "lender": lambda: cash_sentences.lender_answer(appraise_loans(scenario).loans[0], WORDS),
    }
    first, *rest = answers[page]()
    assert header(at) == plain(first)
    shown = " ".join(block.value for block in at.markdown)
    assert all(plain(sentence) in shown for sentence in rest)
    for section in SECTIONS[page][1:]:
        choose(at, page, section)
        assert not said(at)


@pytest.mark.parametrize("name", demo_names())
def test_each_loan_of_a_farm_can_be_looked_at(name):
    at = visit("lender", farm=name)
    judged = appraise_loans(demo_scenario(name)).loans
    for number in range(1, len(judged)):
        at.selectbox(key=key(at, f"loan_of_{len(judged)}")).set_value(number)
        run(at)
        assert cash_sentences.loan_title(judged[number], WORDS) in [c.value.replace("\\", "") for c in at.caption]


def test_a_farm_without_plan_says_so_and_offers_one():
    at = open_with("cash", **BARE)
    assert WORDS("screen.cash.no_plan") in [entry.value for entry in at.warning]
    at.button(key=key(at, "add_work")).click()
    run(at)
    (row,) = farm(at).plan
    weighed = demo_scenario().comparison
    assert (row.stand, row.technique, row.trees) == (weighed.stand, weighed.headline, weighed.trees)
    assert header(at) == plain(cash_sentences.family_answer(cash_of(farm(at)), WORDS)[0])


@pytest.mark.parametrize(("living_costs", "told"), [(0.0, False), (400.0, True)])
def test_what_running_short_means_is_said_where_it_does(living_costs, told):
    at = open_with("cash", household__living_costs=living_costs)
    assert (plain(WORDS("screen.cash.short_means")) in [caption.value for caption in at.caption]) == told


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


# The plan


def plan_page():
    return choose(visit("cash"), "cash", "plan")


def test_trees_of_a_row_are_changed_and_too_many_are_refused_whole():
    at = type_in(plan_page(), "plan.0.trees", "80")
    assert farm(at).plan[0].trees == 80
    before = farm(at)
    type_in(at, "plan.0.trees", "580")
    assert farm(at) == before
    # 580 here, 180 and 180 in the other rows: more than the 600 there are
    assert "River field has 600 trees." in at.error[0].value.replace("\\", "")
    assert len(farm(at).plan) == len(demo_scenario().plan)


def test_another_way_that_cannot_start_then_starts_later_and_says_so():
    at = plan_page()
    at.selectbox(key=key(at, "plan.0.technique")).set_value("rooted_cutting")
    run(at)
    row = farm(at).plan[0]
    assert row.technique == "rooted_cutting"
    assert row.start in plan_part.start_months(farm(at), "rooted_cutting")
    assert any(WORDS.month(row.start) in entry.value for entry in at.warning)


def test_another_stand_takes_a_way_that_suits_it():
    at = plan_page()
    at.selectbox(key=key(at, "plan.0.stand")).set_value("Gap field")
    run(at)
    row, stand = farm(at).plan[0], demo_scenario().stand("Gap field")
    assert row.stand == "Gap field"
    assert row.technique in stand.techniques
    assert any(stand.name in entry.value for entry in at.warning)


def test_no_trees_that_are_left_alone_are_offered():
    at = plan_page()
    assert "Budwood corner" not in at.selectbox(key=key(at, "plan.0.stand")).options


@pytest.mark.parametrize("name", some_plain(demo_names(), ["cooperative_nursery"]))
def test_every_month_on_offer_is_accepted_and_no_other_is_left_out(name):
    scenario = demo_scenario(name)
    first = month_count(scenario.appraisal.start)
    for way, technique in scenario.techniques.items():
        offered = plan_part.start_months(scenario, way)
        stand = next(s.name for s in scenario.stands if way in plan_part.suited(scenario, s.name) and not s.untouched)
        for months_on in range(30):
            month = f"{(first + months_on) // 12}-{(first + months_on) % 12 + 1:02d}"
            row = {"stand": stand, "technique": way, "trees": 1, "start": month}
            try:
                scenario.changed(plan=(row,))
            except Exception:
                assert month not in offered, (way, technique.start_months)
            else:
                assert month in offered, (way, technique.start_months)


def test_rows_are_added_until_every_tree_is_planned_and_taken_out_again():
    at = choose(open_with("cash", plan=()), "cash", "plan")
    for _ in range(40):
        if not [button for button in at.button if button.key == key(at, "add_work")]:
            break
        at.button(key=key(at, "add_work")).click()
        run(at)
    planned = sum(row.trees for row in farm(at).plan)
    assert planned == sum(stand.trees for stand in demo_scenario().stands if not stand.untouched)
    assert WORDS("screen.cash.all_planned") in [caption.value for caption in at.caption]
    number = len(farm(at).plan)
    at.button(key=key(at, "remove_work_0")).click()
    run(at)
    assert len(farm(at).plan) == number - 1


# The loan


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
        ("term_months", "36", "36 months"),
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


# Charts and tables


@pytest.mark.parametrize("name", demo_names())
def test_the_shaded_years_are_the_gap_years(name):
    cash = cash_of(demo_scenario(name))
    chart = cash_charts.balance_chart(cash, WORDS).to_dict()
    shaded = [row for rows in chart["datasets"].values() for row in rows if "what" in row]
    first = month_count(cash.start) / 12
    assert [row["year"] - first for row in shaded] == pytest.approx([year - 1.0 for year in cash.with_plan.gap_years])
    assert cash_sentences.gap(cash, cash.with_plan, WORDS) in chart["description"]


@pytest.mark.parametrize("name", demo_names())
def test_the_work_chart_holds_every_day_of_work(name):
    scenario = demo_scenario(name)
    labour = labour_by_month(scenario, farm_flows(scenario, scenario.plan))
    chart = cash_charts.labour_chart(labour, WORDS, years=5).to_dict()
    days = sum(row["days"] for rows in chart["datasets"].values() for row in rows if "who" in row)
    assert days == pytest.approx(float(labour.days[:60].sum()))


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


@pytest.mark.parametrize("name", demo_names())
def test_the_calendar_names_each_month_that_lacks_hands(name):
    scenario = demo_scenario(name)
    labour = labour_by_month(scenario, farm_flows(scenario, scenario.plan))
    assert any(days[first_work(labour)] > 0 for kind, days in labour.work.items() if kind not in ("upkeep", "harvest"))
    for year in planned_years(labour):
        table = work_calendar(labour, scenario, year, WORDS)
        told = sum(bool(row.get("note")) for row in table.records())
        shown = [row["month"] for row in table.records()]
        short = [m for m in labour.short_months if 12 * (year - 1) <= m < 12 * year]
        names = [WORDS.month(labour.months[m], "abbreviated").replace(" ", "\u00a0") for m in short]
        assert told == sum(month in shown for month in names)


def test_coverages_named_on_the_axis_never_overlap():
    loan = demo_scenario().loans[0].model_dump() | {"grace_interest": "paid"}
    (judged,) = appraise_loans(demo_scenario().changed(loans=(loan,), household__living_costs=260.0)).loans
    ys = [layer["encoding"]["y"] for layer in lending_charts.cover_chart(judged, WORDS).to_dict()["layer"]]
    (axis,) = [y for y in ys if y.get("axis") and y["axis"].get("orient") != "right"]
    low, high = axis["scale"]["domain"]
    # a letter is 15 pixels high, and a page leaves at least 210 of them to the axis
    places = sorted(210 * (place - low) / (high - low) for place in axis["axis"]["values"])
    assert len(places) >= 4
    assert min(b - a for a, b in itertools.pairwise(places)) >= 15


@pytest.mark.parametrize("name", demo_names())
def test_the_calendar_of_payments_holds_the_whole_crop_and_all_the_money(name):
    for judged in appraise_loans(demo_scenario(name)).loans:
        chart = lending_charts.calendar_chart(judged, WORDS).to_dict()
        rows = [row for rows in chart["datasets"].values() for row in rows]
        crop, paid = (sum(row["share"] for row in rows if row["side"] == side) for side in ("crop", "paid"))
        assert (crop, paid) == (pytest.approx(1.0), pytest.approx(1.0))
        has_missed = any(row["what"] == WORDS("chart.calendar.missed") for row in rows)
        assert has_missed is (judged.first_missed is not None)


# Speed


@pytest.mark.parametrize("page", SECTIONS)
def test_a_change_is_followed_within_half_a_second(page):
    at = visit(page, farm="cooperative_nursery")
    times = []
    for place in range(3):
        at.session_state["scenario"] = farm(at).changed(household__wage_per_day=45000.0 + place)
        before = time.process_time()
        run(at)
        times.append(time.process_time() - before)
    # a page is to follow a change in half a second (house rule); processor time, for other work shares the machine
    assert min(times) < 0.5


# In a browser


@pytest.mark.browser
def test_the_grace_typed_in_a_browser_changes_the_sentence(browser, dashboard):
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/lender?farm={TIGHT}")
        seen.page.get_by_role("radio", name=WORDS("screen.lender.tab.terms")).click()
        seen.settle()
        entry = seen.page.get_by_label(WORDS("screen.field.Loan.grace_months.label"), exact=True)
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
@pytest.mark.parametrize("label", ["screen.lender.report", "screen.lender.workbook"])
def test_report_and_workbook_are_made_when_asked_for(browser, dashboard, label, tmp_path):
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/lender")
        with seen.page.expect_download(timeout=60_000) as waiting:
            seen.page.get_by_role("button", name=WORDS(label)).click()
        kept = tmp_path / waiting.value.suggested_filename
        waiting.value.save_as(kept)
        content = kept.read_bytes()
        if label.endswith("report"):
            assert kept.suffix == ".html"
            assert demo_scenario().digest in content.decode()
        else:
            assert kept.suffix == ".xlsx"
            assert content[:2] == b"PK"
        assert seen.left == []


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
@pytest.mark.parametrize("page", SECTIONS)
def test_the_farm_in_need_is_whole_readable_and_in_words(browser, dashboard, page, width, scheme):
    if not AXE.exists():
        missing("axe-core")
    with look(browser, dashboard, width=width, scheme=scheme) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}?farm={TIGHT}")
        seen.page.evaluate(AXE.read_text("utf-8"))
        for part in parts(seen):
            assert seen.page.evaluate(BEYOND) == {"wide": 0, "cut": [], "svg": []}, f"part {part}"
            assert not CODE_NAME.findall(seen.page.evaluate(SEEN)), f"part {part}"
            found = seen.page.evaluate("rules => axe.run(document, rules)", RULES)
            faults = [
                (fault["id"], node["html"][:160])
                for fault in found["violations"]
                if fault["id"] not in OF_STREAMLIT | (OF_NARROW if width < 700 else set())
                for node in fault["nodes"]
            ]
            assert not faults, json.dumps({"part": part, "faults": faults}, indent=1)


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize("page", SECTIONS)
def test_a_farm_with_neither_plan_nor_loan_is_whole(browser, dashboard, page):
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}")
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        bare = write_scenario(demo_scenario().changed(**BARE)).encode()
        bare_file = {"name": "bare.toml", "mimeType": "application/toml", "buffer": bare}
        seen.page.locator('input[type="file"]').set_input_files(bare_file)
        seen.settle()
        assert seen.page.get_by_text(WORDS(f"screen.{page}.no_plan")).is_visible()
        for part in parts(seen):
            assert seen.page.evaluate(BEYOND) == {"wide": 0, "cut": [], "svg": []}, f"part {part}"
