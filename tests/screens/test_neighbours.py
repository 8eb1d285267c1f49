"""What the searches of some cost another, and how soon they end: a real server, visited by its own websocket."""

import asyncio
import contextlib
import time
from statistics import median

import pytest
from benchmarks.visitors import ROOT, Seen, Visitor, line_to, served
from screens.test_jobs import LONG, solvers

SOON = 2.0
"""Seconds within which the search of a visitor who has left has ended."""
SLOWER = 1.5
"""How many times as long another visitor's change may take while two searches are at work."""
ROUNDS, CHANGES = 4, 8


@contextlib.asynccontextmanager
async def on_page(port, page, query=""):
    """A visitor with a page in front of them."""
    async with line_to(port) as line:
        visitor = Visitor(line, 1, page, Seen())
        visitor.query = query
        await visitor.ask()
        yield visitor


@contextlib.asynccontextmanager
async def searching(port, number):
    """A visitor whose search is at work; it would go on for half a minute and more."""
    before = len(solvers(port))
    async with on_page(port, "plan", f"farm=few_hands&rate={4 + number / 8}") as visitor:
        await visitor.press("make_plan")
        assert await eventually(lambda: len(solvers(port)) > before)
        yield visitor


async def eventually(asked, seconds=LONG):
    """Whether this comes true within so many seconds."""
    until = time.monotonic() + seconds
    while not asked():
        if time.monotonic() > until:
            return False
        await asyncio.sleep(0.02)
    return True


@pytest.mark.long
def test_the_search_of_a_visitor_who_leaves_has_ended_two_seconds_later_and_no_other():
    async def leave(port):
        async with searching(port, 0):
            stays = solvers(port)
            async with searching(port, 1):
                assert len(solvers(port)) == 2
            assert await eventually(lambda: solvers(port) == stays, SOON)
        assert await eventually(lambda: not solvers(port), SOON)

    with served(ROOT) as (port, _):
        asyncio.run(leave(port))


@pytest.mark.long
@pytest.mark.parametrize("page", ["compare", "cash"])
def test_two_searches_slow_the_change_of_another_by_half_at_most(page):
    """Rounds without and with searches take turns, so that whatever else the machine does falls on both."""

    async def measured(port):
        alone, beside = [], []
        async with on_page(port, page) as other:
            for _ in range(CHANGES):
                await other.change()  # the first are slow by themselves
            for number in range(0, 2 * ROUNDS, 2):
                alone += [await other.change() for _ in range(CHANGES)]
                async with searching(port, number), searching(port, number + 1):
                    beside += [await other.change() for _ in range(CHANGES)]
                    assert len(solvers(port)) == 2
                assert await eventually(lambda: not solvers(port), SOON)
            assert not other.seen.errors
        return median(beside) / median(alone)

    with served(ROOT) as (port, _):
        ratio = asyncio.run(measured(port))
    print(f"{page}: {ratio:.2f} times as long")
    assert ratio <= SLOWER
