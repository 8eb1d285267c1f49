"""The wall sheet printed by Chromium: one page a season in type to read at arm's length, with the plan's figures."""

import re
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from screens.looking import FLAGS, chromium, missing, pdf_of

from renovation.decide.dossier import Dossier
from renovation.decide.plan import make_plan, replay, sheet
from renovation.inputs import Planning, demo_names, demo_scenario
from renovation.inputs.answers import new_farm
from renovation.show.sheet import wall_sheet
from renovation.show.sheet.fit import HEIGHT, POINT, fitted, height
from renovation.show.sheet.months import rounded_up
from renovation.words import Words, languages

DAY = date(2026, 11, 29)
WIDE = '"Liberation Sans", Arial, Helvetica, "DejaVu Sans Condensed", sans-serif'
HEIGHTS = """() => [...document.querySelectorAll('.sheet')].map(s =>
  [s.getBoundingClientRect().height, parseFloat(getComputedStyle(s).fontSize)])"""


def printed(html, folder):
    """The PDF that Chromium makes of a file."""
    if shutil.which("pdfinfo") is None:
        missing("pdfinfo")
    return pdf_of(html, folder / "sheet.html")


def pages(pdf):
    told = subprocess.run(["pdfinfo", pdf], check=True, capture_output=True, text=True).stdout
    assert "A4" in told
    return int(re.search(r"Pages:\s+(\d+)", told)[1])


def words_on(pdf, number):
    run = ["pdftotext", "-f", str(number), "-l", str(number), "-layout", pdf, "-"]
    return re.sub(r"\s+", " ", subprocess.run(run, check=True, capture_output=True, text=True).stdout)


def measured(pages_of_html):
    """Height of each sheet and size of its type, in pixels of Chromium's, as it would be printed, of each page.

    In a thread of its own, for another test's browser may be open in this one.
    """
    with ThreadPoolExecutor(1) as aside:
        return aside.submit(_measured, pages_of_html).result()


def _measured(pages_of_html):
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=chromium(), args=FLAGS)
        page, found = browser.new_page(), []
        page.emulate_media(media="print")
        for html in pages_of_html:
            page.set_content(html)
            found.append(page.evaluate(HEIGHTS))
        browser.close()
    return found


def check(plan, folder):
    """In every language one page a season, also without the named fonts; type of ten points; heights counted closely.

    Printed is English alone: what is no higher than a page stands on one.
    """
    years, replayed = range(1, plan.problem.years + 1), replay(plan)
    made = {language: wall_sheet(plan, Words(language), DAY, years) for language in languages()}
    fonts = [html for named in made.values() for html in (named, named.replace(WIDE, '"DejaVu Sans"'))]
    found = iter(measured(fonts))
    for language in made:
        words = Words(language)
        walls = [fitted(plan, sheet(plan, year, replayed), words) for year in years]
        for least in (0.92, 0.87):
            for (wall, points), (tall, em) in zip(walls, next(found), strict=True):
                assert points >= 10, (language, wall.season)
                assert points * 96 / 72 == pytest.approx(em, abs=0.01)
                counted = height(wall, points) / (points * POINT)
                assert least * counted <= tall / em <= counted, (language, wall.season)
                assert tall * 25.4 / 96 <= HEIGHT
    for html in (made["en"].replace(WIDE, '"DejaVu Sans"'), made["en"]):
        pdf = printed(html, folder)
        assert pages(pdf) == len(years)
    yield Words("en"), pdf


@pytest.mark.browser
@pytest.mark.parametrize("name", demo_names())
def test_a_season_is_one_page_with_the_plan_s_figures(name, tmp_path):
    plan = Dossier(demo_scenario(name)).family_plan
    for words, pdf in check(plan, tmp_path):
        for year in range(1, plan.problem.years + 1):
            laid_out, said = sheet(plan, year), words_on(pdf, year)
            assert laid_out.trees == 0 or words.number(laid_out.trees) in said
            sums = [words.number(rounded_up(month.in_hand)) for month in laid_out.months if month.in_hand >= 0.5]
            bought = laid_out.shopping_cost
            for amount in [*sums, *[words.round_money(bought, laid_out.currency)] * bool(laid_out.shopping)]:
                assert re.sub(r"\s", " ", amount) in said
            for month in laid_out.months:
                for days in (month.family_days, month.work.get("upkeep", 0.0), month.work.get("harvest", 0.0)):
                    shown = words.number(round(days) if days >= 5 else max(0.5, round(2 * days) / 2))
                    assert days < 0.05 or re.search(rf"(?<![\d.,]){re.escape(shown)}(?![\d])", said)
            assert plan.scenario.digest in said


@pytest.mark.browser
def test_a_farm_with_everything_guessed_is_one_page_and_says_so(tmp_path):
    farm = new_farm("2026-12", "My farm", "Field 1")
    plan = make_plan(farm, Planning(years=2, gap=0.05, time_limit_seconds=15.0))
    for words, pdf in check(plan, tmp_path):
        assert words("sheet.guessed", n=len(farm.guessed)) in words_on(pdf, 1)


@pytest.mark.browser
def test_a_plan_that_breaks_a_promise_is_one_page_and_says_so(tmp_path):
    farm = demo_scenario("few_hands")
    poor = farm.model_copy(update={"household": farm.household.model_copy(update={"savings": 0.0, "floor": 1e6})})
    plan = make_plan(poor, Planning(years=2, gap=0.05, time_limit_seconds=15.0))
    assert plan.broken
    for words, pdf in check(plan, tmp_path):
        assert words("plan.broken.head") in words_on(pdf, 1)


@pytest.mark.browser
def test_twelve_fields_with_names_of_forty_letters_are_one_page(tmp_path):
    farm = demo_scenario("first_grafters")
    names = [f"{number:02d} The old field beyond the river bend" for number in range(12)]
    names = [name + "x" * (40 - len(name)) for name in names]
    stands = tuple(farm.stands[0].model_copy(update={"name": name, "trees": 60}) for name in names)
    household = farm.household.model_copy(update={"savings": 3000.0, "family_days": (60.0,) * 12})
    comparison = farm.comparison.model_copy(update={"stand": names[0], "trees": 20})
    changed = {"stands": stands, "plan": (), "household": household, "comparison": comparison}
    plan = make_plan(farm.model_copy(update=changed), Planning(years=1, gap=0.2, time_limit_seconds=20.0))
    assert len({start.stand for start in plan.starts}) > 6
    for words, pdf in check(plan, tmp_path):
        said = words_on(pdf, 1)
        assert words("sheet.trees", trees=words.number(sheet(plan).trees)) in said
