"""A running dashboard and an open Chromium for the browser tests."""

from collections.abc import Iterator
from typing import Any

import pytest
from screens.looking import FLAGS, chromium, missing, served


@pytest.fixture(scope="session")
def dashboard() -> Iterator[str]:
    """The address of a dashboard that runs as long as the tests."""
    with served() as address:
        yield address


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A real Chromium."""
    from playwright import sync_api as playwright

    path = chromium()
    if path is None:
        missing("Chromium")
    with playwright.sync_playwright() as player:
        opened = player.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()
