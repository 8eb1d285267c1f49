"""Pages shown to a room: the setting in the link, the answer and its chart first, and what stood before a change."""

from urllib.parse import urlsplit

import numpy as np
import pytest
from screens.looking import visit as look
from screens.test_browser import BEYOND
from screens.visiting import farm, key, press, run, shown, type_in, visit

from renovation.decide import compare
from renovation.decide.dossier import Dossier
from renovation.inputs import demo_scenario
from renovation.screens.controls.text import unbroken
from renovation.show import before
from renovation.show.cash.charts import balance_chart
from renovation.show.compare.charts import cumulative_cash_chart
from renovation.show.compare.sentences import best
from renovation.words import Words

WORDS = Words("en")
FARM = demo_scenario()
DEARER = FARM.changed(market__price_per_kg=5.0)
PAIR = ("side_graft", "rooted_cutting")
PRICE = "sidebar.price.market.price_per_kg"


def test_the_sentence_counts_from_before():
    now, was = compare(DEARER), compare(FARM)
    said = before.compared(now, was, PAIR, WORDS)
    for way in PAIR:
        more = now.outcomes[way].npv - was.outcomes[way].npv
        assert more > 0
        amounts = {"now": WORDS.round_money(now.outcomes[way].npv, "USD"), "by": WORDS.round_money(more, "USD")}
        assert WORDS("before.more", **amounts) in said
    assert WORDS("before.less", now=WORDS.round_money(was.outcomes[way].npv, "USD"), by=amounts["by"]) in (
        before.compared(was, now, PAIR, WORDS)
    )
    same = WORDS("before.same", now=WORDS.round_money(now.outcomes[way].npv, "USD"))
    assert before.compared(now, now, PAIR, WORDS).count(same) == 1
    fewer = FARM.changed(techniques={way: FARM.model_dump()["techniques"][way] for way in FARM.techniques})
    assert before.compared(compare(fewer), was, PAIR, WORDS) == before.compared(was, was, PAIR, WORDS)


def ghosts(chart):
    """The pale lines of a chart."""
    return [layer.rows for layer in chart.layers if layer.look.get("opacity") == pytest.approx(0.6)]


def test_the_ghost_runs_where_the_line_ran():
    now, was = compare(DEARER), compare(FARM)
    assert not ghosts(cumulative_cash_chart(now, PAIR, WORDS))
    (rows,) = ghosts(cumulative_cash_chart(now, PAIR, WORDS, before=was))
    for way in PAIR:
        drawn = [row["amount"] for row in rows if row["way"] == WORDS(f"technique.{way}")]
        assert drawn == pytest.approx([0.0, *was.outcomes[way].cumulative_cash[11::12]])
    (rows,) = ghosts(balance_chart(Dossier(DEARER).cash, WORDS, years=10, before=Dossier(FARM).cash))
    side = Dossier(FARM).cash.with_plan
    assert [row["amount"] for row in rows] == pytest.approx([side.savings, *side.balance[:120]])


def test_a_ghost_of_another_start_keeps_its_months():
    later = FARM.changed(appraisal__start="2027-07", plan=(), loans=(), planning__loan=None)
    (rows,) = ghosts(balance_chart(Dossier(FARM).cash, WORDS, years=10, before=Dossier(later).cash))
    assert rows[0]["year"] == pytest.approx(2027.5)
    assert rows[0]["amount"] == later.household.savings
    assert max(row["year"] for row in rows) <= 2037


def test_a_larger_chart_is_the_same_chart():
    chart = cumulative_cash_chart(compare(FARM), PAIR, WORDS)
    large = chart.larger(2.0)
    assert large.properties["height"] == 2 * chart.properties["height"]
    small, twice = (one.properties["config"]["axis"]["labelFontSize"] for one in (chart, large))
    assert twice == 2 * small
    assert [layer.rows for layer in large.layers] == [layer.rows for layer in chart.layers]
    assert large.layers[1].channels["x"]["scale"] == chart.layers[1].channels["x"]["scale"]


@pytest.mark.long
def test_the_setting_is_in_the_link_and_a_page_without_it_is_as_it_was():
    at = visit()
    assert at.toggle(key="room_switch").value is False
    assert "room" not in at.query_params
    assert WORDS("screen.invented") in [info.value for info in at.info]
    at.toggle(key="room_switch").set_value(True)
    run(at)
    assert at.query_params["room"] == "1"
    assert at.title[0].value == WORDS("farm.invented", name=FARM.about.name)
    assert at.header[0].value.replace("\\", "") == best(compare(FARM), WORDS)
    assert WORDS("screen.invented") in [info.value for info in at.info]  # below, and said still
    at.toggle(key="room_switch").set_value(False)
    run(at)
    assert "room" not in at.query_params


@pytest.mark.long
def test_what_stood_before_stays_until_it_is_forgotten():
    at = visit(room="1")
    assert "Against before" not in shown(at)
    type_in(at, PRICE, "4.5")
    type_in(at, PRICE, "5")
    said = before.compared(compare(farm(at)), compare(FARM), PAIR, WORDS)  # against the first, not the last
    assert said in shown(at).replace("\\", "")
    press(at, "forget_before")
    assert "Against before" not in shown(at)
    type_in(at, PRICE, "4")
    assert before.compared(compare(FARM), compare(DEARER), PAIR, WORDS) in shown(at).replace("\\", "")
    type_in(at, PRICE, "5")
    assert "Against before" not in shown(at)  # all is as it was
    type_in(at, PRICE, "6")
    at.selectbox(key=key(at, "farm")).set_value("few_hands")
    run(at)
    assert "Against before" not in shown(at)


@pytest.mark.long
def test_on_a_desk_nothing_is_kept():
    at = visit()
    type_in(at, PRICE, "5")
    assert "Against before" not in shown(at)


@pytest.mark.long
def test_the_cash_page_says_how_the_lowest_balance_moved():
    at = visit("cash", room="1")
    type_in(at, PRICE, "5")
    said = before.cash(Dossier(DEARER).cash, Dossier(FARM).cash, WORDS)
    assert said in shown(at).replace("\\", "")
    low = Dossier(DEARER).cash.with_plan.deepest - Dossier(FARM).cash.with_plan.deepest
    assert WORDS.round_money(abs(low), "USD") in said
    assert np.isclose(low, Dossier(DEARER).cash.with_plan.balance.min() - Dossier(FARM).cash.with_plan.balance.min())


ROOT_SIZE = "parseFloat(getComputedStyle(document.documentElement).fontSize)"
CUT_NOT = {"wide": 0, "cut": [], "svg": []}


@pytest.mark.browser
@pytest.mark.long
def test_the_browser_keeps_the_setting_and_keys_leave_fields_alone(browser, dashboard):
    with look(browser, dashboard, width=1920, scheme="dark") as seen:
        page = seen.page
        seen.open(f"{dashboard}/?room=1")
        price = page.get_by_label(WORDS("screen.sidebar.price"), exact=True)
        price.fill("")
        price.press_sequentially("5")
        price.press("ArrowLeft")
        assert price.input_value() == "5"
        assert urlsplit(page.url).path == "/"
        price.press("Escape")
        seen.settle()
        assert "price=5" in page.url  # what was typed stays
        for pressed, path in (
            ("ArrowRight", "/mine"),
            ("ArrowLeft", "/"),
            ("8", "/risk"),
            ("9", "/map"),
            ("6", "/cash"),
        ):
            page.keyboard.press(pressed)
            page.wait_for_url(lambda url, path=path: urlsplit(url).path == path)
            seen.settle()
            assert page.evaluate(BEYOND) == CUT_NOT, path
        said = before.cash(Dossier(DEARER).cash, Dossier(FARM).cash, WORDS)
        assert page.get_by_text(unbroken(said), exact=True).is_visible()
        seen.open(f"{dashboard}/cash")
        page.wait_for_url("**room=1**")
        seen.settle()
        assert page.evaluate(ROOT_SIZE) > 22
        page.set_viewport_size({"width": 390, "height": 844})
        seen.settle()
        assert page.evaluate(ROOT_SIZE) == 17
        for path in ("", "cash"):
            seen.open(f"{dashboard}/{path}?room=1")
            assert page.evaluate(BEYOND) == CUT_NOT, path
        page.set_viewport_size({"width": 1920, "height": 1000})
        seen.open(dashboard)
        page.get_by_test_id("stSidebar").get_by_text(WORDS("room.show"), exact=True).click()
        page.wait_for_url(lambda url: "room" not in url)
        seen.settle()
        assert page.evaluate(ROOT_SIZE) == 17
        page.keyboard.press("6")
        assert page.evaluate("localStorage.getItem('renovation_room')") is None
        seen.settle()
        assert urlsplit(page.url).path == "/"
        assert seen.left == []
