"""What is installed: no bound that nothing needs, advisories asked for in CI, a dated list where none can be."""

import re
import runpy
import tomllib
from datetime import date
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

import renovation

ROOT = Path(renovation.__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition("## What is installed")[2].partition("\n## ")[0]
verdict = runpy.run_path(str(ROOT / ".ci" / "advisories.py"))["verdict"]


@pytest.mark.parametrize("line", [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["test"]])
def test_a_library_has_a_least_version_and_no_highest(line):
    assert [bound.operator for bound in Requirement(line).specifier] == [">="]


@pytest.mark.parametrize("line", PROJECT["dependencies"])
def test_every_library_of_the_program_is_in_the_dated_list(line):
    rows = [row.split("|")[1:3] for row in GUIDE.splitlines() if row.startswith("| ")]
    listed = dict(
        pair for names, versions in rows for pair in zip(names.split(", "), versions.split(", "), strict=False)
    )
    known = {name.strip(): version.strip() for name, version in listed.items()}
    name = Requirement(line).name.lower()
    assert name in known
    assert Requirement(line).specifier.contains(known[name])
    assert metadata.version(name)


def test_the_list_says_when_it_was_looked_up():
    assert date.fromisoformat(re.search(r"\d{4}-\d\d-\d\d", GUIDE)[0]) <= date.today()


def test_ci_asks_for_advisories():
    assert ".venv/bin/python .ci/advisories.py" in (ROOT / ".ci" / "run").read_text("utf-8").splitlines()


FLAW = {"id": "PYSEC-2000-1", "fix_versions": ["2.0"]}
NOT_FOUND = {"skip_reason": "Dependency not found"}


@pytest.mark.parametrize(
    ("packages", "code", "said"),
    [
        ([{"name": "a", "version": "1.0", "vulns": [FLAW]}], 1, "a 1.0: PYSEC-2000-1, fixed in 2.0"),
        ([{"name": "a", "version": "1.0", "vulns": [{**FLAW, "fix_versions": []}]}], 1, "fixed in none yet"),
        ([{"name": "a", "version": "1.0", "vulns": []}, {"name": "b", **NOT_FOUND}], 0, "Not known to the source: b."),
        ([{"name": "a", "version": "1.0", "vulns": []}, {"name": "renovation", **NOT_FOUND}], 0, "against 1 packages."),
        ([{"name": "pip", "version": "1.0", "vulns": [FLAW]}, {"name": "a", "version": "1", "vulns": []}], 0, "No adv"),
        ([{"name": "a", **NOT_FOUND}, {"name": "b", **NOT_FOUND}], 0, "No advisory source knows what is installed"),
    ],
)
def test_a_report_in_which_nothing_was_asked_is_no_clean_bill(packages, code, said):
    found, lines = verdict({"dependencies": packages})
    assert found == code
    assert said in " ".join(lines)
