"""The dashboard on a free port and a real Chromium to look at it with."""

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import pytest

from renovation.screens import pages

ROOT = Path(__file__).resolve().parents[2]
AXE = ROOT / ".browser" / "node_modules" / "axe-core" / "axe.min.js"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
HEIGHT = 1000
PAGES = {page.name: page.name if place else "" for place, page in enumerate(pages.PAGES)}
"""Pages by name, with the end of their address."""
SECTIONS = '[class*="st-key-section"] button, [class*="st-key-section"] [role="radiogroup"] label'
"""The buttons, or on a very narrow screen the list, that choose a part of a page."""


def missing(what: str) -> NoReturn:
    """Say what a check that was asked for by its marker needs: none is passed over."""
    pytest.fail(f"{what} is missing on this machine. README.md says how to get it.")


def chromium() -> str | None:
    """Where Chromium is: named by CHROMIUM, else found on the path."""
    named = os.environ.get("CHROMIUM")
    return named if named and Path(named).exists() else shutil.which("chromium") or shutil.which("chromium-browser")


def pdf_of(html: str, file: Path) -> Path:
    """The PDF that Chromium prints of a page, beside the file that it is put into; fails where there is no Chromium."""
    at = chromium() or missing("Chromium")
    pdf = file.with_suffix(".pdf")
    file.write_text(html, "utf-8")
    flags = [*FLAGS, f"--user-data-dir={file.with_suffix('')}", "--no-pdf-header-footer"]
    command = [at, "--headless", *flags, f"--print-to-pdf={pdf}", file.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return pdf


def free_port() -> int:
    """A port that nothing listens at."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextlib.contextmanager
def served(port: int = 0) -> Iterator[str]:
    """Serve the dashboard on this port, or on a free one; its address."""
    port = port or free_port()
    command = [sys.executable, "-m", "streamlit", "run", "app.py", "--server.port", str(port)]
    server = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        address = f"http://127.0.0.1:{port}"
        deadline = time.monotonic() + 60
        while True:
            try:
                with urllib.request.urlopen(f"{address}/_stcore/health", timeout=2) as answer:
                    if answer.read() == b"ok":
                        break
            except OSError:
                if time.monotonic() > deadline or server.poll() is not None:
                    raise
                time.sleep(0.2)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)


SETTLED = """() => {
  const app = document.querySelector('[data-testid="stApp"]');
  if (!app || app.dataset.testConnectionState !== 'CONNECTED') return false;
  if (app.dataset.testScriptState !== 'notRunning') return false;
  const told = (window.renovationPhone?.known ?? null) !== null;
  if (told !== matchMedia('(max-width: 767px)').matches) return false;
  const waiting = '[data-testid="stSkeleton"], [data-testid="stSpinner"], [data-stale="true"], .st-key-opening';
  if (document.querySelector(waiting)) return false;
  const charts = [...document.querySelectorAll('[data-testid="stVegaLiteChart"]')];
  return charts.every(c => c.offsetParent === null || c.querySelector('svg.marks, canvas.marks'));
}"""


@dataclass
class Visit:
    """One page in one browser window, and every request that would have left the machine."""

    page: Any
    left: list[str] = field(default_factory=list)

    def settle(self) -> None:
        """Wait until the page is idle and drawn."""
        self.page.wait_for_function(SETTLED, timeout=60_000)
        self.page.wait_for_timeout(250)
        self.page.wait_for_function(SETTLED, timeout=60_000)

    def open(self, address: str) -> None:
        """Go there and wait."""
        self.page.goto(address)
        self.settle()

    def stretch(self) -> None:
        """Make the window as tall as the page, so that nothing waits below an edge."""
        for _ in range(3):
            tall = self.page.evaluate("document.querySelector('[data-testid=\"stMain\"]').scrollHeight")
            side = self.page.evaluate(
                "(document.querySelector('[data-testid=\"stSidebarContent\"]') || {scrollHeight: 0}).scrollHeight"
            )
            size = self.page.viewport_size
            wanted = max(tall, side if size["width"] > 700 else 0, HEIGHT)
            if wanted == size["height"]:
                break
            self.page.set_viewport_size({"width": size["width"], "height": wanted})
            self.settle()


@contextlib.contextmanager
def visit(
    browser: Any, address: str, *, width: int = 1280, scheme: str = "light", locale: str = "en-US"
) -> Iterator[Visit]:
    """Open a window on the dashboard; requests to anywhere else are stopped and kept. locale: its wish."""
    context = browser.new_context(viewport={"width": width, "height": HEIGHT}, color_scheme=scheme, locale=locale)
    seen = Visit(context.new_page())

    def watch(route: Any) -> None:
        if route.request.url.startswith((address, "data:", "blob:")):
            route.continue_()
        else:
            seen.left.append(route.request.url)
            route.abort()

    context.route("**/*", watch)
    try:
        yield seen
    finally:
        context.close()
