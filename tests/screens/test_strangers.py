"""A stranger's words stay words: no name, note or source of a farm file becomes formatting, picture or link on a page.

What makes formatting and links: CommonMark 0.31 (6.3 links, 6.4 images, 6.6 raw HTML), and the extended autolinks of
GitHub Flavored Markdown 0.29 (6.9), which are looked for once escapes have been taken away. Names between colons are
the screen library's own.
"""

import json
import re
from datetime import date
from urllib.parse import quote

import pytest
from screens.looking import PAGES, SECTIONS
from screens.looking import visit as look
from screens.test_plan_page import FAST, made, short
from screens.visiting import choose, key, run, upload, visit

from renovation.inputs import Scenario, read_scenario, write_scenario
from renovation.screens.controls.text import plain
from renovation.show.report import report
from renovation.words import Words

WORDS = Words("en")
MARK = "Zq"
NAME = MARK + "{n}'\" ![i](//a.b) www.a.example m@a.example http://a.example :smile: <i>"
"""A name of at most 80 letters with both quotes, a picture, five kinds of link, a drawing by name and a tag."""
LONG = NAME + " [l](http://a.example/l) <img src=//a.example/x> :material/home: :red[r] `c` **b**\n\n# h"
WRITTEN = re.compile(r"(?<!\\)(?:\]\(|<i|:red\[|`c|\*\*b\*|&lt;)|\n# h")
"""What is formatting as it is written, with no escape before it."""
BEGINS = re.compile(r"^(?:[-+] |1\. |---)")
"""What begins a list or a line across the page."""
LEFT = ("www.", "@a.", "://", ":smile:", ":material/")
"""What is looked for once escapes have been taken away."""
NOT_FORMATTED = {
    ("Selectbox", "options"),
    ("Selectbox", "raw_value"),
    ("TextInput", "default"),
    ("TextInput", "value"),
    ("VegaLiteChart", "spec"),
    ("VegaLiteChart", "alt"),
    ("Table", "alt"),
}
"""Fields that the page shows letter by letter, or reads as a drawing's data."""
EVERY_KEY = WORDS.keys()
IDS = {"id", "form_id", "user_key", "key"}


def spoilt(value, counter):
    """The same data with every label, note and source written by a stranger."""
    if isinstance(value, dict):
        return {
            key: NAME.format(n=next(counter))
            if key == "label" and not isinstance(part, dict)
            else LONG.format(n=next(counter))
            if key in ("note", "because", "citation")
            else spoilt(part, counter)
            for key, part in value.items()
        }
    if isinstance(value, list | tuple):
        return tuple(spoilt(part, counter) for part in value)
    return value


def hostile():
    """A demo farm whose every name was written by a stranger; a plan is found in a second or two."""
    counter = iter(range(10_000))
    farm = short(FAST)
    data = spoilt(farm.model_dump(), counter)
    names = {stand.name: NAME.format(n=next(counter)) for stand in farm.stands}
    for stand in data["stands"]:
        stand["name"] = names[stand["name"]]
    for row in data["plan"]:
        row["stand"] = names[row["stand"]]
    if data["comparison"]["stand"]:
        data["comparison"]["stand"] = names[data["comparison"]["stand"]]
    for loan in (*data["loans"], *([data["planning"]["loan"]] if data["planning"]["loan"] else [])):
        loan["name"] = NAME.format(n=next(counter))
    data["about"] |= {"name": NAME.format(n=next(counter)), "invented": False}
    return read_scenario(write_scenario(Scenario.model_validate(data)).encode(), "farm.toml")


def strings(message, path=""):
    """Every text in an element as it is sent to the page, with the message and the field that it stands in."""
    for field, value in message.ListFields():
        place = (message.DESCRIPTOR.name, field.name)
        repeated = hasattr(value, "__iter__") and not isinstance(value, str | bytes)
        for one in value if repeated else (value,):
            if isinstance(one, str):
                yield place, one
            elif hasattr(one, "ListFields"):
                yield from strings(one)


def texts(at):
    """Every text on the page that may be read as formatting."""

    def walk(block):
        for child in block.children.values():
            proto = getattr(child, "proto", None)
            if proto is not None:
                yield from ((place, text) for place, text in strings(proto) if place[1] not in IDS)
            if hasattr(child, "children"):
                yield from walk(child)
            elif child.type in ("arrow_table", "table"):
                frame = child.value
                yield from ((("Table", "cell"), str(cell)) for cell in (*frame.columns, *frame.to_numpy().ravel()))

    yield from walk(at._tree)


def read_as(text):
    """What a text could be read as beyond its letters."""
    left = text.replace("\\", "")
    return WRITTEN.findall(text) + [sign for sign in LEFT if sign in left]


def faults(at):
    """Texts with a stranger's words in them that would be more than words, and how many texts hold such words."""
    found = [(place, text) for place, text in texts(at) if MARK in text and place not in NOT_FORMATTED]
    return [(place, read_as(text), text) for place, text in found if read_as(text)], len(found)


RUN = {"field", "calculate", "filter", "expr", "labelExpr", "signal", "test", "groupby", "fields", "as"}
"""Where the drawing language runs what stands there, or reads dots and brackets in it as a way into the data."""
QUOTED = re.compile(r"'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\"")
"""A text inside of what is run, as ECMAScript writes it."""
LEADS_OUT = {"href", "url", "data_url"}


def drawn(at):
    """Everything that a page's drawings state, as key and value."""

    def walk(node, key=""):
        if isinstance(node, dict):
            for below, value in node.items():
                yield below, value
                yield from walk(value, below)
        elif isinstance(node, list):
            for value in node:
                yield key, value
                yield from walk(value, key)

    def charts(block):
        for child in block.children.values():
            proto = getattr(child, "proto", None)
            if getattr(proto, "DESCRIPTOR", None) is not None and proto.DESCRIPTOR.name == "VegaLiteChart":
                yield json.loads(proto.spec)
            if hasattr(child, "children"):
                yield from charts(child)

    for spec in charts(at._tree):
        yield from walk({key: value for key, value in spec.items() if key not in ("data", "datasets")})


def run_by_drawings(at):
    """What a drawing would run or follow and a stranger wrote, and whatever leads out of the page."""
    return [
        (key, value)
        for key, value in drawn(at)
        if key in LEADS_OUT or (key in RUN and isinstance(value, str) and MARK in QUOTED.sub("", value))
    ]


def parts(at, page):
    """Open each part of a page, the open one first."""
    yield at
    names = {WORDS(key): key.split(".")[-1] for key in EVERY_KEY if key.startswith(f"screen.{page}.tab.")}
    for group in [group for group in at.button_group if (group.key or "").startswith(f"section.{page}|")]:
        for option in [option.content for option in group.proto.options][1:]:
            yield choose(at, page, names[option])


@pytest.mark.parametrize("page", [page for page in PAGES if page != "plan"])
def test_nothing_of_a_farm_becomes_formatting_or_a_link(page):
    at = visit(page)
    at.session_state["scenario"] = hostile()
    run(at)
    counted = 0
    for part in parts(at, page):
        wrong, number = faults(part)
        assert not wrong
        assert run_by_drawings(part) == []
        counted += number
    assert counted > 0


@pytest.mark.long
def test_nothing_of_a_farm_becomes_formatting_or_a_link_in_its_plan():
    at = made(hostile(), FAST)
    assert at.header
    counted = 0
    for part in parts(at, "plan"):
        wrong, number = faults(part)
        assert not wrong
        assert run_by_drawings(part) == []
        counted += number
    assert counted > 20


@pytest.mark.parametrize(
    "text", [NAME.format(n=1), LONG.format(n=2), "- a", "1. a", "+ a", "---", "a\n# h", "&lt;b&gt;"]
)
def test_a_text_said_plainly_is_read_as_its_letters_alone(text):
    said = plain(text)
    assert read_as(text) or BEGINS.search(text)
    assert not read_as(said)
    assert not BEGINS.search(said)


def test_a_file_s_name_and_a_link_s_words_are_words_alone():
    name = NAME.format(n=1)
    at = upload(visit(), f"{MARK}[l](www.a.example).toml", b"price = 3,5")
    assert at.error
    assert not faults(at)[0]
    for link in ({"farm": name}, {"first": name}, {"beside": name}, {"price": name}, {name: "1"}):
        at = visit(**link)
        wrong, number = faults(at)
        assert at.warning
        assert number
        assert not wrong


def test_a_refused_name_is_words_alone():
    at = visit("numbers")
    at.session_state["scenario"] = hostile()
    run(at)
    names = [stand.name for stand in at.session_state["scenario"].stands]
    at.text_input(key=key(at, "stand.0.name")).set_value(names[1])
    run(at)
    assert at.error
    assert not faults(at)[0]


OUR_DRAWING = "data:image/svg+xml"
"""How the source of a drawing of ours begins: it stands in the page itself."""
TIPS = 4
"""Helps that are opened on each part of a page."""


def nothing_of_it_is_markup(seen):
    """No link, picture or element of a page was made of the farm's words."""
    links = seen.page.evaluate("[...document.querySelectorAll('a')].map(a => a.href)")
    assert not [link for link in links if "a.example" in link]
    assert seen.page.locator('[src*="a.b"]').count() == 0
    pictures = seen.page.locator('[data-testid="stMain"] img, [data-testid="stSidebar"] img').all()
    assert [src for src in (one.get_attribute("src") for one in pictures) if not src.startswith(OUR_DRAWING)] == []
    assert seen.page.locator("i, h1:has-text('h') em").filter(has_text=MARK).count() == 0


@pytest.mark.browser
def test_no_picture_is_fetched_and_nothing_is_a_link_in_a_browser(browser, dashboard):
    content = {"name": "farm.toml", "mimeType": "application/toml", "buffer": write_scenario(hostile()).encode()}
    with look(browser, dashboard) as seen:
        seen.open(dashboard)
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        seen.page.locator('input[type="file"]').set_input_files(content)
        seen.settle()
        for page in PAGES:
            seen.page.get_by_role("link", name=WORDS(f"screen.page.{page}"), exact=True).click()
            seen.settle()
            assert seen.page.get_by_text(MARK).count() > 0
            for part in range(max(1, seen.page.locator(SECTIONS).count())):
                if part:
                    seen.page.locator(SECTIONS).nth(part).click()
                    seen.settle()
                nothing_of_it_is_markup(seen)
                for tip in seen.page.locator('[data-testid="stTooltipHoverTarget"]:visible').all()[:TIPS]:
                    tip.hover()
                    nothing_of_it_is_markup(seen)
        seen.open(f"{dashboard}/?first={quote(NAME.format(n=1))}")
        assert seen.page.get_by_text(MARK).count() > 0
        nothing_of_it_is_markup(seen)
        wrong = {"name": f"{MARK}[l](www.a.example).toml", "mimeType": "application/toml", "buffer": b"price = 3,5"}
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        seen.page.locator('input[type="file"]').set_input_files(wrong)
        seen.settle()
        assert seen.page.get_by_text(MARK).count() > 0
        nothing_of_it_is_markup(seen)
        assert seen.left == []


@pytest.mark.browser
def test_the_printed_report_of_a_stranger_s_farm_fetches_and_runs_nothing(browser, tmp_path):
    farm = hostile()
    place = tmp_path / "report.html"
    place.write_text(report(farm, WORDS, date(2026, 11, 28)), "utf-8")
    page, asked = browser.new_page(), []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(place.as_uri())
    assert page.get_by_text(MARK).count() > 0
    assert page.locator("img, a[href*='a.example'], script, iframe, object, embed, link").count() == 0
    assert asked == [place.as_uri()]
    page.close()
