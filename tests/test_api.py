"""The public calls: every example in every docstring runs, and importing the package costs nothing."""

import doctest
import importlib
import json
import pkgutil
import subprocess
import sys
from importlib import metadata

import pytest

import renovation

MODULES = sorted(
    module.name
    for module in pkgutil.walk_packages(renovation.__path__, "renovation.")
    if not module.name.endswith("__main__")
)


SLOW = {f"renovation.decide.{name}" for name in ("plan.quick", "plan.repairs", "plan.sheet", "plan.plan")}
SLOW |= {f"renovation.decide.risk.{name}" for name in ("careful", "careful_practice", "family", "answers")}
SLOW |= {f"renovation.show.{name}" for name in ("workbook", "report.document", "sheet.page")}


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=pytest.mark.long if name in SLOW else ())
        for name in ["renovation", "renovation.__main__", *MODULES]
    ],
)
def test_the_examples_in_the_docstrings_hold(name):
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


def test_the_modules_with_slow_examples_are_there():
    assert set(MODULES) >= SLOW


def test_the_package_has_an_example_of_its_own():
    example = doctest.DocTestFinder().find(renovation, "renovation")[0]
    assert len(example.examples) > 10


@pytest.mark.parametrize("name", renovation.__all__)
def test_every_public_name_is_there(name):
    assert getattr(renovation, name) is not None
    assert name in dir(renovation)


def test_public_names_are_those_of_the_rooms():
    from renovation import compare, irr, load_scenario, profile
    from renovation.decide import compare as in_decide
    from renovation.inputs import load_scenario as in_inputs
    from renovation.money import irr as in_money
    from renovation.tree import profile as in_tree

    assert (compare, load_scenario, profile, irr) == (in_decide, in_inputs, in_tree, in_money)


def test_an_unknown_name_is_refused():
    with pytest.raises(AttributeError, match="no_such_name"):
        renovation.no_such_name  # noqa: B018 - the access itself is the test


def test_the_version_is_that_of_the_installed_package():
    assert renovation.__version__ == metadata.version("renovation")


def loaded_after(code: str) -> set[str]:
    """The modules that a fresh Python has loaded after running some code."""
    script = f"{code}\nimport json, sys\nprint(json.dumps(sorted(sys.modules)), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(json.loads(done.stderr.splitlines()[-1]))


def test_importing_the_package_loads_nothing_heavy():
    assert not {"numpy", "pandas", "pydantic", "babel", "typing"} & loaded_after("import renovation")


def test_an_interrupt_is_heard_before_anything_is_loaded():
    loaded = loaded_after("import renovation.__main__")
    assert {name for name in loaded if name.startswith("renovation.")} == {
        "renovation.__main__",
        "renovation.version",
        "renovation.whole",
    }
    assert not {"typing", "pathlib", "socket", "subprocess"} & loaded


def test_the_command_line_loads_neither_tables_nor_charts_nor_screens():
    loaded = loaded_after("from renovation.commands.program import main\nassert main(['demo']) == 0")
    assert "renovation.decide" in loaded
    assert not {"pandas", "altair", "streamlit", "scipy", "xlsxwriter"} & loaded


def test_help_loads_no_command_and_the_help_of_a_command_none_of_its_work():
    loaded = loaded_after("from renovation.commands.program import main\nassert main(['--help']) == 0")
    commands = {name.removeprefix("renovation.commands.") for name in loaded if name.startswith("renovation.commands.")}
    assert commands == {"program", "shared"}
    loaded = loaded_after("from renovation.commands.program import main\nassert main(['plan', '--help']) == 0")
    assert not {"renovation.decide", "renovation.show", "scipy", "pandas"} & loaded
