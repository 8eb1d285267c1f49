"""On a phone, in a real Chromium: nothing wider than the screen, number pads, a menu that closes, room for a finger."""

import inspect
import json
import re
import time
from pathlib import Path

import pytest
import streamlit as st
from screens.looking import AXE, PAGES, SECTIONS, missing, visit
from screens.test_browser import OF_STREAMLIT as OF_LIBRARY
from screens.test_browser import RULES

import renovation
from renovation.screens.controls.fields import adds
from renovation.words import languages

PHONE = 390

TWICE = 195
"""A phone's width where its owner has everything twice as large (WCAG 2.2, 1.4.4: text is resized up to 200 %)."""
OF_STREAMLIT = {PHONE: "nothing", TWICE: '[data-testid="stButtonGroup"], [data-testid="stCheckbox"]'}
"""What the library never breaks into lines on a line of 20 letters, by width: a choice of several, a switch."""

FAULTS = """passed => {
  const faults = [];
  const name = e => (e.innerText || e.ariaLabel || '').slice(0, 50);
  const say = (kind, e) => e.closest(passed) || faults.push([kind, e.dataset.testid, name(e)]);
  const main = document.querySelector('[data-testid="stMain"]');
  for (const e of [document.documentElement, main]) if (e.scrollWidth > e.clientWidth) say('page is wider', e);
  for (const e of main.querySelectorAll('*')) {
    if (!e.checkVisibility() || e.closest('svg')) continue;
    const box = e.getBoundingClientRect();
    const goesOn = getComputedStyle(e).overflowX !== 'visible' && e.scrollWidth > e.clientWidth + 1;
    if (goesOn && box.width > 1 && e.tagName !== 'INPUT') say('goes on unseen', e);
    if (box.width > 1 && box.right > innerWidth + 1) say('over the edge', e);
    if (e.childElementCount === 0 && e.innerText && e.scrollWidth > e.clientWidth + 1 && e.clientWidth) say('cut', e);
  }
  for (const e of document.querySelectorAll('[data-testid="stTextInputField"][autocomplete="off"]'))
    if (e.inputMode !== 'decimal') say('no number pad', e);
  return faults;
}"""
"""Each place where a phone's page is wrong: what is wrong, and the words that stand there."""
TARGETS = {"runOnly": {"type": "rule", "values": ["target-size"]}, "rules": {"target-size": {"enabled": True}}}
"""What is pressed is 24 by 24 pixels or stands free of its neighbours: WCAG 2.2, 2.5.8 AA, as axe-core judges it."""

CLOSED = """() => { const menu = document.querySelector('[data-testid="stSidebar"]');
  return !menu || !menu.checkVisibility() || menu.getBoundingClientRect().right <= 1; }"""
"""The menu no longer covers the page."""


def small_targets(seen):
    found = seen.page.evaluate("rules => axe.run(document, rules)", TARGETS)
    return [node["html"][:160] for fault in found["violations"] for node in fault["nodes"]]


def broken_rules(seen):
    found = seen.page.evaluate("rules => axe.run(document, rules)", RULES)
    return [
        (fault["id"], fault["nodes"][0]["html"][:160]) for fault in found["violations"] if fault["id"] not in OF_LIBRARY
    ]


def walk(seen, address, farm, language="en"):
    """Open every page and every part of it from the menu, as a phone does."""
    seen.open(f"{address}/?farm={farm}&language={language}")
    for page in PAGES:
        seen.page.get_by_test_id("stExpandSidebarButton").click()
        link = seen.page.locator(f'[data-testid="stSidebarNavLink"][href$="/{PAGES[page]}"]').first
        link.click()
        seen.settle()
        seen.page.wait_for_function(CLOSED, timeout=5_000)
        for part in range(max(1, seen.page.locator(SECTIONS).count())):
            if part:
                seen.page.locator(SECTIONS).nth(part).click()
                seen.settle()
            yield page, part


@pytest.mark.browser
@pytest.mark.parametrize(
    ("farm", "width", "language"),
    [
        ("first_grafters", PHONE, "en"),
        pytest.param("third_year", PHONE, "en", marks=pytest.mark.long),
        *(pytest.param("first_grafters", TWICE, code, marks=pytest.mark.long) for code in languages() if code != "en"),
    ],
)
def test_every_page_fits_a_phone(browser, dashboard, farm, width, language):
    if not AXE.exists():
        missing("axe-core")
    with visit(browser, dashboard, width=width) as seen:
        found = {}
        for page, part in walk(seen, dashboard, farm, language):
            if not seen.page.evaluate("'axe' in window"):
                seen.page.evaluate(AXE.read_text("utf-8"))
            faults = [*seen.page.evaluate(FAULTS, OF_STREAMLIT[width]), *small_targets(seen)]
            if not part:
                faults += broken_rules(seen) if language != "en" else []  # the English ones: test_browser.py
                said = seen.page.evaluate("document.documentElement.lang")
                faults += [] if said == language else [f"lang is {said}"]
            if faults:
                found[f"{page} {part}"] = faults
        assert not found, json.dumps(found, indent=1)


@pytest.mark.browser
def test_a_screen_tells_that_it_is_narrow_once_and_a_wide_one_tells_nothing(browser, dashboard):
    with visit(browser, dashboard) as seen:
        sent = []
        seen.page.on("websocket", lambda socket: socket.on("framesent", lambda frame: sent.append(frame)))

        def quiet():
            before = len(sent)
            seen.page.wait_for_timeout(2_000)
            return len(sent) == before

        tables = seen.page.get_by_test_id("stTableStyledTable")
        seen.open(f"{dashboard}/cash")
        assert seen.page.evaluate("window.renovationPhone.known") is None
        assert tables.count() == 1
        seen.page.set_viewport_size({"width": PHONE, "height": 800})
        tables.wait_for(state="detached")
        seen.settle()
        assert quiet()
        seen.page.reload()
        seen.settle()
        assert tables.count() == 0
        assert quiet()
        seen.page.set_viewport_size({"width": 1280, "height": 800})
        tables.wait_for()
        seen.settle()
        assert quiet()


FIELDS = """() => [...document.querySelectorAll('[data-testid="stTextInputField"]')].map(e => [e.ariaLabel, e.value])"""
"""What stands in every field of the page."""


@pytest.mark.browser
def test_every_field_of_a_phone_holds_what_it_holds_on_a_laptop(browser, dashboard):
    """Told while the page was still being drawn, the server would draw it anew, and fields would begin empty."""
    with visit(browser, dashboard) as seen:
        seen.open(f"{dashboard}/numbers")
        fields = seen.page.evaluate(FIELDS)
    assert len(fields) > 30

    def slowly(route):
        time.sleep(0.1)
        route.fallback()

    with visit(browser, dashboard, width=PHONE) as seen:
        seen.page.route("**/*.js", slowly)
        seen.open(f"{dashboard}/numbers")
        assert seen.page.evaluate(FIELDS) == fields
        seen.page.locator(SECTIONS).nth(1).click()
        seen.settle()
        seen.page.locator(SECTIONS).nth(0).click()
        seen.settle()
        assert seen.page.evaluate(FIELDS) == fields


@pytest.mark.browser
def test_a_target_that_is_too_small_would_be_found(browser):
    page = browser.new_page()
    page.set_content("<main>" + '<button style="width: 12px; height: 12px; margin: 0">a</button>' * 3 + "</main>")
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate("rules => axe.run(document, rules)", TARGETS)
    page.close()
    assert [fault["id"] for fault in found["violations"]] == ["target-size"]


RAW = list(inspect.signature(st.markdown).parameters)[1]
"""What would let a text be a page's source: asked of the library, as in test_said_plainly."""
STYLE = re.compile(rf"\.style\b|cssText|setAttribute\(\s*[\"']style|<style|insertRule|adoptedStyleSheets|{RAW}")


def test_no_file_of_the_dashboard_sets_a_style():
    """How a page looks is the library's and its theme's; a column is told its side, a room all of its type."""
    room = Path(renovation.__file__).parent / "screens"
    found = {}
    for file in [*room.rglob("*.js"), *room.rglob("*.py"), room.parents[1] / "app.py"]:
        if lines := [line.strip() for line in file.read_text("utf-8").splitlines() if STYLE.search(line)]:
            found[file.name] = lines
    larger = 'document.documentElement.style.fontSize = wall ? `${size}px` : "";'  # all type at once, for a room
    assert found == {"text.py": ["styler: Any = frame.style"], "room.js": [larger]}
    assert STYLE.search("cell.style.left = 0")
    assert STYLE.search(f"st.markdown(text, {RAW}=True)")
    assert STYLE.search("sheet.insertRule('p {}')")


def test_a_number_is_said_back_only_where_that_adds_something():
    assert not adds("12 trees", "Trees", "12")
    assert not adds("5% a year", "Decline a year, %", "5")
    assert not adds("14 days of work a month", "Family days a month", "14")
    assert adds("0.3 kg of dry beans per tree and year", "Crop per tree", "0.3")  # the label has no unit
    assert adds("2,400,000 IDR a month", "Living costs a month", "2400000")  # parted for the eye
    assert adds("3.5% a year", "Decline a year, %", "3,5")  # another reading
    assert adds("35 trees", "Trees", "3")
