"""Pictures of every page at three widths, light and dark: `python tests/screens/pictures.py FOLDER [PAGE ...]`."""

import sys
from pathlib import Path

from conftest import FLAGS, chromium, served, visit
from playwright.sync_api import sync_playwright

WIDTHS = (1920, 1280, 390)
PAGES = {"compare": "", "numbers": "numbers", "sources": "sources"}


def take(folder: Path, pages: list[str], widths: list[int], schemes: list[str]) -> None:
    """Take all pictures into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    with served() as address, sync_playwright() as player:
        browser = player.chromium.launch(executable_path=chromium(), args=FLAGS)
        for page in pages:
            for width in widths:
                for scheme in schemes:
                    with visit(browser, address, width=width, scheme=scheme) as seen:
                        seen.open(f"{address}/{PAGES.get(page, page)}")
                        seen.stretch()
                        seen.page.screenshot(path=folder / f"{page}_{width}_{scheme}.png")
        browser.close()


if __name__ == "__main__":
    words = sys.argv[1:]
    if not words:
        sys.exit(__doc__)
    asked = [w for w in words[1:] if not w.isdecimal() and w not in ("light", "dark")]
    take(
        Path(words[0]),
        asked or list(PAGES),
        [int(w) for w in words[1:] if w.isdecimal()] or list(WIDTHS),
        [w for w in words[1:] if w in ("light", "dark")] or ["light", "dark"],
    )
