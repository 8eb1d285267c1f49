"""The command line: every scenario through every command, every refusal in a sentence, every word catalogued."""

import ast
import csv
import io
import json
import re
import subprocess
import sys
from importlib import import_module
from inspect import signature
from pathlib import Path

import pytest
from command_line import refused, said
from factories import some_plain
from farm_files import BAD, FARMS, MOST, SMALL, TESTS, expected_of
from masked import Masked, letters_left
from naming import other_names

import renovation
from renovation.commands import COMMANDS, cash, plan, risk, season
from renovation.commands.program import answer, printable
from renovation.decide import compare, npv_per_tree, ranges
from renovation.decide.practise import practise_first
from renovation.inputs import default_techniques, demo_names, load_scenario, scenario_folder
from renovation.show import tidy
from renovation.show.compare import answer as compared
from renovation.show.compare import sentences
from renovation.words import Words, languages

WORDS = Words("en")
FIRST = scenario_folder() / "first_grafters.toml"
HANDS = scenario_folder() / "few_hands.toml"


# The commands


MOST_FARMS = some_plain(FARMS, [path for path in FARMS if path.stem in MOST])


def test_every_file_of_a_command_is_listed_and_has_its_two_functions():
    folder = Path(renovation.commands.__file__).parent
    beside = {"__init__", "program", "shared", "farms_work"}
    assert {path.stem for path in folder.glob("*.py")} - beside == set(COMMANDS)
    for name in COMMANDS:
        module = import_module(f"renovation.commands.{name}")
        assert list(signature(module.options).parameters) == ["parser"]
        assert list(signature(module.do).parameters) == ["args", "words"]


# Every scenario


def test_there_are_scenarios_to_test():
    assert len(FARMS) >= 4
    assert len(BAD) >= 30


@pytest.mark.parametrize("path", FARMS, ids=lambda path: path.stem)
def test_compare_answers_in_a_sentence_first_and_stamps_its_output(capsys, path):
    out = said(capsys, "compare", path)
    scenario = load_scenario(path)
    comparison = compare(scenario)
    one_line = " ".join(out.split())
    assert out.startswith(f"renovation {renovation.__version__} · scenario {scenario.digest} · ")
    for sentence in (
        sentences.subject(comparison, WORDS),
        sentences.headline(comparison, WORDS),
        *compared.worth_most(comparison, WORDS),
        *compared.turns(comparison, WORDS),
    ):
        assert " ".join(sentence.split()) in one_line
    answered = " ".join(compared.leading(comparison, WORDS).split())
    assert one_line.index(answered) < one_line.index(WORDS("table.measures"))
    assert WORDS("caution.planning_aid") in one_line
    assert max(map(len, out.splitlines())) <= 100


@pytest.mark.parametrize("path", FARMS, ids=lambda path: path.stem)
def test_check_says_what_a_sound_scenario_holds(capsys, path):
    out = " ".join(said(capsys, "check", path).split())
    scenario = load_scenario(path)
    assert f"{scenario.about.name}: the scenario is sound." in out
    assert WORDS("unit.stands", n=len(scenario.stands)) in out
    assert WORDS("unit.trees", n=sum(stand.trees for stand in scenario.stands)) in out


@pytest.mark.parametrize("path", MOST_FARMS, ids=lambda path: path.stem)
def test_json_is_the_results_themselves(capsys, path):
    """Every float reads back as the very same number."""
    document = json.loads(said(capsys, "compare", path, "--json"))
    scenario = load_scenario(path)
    comparison = compare(scenario)
    assert document["comparison"] == comparison.as_dict()
    assert document["npv_per_tree"] == npv_per_tree(scenario)
    assert document["ranges"] == {
        key: [swing.as_dict() for swing in ranges(comparison, key)] for key in comparison.outcomes
    }
    assert document["practise"] == practise_first(comparison).as_dict()
    assert document["stamp"]["scenario_digest"] == scenario.digest
    assert document["stamp"]["version"] == renovation.__version__


@pytest.mark.parametrize("path", MOST_FARMS, ids=lambda path: path.stem)
def test_csv_holds_every_year_at_full_precision(capsys, path, tmp_path):
    comparison = compare(load_scenario(path))
    here = said(capsys, "compare", path, "--csv", "-")
    rows = list(csv.DictReader(io.StringIO(here)))
    wanted = [
        (key, name, value)
        for key, outcome in comparison.outcomes.items()
        for year in outcome.year_rows()
        for name, value in year.items()
    ]
    years = comparison.scenario.appraisal.horizon_years
    assert len(rows) == len(comparison.outcomes) * years
    names = list(next(iter(comparison.outcomes.values())).year_rows()[0])
    found = [(row["technique"], name, float(row[name])) for row in rows for name in names]
    assert found == wanted
    assert {row["scenario_digest"] for row in rows} == {comparison.scenario.digest}
    target = tmp_path / "years.csv"
    assert f"Written: {target}" in said(capsys, "compare", path, "--csv", target)
    assert target.read_text("utf-8") == here


@pytest.mark.parametrize(
    "asked", [("compare", HANDS, "--years"), ("cash", HANDS), ("loan", HANDS), ("sensitivity", HANDS)]
)
def test_nothing_at_a_terminal_has_a_second_name(capsys, asked):
    assert other_names(said(capsys, *map(str, asked))) == {}


def test_the_measures_table_as_csv(capsys):
    rows = list(csv.DictReader(io.StringIO(said(capsys, "compare", FIRST, "--csv", "-", "--csv-table", "measures"))))
    comparison = compare(load_scenario(FIRST))
    assert [row["technique"] for row in rows] == list(comparison.outcomes)
    for row, outcome in zip(rows, comparison.outcomes.values(), strict=True):
        assert float(row["npv"]) == outcome.measures.npv
        assert [float(root) for root in row["irr_roots"].split()] == list(outcome.measures.irr.roots)
        blank = outcome.break_even.mature_crop is None
        assert (row["break_even_mature_crop"] == "") == blank


def test_a_text_in_csv_is_not_read_as_a_formula():
    stamped = {"scenario_digest": "x", "version": "x", "date": "x"}
    scenario = load_scenario(FIRST)
    data = scenario.model_dump()
    data["stands"] = ({**data["stands"][0], "name": "=1+1"},)
    data["plan"], data["comparison"]["stand"] = (), "=1+1"
    row = tidy.year_rows(compare(type(scenario).model_validate(data)), stamped)[0]
    assert tidy.csv_text([row]).splitlines()[1].startswith("'=1+1,")


def test_a_stand_and_a_number_of_trees_are_taken(capsys):
    document = json.loads(said(capsys, "compare", FIRST, "--stand", "Gap field", "--trees", "7", "--json"))
    expected = compare(load_scenario(FIRST), "Gap field", 7)
    assert document["comparison"] == expected.as_dict()


def test_year_tables_are_shown_where_they_are_asked_for(capsys):
    heading = "year by year"
    assert heading not in said(capsys, "compare", FIRST)
    assert said(capsys, "compare", FIRST, "--years", "side_graft").count(heading) == 1
    assert said(capsys, "compare", FIRST, "--years").count(heading) == len(compare(load_scenario(FIRST)).outcomes)


# The other commands


def test_techniques_lists_every_default_with_range_and_source(capsys):
    out = said(capsys, "techniques")
    assert all(key in out for key in default_techniques())
    assert "common practice" in out
    assert "published" in out


@pytest.mark.parametrize("key", default_techniques())
def test_techniques_shows_one_way_in_full(capsys, key):
    out = " ".join(said(capsys, "techniques", key).split())
    assert WORDS("technique." + key) in out
    assert WORDS("table.supplies") in out


def test_a_way_in_full_says_why_its_figures_are_so(capsys):
    out = " ".join(said(capsys, "techniques", "side_graft").split())
    technique = default_techniques()["side_graft"]
    tries, gap, take = technique.attempts.because, technique.gap_months.because, technique.take.because
    assert f"Why these figures - Tries on one tree: {tries} - Months between tries: {gap}" in out
    assert f"- Share that takes, by project year: {take}" in out
    document = json.loads(said(capsys, "techniques", "side_graft", "--json"))
    assert "53.2" in document["techniques"]["side_graft"]["take"]["because"]


def test_techniques_as_json_are_the_defaults(capsys):
    document = json.loads(said(capsys, "techniques", "--json"))
    wanted = {key: technique.model_dump(mode="json") for key, technique in default_techniques().items()}
    assert document["techniques"] == wanted
    one = json.loads(said(capsys, "techniques", "side_graft", "--json"))
    assert list(one["techniques"]) == ["side_graft"]


def test_the_schema_is_json_schema(capsys):
    schema = json.loads(said(capsys, "schema"))
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert {"stands", "household", "market"} <= set(schema["properties"])


def test_the_demo_compares_its_own_farm(capsys):
    demo = said(capsys, "demo")
    assert demo == said(capsys, "compare", scenario_folder() / f"{demo_names()[0]}.toml")


def test_the_demo_writes_a_file_to_start_from_and_never_over_another(capsys, tmp_path):
    target = tmp_path / "my farm.toml"
    assert said(capsys, "demo", "-o", target) == f"Written: {target}\n"
    assert load_scenario(target).digest == load_scenario(FIRST).digest
    target.write_text("mine", "utf-8")
    assert refused(capsys, "demo", "-o", target).startswith(f"{target} exists.")
    assert target.read_text("utf-8") == "mine"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(capsys, command):
    out = said(capsys, command, "--help")
    assert out.startswith(f"Usage: renovation {command}")
    assert "usage:" not in out  # argparse's own word
    assert "show this help" not in out


def test_the_program_has_help_and_a_version(capsys):
    out = said(capsys, "--help")
    assert all(f"  {command} " in out for command in COMMANDS)
    assert said(capsys, "--version") == f"renovation {renovation.__version__}\n"


# Refusals


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
@pytest.mark.parametrize("command", ["compare", "check"])
def test_a_bad_scenario_is_refused_with_all_its_mistakes(capsys, command, path):
    wanted = expected_of(path)
    assert refused(capsys, command, path).splitlines() == wanted


@pytest.mark.parametrize(
    ("argv", "sentence"),
    [
        ([], f"Name a command: {', '.join(COMMANDS)}.\nrenovation COMMAND --help says "),
        (["compair"], "There is no command compair. Did you mean compare?"),
        (["zzz"], f"There is no command zzz. There are: {', '.join(COMMANDS)}."),
        (["compare"], "Name a scenario file. Usage: renovation compare FILE "),
        (["check"], "Name a scenario file. Usage: renovation check FILE"),
        (
            ["compare", FIRST, "--stand", "Rivver field"],
            "first_grafters.toml: there is no stand Rivver field. Did you ",
        ),
        (["compare", FIRST, "--stand", "zzz"], "first_grafters.toml: there is no stand zzz. There are: River field, "),
        (
            ["compare", FIRST, "--trees", "601"],
            "--trees: 601 is not possible. River field has 600 trees; name 1 to 600.",
        ),
        (["compare", FIRST, "--trees", "0"], "--trees: 0 is not possible. "),
        (["compare", FIRST, "--trees", "-5"], "--trees"),
        (["compare", FIRST, "--trees", "2,5"], "--trees: 2,5 is not a whole number of trees."),
        (["compare", FIRST, "--trees", "9" * 5000], "--trees: 999"),
        (["compare", FIRST, "--trees"], "--trees is given without its value"),
        (["compare", FIRST, "--json=3"], "--json is given without its value"),
        (["compare", FIRST, "--jsn"], "Not understood: --jsn. Usage: renovation compare "),
        (["compare", FIRST, "other.toml"], "Not understood: other.toml. "),
        (["compare", FIRST, "--json", "--csv", "-"], "--json and --csv - both write here. Choose one."),
        (["compare", FIRST, "--csv", "-", "--csv-table", "year"], "There is no table year. Did you mean years?"),
        (["compare", FIRST, "--years", "side_grafft"], "There is no way side_grafft. Did you mean side_graft?"),
        (
            ["compare", FIRST, "--csv", "no_such_folder/a.csv"],
            "no_such_folder/a.csv cannot be written: there is no such",
        ),
        (["techniques", "zzz"], "There is no way zzz. There are: "),
        (["--language", "xx", "demo"], "There is no language xx. There are: en"),
        (["demo", "--language=xx"], "There is no language xx. There are: en"),
        (["demo", "--language"], "--language is given without its value"),
        (["demo", "-o", "a\0b"], "a"),
        (["compare", "no such file.toml"], "no such file.toml: there is no such file."),
    ],
    ids=str,
)
def test_a_command_that_cannot_be_carried_out_is_refused_in_a_sentence(capsys, argv, sentence):
    assert refused(capsys, *argv).startswith(sentence)


@pytest.mark.parametrize(
    ("argv", "surroundings", "language"),
    [
        ([], {}, "en"),
        ([], {"LANG": "es_EC.UTF-8"}, "es"),
        ([], {"LANG": "de_CH.UTF-8"}, "en"),
        ([], {"LANG": "es_EC.UTF-8", "LC_MESSAGES": "id_ID", "LC_ALL": ""}, "id"),
        ([], {"LANG": "es_EC.UTF-8", "LC_MESSAGES": "id_ID", "LC_ALL": "C"}, "en"),
        ([], {"LANG": "es_EC.UTF-8", "RENOVATION_LANGUAGE": "fr"}, "fr"),
        (["--language", "pt-BR"], {"LANG": "es_EC.UTF-8", "RENOVATION_LANGUAGE": "fr"}, "pt"),
        (["--language=id"], {"RENOVATION_LANGUAGE": "no such"}, "id"),
    ],
    ids=str,
)
def test_a_command_speaks_the_language_of_its_option_its_variable_or_its_machine(
    capsys, monkeypatch, argv, surroundings, language
):
    """The order of the locale's variables is that of POSIX.1-2017, 8.2: the first that is set and not empty."""
    for name in ("RENOVATION_LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in surroundings.items():
        monkeypatch.setenv(name, value)
    words = Words(language)
    unknown = words("command.error.unknown_words", found="--jsn", usage="").strip()
    helped = said(capsys, "demo", *argv, "--help")
    assert words("command.demo.help") in helped
    assert "RENOVATION_LANGUAGE" in helped
    assert words("command.about") in said(capsys, *argv, "--help")
    assert refused(capsys, "demo", *argv, "--jsn").startswith(unknown)


def test_a_variable_that_names_no_language_is_refused_in_the_language_of_the_machine(capsys, monkeypatch):
    monkeypatch.setenv("RENOVATION_LANGUAGE", "xx")
    monkeypatch.setenv("LC_ALL", "fr_FR.UTF-8")
    told = refused(capsys, "demo")
    assert told.startswith("RENOVATION_LANGUAGE vaut xx. ")
    assert told.endswith("en, es, fr, id, pt.")


def test_a_folder_is_no_place_for_a_table(capsys, tmp_path):
    assert refused(capsys, "compare", FIRST, "--csv", tmp_path).endswith("cannot be written: it is a folder.")


def test_a_scenario_file_is_not_written_over_by_its_own_table(capsys, tmp_path):
    copy = tmp_path / "farm.toml"
    copy.write_bytes(FIRST.read_bytes())
    assert "is the scenario file itself" in refused(capsys, "compare", copy, "--csv", copy)
    assert copy.read_bytes() == FIRST.read_bytes()


def test_a_name_in_a_file_cannot_steer_the_terminal(capsys, tmp_path):
    text = FIRST.read_text("utf-8").replace('name = "First grafters"', 'name = "Red \\u001b[31m farm"')
    copy = tmp_path / "farm.toml"
    copy.write_text(text, "utf-8")
    assert "\x1b" not in said(capsys, "check", copy)
    assert printable("a\nb\N{NO-BREAK SPACE}c") == "a\nb\N{NO-BREAK SPACE}c"


# As a whole process


def process(*argv: str, **more) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "renovation", *argv], capture_output=True, text=True, check=False, **more
    )


def test_the_program_runs_as_a_module(tmp_path):
    done = process("compare", str(FIRST), cwd=TESTS.parent)
    assert (done.returncode, done.stderr) == (0, "")
    bad = process("check", str(BAD[0]))
    assert (bad.returncode, bad.stdout) == (2, "")


def test_a_terminal_that_knows_only_plain_letters_is_served():
    """Scenario names and signs beyond ASCII must not end in an error of encoding."""
    done = process("compare", str(FIRST), env={"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert done.stdout.isascii()


# No word outside the catalogue


@pytest.mark.parametrize(
    "argv",
    [
        ["compare", str(FIRST), "--years"],
        ["check", str(FIRST)],
        ["techniques"],
        *(["techniques", key] for key in default_techniques()),
        ["demo"],
        ["--help"],
        *([command, "--help"] for command in COMMANDS),
    ],
    ids=" ".join,
)
def test_no_word_is_printed_that_is_not_in_the_catalogue(monkeypatch, argv):
    monkeypatch.setattr("renovation.commands.program.Words", Masked)
    scenario = load_scenario(FIRST)
    citations = re.findall(r'(?:citation|because) = "([^"]*)"', "".join(_default_texts()))
    data = [scenario.about.name, scenario.digest, *(stand.name for stand in scenario.stands), *citations]
    data += ["renovation", "RENOVATION_LANGUAGE", "USD", *default_techniques(), *COMMANDS, *languages()]
    data += [*tidy.TABLES, *cash.TABLES, *risk.TABLES, *plan.TABLES, *season.TABLES]
    without_options = re.sub(r"--[a-z-]+", "", answer(argv))
    assert letters_left(without_options, *data) == set()


def _default_texts() -> list[str]:
    from importlib import resources

    folder = resources.files("renovation.defaults")
    files = [
        *folder.joinpath("techniques").iterdir(),
        folder.joinpath("supplies.toml"),
        folder.joinpath("learning.toml"),
    ]
    return [file.read_text("utf-8") for file in files if file.name.endswith(".toml")]


def test_the_mask_leaves_a_word_that_is_not_in_the_catalogue():
    assert letters_left("¤¤¤ March River smuggled", "River field") == {"smuggled"}


@pytest.mark.parametrize(
    "module",
    [
        "commands/program.py",
        "commands/shared.py",
        "show/compare/sentences.py",
        "show/compare/tables.py",
        "show/terminal.py",
        "show/tidy.py",
    ],
)
def test_no_sentence_stands_in_the_code(module):
    """A text with two words in a row is a sentence, unless it is a docstring."""
    path = Path(renovation.__file__).parent / module
    tree = ast.parse(path.read_text("utf-8"))
    docstrings = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    texts = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings
    ]
    assert len(texts) > 10
    assert not [text for text in texts if re.search(r"[^\W\d_]{2,} [^\W\d_]{2,}", text) and text not in UNITS]


UNITS = {"share by project year"}
"""Declared units, which the catalogue words."""


# The season and next year


@pytest.mark.long
def test_the_season_written_down_becomes_next_years_file(capsys, tmp_path):
    """The whole year at a terminal: an empty table, filled in, read back, and a new plan's file that is sound."""
    blank, filled, new = tmp_path / "blank.csv", tmp_path / "season.csv", tmp_path / "next.toml"
    assert said(capsys, "season", HANDS, "--blank", "-o", blank) == f"Written: {blank}\n"
    text = blank.read_text("utf-8")
    counted = {
        "made,Near trees,side_graft,2026-10,1,,,,": "40",
        "taken,Near trees,side_graft,2026-10,1,,,,": "11",
        "money_in_hand,,,,,,,,": "210000",
        "loan_owed,,,,,,,Three-year loan,": "750000",
    }
    for line, value in counted.items():
        assert f"{line}\n" in text
        text = text.replace(f"{line}\n", f"{line}{value}\n")
    filled.write_text(text, "utf-8")
    looked_back = said(capsys, "season", HANDS, "--record", filled)
    assert "At the season's end you had FCFA\N{NO-BREAK SPACE}210,000 in hand: " in looked_back
    told = json.loads(said(capsys, "season", HANDS, "--record", filled, "--json"))
    assert sum(told["parts"].values()) == pytest.approx(told["happened"] - told["planned"])
    rows = list(csv.DictReader(io.StringIO(said(capsys, "season", HANDS, "--record", filled, "--csv", "-"))))
    assert {row["cause"]: float(row["money"]) for row in rows} == told["parts"]
    figures = said(capsys, "season", HANDS, "--record", filled, "--csv", "-", "--csv-table", "figures")
    begun = next(csv.DictReader(io.StringIO(figures)))
    assert (begun["name"], begun["planned"], begun["happened"]) == ("begun", "50.0", "40.0")
    report = tmp_path / "report.html"
    said(capsys, "report", HANDS, "--record", filled, "-o", report)
    assert "Planned and happened" in report.read_text("utf-8")
    out = said(capsys, "next", HANDS, "--record", filled, "-o", new)
    assert "- Near trees, Side graft of October 2026: 40 trees under way. Took: 11, waiting: 29, given up: 0." in out
    assert "- Money in hand: FCFA\N{NO-BREAK SPACE}210,000, as counted." in out
    later = load_scenario(new)
    assert later.under_way[0].taken == (11,)
    assert new.read_text("utf-8").startswith("# The farm Few hands twelve months on")
    assert "Of these: 40 under way." in said(capsys, "check", new)
    assert refused(capsys, "next", HANDS, "--record", filled, "-o", new).startswith(f"{new} exists.")


@pytest.mark.long
def test_a_year_at_a_terminal_from_the_first_plan_to_the_next(capsys, tmp_path):
    """The farm checked, a plan made and written into its file, its season counted, next year's plan made."""
    file, filled, new = (tmp_path / name for name in ("farm.toml", "season.csv", "next.toml"))
    few = "[planning]\nyears = 2\ngap = 0.01\nscions_per_year = 60\n"
    file.write_text(SMALL + few, "utf-8")
    said(capsys, "check", file)
    starts = json.loads(said(capsys, "plan", file, "--expected", "--json"))["plan"]["starts"]
    assert len(starts) == 2
    plan = [{key: start[key] for key in ("stand", "technique", "trees", "start")} for start in starts]
    lines = [
        f"{key} = {json.dumps(value)}" if key else value
        for row in plan
        for key, value in {"": "[[plan]]", **row}.items()
    ]
    file.write_text("\n".join([SMALL + few, *lines]), "utf-8")
    said(capsys, "season", file, "--blank", "-o", filled)
    first = f"{starts[0]['stand']},{starts[0]['technique']},{starts[0]['start']},1,,,,"
    text = filled.read_text("utf-8").replace(f"made,{first}", f"made,{first}{starts[0]['trees']}")
    text = text.replace(f"taken,{first}", f"taken,{first}5").replace("in_hand,,,,,,,,", "in_hand,,,,,,,,300")
    filled.write_text(text, "utf-8")
    out = said(capsys, "next", file, "--record", filled, "-o", new)
    assert "The plan carried on: " in out
    out = said(capsys, "plan", new)
    assert "The old plan carried on: " in " ".join(out.split())


def test_the_empty_table_is_a_page_to_print_too(capsys, tmp_path):
    page = tmp_path / "season.html"
    said(capsys, "season", HANDS, "--blank", "-o", page)
    text = page.read_text("utf-8")
    assert "Grafts or plants made" in text
    assert "Still owed on the loan" in text
    assert "<script" not in text


@pytest.mark.parametrize(
    ("argv", "sentence"),
    [
        (["season", FIRST], "Say what you want of the season. Usage: renovation season FILE "),
        (["season", FIRST, "--blank", "-o", "season.txt"], "-o: season.txt is not possible. Name a file that ends in "),
        (["season", FIRST, "--blank", "--record", "a.csv"], "Say what you want of the season. Usage: "),
        (["season", FIRST, "--record", "no_such.csv"], "no_such.csv: there is no such file."),
        (["next", FIRST, "-o", "next.toml"], "Name the season's record. Usage: renovation next FILE "),
        (["next", FIRST, "--record", "no_such.csv", "-o", "a.toml"], "no_such.csv: there is no such file."),
        (["next", FIRST, "--record", FIRST, "-o", "a.toml"], "first_grafters.toml, line 1: "),
        (["next", FIRST, "--record", "a.csv", "-o", "a.csv"], "-o: a.csv is not possible. Name a file that ends in "),
    ],
)
def test_what_a_season_cannot_be_made_of_is_refused(capsys, argv, sentence):
    assert refused(capsys, *argv).startswith(sentence)


def test_a_loan_is_tried_at_any_lower_price(capsys, tmp_path):
    text = said(capsys, "loan", HANDS, "--price-lower", "12.5 40")
    assert "With a price 12.5% lower" in text
    assert "Price 40% lower" in text
    assert "33%" not in text
    told = json.loads(said(capsys, "loan", HANDS, "--price-lower", "12,5", "--json"))
    assert "price_0.875" in told["lending"]["loans"][0]["verdicts"]
    out = tmp_path / "note.html"
    said(capsys, "report", HANDS, "-o", out, "--price-lower", "45")
    assert "Price 45% lower" in out.read_text("utf-8").replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("found", ["95", "10 x", "10 10", "", "0.5"])
def test_a_price_lower_by_what_cannot_be_is_refused(capsys, found):
    assert refused(capsys, "loan", HANDS, "--price-lower", found) == (
        f"--price-lower {found} is not possible. "
        'Name up to six different shares from 1 to 90 percent, such as "10 20 33".'
    )


def test_a_way_is_copied_into_a_new_file_of_the_farm(capsys, tmp_path):
    out = tmp_path / "ours.toml"
    text = said(capsys, "copy", FIRST, "--way", "side_graft", "--name", "eGraft", "-o", out)
    assert "Copied from side graft. No figure is changed yet." in text
    assert "[techniques.egraft]" in text
    changed = out.read_text("utf-8").replace("[techniques.egraft]", "[techniques.egraft]\nmature_crop = 0.9")
    out.write_text(changed, "utf-8")
    made = load_scenario(out)
    assert (made.techniques["egraft"].label, made.techniques["egraft"].mature_crop.value) == ("eGraft", 0.9)


@pytest.mark.parametrize(
    ("argv", "sentence"),
    [
        (["--way", "side_graft"], "Name the way to copy, and the copy. Usage: renovation copy FILE "),
        (["--way", "side_grafft", "--name", "Ours"], "There is no way side_grafft. Did you mean side_graft?"),
        (["--way", "side_graft", "--name", "Bud graft"], "Bud graft is the name of another way."),
    ],
)
def test_what_cannot_be_copied_is_refused(capsys, tmp_path, argv, sentence):
    assert refused(capsys, "copy", FIRST, *argv, "-o", tmp_path / "out.toml").startswith(sentence)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
def test_the_sheet_for_the_wall_is_written_for_a_season_or_for_all(capsys, tmp_path):
    one, every = tmp_path / "one.html", tmp_path / "all.html"
    farm = scenario_folder() / "old_stand_with_gaps.toml"
    assert said(capsys, "sheet", farm, "-o", one, "--year", "2").endswith(f"Written: {one}\n")
    assert "March 2028 to February 2029" in one.read_text("utf-8")
    said(capsys, "sheet", farm, "-o", every, "--year", "all")
    assert every.read_text("utf-8").count('<section class="sheet"') == 4


@pytest.mark.parametrize("year", ["0", "5", "two", "1.5"])
def test_a_season_that_is_not_planned_has_no_sheet(capsys, tmp_path, year):
    farm = scenario_folder() / "old_stand_with_gaps.toml"
    told = refused(capsys, "sheet", farm, "-o", tmp_path / "out.html", "--year", year)
    assert told == f"--year {year}: there is a sheet for 1 to 4, or write all."
    assert list(tmp_path.iterdir()) == []
