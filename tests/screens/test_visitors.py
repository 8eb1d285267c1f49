"""Several visitors at once, by the server's own websocket: `tests/benchmarks/visitors.py` in small."""

import asyncio
import re
import shutil
import socket
import subprocess
import sys
import time
from contextlib import ExitStack
from pathlib import Path

import pytest
from screens.looking import ROOT, missing

sys.path.append(str(ROOT / "tests" / "benchmarks"))
import visitors

pytestmark = pytest.mark.long


def test_six_visitors_are_answered_and_forgotten():
    with visitors.served(ROOT) as (port, process):
        found = visitors.measure(port, process, 6, 10, ("compare", "cash", "numbers"))
    assert found.errors == ()
    assert found.changes >= 6
    assert found.p95 < 10
    assert found.after <= 1.3 * found.before


def recipe(ports, folder: Path) -> tuple[Path, int]:
    """The proxy's settings as the guide has them, on other ports; the port that it listens on."""
    found = re.search(r"<!-- haproxy.cfg -->\n```\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text(), re.DOTALL)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        own = free.getsockname()[1]
    text = found[1]
    for stated, there in (("8500", own), ("8501", ports[0]), ("8502", ports[1])):
        text = text.replace(f"127.0.0.1:{stated}", f"127.0.0.1:{there}")
    path = folder / "haproxy.cfg"
    path.write_text(text)
    return path, own


def test_a_visitor_stays_with_one_of_several_servers_behind_a_proxy(tmp_path):
    haproxy = shutil.which("haproxy") or missing("haproxy")

    async def crowd(port, cookies, seen):
        until = time.monotonic() + 8
        await asyncio.gather(
            *(visitors.visit(port, n, "compare", until, 1.0, seen, cookie=one) for n, one in enumerate(cookies))
        )

    with ExitStack() as stack:
        served = [stack.enter_context(visitors.served(ROOT)) for _ in range(2)]
        settings, port = recipe([port for port, _ in served], tmp_path)
        proxy = subprocess.Popen([haproxy, "-db", "-f", settings], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            visitors.wait_for(port, proxy)
            cookies = []
            while len(set(cookies)) < 2 or len(cookies) < 4:
                cookies.append(visitors.cookie_of(port))
                assert len(cookies) < 20, cookies
            seen = visitors.Seen()
            before = [visitors.cpu_seconds(process) for _, process in served]
            asyncio.run(crowd(port, ["server=second"] * 4, seen))
            first, second = (visitors.cpu_seconds(served[n][1]) - before[n] for n in range(2))
        finally:
            proxy.terminate()
            proxy.wait(timeout=10)
    assert set(cookies) == {"server=first", "server=second"}
    assert seen.errors == []
    assert len(seen.seconds) >= 4
    assert second > 10 * first  # each stayed where the cookie says
