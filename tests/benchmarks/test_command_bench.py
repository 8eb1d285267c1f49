"""How long a command takes as a whole process, the interpreter's own start in it; run by its own command, never a test.

The aim is an answer within a second and a half on an ordinary machine.
"""

import subprocess
import sys

import pytest
from farm_files import FARMS


@pytest.mark.parametrize("path", FARMS, ids=lambda path: path.stem)
def test_compare_as_a_whole_process(benchmark, path):
    command = [sys.executable, "-m", "renovation", "compare", str(path)]
    done = benchmark.pedantic(subprocess.run, (command,), {"capture_output": True, "check": False}, rounds=10)
    assert done.returncode == 0
