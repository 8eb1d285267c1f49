"""The wall sheet printed by Chromium: one page a season, on every demo farm, in every language, the plan's figures."""

import re
import shutil
import subprocess
from datetime import date

import pytest
from screens.looking import FLAGS, chromium, missing

from renovation.decide.plan import make_plan, sheet
from renovation.inputs import demo_names, demo_scenario
from renovation.show.sheet import wall_sheet
from renovation.words import Words, languages

WIDE = '"Liberation Sans", Arial, Helvetica, "DejaVu Sans Condensed", sans-serif'


def printed(html, folder):
    """The PDF that Chromium makes of a file."""
    if chromium() is None or shutil.which("pdfinfo") is None:
        missing("Chromium or pdfinfo")
    page, pdf = folder / "sheet.html", folder / "sheet.pdf"
    page.write_text(html, "utf-8")
    flags = ["--headless", *FLAGS, "--no-pdf-header-footer", f"--print-to-pdf={pdf}"]
    subprocess.run([chromium(), *flags, page.as_uri()], check=True, capture_output=True, timeout=120)
    return pdf


def pages(pdf):
    told = subprocess.run(["pdfinfo", pdf], check=True, capture_output=True, text=True).stdout
    assert "A4" in told
    return int(re.search(r"Pages:\s+(\d+)", told)[1])


def words_on(pdf, number):
    run = ["pdftotext", "-f", str(number), "-l", str(number), "-layout", pdf, "-"]
    return re.sub(r"\s+", " ", subprocess.run(run, check=True, capture_output=True, text=True).stdout)


@pytest.mark.browser
@pytest.mark.parametrize("name", demo_names())
def test_a_season_is_one_page_with_the_plan_s_figures(name, tmp_path):
    farm = demo_scenario(name)
    plan = make_plan(farm, farm.planning.model_copy(update={"gap": 0.02, "time_limit_seconds": 15.0}))
    assert plan.starts
    years = range(1, plan.problem.planning.years_of(farm.appraisal.horizon_years) + 1)
    for language in languages():
        words = Words(language)
        html = wall_sheet(plan, words, date(2026, 11, 29), years)
        pdf = printed(html, tmp_path)
        assert pages(pdf) == len(years)
        for year in years:
            laid_out, said = sheet(plan, year), words_on(pdf, year)
            assert words.number(laid_out.trees) in said
            for amount in (laid_out.shopping_cost, *(month.in_hand for month in laid_out.months)):
                assert amount < 0.5 or re.sub(r"\s", " ", words.round_money(amount, laid_out.currency)) in said
            for month in laid_out.months:
                for days in (month.family_days, *month.work.values()):
                    shown = words.number(round(days) if days >= 10 else round(days, 1))
                    assert days < 0.05 or re.search(rf"(?<![\d.,]){re.escape(shown)}(?![\d])", said)
            assert farm.digest in said
        # a machine without the named fonts: wide letters are set as narrow ones
        assert pages(printed(html.replace(WIDE, '"DejaVu Sans"'), tmp_path)) == len(years)
