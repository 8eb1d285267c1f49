"""What holds for every test: no property is tried against a clock, commands speak English whatever the machine speaks,
and the program that runs the tests stays itself.
"""

import os
import sys
from collections.abc import Iterator

import pytest
from hypothesis import settings

settings.register_profile("without a clock", deadline=None)
settings.load_profile("without a clock")
os.environ["RENOVATION_LANGUAGE"] = "en"  # of the programs that a test starts too


@pytest.fixture(autouse=True)
def the_main_module_stays() -> Iterator[None]:
    """A page that is tried puts its script in the place of the main module, which a new process would then run."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main
