"""A family's notebook on a phone: from an empty start through ten questions, a reload and the plan to one page."""

import re
import time
from dataclasses import dataclass, field
from typing import Any

import pytest
from screens.looking import visit
from screens.test_phone import FAULTS, OF_STREAMLIT, PHONE
from show.sheet.test_printed import pages, printed, words_on

from renovation.inputs.notebook import QUESTIONS
from renovation.words import Words

pytestmark = pytest.mark.browser
WORDS = Words("en")
MINUTE = 60_000
NOTEBOOK: dict[str, dict[str, str]] = {
    "fields": {"trees": "200 180 140"},
    "crop": {"sacks": "2.5", "kg_per_sack": "64"},
    "hands": {"people": "2", "days_each": "8"},
    "price": {"price_per_kg": "30"},
    "wage": {"wage_per_day": "60"},
    "money": {"savings": "900"},
    "needs": {"living_costs": "700", "other_income": "500"},
    "loans": {},
    "grafts": {"made": "20", "taken": "5"},
}
"""An invented family: three fields, 520 old trees, two adults of eight days each, 20 grafts of which 5 live."""
MOST_TAPS = 30
MOST_ENTRIES = 15
RELOADED_AT = "price"


@dataclass
class Walk:
    """A visitor with a phone who counts: each touch of a finger is a tap, that of a field as well."""

    seen: Any
    taps: int = 0
    entries: int = 0
    steps: list[str] = field(default_factory=list)

    @property
    def main(self) -> Any:
        return self.seen.page.get_by_test_id("stMain")

    def tap(self, what: Any) -> None:
        what.click()
        self.taps += 1

    def go(self, what: Any) -> None:
        """Tap, wait, and look at the page that came."""
        self.tap(what)
        self.seen.settle()
        self.look()

    def look(self) -> None:
        """Nothing is wider than the screen, a number pad for each number, room for a finger."""
        assert self.seen.page.evaluate(FAULTS, OF_STREAMLIT[PHONE]) == []

    def button(self, key: str) -> Any:
        return self.main.get_by_role("button", name=WORDS(key), exact=True)

    def fields(self, entry: str) -> Any:
        """The fields that are open of an entry, by their name; line after line where there are several."""
        return self.main.get_by_label(WORDS(f"notebook.entry.{entry}"), exact=False).locator("visible=true")

    def write(self, entry: str, texts: str) -> None:
        for place, text in enumerate(texts.split()):
            box = self.fields(entry).nth(place)
            self.tap(box)
            assert box.get_attribute("inputmode") == "decimal", entry
            box.press_sequentially(text)
            self.entries += 1

    def question(self, name: str) -> Any:
        return self.main.get_by_role("heading", name=WORDS(f"notebook.question.{name}"), exact=True)


def begin(walk, address):
    walk.seen.open(address)
    walk.look()
    walk.tap(walk.button("notebook.begin"))
    walk.question("place").wait_for()
    walk.seen.settle()  # the page that a button opens knows the screen too
    walk.look()
    walk.tap(walk.main.get_by_role("combobox").first)
    walk.tap(walk.seen.page.get_by_role("option", name="Ghana"))
    walk.entries += 1
    walk.go(walk.button("notebook.next"))


def answer(walk, name):
    assert walk.question(name).is_visible()
    if name == "crop":
        walk.go(walk.main.get_by_text(WORDS("notebook.measure.sacks"), exact=True))
    for entry, texts in NOTEBOOK[name].items():
        walk.write(entry, texts)
    walk.go(walk.button("notebook.next"))


def reload(walk, name):
    """The page is lost and comes again: the next question is open, and what was told before stands in its line."""
    walk.seen.page.reload()
    walk.seen.settle()
    walk.button("notebook.back").click()
    walk.seen.settle()
    for entry, text in NOTEBOOK[name].items():
        assert walk.fields(entry).first.input_value() == text
    walk.button("notebook.next").click()
    walk.seen.settle()


def test_a_family_s_notebook_becomes_a_page_on_the_wall(browser, dashboard, tmp_path):
    assert [question.name for question in QUESTIONS] == ["place", *NOTEBOOK]
    began = time.monotonic()
    with visit(browser, dashboard, width=PHONE) as seen:
        walk = Walk(seen)
        begin(walk, dashboard)
        for name in NOTEBOOK:
            answer(walk, name)
            if name == RELOADED_AT:
                reload(walk, name)
        asked = time.monotonic()
        walk.go(walk.button("notebook.to_plan"))
        seen.page.get_by_role("button", name=WORDS("screen.plan.make_again"), exact=True).wait_for(timeout=4 * MINUTE)
        seen.settle()
        walk.look()
        planned = time.monotonic()
        with seen.page.expect_download() as saved:
            walk.tap(walk.main.get_by_role("button", name=WORDS("screen.sheet.save"), exact=True))
        html = saved.value.path().read_text("utf-8")
        answered = walk.main.get_by_role("heading", level=2).first.inner_text()
        assert seen.left == []
    pdf = printed(html, tmp_path)
    ended = time.monotonic()
    assert pages(pdf) == 1
    said = words_on(pdf, 1)
    print(
        f"\n{walk.taps} taps, {walk.entries} entries, {asked - began:.0f} s of questions, "
        f"{planned - asked:.0f} s for the plan, {ended - began:.0f} s in all\n{said[:300]}"
    )
    assert walk.taps <= MOST_TAPS
    assert walk.entries <= MOST_ENTRIES
    fields = re.findall(r"([0-9]+) trees? in (Field [0-9])", answered)
    assert fields, answered
    for trees, name in fields:
        assert name in said
        assert re.search(rf"\b{trees}\b", said)
