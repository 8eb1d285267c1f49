"""Several visitors at once, by the server's own websocket: `tests/benchmarks/visitors.py` in small."""

import asyncio
import shutil
import sys
from contextlib import ExitStack

import pytest
from screens.looking import ROOT, missing

sys.path.append(str(ROOT / "tests" / "benchmarks"))
import visitors

pytestmark = pytest.mark.long


def test_six_visitors_are_answered_and_forgotten():
    with visitors.served(ROOT) as (port, process):
        found = visitors.measure(port, (process,), 6, 10, ("compare", "cash", "numbers"))
    assert found.errors == ()
    assert found.changes >= 6
    assert found.p95 < 10
    assert found.after <= 1.3 * found.before


def test_a_visitor_stays_with_one_of_several_servers_behind_a_proxy():
    if shutil.which("haproxy") is None:
        missing("haproxy")
    with ExitStack() as stack:
        served = [stack.enter_context(visitors.served(ROOT)) for _ in range(2)]
        port = stack.enter_context(visitors.proxied([port for port, _ in served]))
        cookies = []
        while len(set(cookies)) < 2 or len(cookies) < 4:
            cookies.append(visitors.cookie_of(port))
            assert len(cookies) < 20, cookies
        before = [visitors.cpu_seconds(process) for _, process in served]
        seen = asyncio.run(visitors.crowd(port, 8, ("compare",), 1.0, 1, ["server=second"] * 4))
        first, second = (visitors.cpu_seconds(served[n][1]) - before[n] for n in range(2))
    assert set(cookies) == {"server=first", "server=second"}
    assert seen.errors == []
    assert len(seen.seconds) >= 4
    assert second > 10 * first  # each stayed where the cookie says
