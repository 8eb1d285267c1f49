"""What the crop brings: price, deductions, premium; the harvest beside it."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, as_stated
from renovation.screens.controls.fields import Path, Place, choice, decimal_input, numbers
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.parts import harvest
from renovation.words import Words

Changes = Mapping[str, Any]


def draw(farm: Scenario, words: Words) -> None:
    """Price, deductions, premium, harvest."""
    at: Path = ("market",)
    left, right = st.columns(2)
    with left:
        wet = farm.market.wet_beans is not None
        choice(
            words("screen.numbers.sold_as"),
            ["dry", "wet"],
            "wet" if wet else "dry",
            _sold_as,
            name="sold_as",
            say_option=lambda way: words(f"screen.numbers.sold_as_{way}"),
        )
        if wet:
            numbers((*at, "wet_beans"), "price_per_kg", "dry_per_wet")
            price = words.money(farm.market.dry_price_per_kg, farm.appraisal.currency)
            st.caption(words("screen.numbers.wet_makes", price=plain(price)))
        else:
            numbers(at, "price_per_kg")
        numbers(at, "deductions_per_kg", "harvest_days_per_kg")
        stated = as_stated(farm)
        for material in dict.fromkeys(t.material for t in stated.techniques.values() if t.mature_crop.value > 0):
            name = words.name("material", material)
            place = Place(
                ("market", "premium", material),
                value=stated.market.premium.get(material, 0.0),
                put=_put_premium(material),
            )
            decimal_input(words("screen.numbers.premium", material=name), place)
    with right:
        harvest.draw(farm, words)


def _sold_as(way: str) -> Changes:
    """Turn a price of dry beans into one of wet beans that brings the same, or back."""
    market = state.scenario().market
    if way == "wet":
        wet = {"price_per_kg": round(market.dry_price_per_kg * 0.35, 4), "dry_per_wet": 0.35}
        return {"market__price_per_kg": None, "market__wet_beans": wet}
    return {"market__price_per_kg": round(market.dry_price_per_kg, 4), "market__wet_beans": None}


def _put_premium(material: str) -> Callable[[float], Changes]:
    """Change the premium of one material; none is left out."""

    def put(value: float) -> Changes:
        kept = {key: share for key, share in as_stated(state.scenario()).market.premium.items() if key != material}
        return {"market__premium": kept | ({material: value} if value else {})}

    return put
