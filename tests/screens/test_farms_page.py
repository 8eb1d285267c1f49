"""The page of many farms: there only for whoever starts with a folder, and from any row the farm itself."""

import json
import shutil

import pandas as pd
import pytest
from farms_at_work import Here
from screens.looking import served
from screens.looking import visit as looked_at
from screens.visiting import farm, key, press, run, said, shown, tables_of, visit

from renovation.commands.program import main
from renovation.decide import compare
from renovation.farms.table import check
from renovation.inputs import demo_scenario, load_scenario, scenario_folder
from renovation.screens.controls.text import plain
from renovation.screens.memory.farms import FOLDER
from renovation.screens.pages import FARMS, PAGES, offered
from renovation.version import __version__
from renovation.words import Words

WORDS = Words("en")
TEMPLATE = scenario_folder() / "first_grafters.toml"
FARMS_IN_ALL = 20


@pytest.fixture(scope="module")
def inputs(tmp_path_factory):
    """A table of invented farms."""
    path = tmp_path_factory.mktemp("many") / "stands.csv"
    assert main(["farms", "invent", str(TEMPLATE), "-n", str(FARMS_IN_ALL), "--seed", "3", "-o", str(path)]) == 0
    return path


@pytest.fixture(scope="module")
def finished(inputs):
    """A finished comparison of them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("renovation.farms.engine.Processes", Here)
        assert main(["farms", "compare", str(TEMPLATE), str(inputs), "-o", str(inputs.parent / "Upper valley")]) == 0
    return inputs.parent / "Upper valley"


def open_on(monkeypatch, folder):
    monkeypatch.setenv(FOLDER, str(folder))
    return visit("farms")


def test_the_page_is_there_only_where_the_dashboard_was_started_with_a_folder(monkeypatch, tmp_path):
    monkeypatch.delenv(FOLDER, raising=False)
    assert offered() == PAGES
    monkeypatch.setenv(FOLDER, str(tmp_path))
    assert offered() == (*PAGES, FARMS)
    monkeypatch.setenv(FOLDER, " ")
    assert offered() == PAGES


def test_a_folder_that_holds_no_run_is_told_and_its_place_is_not(monkeypatch, tmp_path):
    at = open_on(monkeypatch, tmp_path)
    assert said(at) == [plain(WORDS("screen.farms.no_run", folder=tmp_path.name))]
    assert str(tmp_path.parent) not in shown(at) + said(at)[0]


@pytest.mark.long
def test_the_page_says_and_draws_what_the_summary_does(monkeypatch, finished):
    at = open_on(monkeypatch, finished)
    assert not said(at)
    summary = (finished / "summary.html").read_text("utf-8")
    assert at.header[0].value.replace("\\", "") in summary
    drawn = [chart.proto.alt for chart in at.get("vega_lite_chart")]
    assert len(drawn) == summary.count("<figure>") == 4
    assert all(finding in summary for finding in drawn)
    who = pd.read_csv(finished / "who_first.csv")
    assert [row[0] for row in tables_of(at)[0]] == [plain(name) for name in who["farm"]]
    assert not at.get("file_uploader")[1:]  # the sidebar's own alone: nothing names a folder here
    other = visit("farms", language="fr")  # what is kept for all visitors is kept for each language
    assert other.title[0].value == plain(Words("fr")("screen.page.farms"))
    alike = {chart.proto.alt for chart in other.get("vega_lite_chart")} & set(drawn)
    assert not alike
    assert visit("farms").header[0].value == at.header[0].value != other.header[0].value


@pytest.mark.long
def test_a_lender_s_book_is_told_and_puts_no_farm_first(monkeypatch, inputs):
    monkeypatch.setattr("renovation.farms.engine.Processes", Here)
    lent = load_scenario(scenario_folder() / "third_year.toml")
    assert lent.loans
    template, folder = str(scenario_folder() / "third_year.toml"), inputs.parent / "Book"
    rows = inputs.parent / "lent.csv"
    assert main(["farms", "invent", template, "-n", "5", "--seed", "3", "-o", str(rows)]) == 0
    assert main(["farms", "book", template, str(rows), "-o", str(folder)]) == 0
    at = open_on(monkeypatch, folder)
    assert not said(at)
    assert at.header[0].value.replace("\\", "") in (folder / "summary.html").read_text("utf-8")
    assert [head.value for head in at.subheader][:2] == [WORDS("run.book.prices"), WORDS("run.book.months")]
    assert not [button for button in at.button if button.label == WORDS("screen.farms.open")]


@pytest.mark.long
def test_a_row_is_opened_as_a_file_is_and_taken_back(monkeypatch, finished, inputs):
    at = open_on(monkeypatch, finished)
    who = pd.read_csv(finished / "who_first.csv")
    third = who["farm"][2]
    next(box for box in at.selectbox if box.label == WORDS("screen.farms.one")).set_value(third)
    press(at, "farms_open")
    (batch,) = check(load_scenario(TEMPLATE), inputs).batches()
    assert farm(at) == batch.scenario(third).changed(about__invented=True)
    rows = pd.read_parquet(finished / "farms.parquet")
    worth = rows[(rows["farm"] == third) & (rows["stand"] == farm(at).comparison.stand)].set_index("technique")["npv"]
    for way, outcome in compare(farm(at)).outcomes.items():
        assert worth[way] == pytest.approx(outcome.npv, rel=1e-9)
    assert said(at) == [plain(WORDS("screen.farms.opened", farm=third, folder="Upper valley"))]
    assert at.session_state["origin"] == WORDS("screen.farms.origin", farm=third, folder="Upper valley")
    assert at.session_state["go_to"] == "compare"
    at.button(key="history.back").click()
    assert farm(run(at)) == demo_scenario()


@pytest.mark.long
def test_fewer_rows_by_village_way_and_letters(monkeypatch, finished, inputs):
    monkeypatch.setattr("renovation.screens.pages.farms.MOST", 5)
    at = open_on(monkeypatch, finished)
    who = pd.read_csv(finished / "who_first.csv")
    assert [row[0] for row in tables_of(at)[0]] == [plain(name) for name in who["farm"][:5]]
    assert any(plain(WORDS("run.farms", n=FARMS_IN_ALL)) in caption.value for caption in at.caption)
    villages = pd.read_csv(inputs).groupby("farm")["village"].first()
    village = villages[who["farm"][1]]
    at.selectbox(key=key(at, "farms_village")).set_value(village)
    way = who["way"][1]
    at.selectbox(key=key(at, "farms_way")).set_value(way)
    run(at)
    some = who[(who["farm"].map(villages) == village) & (who["way"] == way)]
    assert [row[0] for row in tables_of(at)[0]] == [plain(name) for name in some["farm"][:5]]
    at.text_input(key=key(at, "farms_name")).set_value("../run.json")
    run(at)
    assert said(at) == [WORDS("screen.farms.nobody")]


@pytest.mark.browser
def test_in_a_browser_the_folder_is_told_and_leads_to_a_farm_on_the_first_page(monkeypatch, browser, finished):
    monkeypatch.setenv(FOLDER, str(finished))
    first = pd.read_csv(finished / "who_first.csv")["farm"][0]
    summary = (finished / "summary.html").read_text("utf-8")
    with served() as address, looked_at(browser, address) as seen:
        seen.open(f"{address}/farms")
        assert seen.page.locator("h2").first.inner_text() in summary
        assert seen.page.locator("svg.marks").count() == summary.count("<figure>") == 4
        assert first in seen.page.locator("table").first.inner_text()
        seen.page.get_by_role("button", name=WORDS("screen.farms.open"), exact=True).click()
        opened = WORDS("screen.farms.opened", farm=first, folder=finished.name)
        seen.page.get_by_text(opened).wait_for(timeout=60_000)
        seen.settle()
        assert not seen.page.url.partition("?")[0].endswith("/farms")
        assert seen.page.get_by_role("heading", name=first, exact=True).is_visible()
        assert not seen.left


def spoil(folder, **told):
    note = folder / "run.json"
    note.write_text(json.dumps({**json.loads(note.read_text()), **told}))


@pytest.mark.long
def test_what_cannot_be_shown_is_said_in_one_sentence(monkeypatch, finished, tmp_path):
    folder = tmp_path / "copy"
    shutil.copytree(finished, folder)
    rows = next((folder / "inputs").glob("stands.*"))
    rows.write_text(rows.read_text() + "\n")
    at = open_on(monkeypatch, folder)
    assert said(at) == [plain(WORDS("screen.farms.not_kept", folder="copy"))]
    assert not [button for button in at.button if button.label == WORDS("screen.farms.open")]
    (folder / "farms.parquet").write_bytes(b"PAR1")
    spoil(folder, ended="2026-01-01")
    damaged = said(open_on(monkeypatch, folder))
    spoil(folder, version="0.0")
    other = said(open_on(monkeypatch, folder))
    spoil(folder, status="begun")
    assert damaged == [plain(WORDS("screen.farms.damaged", folder="copy"))]
    assert other == [plain(WORDS("screen.farms.other_version", folder="copy", found="0.0", own=__version__))]
    assert said(open_on(monkeypatch, folder)) == [plain(WORDS("screen.farms.not_finished", folder="copy"))]
