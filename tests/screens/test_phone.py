"""On a phone, in a real Chromium: nothing wider than the screen, number pads, a menu that closes, room for a finger."""

import pytest
from screens.looking import PAGES, SECTIONS, visit

from renovation.inputs import demo_names
from renovation.screens.controls.fields import adds

PHONE = 390
FINGER = 44
FARMS = [pytest.param(name, marks=() if not place else pytest.mark.long) for place, name in enumerate(demo_names())]

FAULTS = """finger => {
  const faults = [];
  const say = (kind, e) => faults.push([kind, e.dataset.testid, (e.innerText || e.ariaLabel || '').slice(0, 50)]);
  const main = document.querySelector('[data-testid="stMain"]');
  for (const e of [document.documentElement, main]) if (e.scrollWidth > e.clientWidth) say('page is wider', e);
  const scrolls = e => ['auto', 'scroll'].includes(getComputedStyle(e).overflowX);
  for (const e of main.querySelectorAll('*')) {
    if (!e.checkVisibility() || e.closest('svg')) continue;
    if (scrolls(e) && e.scrollWidth > e.clientWidth + 1 && e.tagName !== 'INPUT') {
      if (!getComputedStyle(e).backgroundImage.includes('gradient') || e.tabIndex !== 0) say('scrolls unseen', e);
    }
    const box = e.getBoundingClientRect();
    let inside = e.parentElement;
    while (inside && inside !== main && !scrolls(inside)) inside = inside.parentElement;
    if (inside === main && box.width > 1 && box.right > innerWidth + 1) say('over the edge', e);
  }
  const pressed = '[data-testid^="stBaseButton"], [data-testid="stButtonGroup"] button, summary, ' +
    '[data-testid="stTextInputRootElement"], [data-testid="stTooltipHoverTarget"] > button[aria-label]';
  for (const e of main.querySelectorAll(pressed))
    if (e.checkVisibility() && !e.closest('[data-testid="stElementToolbar"]') &&
        e.getBoundingClientRect().height < finger - 0.5) say('low', e);
  for (const e of document.querySelectorAll('[data-testid="stTextInputField"][autocomplete="off"]'))
    if (e.inputMode !== 'decimal') say('no number pad', e);
  return faults;
}"""
"""Each place where a phone's page is wrong: what is wrong, and the words that stand there."""

CLOSED = """() => { const menu = document.querySelector('[data-testid="stSidebar"]');
  return !menu || !menu.checkVisibility() || menu.getBoundingClientRect().right <= 1; }"""
"""The menu no longer covers the page."""


@pytest.mark.browser
@pytest.mark.parametrize("farm", FARMS)
def test_every_page_fits_a_phone(browser, dashboard, farm):
    with visit(browser, dashboard, width=PHONE) as seen:
        seen.open(f"{dashboard}/?farm={farm}")
        found = {}
        for page in PAGES:
            seen.page.get_by_test_id("stExpandSidebarButton").click()
            link = seen.page.locator(f'[data-testid="stSidebarNavLink"][href$="/{PAGES[page]}"]').first
            link.click()
            seen.settle()
            seen.page.wait_for_function(CLOSED, timeout=5_000)
            for part in range(max(1, seen.page.locator(SECTIONS).count())):
                if part:
                    seen.page.locator(SECTIONS).nth(part).click()
                    seen.settle()
                if faults := seen.page.evaluate(FAULTS, FINGER):
                    found[page, part] = faults
        assert found == {}


def test_a_number_is_said_back_only_where_that_adds_something():
    assert not adds("12 trees", "Trees", "12")
    assert not adds("5% a year", "Decline a year, %", "5")
    assert not adds("14 days of work a month", "Family days a month", "14")
    assert adds("0.3 kg of dry beans per tree and year", "Crop per tree", "0.3")  # the label has no unit
    assert adds("2,400,000 IDR a month", "Living costs a month", "2400000")  # parted for the eye
    assert adds("3.5% a year", "Decline a year, %", "3,5")  # another reading
    assert adds("35 trees", "Trees", "3")
