"""No English in what commands print and write in other languages: names, keys and reasons as sourced excepted."""

import json
import re
import zipfile
from collections.abc import Iterable, Iterator
from datetime import date
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from command_line import refused, said
from farm_files import BAD
from words.foreign import english_in, keys, read_aloud, shipped, typed

from renovation.commands import COMMANDS, cash, compare, loan, plan, risk, season
from renovation.decide.dossier import Dossier
from renovation.inputs import load_scenario, scenario_folder
from renovation.show.note import with_appendix
from renovation.show.workbook import workbook_of
from renovation.words import Words

DEMO = {"es": "first_grafters", "fr": "few_hands", "pt": "cooperative_nursery", "id": "old_stand_with_gaps"}
"""Each language with a farm of its own: together they walk what any of them says."""
TABLES = {table for command in (cash, compare, loan, plan, risk, season) for table in getattr(command, "TABLES", ())}
DAY = date(2026, 11, 29)


def own(path: Path) -> frozenset[str]:
    """What stands in English for good on this farm."""
    return shipped() | typed(load_scenario(path))


def texts_of(spec: object) -> Iterator[str]:
    """Texts of a chart: titles, labels, and what stands in its data, keys aside."""
    if isinstance(spec, dict):
        for key, value in spec.items():
            if key in ("title", "text") and isinstance(value, str | list):
                yield str(value)
            elif key == "values":
                yield from (text for row in value if isinstance(row, dict) for text in row.values() if is_said(text))
            yield from texts_of(value)
    elif isinstance(spec, list):
        for value in spec:
            yield from texts_of(value)


def is_said(value: object) -> bool:
    """Whether a value of a chart's data is words and no key."""
    return isinstance(value, str) and not (value.isidentifier() and value.islower())


def in_workbook(content: bytes) -> Iterator[str]:
    """Texts of a workbook: names of sheets, cells, what an input says and refuses, charts, properties."""
    for sheet in openpyxl.load_workbook(BytesIO(content)):
        yield sheet.title
        yield from (c.value for row in sheet for c in row if isinstance(c.value, str) and c.value[:1] != "=")
        for rule in sheet.data_validations.dataValidation:
            yield from filter(None, (rule.prompt, rule.promptTitle, rule.error, rule.errorTitle))
    with zipfile.ZipFile(BytesIO(content)) as parts:
        for name in parts.namelist():
            if re.search(r"/charts/|/drawings/|core\.xml$", name):
                found = re.findall(r'<(?:a:t|dc:title)>([^<]*)|(?:descr|title)="([^"]*)"', parts.read(name).decode())
                yield from (one or other for one, other in found)


def english(said_by: Iterable[tuple[str, str]], language: str, own: Iterable[str]) -> dict[str, list[str]]:
    """The English of each text, by what says it."""
    own = set(own)
    return {what: found for what, text in said_by if (found := english_in(text, language, own))}


@pytest.mark.long
@pytest.mark.parametrize("language", DEMO)
def test_no_command_says_english(capsys, monkeypatch, tmp_path, language):
    monkeypatch.setenv("COLUMNS", "5000")
    monkeypatch.chdir(tmp_path)
    first, demo = (scenario_folder() / f"{name}.toml" for name in (DEMO["es"], DEMO[language]))
    Path("walk.csv").write_text("tree,pods\n" + "".join(f"{tree},{tree % 40}\n" for tree in range(1, 601)))
    record = ("--record", "season.csv", "--as-planned")
    asked = [
        ("check", demo),
        ("compare", demo, "--years"),
        ("cash", demo),
        ("loan", demo, "--payments", "--price-lower", "10 20"),
        ("sensitivity", demo),
        ("risk", demo, "--years", "--futures", "512"),
        ("season", demo, "--blank", "-o", "season.html"),
        ("season", demo, "--blank", "-o", "season.csv"),
        ("season", demo, *record),
        ("next", demo, *record, "-o", "next.toml"),
        ("tally", first, "walk.csv", "-o", "tally.toml"),
        ("copy", demo, "--way", "side_graft", "--name", "X", "-o", "copy.toml"),
        ("techniques",),
        ("techniques", "side_graft"),
        ("farms", "invent", first, "-n", "5", "-o", "farms.csv"),
        ("farms", "check", first, "farms.csv"),
    ]
    told = [(" ".join(map(str, argv)), said(capsys, *argv, "--language", language)) for argv in asked]
    told += [("unknown", refused(capsys, "cash", demo, "--bogus", "--language", language))]
    told += [("season.html", read_aloud(Path("season.html").read_text("utf-8")))]
    assert english(told, language, own(demo) | own(first)) == {}
    helped = [(name, said(capsys, *name.split(), "--help", "--language", language)) for name in ("", *COMMANDS)]
    bare = [name for name in COMMANDS if name not in ("techniques", "schema", "demo")]
    helped += [(name, refused(capsys, name, "--language", language)) for name in bare]
    assert english(helped, language, TABLES | {*COMMANDS, "invent", "book", "show"}) == {}


@pytest.mark.long
@pytest.mark.parametrize("language", DEMO)
def test_no_mistake_is_told_in_english_and_no_file_explains_itself_in_it(capsys, tmp_path, language):
    words, told = Words(language), []
    for path in BAD:
        sentences = refused(capsys, "check", path, "--language", language).replace(str(path), "")
        typed_there = set(re.findall(r'[^"=\s][^"=\n]*', path.read_text("utf-8", "replace")))
        told.append((path.stem, sentences, typed_there))
    own_words = shipped() | keys() | {"clone", "clones", "old"}
    assert {what: found for what, text, there in told if (found := english_in(text, language, own_words | there))} == {}
    blank = tmp_path / "new.toml"
    said(capsys, "new", "--blank", "-o", blank, "--language", language)
    schema = json.loads(said(capsys, "schema", "--language", language))
    explained = [*re.findall(r"#(?! *[\w.]+ = )(.*)", blank.read_text("utf-8")), *explained_in(schema)]
    assert len(explained) > 500
    assert english([("explained", "\n".join(explained))], words.language, own_words) == {}


def explained_in(schema: object) -> Iterator[str]:
    """Titles and descriptions of a schema."""
    if isinstance(schema, dict):
        for key, below in schema.items():
            if key in ("title", "description") and isinstance(below, str):
                yield below
            else:
                yield from explained_in(below)
    elif isinstance(schema, list):
        for below in schema:
            yield from explained_in(below)


@pytest.mark.long
def test_no_report_and_no_workbook_says_english(monkeypatch):
    """Charts tell what they would draw, for drawing them is what takes time."""
    monkeypatch.setattr(
        "vl_convert.vegalite_to_svg", lambda spec: f"<svg><text>{' · '.join(texts_of(spec))}</text></svg>"
    )
    path = scenario_folder() / "few_hands.toml"
    farm = load_scenario(path).changed(risk__draws=512)
    dossier = Dossier(farm)
    for language in DEMO:
        words = Words(language)
        report = with_appendix(dossier, words, DAY)
        assert f'<html lang="{language}">' in report
        assert english([("report", read_aloud(report))], language, own(path)) == {}, language
        assert len(report) > 100_000
    sheets = " · ".join(in_workbook(workbook_of(dossier, words, DAY)))
    assert len(sheets) > 10_000
    assert english([("workbook", sheets)], language, own(path)) == {}, language
