"""Odd farms that reading accepts: every command answers for them, in words and sound JSON, and nothing warns.

What went wrong here once has a test of its own name beside what it is about: `odd` in its name.
"""

import io
import json
import re
import warnings
import zipfile
from functools import lru_cache

import pytest
from odd_farms import odd_farm

from renovation.commands.program import main
from renovation.decide.dossier import Dossier
from renovation.inputs import read_scenario, write_scenario
from renovation.words import Words

NO_NUMBER = re.compile(r"(?<!\w)[-+]?(?:nan|inf(?:inity)?|nat)(?!\w)", re.IGNORECASE)
NO_VALUE = re.compile(r"\bNone\b(?! of )")
TAGS = re.compile(r"<style.*?</style>|<[^>]*>", re.DOTALL)
QUICK = (
    (("check",), ("compare", "--years"), ("cash",), ("loan", "--payments")),
    (("check",), ("compare", "--json"), ("cash", "--json"), ("loan", "--json")),
    (("check",), ("compare", "--csv", "-"), ("cash", "--csv", "-"), ("loan",)),
)
"""What each farm is asked, in one of three forms."""
SLOW = (
    (("sensitivity", "--all"), ("risk", "--years"), ("plan", "--seconds", "1", "--why")),
    (("sensitivity", "--json"), ("risk", "--json"), ("plan", "--seconds", "1", "--json")),
    (("sensitivity", "--csv", "-"), ("risk", "--csv", "-"), ("plan", "--seconds", "1", "--csv", "-")),
)
FILES = (("report", "--appendix", "-o", "out.html"), ("workbook", "-o", "out.xlsx"))
FARMS, AT_ONCE, PLAIN = 60, 10, 15
SEARCH_FAILED = Words("en")("plan.failed") + "\n"
"""Where numbers of one farm lie more than twelve powers of ten apart, the solver of plans may give up in words."""


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder to work in; report and workbook of a farm share what was asked; charts are checked, but not drawn."""
    monkeypatch.chdir(tmp_path)
    shared = lru_cache(maxsize=1)(Dossier)
    monkeypatch.setattr("renovation.show.report.document.Dossier", lambda scenario, **_: shared(scenario))
    monkeypatch.setattr("renovation.show.workbook.Dossier", shared)
    monkeypatch.setattr("vl_convert.vegalite_to_svg", lambda spec: json.dumps(spec, allow_nan=False) and "<svg></svg>")
    return tmp_path


def answered(capsys, place, seed, commands):
    """Ask the commands about a farm; returns those that gave up in words."""
    farm = odd_farm(seed)
    text = write_scenario(farm)
    assert read_scenario(text, "odd.toml") == farm
    (place / "odd.toml").write_text(text, "utf-8")
    gave_up = []
    for command, *options in commands:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            code = main([command, "odd.toml", *options])
        out, err = capsys.readouterr()
        if command == "plan" and err == SEARCH_FAILED:
            gave_up.append(seed)
            continue
        assert (code, err) == (0, ""), command
        if "--json" in options:
            json.loads(out, parse_constant=pytest.fail)
        elif "-o" in options:
            out = written(place / options[-1])
        assert not NO_NUMBER.search(out), command
        assert not NO_VALUE.search(out), command
    return gave_up


def written(path):
    """The words and numbers of a report or a workbook, which is taken away."""
    content = path.read_bytes()
    path.unlink()
    if path.suffix == ".html":
        return TAGS.sub(" ", content.decode())
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        return "\n".join(
            book.read(name).decode() for name in book.namelist() if name.startswith(("xl/worksheets/", "xl/shared"))
        )


def test_odd_farms_get_short_answers(capsys, place):
    for seed in range(PLAIN):
        answered(capsys, place, seed, QUICK[seed % 3])


@pytest.mark.long
@pytest.mark.parametrize("start", range(0, FARMS, AT_ONCE))
def test_odd_farms_get_answers_of_every_command(capsys, place, start):
    gave_up = []
    for seed in range(start, start + AT_ONCE):
        try:
            gave_up += answered(capsys, place, seed, (*QUICK[seed % 3], *SLOW[seed % 3], *FILES))
        except BaseException:
            print(f"seed {seed}")
            raise
    assert len(gave_up) <= AT_ONCE / 4
