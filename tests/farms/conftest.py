"""Every wait has an end: a test that waits for what does not come fails with words, and does not hold up the others."""

import faulthandler
import signal
from collections.abc import Iterator

import pytest

PATIENCE, AGAIN = 300, 60
"""Seconds after which a test has waited for nothing, and after which what puts its things away has too.

Far above what any takes: what a test finds does not hang on it.
"""


@pytest.fixture(autouse=True)
def an_end() -> Iterator[None]:
    """Fail a test that waits for ever; where each thread stands is written to standard error."""

    def over(*_: object) -> None:
        faulthandler.dump_traceback()
        pytest.fail(f"waited {PATIENCE} seconds for what does not come")

    before = signal.signal(signal.SIGALRM, over)
    signal.setitimer(signal.ITIMER_REAL, PATIENCE, AGAIN)
    yield
    signal.setitimer(signal.ITIMER_REAL, 0)
    signal.signal(signal.SIGALRM, before)
