"""Many visitors at once: `python tests/benchmarks/visitors.py --visitors 30 --seconds 60 [--tree DIR …]`.

Starts the dashboard of this tree, and of each `--tree`, on a free port of this computer, opens so many sessions by
the server's own websocket, changes one number of the sidebar in each every two seconds as a browser would, and says
how long a change took until the page was whole again, what went wrong, and the server's memory before, during and
after. Every visit takes other numbers, so that nothing is answered from what another has asked. Bounded in visitors
and in time; it visits no other computer. `--servers 2` puts two dashboards behind the guide's own proxy.
"""

import argparse
import asyncio
import contextlib
import itertools
import os
import random
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median, quantiles

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.Element_pb2 import Element
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from websockets.asyncio.client import ClientConnection, connect

ROOT = Path(__file__).resolve().parents[2]
LOOPBACK = "127.0.0.1"
MOST_VISITORS, MOST_SECONDS, PATIENCE = 100, 120, 60
"""More visitors, a longer visit and a longer wait for one answer (s) are refused."""
LEAVE = 5
"""Seconds after which the server may forget who has left; the dashboard's own setting is longer than a measure."""
NUMBERS = {"price": (0.9, 1.1), "wage": (0.9, 1.1), "rate": (0.8, 1.2)}
"""What is changed, between which shares of what stood there."""


@dataclass
class Seen:
    """What all visitors saw: seconds of each change, and what went wrong."""

    seconds: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    bytes: int = 0


class Visitor:
    """One session: what a browser keeps of the page, and how it asks for a change."""

    def __init__(self, line: ClientConnection, seed: int, page: str, seen: Seen) -> None:
        """On an open line, with nothing on the page."""
        self.line, self.page, self.seen = line, page, seen
        self.random = random.Random(seed)
        self.widgets: dict[str, WidgetState] = {}
        self.typed: dict[str, tuple[str, float]] = {}
        self.buttons: list[str] = []
        self.query = self.hash = ""
        self.cached: set[str] = set()

    async def ask(self) -> float:
        """Ask for the page with every control as it stands; seconds until it is whole."""
        message = BackMsg()
        message.rerun_script.query_string = self.query
        message.rerun_script.page_script_hash = self.hash
        message.rerun_script.page_name = "" if self.hash else self.page
        message.rerun_script.widget_states.widgets.extend(self.widgets.values())
        message.rerun_script.cached_message_hashes.extend(self.cached)
        start = time.perf_counter()
        await self.line.send(message.SerializeToString())
        async with asyncio.timeout(PATIENCE):
            while not self._read(await self.line.recv()):
                pass
        return time.perf_counter() - start

    def _read(self, data: bytes | str) -> bool:
        """Take in one message; whether it ends the page."""
        assert isinstance(data, bytes)
        self.seen.bytes += len(data)
        message = ForwardMsg()
        message.ParseFromString(data)
        kind = message.WhichOneof("type")
        if message.metadata.cacheable:
            self.cached.add(message.hash)
        if kind == "navigation":
            self.hash = message.navigation.page_script_hash
        elif kind == "page_info_changed":
            self.query = message.page_info_changed.query_string
        elif kind == "delta" and message.delta.WhichOneof("type") == "new_element":
            self._element(message.delta.new_element)
        if kind == "script_finished" and message.script_finished != ForwardMsg.FINISHED_SUCCESSFULLY:
            self.seen.errors.append(ForwardMsg.ScriptFinishedStatus.Name(message.script_finished))
        return kind == "script_finished"

    def _element(self, element: Element) -> None:
        """Keep what a control holds; count what went wrong on the page."""
        kind = element.WhichOneof("type")
        if kind == "exception":
            self.seen.errors.append(f"{element.exception.type}: {element.exception.message}")
        if kind == "alert" and element.alert.format == element.alert.ERROR:
            self.seen.errors.append(element.alert.body)
        if kind == "text_input":
            shown = element.text_input
            if shown.set_value or shown.id not in self.widgets:
                value = shown.value if shown.set_value else shown.default
                self.widgets[shown.id] = WidgetState(id=shown.id, string_value=value)
                for name in NUMBERS:
                    if f"sidebar.{name}." in shown.id:
                        self.typed[name] = (shown.id, self.typed.get(name, ("", float(value)))[1])
        elif kind == "button":
            self.buttons.append(element.button.id)
        elif kind == "selectbox":
            box = element.selectbox
            if box.set_value or box.id not in self.widgets:
                value = box.raw_value if box.set_value else box.options[box.default] if box.options else ""
                self.widgets[box.id] = WidgetState(id=box.id, string_value=value)
        elif kind == "button_group":
            group = element.button_group
            if group.set_value or group.id not in self.widgets:
                chosen = [group.options[place].content for place in group.default]
                state = WidgetState(id=group.id)
                state.string_array_value.data.extend(group.raw_values if group.set_value else chosen)
                self.widgets[group.id] = state

    async def press(self, name: str) -> float:
        """Press a button, by its key; seconds until the page is whole."""
        pressed = next(one for one in reversed(self.buttons) if f"-{name}|" in one)
        self.widgets[pressed] = WidgetState(id=pressed, trigger_value=True)
        try:
            return await self.ask()
        finally:
            del self.widgets[pressed]

    async def change(self) -> float:
        """Type another number into the sidebar; seconds until the page is whole."""
        name = self.random.choice(sorted(self.typed))
        key, base = self.typed[name]
        low, high = NUMBERS[name]
        text = f"{base * self.random.uniform(low, high):.4f}"
        self.widgets[key] = WidgetState(id=key, string_value=text)
        return await self.ask()


def cookie_of(port: int) -> str:
    """What the first answer sets, as a browser sends it back; empty where it sets nothing."""
    with urllib.request.urlopen(f"http://{LOOPBACK}:{port}/", timeout=PATIENCE) as answer:
        answer.read()
        set_here = answer.headers.get_all("Set-Cookie") or []
    return "; ".join(one.partition(";")[0] for one in set_here if one.startswith("server="))


def line_to(port: int, cookie: str = "") -> connect:
    """A line to a dashboard of this computer, as a browser opens it."""
    return connect(
        f"ws://{LOOPBACK}:{port}/_stcore/stream",
        subprotocols=["streamlit"],
        origin=f"http://{LOOPBACK}:{port}",
        additional_headers={"Cookie": cookie} if cookie else None,
        max_size=None,
        ping_interval=None,
    )


async def visit(port: int, seed: int, page: str, until: float, every: float, seen: Seen, *, cookie: str = "") -> None:
    """Open a page; change a number once and then every so many seconds, or as soon as it is whole, until a time."""
    try:
        line = line_to(port, cookie)
        async with asyncio.timeout(max(0.0, until - time.monotonic()) + 2 * PATIENCE), line as opened:
            visitor = Visitor(opened, seed, page, seen)
            await asyncio.sleep(visitor.random.uniform(0, every))
            await visitor.ask()
            due = time.monotonic() + every * visitor.random.uniform(0.5, 1.5)
            changes = 0
            while due < until or not changes:
                changes += 1
                await asyncio.sleep(max(0.0, due - time.monotonic()))
                due = time.monotonic() + every * visitor.random.uniform(0.5, 1.5)
                seen.seconds.append(await visitor.change())
    except Exception as error:
        seen.errors.append(f"{type(error).__name__}: {error}")


async def crowd(
    port: int, seconds: float, pages: Sequence[str], every: float, seed: int, cookies: Sequence[str]
) -> Seen:
    """A visitor for each cookie for so long, spread over the pages."""
    seen = Seen()
    until = time.monotonic() + seconds
    visits = (
        visit(port, seed + n, pages[n % len(pages)], until, every, seen, cookie=cookie)
        for n, cookie in enumerate(cookies)
    )
    await asyncio.gather(*visits)
    return seen


def wait_for(port: int, process: "subprocess.Popen[bytes]") -> None:
    """Wait until a dashboard answers on a port; RuntimeError where its process has ended, or none does in a minute."""
    deadline = time.monotonic() + 60
    while True:
        with contextlib.suppress(OSError), urllib.request.urlopen(f"http://{LOOPBACK}:{port}/_stcore/health") as answer:
            if answer.read() == b"ok":
                return
        if time.monotonic() > deadline or process.poll() is not None:
            raise RuntimeError(f"no dashboard answers on port {port}")
        time.sleep(0.1)


@contextlib.contextmanager
def served(tree: Path, *options: str) -> Iterator[tuple[int, int]]:
    """Serve a tree's dashboard on a free port of this computer; its port and the number of its process."""
    with socket.socket() as free:
        free.bind((LOOPBACK, 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "streamlit", "run", "app.py", "--server.headless", "true"]
    command += ["--server.address", LOOPBACK, "--server.port", str(port), *options]
    command += ["--server.disconnectedSessionTTL", str(LEAVE)]
    environment = {**os.environ, "PYTHONPATH": str(tree)}
    server = subprocess.Popen(command, cwd=tree, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        wait_for(port, server)
        yield port, server.pid
    finally:
        server.terminate()
        server.wait(timeout=20)


def recipe(ports: Sequence[int], folder: Path) -> tuple[Path, int]:
    """The proxy's settings as the guide has them, on other ports; the port that it listens on."""
    found = re.search(r"<!-- haproxy.cfg -->\n```\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.DOTALL)
    if found is None:
        raise RuntimeError("the guide has no settings of a proxy")
    with socket.socket() as free:
        free.bind((LOOPBACK, 0))
        own = free.getsockname()[1]
    text = found[1]
    for stated, there in zip(("8500", "8501", "8502"), (own, *ports), strict=True):
        text = text.replace(f"{LOOPBACK}:{stated}", f"{LOOPBACK}:{there}")
    path = folder / "haproxy.cfg"
    path.write_text(text, "utf-8")
    return path, own


@contextlib.contextmanager
def proxied(ports: Sequence[int]) -> Iterator[int]:
    """The guide's proxy before two dashboards; the port that it listens on."""
    with tempfile.TemporaryDirectory() as folder:
        settings, port = recipe(ports, Path(folder))
        command = ["haproxy", "-db", "-f", str(settings)]
        proxy = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            wait_for(port, proxy)
            yield port
        finally:
            proxy.terminate()
            proxy.wait(timeout=10)


@contextlib.contextmanager
def several(tree: Path, servers: int) -> Iterator[tuple[int, tuple[int, ...]]]:
    """One dashboard, or two behind the proxy; the port to visit and the numbers of their processes."""
    with contextlib.ExitStack() as stack:
        found = [stack.enter_context(served(tree)) for _ in range(servers)]
        port = found[0][0] if servers == 1 else stack.enter_context(proxied([port for port, _ in found]))
        yield port, tuple(process for _, process in found)


def megabytes(processes: Sequence[int]) -> float:
    """Resident memory of processes; 0 where the system does not tell."""
    return sum(map(_megabytes, processes))


def _megabytes(process: int) -> float:
    status = Path(f"/proc/{process}/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")), 0.0)


def cpu_seconds(*processes: int) -> float:
    """Seconds of the processor that processes have had; 0 where the system does not tell."""
    return sum(map(_cpu_seconds, processes))


def _cpu_seconds(process: int) -> float:
    stat = Path(f"/proc/{process}/stat")
    if not stat.exists():
        return 0.0
    parts = stat.read_text().rsplit(")", 1)[1].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Measured:
    """One crowd: seconds of a change, what went wrong, megabytes before, at the end and after all have left."""

    visitors: int
    changes: int
    median: float
    p95: float
    cpu: float
    kilobytes: float
    errors: tuple[str, ...]
    before: float
    during: float
    after: float

    def row(self) -> str:
        """The line of the table."""
        memory = f"{self.before:5.0f} {self.during:5.0f} {self.after:5.0f} {self.after / (self.before or 1):6.2f}"
        return (
            f"{self.visitors:8} {self.changes:8} {self.median:7.2f} {self.p95:7.2f} {self.cpu * 1000:7.0f}"
            f" {self.kilobytes:7.0f} {len(self.errors):7} {memory}"
        )


HEAD = "visitors  changes  median     p95 cpu(ms)    (kB)  errors   MB before/during/after, ratio"


def measure(
    port: int,
    processes: Sequence[int],
    visitors: int,
    seconds: float,
    pages: Sequence[str],
    every: float = 2.0,
    seed: int = 1,
) -> Measured:
    """Let one visitor warm each server on each page, then the crowd come, and look again when it is forgotten."""
    first = [cookie_of(port) for _ in processes]
    for number, (cookie, page) in enumerate(itertools.product(first, pages)):
        asyncio.run(visit(port, 10_000 * seed + number, page, time.monotonic() + 1.5, 0.3, Seen(), cookie=cookie))
    cookies = [cookie_of(port) for _ in range(visitors)]
    before, worked = megabytes(processes), cpu_seconds(*processes)
    seen = asyncio.run(crowd(port, seconds, pages, every, 1000 * seed, cookies))
    during, worked = megabytes(processes), cpu_seconds(*processes) - worked
    time.sleep(LEAVE + 1)
    # somebody else comes and goes, for a server forgets who has left when the next one does
    for number, cookie in enumerate(first):
        visit_again = visit(port, 20_000 * seed + number, pages[0], time.monotonic() + 1, 0.3, Seen(), cookie=cookie)
        asyncio.run(visit_again)
    time.sleep(1)
    changes = seen.seconds or [0.0]
    return Measured(
        visitors,
        len(seen.seconds),
        median(changes),
        quantiles(changes, n=20)[-1] if len(changes) > 1 else changes[0],
        worked / len(changes),
        seen.bytes / len(changes) / 1024,
        tuple(seen.errors),
        before,
        during,
        megabytes(processes),
    )


def _up_to(most: int) -> "type[int]":
    def whole(text: str) -> int:
        value = int(text)
        if not 1 <= value <= most:
            raise argparse.ArgumentTypeError(f"between 1 and {most}")
        return value

    return whole  # type: ignore[return-value]


def main() -> None:
    """Measure, and print a small table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--visitors", type=_up_to(MOST_VISITORS), nargs="+", default=[10])
    parser.add_argument("--seconds", type=_up_to(MOST_SECONDS), default=20, help="how long they stay")
    parser.add_argument("--every", type=float, default=2.0, help="seconds between two changes of one visitor")
    parser.add_argument("--pages", default="compare", help="pages they are on, by commas")
    parser.add_argument("--servers", type=int, choices=(1, 2), default=1, help="two stand behind the guide's proxy")
    parser.add_argument("--tree", type=Path, nargs="*", default=[], help="another version's folder, measured first")
    asked = parser.parse_args()
    for tree in [*asked.tree, ROOT]:
        told = f"{tree.name}, servers {asked.servers}, pages {asked.pages}, a change every {asked.every:g} s"
        print(f"{told}\n{HEAD}", flush=True)
        for count in asked.visitors:
            with several(tree.resolve(), asked.servers) as (port, processes):
                found = measure(port, processes, count, asked.seconds, asked.pages.split(","), asked.every)
            print(found.row(), flush=True)
            for error in dict.fromkeys(found.errors):
                print(f"  {found.errors.count(error)} × {error[:200]}", flush=True)


if __name__ == "__main__":
    main()
