"""The whole year in a real browser: farm put in, plan made and used, season written down, next year's plan made."""

import pytest
from screens.looking import SECTIONS, visit
from screens.test_season_page import NAME

from renovation.inputs import demo_scenario, read_scenario, write_scenario
from renovation.show.held import season_said
from renovation.show.voice import Voice
from renovation.words import Words

pytestmark = [pytest.mark.browser, pytest.mark.long]
WORDS = Words("en")
MINUTE = 60_000


def small():
    """A demo farm with one way, without practice, its plan roughly sought over two years: found in seconds."""
    planning = {"planning__years": 2, "planning__learning": None, "planning__gap": 0.05}
    one_way = {f"stands__{place}__techniques": ("side_graft",) for place in range(2)}
    farm = demo_scenario(NAME).changed(**planning, **one_way, plan=(), planning__time_limit_seconds=100.0)
    return farm.changed(about__name="Our farm")


def go(seen, page):
    seen.page.get_by_role("link", name=WORDS(f"screen.page.{page}"), exact=True).click()
    seen.settle()


def press(seen, label):
    seen.page.get_by_role("button", name=WORDS(label), exact=True).click()
    seen.settle()


def type_in(seen, label, text, exact=True):
    entry = seen.page.get_by_label(label, exact=exact).first
    entry.fill(text)
    entry.press("Tab")
    seen.settle()


def make_a_plan(seen):
    """Make a plan, the first of a farm, and wait for it."""
    go(seen, "plan")
    press(seen, "screen.plan.make")
    again = seen.page.get_by_role("button", name=WORDS("screen.plan.make_again"), exact=True)
    again.wait_for(timeout=2 * MINUTE)
    seen.settle()


def test_a_year_from_the_farm_put_in_to_the_plan_of_the_next(browser, dashboard, tmp_path):
    file = tmp_path / "our_farm.toml"
    file.write_text(write_scenario(small()), "utf-8")
    with visit(browser, dashboard) as seen:
        seen.open(dashboard)
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        seen.page.locator('input[type="file"]').first.set_input_files(file)
        seen.settle()
        go(seen, "numbers")
        seen.page.locator(SECTIONS).filter(has_text=WORDS("screen.numbers.tab.walk")).click()
        seen.settle()
        pods = ["22"] * 200 + ["13"] * 250 + ["4"] * 150 + ["empty"] * 12
        walk = tmp_path / "walk.csv"
        walk.write_text("\n".join(["tree,pods", *(f"{tree},{count}" for tree, count in enumerate(pods))]), "utf-8")
        seen.page.locator('[data-testid="stMain"] input[type="file"]').set_input_files(walk)
        seen.settle()
        press(seen, "tally.use")
        make_a_plan(seen)
        press(seen, "screen.plan.use")
        go(seen, "season")
        begun = f"{WORDS('season.what.made')}, try 1"
        type_in(seen, begun, "30")
        type_in(seen, f"{WORDS('season.what.taken')}, try 1", "31")
        press(seen, "screen.season.take_in")
        assert seen.page.get_by_text("31 are said to have taken, but only 30 were made.").is_visible()
        type_in(seen, f"{WORDS('season.what.taken')}, try 1", "9")
        type_in(seen, WORDS("season.what.money_in_hand"), "210 000")
        press(seen, "screen.season.take_in")
        assert seen.page.get_by_text("Money in hand: FCFA").is_visible()
        with seen.page.expect_download() as saved:
            seen.page.get_by_role("button", name=WORDS("screen.season.save_next"), exact=True).click()
        later = read_scenario(saved.value.path().read_bytes(), "next.toml")
        assert (later.appraisal.start, later.household.savings) == ("2027-09", 210000.0)
        assert later.under_way[0].taken[0] == 9
        assert sum(stand.trees for stand in later.wholes["Near trees"]) == 600
        assert sum(stand.empty_places for stand in later.stands) == 12
        press(seen, "screen.season.open")
        start = WORDS.month("2027-09")
        assert seen.page.get_by_text(WORDS("screen.season.opened", month=start)).is_visible()
        make_a_plan(seen)
        assert later.plan
        seen.page.get_by_text(WORDS("screen.plan.tab.rules"), exact=True).first.click()
        seen.settle()
        assert seen.page.get_by_text(WORDS("plan.table.rule.carried_on")).first.is_visible()
        seen.page.get_by_text(WORDS("screen.plan.records"), exact=True).click()
        seen.settle()
        way = Voice.of(later, WORDS).way(later.planning.records[0].technique)
        season = season_said(later.planning.records[0], later, WORDS)
        record = WORDS("screen.plan.record_in", way=way, season=season, made="30", taken="9")
        assert seen.page.get_by_text(record).is_visible()
        assert seen.left == []
