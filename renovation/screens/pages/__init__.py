"""The pages, in order: a new page is one file and one line here."""

from collections.abc import Callable
from dataclasses import dataclass

import renovation.screens.pages.cash as cash_page
import renovation.screens.pages.compare as compare_page
import renovation.screens.pages.farms as farms_page
import renovation.screens.pages.lender as lender_page
import renovation.screens.pages.map as map_page
import renovation.screens.pages.mine as mine_page
import renovation.screens.pages.numbers as numbers_page
import renovation.screens.pages.plan as plan_page
import renovation.screens.pages.risk as risk_page
import renovation.screens.pages.season as season_page
import renovation.screens.pages.sources as sources_page
from renovation.screens.memory.farms import folder


@dataclass(frozen=True)
class Page:
    """A page: the name of its address and of its words (`screen.page.<name>`), and what draws it."""

    name: str
    draw: Callable[[], None]


PAGES = (
    Page("compare", compare_page.draw),
    Page("mine", mine_page.draw),
    Page("numbers", numbers_page.draw),
    Page("plan", plan_page.draw),
    Page("season", season_page.draw),
    Page("cash", cash_page.draw),
    Page("lender", lender_page.draw),
    Page("risk", risk_page.draw),
    Page("map", map_page.draw),
    Page("sources", sources_page.draw),
)
"""The first is the one that opens."""
FARMS = Page("farms", farms_page.draw)


def offered() -> tuple[Page, ...]:
    """The pages that there are: that of many farms only where the dashboard was started with a folder of them."""
    return PAGES if folder() is None else (*PAGES, FARMS)
