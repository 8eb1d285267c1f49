"""The language of the pages: the browser's wish, what somebody chose by hand, and never two on one page."""

from types import SimpleNamespace

import pytest
from screens.looking import visit as look
from screens.visiting import farm, key, run, said, type_in, visit
from streamlit.testing.v1 import AppTest

from renovation.inputs import demo_scenario
from renovation.screens.controls.text import plain
from renovation.screens.memory import cash
from renovation.screens.memory import language as language_memory
from renovation.show.changes import change_said
from renovation.words import Words, languages, wished

WAGE = "sidebar.wage.household.wage_per_day"
PRICE = "sidebar.price.market.price_per_kg"
NAMES = ["Bahasa Indonesia", "English", "Español", "Français", "Português"]


def test_the_wish_is_read_as_the_standard_says():
    """RFC 9110, 12.5.4: "da, en-gb;q=0.8, en;q=0.7" is Danish first, then British English, then any other English."""
    assert wished("da, en-gb;q=0.8, en;q=0.7") == "en"
    assert wished("da;q=0.2, pt-BR;q=0.8, id") == "id"
    assert [wished(header) for header in ("", "da", "*", "es;q=0", "es;q=x", ";;,,")] == [None] * 6


@pytest.mark.parametrize(
    ("header", "locale", "link", "cookie", "spoken"),
    [
        ("es-EC,es;q=0.9,en;q=0.8", "de-CH", {}, "", "es"),
        (None, "in-ID", {}, "", "id"),
        ("de-CH", None, {"language": "pt"}, "", "pt"),
        ("es-EC", None, {"language": "fr-CI"}, "id", "fr"),
        ("es-EC", None, {"language": "xx"}, "", "es"),
        ("es-EC", None, {}, "id", "id"),
        ("es-EC", None, {}, "xx", "es"),
        ("de-CH", "de-CH", {}, "", "en"),
        (None, None, {}, "", "en"),
    ],
)
def test_a_choice_in_the_address_then_the_browsers_wish_then_english(monkeypatch, header, locale, link, cookie, spoken):
    headers = {"Accept-Language": header} if header else {}
    cookies = {language_memory.COOKIE: cookie} if cookie else {}
    context = SimpleNamespace(headers=headers, locale=locale, cookies=cookies)
    there = SimpleNamespace(session_state={}, query_params=link, context=context)
    monkeypatch.setattr(language_memory, "st", there)
    assert [language_memory.spoken(), language_memory.spoken()] == [spoken, spoken]
    assert language_memory.words().language == spoken
    assert language_memory.kept() is None  # a link or a wish is not kept on the device
    language_memory.choose_by_hand("pt")
    assert language_memory.spoken() == language_memory.kept() == "pt"


def _small():
    import streamlit as st

    from renovation.screens.controls import drivers, language
    from renovation.screens.memory import cash, device, state

    drivers.read_link()
    st.text(state.words()("screen.title"))
    language.draw(state.words())
    st.code(device.share_link(state.scenario()))
    st.caption(cash.Asked.now(state.scenario()).language)
    st.button("forget", on_click=device.forget)
    drivers.write_link()


def opened(wish, **link):
    """A small page, in a browser with this wish."""
    at = AppTest.from_function(_small, default_timeout=60)
    at.context = {"locale": wish}
    at.query_params.update(link)
    return run(at)


def language(at):
    """The language that the small page is in."""
    return {Words(code)("screen.title"): code for code in languages()}[at.text[0].value]


def choose_language(at, code):
    at.selectbox(key="language_choice").set_value(code)
    return run(at)


def test_what_was_chosen_stays_in_every_link_and_is_one_visitors_own():
    at, other = opened("es-EC"), opened("id-ID", language="pt")
    assert language(at) == at.caption[0].value == "es"
    assert "language" not in at.query_params
    assert "language" not in at.code[0].value
    assert at.selectbox[0].options == NAMES
    assert at.selectbox[0].value == "es"
    choose_language(at, "fr")
    assert language(at) == at.caption[0].value == at.query_params["language"] == "fr"
    assert "?shared=1&language=fr#" in at.code[0].value
    assert language(other) == other.query_params["language"] == "pt"
    at.button[0].click()
    assert language(run(at)) == at.query_params["language"] == "fr"  # the farm is forgotten, not how to read that it is


def test_nothing_said_before_stays_on_the_page():
    at = visit("sources", language="xx")
    assert said(at) == [plain(Words("en")("screen.link.no_language", found="xx"))]
    assert "language" not in at.query_params
    at.text_input(key=key(at, WAGE)).set_value("x")
    type_in(at, PRICE, "5")
    assert len(at.error) == 1
    choose_language(at, "fr")
    words = Words("fr")
    assert farm(at).market.price_per_kg == 5.0
    assert not at.error
    assert at.title[0].value == words("screen.page.sources")
    before = farm(at).changed(market__price_per_kg=demo_scenario().market.price_per_kg)
    back = words("change.back", what=change_said(before, farm(at), words))
    assert at.button(key="history.back").label == plain(back)


def test_a_file_is_in_the_language_of_its_page(monkeypatch):
    """It is made where no session is: what it needs of one was noted with its button."""
    monkeypatch.setattr(cash.jobs, "answer", lambda task, _: task.args)
    asked = cash.Asked(demo_scenario(), "fr", None)
    assert [made(asked)[-1] for made in (cash.note_file, cash.report_file, cash.workbook_file)] == ["fr"] * 3


@pytest.mark.browser
@pytest.mark.long
def test_the_browser_opens_in_its_language_and_keeps_another(browser, dashboard):
    says = "document.documentElement.lang"
    with look(browser, dashboard, locale="es-EC") as seen:
        page = seen.page
        seen.open(f"{dashboard}/season")
        assert page.evaluate(says) == "es"
        assert page.title() == Words("es")("screen.title")
        page.get_by_test_id("stSidebar").get_by_label(Words("es")("screen.language.choose")).click()
        page.get_by_role("option", name="Français").click()
        page.wait_for_function(f"{says} === 'fr'")
        seen.settle()
        assert "language=fr" in page.url
        page.reload()
        seen.settle()
        words = Words("fr")
        assert page.evaluate(says) == "fr"
        page.get_by_role("link", name=words("screen.page.numbers"), exact=True).click()
        page.get_by_role("heading", name=words("screen.page.numbers"), exact=True).wait_for()
        seen.settle()
        assert page.evaluate(says) == "fr"
        assert "language=fr" in page.url
        assert page.get_by_text(Words("es")("screen.sidebar.compared"), exact=True).count() == 0
        kept = {cookie["name"]: cookie["value"] for cookie in page.context.cookies()}
        assert kept[language_memory.COOKIE] == "fr"  # for another visit, by the bare address
        assert seen.left == []
