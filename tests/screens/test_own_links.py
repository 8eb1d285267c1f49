"""A page's own links hold: what the controls write into the address brings the same farm to whoever opens it."""

import math
from types import SimpleNamespace
from unittest.mock import patch

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from screens.visiting import farm, type_in, visit

from renovation.inputs import default_techniques, demo_names, demo_scenario, month_count, year_month
from renovation.inputs.shapes import bounds
from renovation.screens import jobs
from renovation.screens.controls import drivers
from renovation.screens.controls.fields import Place, as_text, read_number
from renovation.screens.controls.overrides import weighed_too
from renovation.screens.memory import state

ODD = (1.125, 1e-05, 12345678901.0, 0.1 + 0.2, 1 / 3, 5e-324, 1234.0, 0.999)
"""Numbers that a careless writer gets wrong: three decimals, an exponent, many digits, what binary numbers round."""


class Address(dict):
    """The parameters of a page's address."""

    def from_dict(self, wanted):
        self.clear()
        self.update(wanted)


class Visit:
    """A visitor without a page: what the controls call, they find here."""

    def __init__(self, address=()):
        self.st = SimpleNamespace(session_state={}, query_params=Address(address))
        with self:
            drivers.read_link()

    def __enter__(self):
        self._patches = [patch.object(module, "st", self.st) for module in (drivers, state, jobs)]
        for each in self._patches:
            each.start()
        return self

    def __exit__(self, *_):
        for each in self._patches:
            each.stop()

    @property
    def told(self):
        return self.st.session_state["notes"].get("link", [])

    @property
    def address(self):
        with self:
            drivers.write_link()
        return dict(self.st.query_params)

    def shows(self):
        """What every control that a link carries shows."""
        now = self.st.session_state["scenario"]
        with self:
            numbers = {name: place.on(now) for name, place in drivers.places(now).items()}
            return {
                **numbers,
                "farm": state.origin(),
                "stand": drivers.compared_stand(now),
                "pair": (now.comparison.headline, now.comparison.against),
                "start": now.appraisal.start,
                "beside": drivers.beside(),
            }


def holds(visitor: Visit) -> None:
    """Who opens the address sees the same, is told nothing, and has the same address."""
    address = visitor.address
    again = Visit(address)
    assert again.told == []
    assert again.shows() == visitor.shows()
    assert again.address == address


def in_reach(place: Place) -> st.SearchStrategy:
    """Any number that a place takes."""
    limit = bounds(place.shape)
    low, high = limit.lower, limit.upper
    if place.whole:
        return st.integers(int(low or 0), int(high if high is not None else 10**12))
    inside = st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=True)
    return (inside | st.sampled_from(ODD)).filter(limit.holds)


@st.composite
def visits(draw):
    """A visitor who has moved some controls, each number typed or come from elsewhere on the pages."""
    visitor = Visit({"farm": draw(st.sampled_from(demo_names()))})
    for _ in range(draw(st.integers(1, 5))):
        with visitor:
            now = state.scenario()
            numbers = drivers.places(now)
            moved = draw(st.sampled_from([*numbers, "stand", "first", "against", "swap", "start", "beside", "weighed"]))
            if moved in numbers:
                value = draw(in_reach(numbers[moved]))
                state.change(numbers[moved].changes(value))
            elif moved == "stand":
                name = draw(st.sampled_from([stand.name for stand in now.stands]))
                state.change({"comparison__stand": name, "comparison__trees": None})
            elif moved in ("first", "against"):
                field = "headline" if moved == "first" else "against"
                state.change({f"comparison__{field}": draw(st.sampled_from(list(now.techniques)))})
            elif moved == "swap":
                pair = {"comparison__headline": now.comparison.against, "comparison__against": now.comparison.headline}
                state.change(pair)
            elif moved == "start":
                months = draw(st.integers(0, 119))
                state.change({"appraisal__start": year_month(month_count(now.appraisal.start) + months)})
            elif moved == "beside":
                ways = draw(st.lists(st.sampled_from(list(now.techniques)), unique=True, max_size=2))
                drivers.set_beside(ways)
            else:
                state.change(weighed_too(now, draw(st.sampled_from(list(default_techniques())))))
    return visitor


@pytest.mark.long
@settings(max_examples=40)
@given(visits())
def test_an_address_brings_what_the_controls_show(visitor):
    holds(visitor)


@pytest.mark.long
@settings(max_examples=500)
@given(visits())
def test_an_address_brings_what_the_controls_show_however_they_are_moved(visitor):
    holds(visitor)


NAMES = ("trees", "price", "wage", "rate", "years", "first_take", "later_take")


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=50)
@given(st.data())
def test_what_a_control_shows_it_reads_again(name, data):
    """A box shows fifteen digits, which a number between 1e-300 and 1e300 survives (IEEE 754); a link shows all."""
    with Visit():
        place = drivers.places(demo_scenario())[name]
        value = data.draw(in_reach(place))
        assert read_number(as_text(value, place.factor, digits=17), place) == (value, "")
        shown, refusal = read_number(as_text(value, place.factor), place)
        assume(value == 0 or value > 1e-300)
        assert not refusal
        assert math.isclose(shown, value, rel_tol=1e-14)


def moved(start="first_grafters", **changes):
    visitor = Visit({"farm": start})
    with visitor:
        assert state.change(changes) == []
    return visitor


@pytest.mark.parametrize("price", ODD)
def test_odd_prices_hold(price):
    visitor = moved(market__price_per_kg=price)
    assert "e" not in visitor.address["price"]
    holds(visitor)


def test_two_ways_that_have_changed_places_hold():
    pair = demo_scenario().comparison
    holds(moved(comparison__headline=pair.against, comparison__against=pair.headline))


def test_a_way_that_the_farm_did_not_weigh_holds():
    visitor = Visit({"farm": "few_hands"})
    with visitor:
        assert "air_layer" not in state.scenario().techniques
        state.change(weighed_too(state.scenario(), "air_layer"))
        state.change({"comparison__headline": "air_layer"})
    holds(visitor)


def test_a_number_that_is_another_stand_s_own_holds():
    """So many trees of this stand as the farm compares of that one."""
    usual = drivers.compared_trees(demo_scenario())
    other = next(stand for stand in demo_scenario().stands[1:] if stand.trees > usual)
    visitor = moved(comparison__stand=other.name, comparison__trees=usual)
    assert visitor.address["trees"] == str(usual)
    holds(visitor)


def test_a_take_that_is_another_way_s_own_holds():
    first, other = demo_scenario().comparison.headline, "bud_graft"
    take = demo_scenario().techniques[first].take.value[0]
    visitor = moved(comparison__headline=other)
    with visitor:
        assert state.change(drivers.places(state.scenario())["first_take"].changes(take)) == []
    holds(visitor)


def test_a_typed_number_is_carried_by_the_page_itself():
    at = type_in(visit(), "sidebar.price.market.price_per_kg", "1,1250")
    assert farm(at).market.price_per_kg == 1.125
    link = {name: values[0] if isinstance(values, list) else values for name, values in at.query_params.items()}
    assert link == {"price": "1.1250"}
    again = visit(**link)
    assert farm(again).market.price_per_kg == 1.125
    assert not again.warning
