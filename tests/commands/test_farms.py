"""`renovation farms`: a table checked, compared, shown and gone on with, every fault in a sentence."""

import json

import pandas as pd
import pytest
from command_line import refused, said
from farms_at_work import Here

from renovation.decide import compare
from renovation.farms.engine import SchedulerLost, TooManyAside
from renovation.farms.run import NoRoom
from renovation.inputs import demo_scenario, scenario_folder
from renovation.words import Words

WORDS = Words("en")
COMPARE = ("farms", "compare", "TEMPLATE", "TABLE", "-o", "OUT")
TEMPLATE = scenario_folder() / "first_grafters.toml"


@pytest.fixture
def here(monkeypatch):
    monkeypatch.setattr("renovation.farms.engine.Processes", Here)


@pytest.fixture
def table(tmp_path):
    """Four farms, one of them named as a formula, one with a mistake."""
    rows = {
        "farm": ["Upper", "Upper", "=1+1", "Low", *(f"Farm {n}" for n in range(12))],
        "stand": ["Hill", "River", "Hill", "Hill", *["Hill"] * 12],
        "village": ["Near", None, None, "Far", *["Far"] * 12],
        "stands.trees": [120, 80, 50, 0, *[60] * 12],
        "stands.crop_per_tree": [0.3, 0.5, 0.4, 0.4, *[0.35] * 12],
    }
    path = tmp_path / "stands.csv"
    pd.DataFrame(rows).to_csv(path, index=False)
    return path


@pytest.mark.long
def test_check_says_what_is_refused_and_writes_it(capsys, table, tmp_path):
    out = said(capsys, "farms", "check", TEMPLATE, table, "-o", tmp_path / "mistakes.csv")
    assert "1 farm" in out
    assert list(pd.read_csv(tmp_path / "mistakes.csv")["farm"]) == ["Low"]
    found = json.loads(said(capsys, "farms", "check", TEMPLATE, table, "--json"))
    assert (found["farms"], found["stands"], found["refused_farms"]) == (15, 16, 1)


@pytest.mark.long
def test_compare_leaves_a_folder_that_show_tells(capsys, here, table, tmp_path):
    folder = tmp_path / "out"
    said_here = capsys
    from renovation.commands.program import main

    assert main(["farms", "compare", str(TEMPLATE), str(table), "-o", str(folder)]) == 0
    out, err = said_here.readouterr()
    assert "1 farm" in err  # the refused are told first
    assert sorted(path.name for path in folder.iterdir()) == [
        "farms.csv",
        "farms.parquet",
        "inputs",
        "refused.csv",
        "run.json",
        "summary.html",
        "who_first.csv",
    ]
    rows = pd.read_parquet(folder / "farms.parquet")
    assert set(rows["farm"]) == {"Upper", "=1+1", *(f"Farm {n}" for n in range(12))}
    for name in ("farms.csv", "who_first.csv"):
        texts = pd.read_csv(folder / name)["farm"]
        assert "'=1+1" in set(texts)
        assert not texts.str.startswith("=").any()
    best = rows[rows["best"]]
    who = pd.read_csv(folder / "who_first.csv")
    assert list(who)[:3] == ["farm", "village", "gain"]
    assert who.set_index("farm")["village"].fillna("").to_dict() == {
        "Upper": "Near",
        "'=1+1": "",
        **{f"Farm {n}": "Far" for n in range(12)},
    }
    assert who["gain"].sum() == pytest.approx(best["npv"].sum())
    assert WORDS.round_money(float(best["npv"].sum()), "USD") in out
    page = (folder / "summary.html").read_text("utf-8")
    assert page.count("<figure>") == 4
    assert "<script" not in page
    again = said(capsys, "farms", "show", folder)
    assert again.partition("\n")[2] == out.partition("\n")[2]
    told = json.loads(said(capsys, "farms", "show", folder, "--json"))
    assert told["group"]["farms"] == 14
    assert told["run"]["refused"] == 1
    told = json.loads((folder / "run.json").read_text("utf-8"))
    told["options"]["country"] = "PE"  # as of templates that state it
    (folder / "run.json").write_text(json.dumps(told), "utf-8")
    worth = Words("es", "PE").round_money(float(best["npv"].sum()), "USD")
    assert "," in worth
    assert worth in said(capsys, "farms", "show", folder, "--language", "es")
    assert "<" not in refused(capsys, "farms", "compare", TEMPLATE, table, "-o", folder).partition("farms")[0]


@pytest.mark.long
def test_a_farm_in_the_table_has_the_numbers_of_the_farm_alone(capsys, here, tmp_path):
    stands = tmp_path / "stands.csv"
    pd.DataFrame({"farm": ["One"], "stand": ["Hill"], "stands.trees": [90]}).to_csv(stands, index=False)
    said(capsys, "farms", "compare", TEMPLATE, stands, "-o", tmp_path / "out")
    from renovation.farms import Batch
    from renovation.inputs import load_scenario

    index = pd.Index(["One"], name="farm")
    alone = Batch(load_scenario(str(TEMPLATE)), pd.DataFrame(index=index), pd.read_csv(stands)).scenario("One")
    rows = pd.read_parquet(tmp_path / "out" / "farms.parquet").set_index("technique")
    for key, outcome in compare(alone).outcomes.items():
        assert rows.loc[key, "npv"] == pytest.approx(outcome.npv, rel=1e-9)


@pytest.mark.long
def test_another_table_does_not_go_on_with_the_folder(capsys, here, table, tmp_path):
    from renovation.commands.program import main

    folder = tmp_path / "out"
    assert main(["farms", "compare", str(TEMPLATE), str(table), "-o", str(folder)]) == 0
    capsys.readouterr()
    assert main(["farms", "compare", str(TEMPLATE), str(table), "-o", str(folder), "--resume"]) == 0
    capsys.readouterr()
    table.write_text(table.read_text().replace("120", "121"))
    assert main(["farms", "compare", str(TEMPLATE), str(table), "-o", str(folder), "--resume"]) == 2
    assert WORDS("run.error.other_run", path=folder, differs=WORDS("run.differs.tables")) in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "key"),
    [
        (["farms"], "what"),
        (["farms", "compare"], "files"),
        (["farms", "compare", "TEMPLATE", "TABLE"], "folder"),
        ([*COMPARE, "--workers", "none"], "workers"),
        (
            ["farms", "compare", "TEMPLATE", "TABLE", "-o", "OUT", "--workers", "2", "--engine", "x"],
            "engine_or_workers",
        ),
        ([*COMPARE, "--engine", "tcp://10.0.0.1:8786"], "not_encrypted"),
        (["farms", "plan", "TEMPLATE", "TABLE", "-o", "OUT", "--first", "0"], "first"),
        (["farms", "book", "TEMPLATE", "TABLE", "-o", "OUT", "--season", "101"], "season"),
        (["farms", "show", "OUT"], "no_run"),
        (["farms", "invent", "-o", "x.txt"], "table_ending"),
        (["farms", "invent", "-n", "0", "-o", "x.csv"], "number"),
        (["farms", "invent", "--seed", "y", "-o", "x.csv"], "seed"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(capsys, tmp_path, words, key):
    stands = tmp_path / "stands.csv"
    stands.write_text("farm,stand,stands.trees\nOne,Hill,90\n")
    named = {"TEMPLATE": TEMPLATE, "TABLE": stands, "OUT": tmp_path / "out"}
    found = refused(capsys, *(named.get(word, word) for word in words))
    pattern = WORDS.text(f"run.error.{key}")
    assert all(part in found for part in pattern.replace("{", "}").split("}")[::2]), (found, pattern)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("fault", "key"),
    [
        (NoRoom(10**12, 10**9), "no_room"),
        (NoRoom(None, 0), "full"),
        (SchedulerLost(), "scheduler_lost"),
        (TooManyAside("One", "lost", ""), "too_many_aside"),
    ],
)
def test_what_ends_a_run_is_said_in_a_sentence(capsys, monkeypatch, here, tmp_path, fault, key):
    stands = tmp_path / "stands.csv"
    stands.write_text("farm,stand,stands.trees\nOne,Hill,90\n")

    def fails(*_, **__):
        raise fault

    monkeypatch.setattr("renovation.farms.run.run_batches", fails)
    found = refused(capsys, "farms", "compare", TEMPLATE, stands, "-o", tmp_path / "out")
    assert all(part in found for part in WORDS.text(f"run.error.{key}").replace("{", "}").split("}")[::2])


def test_invented_farms_pass_the_check_and_say_that_they_are_invented(capsys, tmp_path):
    stands = tmp_path / "stands.parquet"
    out = said(capsys, "farms", "invent", "-n", "20", "--seed", "3", "-o", stands)
    assert WORDS("run.said.invented") in out
    assert "20 farms" in said(capsys, "farms", "check", TEMPLATE, stands)
    assert demo_scenario().about.invented


@pytest.mark.long
def test_the_book_of_a_lender(capsys, here, tmp_path):
    table, folder = tmp_path / "stands.csv", tmp_path / "out"
    farms = [f"Farm {n}" for n in range(4)]
    columns = {"farm": farms, "stand": "Hill", "village": ["Upper", "Lower"] * 2, "stands.trees": [40, 80, 160, 320]}
    pd.DataFrame(columns).to_csv(table, index=False)
    template = scenario_folder() / "old_stand_with_gaps.toml"
    asked = ("--futures", "64", "--season", "30", "--way", "side_graft")
    out = " ".join(said(capsys, "farms", "book", template, table, "-o", folder, *asked).split())
    assert WORDS("run.said.private") in out
    assert WORDS("run.book.as_way", way=WORDS.name("technique", "side_graft")) in out
    options = json.loads((folder / "run.json").read_text())["options"]
    assert (options["draws"], options["way"]) == ({"number": 64, "seed": 1, "season": 0.3}, "side_graft")
    book = pd.read_csv(folder / "book.csv")
    assert set(book["price"]) == {1.0, 0.9, 0.8, 0.67}
    whole = book[(book["by"] == "all") & (book["price"] == 1)].iloc[0]
    lower = book[(book["by"] == "village") & (book["price"] == 1)]
    assert set(lower["name"]) == {"Upper", "Lower"}
    assert lower["missed"].sum() == pytest.approx(whole["missed"]) != 0
    assert (folder / "summary.html").read_text("utf-8").count("<figure>") == 2
    told = json.loads(said(capsys, "farms", "show", folder, "--json"))["group"]
    assert told["farms"] == told["worked"] == 4
    none = pd.DataFrame(columns).assign(**{f"loans.{loan}.amount": 0 for loan in loans_of(template)})
    none.to_csv(table, index=False)
    assert WORDS("run.error.no_loans") in refused(capsys, "farms", "book", template, table, "-o", tmp_path / "other")


def loans_of(template):
    from renovation.inputs import load_scenario

    return [loan.name for loan in load_scenario(str(template)).loans]
