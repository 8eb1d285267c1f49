"""Pictures of every page and its parts: `python tests/screens/pictures.py FOLDER [PAGE] [WIDTH] [light|dark] [FARM]`.

Every page, three widths, light and dark, the first farm, where none is named. The plan is made before it is looked at.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

from looking import FLAGS, HEIGHT, PAGES, SECTIONS, Visit, chromium, served, visit
from playwright.sync_api import sync_playwright

from renovation.inputs import demo_names
from renovation.words import Words

WIDTHS = (1920, 1280, 390)
WORDS = Words("en")


def parts(seen: Visit) -> Iterator[int]:
    """Walk the parts of a page, the open one first."""
    number = seen.page.locator(SECTIONS).count()
    for part in range(max(1, number)):
        if part:
            seen.page.set_viewport_size({"width": seen.page.viewport_size["width"], "height": HEIGHT})
            seen.page.locator(SECTIONS).nth(part).click()
            seen.settle()
        yield part


def make_plan(seen: Visit) -> None:
    """Ask for the plan and wait for it: before that the page has nothing to choose from."""
    again = seen.page.get_by_role("button", name=WORDS("screen.plan.make_again"))
    if not again.is_visible():
        seen.page.get_by_role("button", name=WORDS("screen.plan.make"), exact=True).click()
        again.wait_for(timeout=300_000)
    seen.settle()


def take(folder: Path, pages: list[str], widths: list[int], schemes: list[str], farm: str) -> None:
    """Take all pictures into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    with served() as address, sync_playwright() as player:
        browser = player.chromium.launch(executable_path=chromium(), args=FLAGS)
        for page in pages:
            for width in widths:
                for scheme in schemes:
                    with visit(browser, address, width=width, scheme=scheme) as seen:
                        seen.open(f"{address}/{PAGES[page]}?farm={farm}")
                        if page == "plan":
                            seen.page.screenshot(path=folder / f"plan_before_{width}_{scheme}_{farm}.png")
                            make_plan(seen)
                        for part in parts(seen):
                            seen.stretch()
                            seen.page.screenshot(path=folder / f"{page}{part}_{width}_{scheme}_{farm}.png")
        browser.close()


if __name__ == "__main__":
    words = sys.argv[1:]
    if not words:
        sys.exit(__doc__)
    take(
        Path(words[0]),
        [w for w in words[1:] if w in PAGES] or list(PAGES),
        [int(w) for w in words[1:] if w.isdecimal()] or list(WIDTHS),
        [w for w in words[1:] if w in ("light", "dark")] or ["light", "dark"],
        next((w for w in words[1:] if w in demo_names()), demo_names()[0]),
    )
