"""A running dashboard and an open Chromium for the browser tests."""

from collections.abc import Iterator
from typing import Any

import pytest
from screens.looking import FLAGS, chromium, missing, served

from renovation import aside


@pytest.fixture(scope="session", autouse=True)
def unhurried() -> Iterator[None]:
    """No page of this process gives way: the tests at work beside it would have all of the cores."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(aside, "NICE", 0)
        patch.setattr(aside, "NICER", 0)
        yield


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
