"""The wall sheet says what the plan's sheet says, whole, and counts its height on the safe side."""

import re
from dataclasses import replace
from datetime import date
from html import unescape

import pytest
from words.foreign import english_in, read_aloud, typed

from renovation.decide.plan import make_plan, sheet
from renovation.inputs import Planning, demo_scenario
from renovation.show.plan.broken import headline
from renovation.show.sheet import wall_sheet
from renovation.show.sheet.fit import HEIGHT, LEAST, SIZES, fitted, height, size_of
from renovation.show.sheet.wall import ROOMS, wall_of
from renovation.words import Words, languages

WORDS = Words("en")
DAY = date(2026, 11, 29)


@pytest.fixture(scope="module")
def plan():
    """A quick plan of the farm that has one in a second."""
    return make_plan(demo_scenario("old_stand_with_gaps"), Planning(years=2, gap=0.05))


def money(amount: float) -> str:
    """A sum as the farm's page says it, its spaces plain."""
    return WORDS.round_money(amount, "GHS").replace("\N{NO-BREAK SPACE}", " ")


def in_hand(amount: float) -> str:
    """A sum to have in hand as the sheet says it: three digits, rounded up; worked out on its digits."""
    digits = str(int(-(-amount // 1)))
    kept = int(digits[:3]) + (int(digits[3:] or 0) > 0)
    return WORDS.number(int(f"{kept}{'0' * len(digits[3:])}"))


def text_of(html: str) -> str:
    """What a reader sees, from the file."""
    body = html.partition("<body>")[2]
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", body)))


def test_the_figures_are_the_plan_s(plan):
    laid_out = sheet(plan)
    said = text_of(wall_sheet(plan, WORDS, DAY))
    assert f"Trees to start: {WORDS.number(laid_out.trees)}" in said
    for start in laid_out.starts:
        assert f"in {start.stand}" in said
    for month in laid_out.months:
        assert f"{WORDS.month_name(int(month.month[-2:]))} " in said
        assert in_hand(month.in_hand) in said
    assert f"What to buy: {money(laid_out.shopping_cost)}" in said
    assert plan.scenario.digest in said
    assert "invented farm" in said


def test_a_page_a_season_and_nothing_fetched(plan):
    text = wall_sheet(plan, WORDS, DAY, (1, 2))
    assert text.count('<section class="sheet"') == 2
    assert re.findall(r"<script|<img|<link|https?://(?!www\.w3\.org/2000/svg)|url\(", text) == []


@pytest.mark.long
def test_a_sheet_of_another_language_has_no_english(plan):
    own = typed(plan.scenario)
    for language in languages():
        if language != "en":
            html = wall_sheet(plan, Words(language), DAY, range(1, plan.problem.years + 1))
            assert english_in(read_aloud(html), language, own) == [], language


def test_no_work_month_or_look_is_left_out(plan):
    laid_out = sheet(plan)
    for room in ROOMS:
        wall = wall_of(plan, laid_out, WORDS, room)
        assert len(wall.months) == 12
        for month, shown in zip(laid_out.months, wall.months, strict=True):
            own = [d for kind, d in month.work.items() if d >= 0.05 and kind not in ("upkeep", "harvest")]
            others = len(re.split(", | and ", shown.also)) * bool(shown.also)
            assert len(shown.works) + others == len(own)
    wall = wall_of(plan, laid_out, WORDS)
    assert sum(len(field.rows) for check in wall.checks for field in check.fields) == len(laid_out.looks)


def test_days_stand_as_halves_and_hands_hired_are_named(plan):
    """The days of a month's row, worked out here from the plan's sheet."""
    wall = wall_of(plan, sheet(plan), WORDS)
    names = [column.name for column in wall.columns]
    assert names[:4] == ["Harvest", "Upkeep", "Family", "Have GHS"]
    april = wall.months[1]
    assert april.name == "April"
    shown = dict(zip(names, april.figures, strict=True))
    (month,) = [m for m in sheet(plan).months if m.month.endswith("-04")]
    assert shown["Family"] == f"{month.family_days:.0f}, hire {month.hired_days:.0f}"
    assert shown["Upkeep"] == f"{month.work['upkeep']:.0f}"
    assert april.works[0][1] == f"Graft {month.work['graft']:.0f}"


def test_what_has_no_room_is_said_with_its_sum(plan):
    laid_out = sheet(plan)
    items = tuple(replace(laid_out.shopping[0], key=f"thing {n}", label=f"Thing {n}", cost=10.0) for n in range(40))
    looks = laid_out.looks[:1] * 20
    starts = tuple(replace(laid_out.starts[0], stand=f"Field {n}", trees=7) for n in range(30))
    for room in ROOMS:
        wall = wall_of(plan, replace(laid_out, shopping=items, looks=looks, starts=starts), WORDS, room)
        assert sum(len(basket.items) for basket in wall.baskets) == room.items
        left = 40 - room.items
        assert wall.more_items == f"And {left} things more for {WORDS.round_money(10 * left, 'GHS')}: see the plan."
        assert (
            wall.checks[0].more == f"And {WORDS.number((20 - room.looks) * looks[0].trees)} trees more: see the plan."
        )
        told = " ".join([*(f"{card.trees} trees" for card in wall.cards), *wall.notes])
        assert sum(int(n) for n in re.findall(r"(\d+) trees", told)) == 30 * 7


def test_what_is_bought_together_costs_the_same_with_prices_and_without(plan):
    laid_out = sheet(plan)
    priced, bare = (wall_of(plan, laid_out, WORDS, room) for room in (ROOMS[0], ROOMS[2]))
    assert priced.priced
    assert not bare.priced
    assert [[what for what, _ in basket.items] for basket in priced.baskets] == [
        [what for what, _ in basket.items] for basket in bare.baskets
    ]
    first = [item for item in laid_out.shopping if item.months[0] == laid_out.shopping[0].months[0]]
    assert bare.baskets[0].by == f"By April for {WORDS.round_money(sum(item.cost for item in first), 'GHS')}:"


def test_the_type_is_the_largest_that_fits(plan):
    wall, size = fitted(plan, sheet(plan), WORDS)
    assert wall == wall_of(plan, sheet(plan), WORDS)
    assert size == size_of(wall)
    assert height(wall, size) <= HEIGHT
    assert size == SIZES[0] or height(wall, SIZES[SIZES.index(size) - 1]) > HEIGHT
    assert size >= LEAST == 10


def test_a_broken_promise_is_the_first_thing_said():
    poor = demo_scenario("few_hands")
    poor = poor.model_copy(update={"household": poor.household.model_copy(update={"savings": 0.0, "floor": 1e6})})
    plan = make_plan(poor, Planning(years=1, gap=0.05))
    assert plan.broken
    wall = wall_of(plan, sheet(plan), WORDS)
    assert wall.marks[0].startswith(headline(plan, WORDS))
    assert WORDS("sheet.in_hand") not in wall.months_note


def test_guesses_are_marked(plan):
    guessed = plan.scenario.model_copy(update={"guessed": {"price.per_kg": None, "labour.wage": None}})
    other = replace(plan, problem=replace(plan.problem, scenario=guessed))
    wall = wall_of(other, sheet(plan), WORDS)
    assert wall.marks == (WORDS("sheet.guessed", n=2),)
    assert wall_of(plan, sheet(plan), WORDS).marks == ()
