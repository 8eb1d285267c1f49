"""Links and files: what they bring is in hand, what they ask in vain is told, a bad file is refused whole."""

from pathlib import Path

import pytest
from screens.looking import visit as look
from screens.visiting import farm, key, run, said, type_in, upload, visit

from renovation.inputs import demo_names, demo_scenario, read_scenario, write_scenario
from renovation.inputs.demos import demo_text
from renovation.words import Words

WORDS = Words("en")


PRICE = "sidebar.price.market.price_per_kg"


def test_a_link_brings_its_numbers():
    at = visit(price="3,5", trees="120", rate="8", first="bud_graft", beside="air_layer")
    assert not said(at)
    assert farm(at).market.price_per_kg == 3.5
    assert (farm(at).comparison.trees, farm(at).appraisal.discount_rate) == (120, 0.08)
    assert farm(at).comparison.headline == "bud_graft"
    assert "air_layer" in at.session_state["beside"]


@pytest.mark.parametrize(
    ("link", "told"),
    [
        ({"rate": "900"}, "900"),
        ({"price": "1,500"}, "1,500"),
        ({"trees": "9999"}, "9999"),
        ({"farm": "nowhere"}, "nowhere"),
        ({"first": "no_such_way"}, "no_such_way"),
        ({"colour": "blue"}, "colour"),
        ({"start": "soon"}, "soon"),
        ({"start": "0000-01"}, "0000-01"),
        ({"start": "9999-12"}, "9999-12"),
    ],
)
def test_a_link_that_asks_for_the_impossible_is_told_so(link, told):
    at = visit(**link)
    assert farm(at) == demo_scenario()
    assert any(told in warning.value.replace("\\", "") for warning in at.warning)


def test_a_farm_whose_years_end_with_the_calendar_opens():
    end = demo_scenario().changed(
        appraisal__start="9999-01", appraisal__horizon_years=1, plan=(), loans=(), planning={}
    )
    at = upload(visit(), "end.toml", write_scenario(end).encode())
    assert not at.exception
    assert farm(at) == end


BAD = write_scenario(demo_scenario()).replace("price_per_kg = 4.0", 'price_per_kg = "2,4"').encode()


@pytest.mark.parametrize("content", [BAD, b"", b"\xff\xfe\x00", b"price = 3,5"])
def test_a_bad_file_is_refused_whole_and_the_farm_stays(content):
    at = type_in(visit(), PRICE, "5")
    before = farm(at)
    upload(at, "mine.toml", content)
    assert farm(at) == before
    assert len(at.error) == 1
    assert "mine.toml" in at.error[0].value.replace("\\", "")
    assert before.about.name in at.error[0].value


def test_a_good_file_is_opened_and_its_numbers_stand_in_the_controls():
    other = demo_scenario().changed(market__price_per_kg=6.25, about__name="Our farm", about__invented=False)
    at = upload(visit(), "ours.toml", write_scenario(other).encode())
    assert farm(at) == other
    assert at.title[0].value == "Our farm"
    assert at.text_input(key=key(at, PRICE)).value == "6.25"
    assert any("ours.toml" in entry.value.replace("\\", "") for entry in at.success)
    assert not at.query_params  # a farm from a file cannot be linked to


def test_a_changed_farm_left_for_another_can_be_gone_back_to():
    at = type_in(visit(), "sidebar.price.market.price_per_kg", "3,5")
    mine = farm(at)
    other = demo_names()[1]
    at.selectbox(key=key(at, "farm")).set_value(other)
    run(at)
    assert farm(at) == demo_scenario(other)
    assert at.selectbox(key=key(at, "farm")).options[-1] == WORDS("screen.sidebar.left_farm", name=mine.about.name)
    at.selectbox(key=key(at, "farm")).select_index(len(demo_names()))
    run(at)
    assert farm(at) == mine
    assert len(at.selectbox(key=key(at, "farm")).options) == len(demo_names())


def test_what_is_saved_is_what_is_in_hand():
    at = type_in(visit(), PRICE, "3,5")
    assert read_scenario(write_scenario(farm(at)), "saved.toml") == farm(at)


@pytest.mark.browser
def test_a_file_written_by_hand_is_saved_with_its_comments_after_a_reload_too(browser, dashboard):
    text = demo_text("few_hands").replace("# An hour's walk away", "# Over the hill")
    content = {"name": "farm.toml", "mimeType": "application/toml", "buffer": text.encode()}
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/sources")
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        seen.page.locator('[data-testid="stFileUploaderDropzoneInput"]').set_input_files(content)
        seen.settle()
        wage = seen.page.get_by_label(WORDS("screen.sidebar.wage"), exact=True)
        wage.fill("3100")
        wage.press("Enter")
        seen.settle()
        seen.page.reload()
        seen.settle()
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        with seen.page.expect_download() as saved:
            seen.page.get_by_role("button", name=WORDS("screen.sidebar.save"), exact=True).click()
        expected = text.replace("wage_per_day = 3000.0", "wage_per_day = 3100.0")
        assert Path(saved.value.path()).read_text("utf-8") == expected
