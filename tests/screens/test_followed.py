"""Pages that look for no plan say which one they follow, and where This year shows another one first."""

from types import SimpleNamespace

import pytest
from factories import figure, operation, scenario, technique_data
from screens.visiting import run, shown, visit

from renovation.decide.plan import learned_plan
from renovation.decide.plan.plan import plan_of
from renovation.screens import jobs
from renovation.screens.controls.text import plain
from renovation.screens.memory.plan import careful_question
from renovation.screens.searches import Found
from renovation.words import Words

WORDS = Words("en")
CAREFUL = SimpleNamespace()


@pytest.fixture(scope="module")
def sought():
    """Ten trees worth grafting at once: the bolder plan takes all, the careful one four."""
    way = technique_data(mature_crop=figure(2.0, "kg/tree/year"), operations={"work": operation("start", 0, 0.1)})
    years = {"start": "2027-01", "horizon_years": 12, "discount_rate": 0.1, "currency": "USD"}
    farm = scenario({"way_a": way}, appraisal=years, planning={"years": 1}, risk={"draws": 512})
    learned = learned_plan(farm)
    trees = learned.plan.account.trees.astype(int)
    return farm, learned, plan_of(learned.plan.problem, trees * 4 // 10)


def opened(page, farm, found):
    """The page with a farm in hand for which this was found."""
    jobs.remembered(careful_question(farm))["found"] = found
    at = visit(page)
    at.session_state["scenario"] = farm
    return shown(run(at))


LONG = [pytest.param(page, marks=pytest.mark.long) for page in ("lender", "season", "risk")]


@pytest.mark.parametrize("page", ["cash", *LONG])
def test_a_page_names_the_plan_that_it_follows(sought, page):
    farm, learned, careful = sought
    found = Found(farm, learned, careful, (), None, None, careful=CAREFUL)
    other = plain(WORDS("plan.followed.other", page=WORDS("screen.page.plan")))
    for name, plan, trees in (("careful", careful, 4), ("expected", learned.plan, 10), ("stated", None, 3)):
        first = careful.treatments[0].model_copy(update={"trees": 3})
        stated = (first,) if plan is None else plan.treatments
        text = opened(page, farm.changed(plan=tuple(row.model_dump() for row in stated)), found)
        assert plain(WORDS(f"plan.followed.{name}", trees=f"{trees} trees")) in text
        assert (other in text) == (name != "careful")


def test_a_page_says_nothing_of_plans_where_none_was_sought_or_nothing_is_planned(sought):
    farm, _, careful = sought
    stated = farm.changed(plan=tuple(row.model_dump() for row in careful.treatments), about__name="Not sought")
    text = opened("cash", stated, None)
    assert plain(WORDS("plan.followed.stated", trees="4 trees")) in text
    assert "It is not the plan" not in text
    assert "Followed here" not in opened("cash", farm, None)
