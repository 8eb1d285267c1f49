"""The dashboard in a real Chromium: nothing leaves the machine, nothing is cut or pale, a comma is read right."""

import json
import re

import pytest
from screens.looking import AXE, PAGES, SECTIONS, missing, visit

from renovation.decide import compare
from renovation.inputs import demo_scenario
from renovation.show.compare import answer, tables
from renovation.words import Words

pytestmark = pytest.mark.browser
WORDS = Words("en")
SCHEMES = ("light", "dark")
WIDTHS = (1920, 1280, 390)


def usual(page, *more, when=True):
    """The compare page is looked at in every run, the others in the long one."""
    quick = page == next(iter(PAGES)) and when
    return pytest.param(page, *more, marks=() if quick else pytest.mark.long)


EVERY_PAGE = [usual(page) for page in PAGES]
BOTH_SCHEMES = [usual(page, scheme, when=scheme == "light") for page in PAGES for scheme in SCHEMES]
EVERY_VIEW = [
    usual(page, width, scheme, when=(width, scheme) == (390, "dark"))
    for page in PAGES
    for width in WIDTHS
    for scheme in SCHEMES
    if scheme == "light" or width == 390  # what is cut, is cut in light and dark alike
]

# Contrast, names of controls and pictures, order of headings, language: axe-core's rules for WCAG 2 A and AA.
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]}}
OF_STREAMLIT = {"nested-interactive"}
"""Rules broken by the library itself, whatever a page says, and not about contrast or labels."""

BEYOND = """() => {
  const main = document.querySelector('[data-testid="stMain"]');
  const wide = main.scrollWidth - main.clientWidth;
  const cut = [...document.querySelectorAll('h1, h2, h3, p, li, label, td, th, button, [data-testid="stMetricValue"]')]
    .filter(e => e.offsetParent !== null && e.innerText && getComputedStyle(e).overflowX !== 'visible')
    .filter(e => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX !== 'auto')
    .map(e => e.innerText.slice(0, 60));
  const right = e => e.getBoundingClientRect().right;
  const room = form => Math.max(-1, parseFloat(getComputedStyle(form).paddingRight) - 4);  // none without a border
  const inside = e => { const form = e.closest('[data-testid="stForm"]'); return right(form) - room(form); };
  const entries = [...document.querySelectorAll('[data-testid="stForm"] input')];
  cut.push(...entries.filter(e => right(e) > inside(e)).map(e => e.ariaLabel));
  const svg = [...document.querySelectorAll('svg.marks')].filter(s => s.checkVisibility()).flatMap(s => {
    const box = s.getBoundingClientRect();
    return [...s.querySelectorAll('text')].filter(t => t.textContent.trim()).filter(t => {
      const b = t.getBoundingClientRect();
      return b.left < box.left - 2 || b.right > box.right + 2 || t.textContent.includes('…');
    }).map(t => t.textContent);
  });
  return {wide, cut, svg};
}"""
CODE_NAME = re.compile(r"\b[a-z]+_[a-z_]+\b|\b(?:technique|measure|screen|chart|field|unit_name|figure)\.[a-z_]+\b")


SEEN = """() => [
  // an icon is a word to the font that draws it, not to who reads the page
  [...document.querySelectorAll('[data-testid="stIconMaterial"]')].reduce(
    (text, icon) => text.replace(icon.innerText, ''), document.body.innerText),
  ...[...document.querySelectorAll('svg text')].map(e => e.textContent),
  ...[...document.querySelectorAll('[aria-label]')].map(e => e.ariaLabel),
].join(' ')"""
"""Every word that can be seen, those in drawings and names for screen readers among them."""


def parts(seen):
    """Open each part of a page in turn."""
    for part in range(max(1, seen.page.locator(SECTIONS).count())):
        if part:
            seen.page.locator(SECTIONS).nth(part).click()
            seen.settle()
        yield part


def test_the_compare_page_opens_on_the_demo_farm(browser, dashboard):
    with visit(browser, dashboard) as seen:
        seen.open(dashboard)
        assert seen.page.get_by_role("heading", name=demo_scenario().about.name, exact=True).is_visible()
        leading = answer.leading(compare(demo_scenario()), WORDS)
        assert seen.page.get_by_role("heading", name=leading).is_visible()
        assert seen.page.get_by_text(WORDS("screen.invented")).is_visible()
        assert seen.page.locator("svg.marks").count() >= 3


@pytest.mark.parametrize("page", EVERY_PAGE)
def test_no_request_leaves_the_machine(browser, dashboard, page):
    with visit(browser, dashboard) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}")
        for _ in parts(seen):
            pass
        assert seen.left == []


@pytest.mark.parametrize(("page", "scheme"), BOTH_SCHEMES)
def test_axe_finds_no_fault_of_contrast_or_label(browser, dashboard, page, scheme):
    if not AXE.exists():
        missing("axe-core")
    with visit(browser, dashboard, scheme=scheme) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}")
        seen.page.evaluate(AXE.read_text("utf-8"))
        for part in parts(seen):
            found = seen.page.evaluate("rules => axe.run(document, rules)", RULES)
            faults = [
                (fault["id"], node["html"][:160], node["failureSummary"][:300])
                for fault in found["violations"]
                if fault["id"] not in OF_STREAMLIT
                for node in fault["nodes"]
            ]
            assert not faults, json.dumps({"part": part, "faults": faults}, indent=1)


@pytest.mark.parametrize(("page", "width", "scheme"), EVERY_VIEW)
def test_nothing_is_cut_or_runs_over_the_edge(browser, dashboard, page, width, scheme):
    with visit(browser, dashboard, width=width, scheme=scheme) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}")
        for part in parts(seen):
            found = seen.page.evaluate(BEYOND)
            assert found == {"wide": 0, "cut": [], "svg": []}, f"part {part}"


@pytest.mark.parametrize("page", EVERY_PAGE)
def test_no_code_name_is_shown(browser, dashboard, page):
    with visit(browser, dashboard) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}")
        for part in parts(seen):
            assert not CODE_NAME.findall(seen.page.evaluate(SEEN)), f"part {part}"


def type_price(seen, text):
    entry = seen.page.get_by_label(WORDS("screen.sidebar.price"), exact=True)
    entry.fill(text)
    entry.press("Enter")
    seen.settle()


def test_a_decimal_comma_is_read_right(browser, dashboard):
    with visit(browser, dashboard) as seen:
        seen.open(dashboard)
        type_price(seen, "3,5")
        side = seen.page.get_by_test_id("stSidebar")
        assert side.get_by_text("3.5 USD per kg of dry beans", exact=True).is_visible()
        changed = compare(demo_scenario().changed(market__price_per_kg=3.5))
        npv = tables.measure_cell(changed, changed.headline, "npv", WORDS)
        assert npv in seen.page.get_by_test_id("stMetricValue").all_inner_texts()
        assert "price=3.5" in seen.page.url


def test_a_number_of_two_readings_is_refused_and_the_last_one_stays(browser, dashboard):
    with visit(browser, dashboard) as seen:
        seen.open(dashboard)
        before = seen.page.get_by_test_id("stMetricValue").all_inner_texts()
        type_price(seen, "1,500")
        told = seen.page.get_by_test_id("stSidebar").get_by_role("alert").inner_text()
        assert "1500" in told
        assert "Still in use: 4 USD per kg of dry beans." in told
        assert seen.page.get_by_test_id("stMetricValue").all_inner_texts() == before


def test_a_link_copied_on_one_page_keeps_its_numbers_on_another(browser, dashboard):
    with visit(browser, dashboard) as seen:
        seen.open(dashboard)
        type_price(seen, "5,25")
        seen.page.get_by_role("link", name=WORDS("screen.page.numbers")).click()
        seen.settle()
        assert "price=5.25" in seen.page.url
        link = seen.page.url
    with visit(browser, dashboard) as seen:
        seen.open(link)
        assert seen.page.get_by_label(WORDS("screen.sidebar.price"), exact=True).input_value() == "5.25"


def test_a_bad_file_is_told_and_the_farm_stays(browser, dashboard):
    with visit(browser, dashboard) as seen:
        seen.open(dashboard)
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        bad = {"name": "mine.toml", "mimeType": "application/toml", "buffer": b"[about]\nname = 3\n"}
        seen.page.locator('input[type="file"]').set_input_files(bad)
        seen.settle()
        told = seen.page.get_by_test_id("stMain").get_by_role("alert").first.inner_text()
        assert "mine.toml" in told
        assert seen.page.get_by_role("heading", name=demo_scenario().about.name, exact=True).is_visible()


@pytest.mark.long
def test_every_page_stands_in_the_bar_of_a_laptop(browser, dashboard):
    with visit(browser, dashboard, width=1280) as seen:
        seen.open(dashboard)
        bar = seen.page.get_by_test_id("stTopNav")
        assert [bar.get_by_text(WORDS(f"screen.page.{page}"), exact=True).is_visible() for page in PAGES] == [
            True
        ] * len(PAGES)
