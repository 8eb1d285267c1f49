"""Your numbers: everything that a family states, with its unit and bounds, in the order of a walk round the farm."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st
import tomli_w

from renovation.inputs import Scenario, ScenarioError, Stand, read_decimal, season_from_window, twelve, window_names
from renovation.inputs.defaults import default_techniques
from renovation.inputs.files import priced_technique, read_scenario, written
from renovation.screens.controls.fields import (
    Path,
    Place,
    as_text,
    choice,
    decimal_input,
    percent,
    switch,
    text_entry,
    value_at,
)
from renovation.screens.controls.text import plain, section
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.screens.parts import figures as figures_part
from renovation.show.compare.sentences import way_name
from renovation.words import Words

Changes = Mapping[str, Any]


def draw() -> None:
    """Draw the page."""
    words = state.words()
    st.title(words("screen.page.numbers"), anchor=False)
    st.markdown(words("screen.numbers.lead"))
    parts: dict[str, Callable[[Scenario, Words], None]] = {
        "trees": _stands,
        "household": _household,
        "market": _market,
        "time": _time,
        "ways": _ways,
        "figures": figures_part.draw,
    }
    parts[section("numbers", list(parts))](state.scenario(), words)


def _label(words: Words, model: str, field: str) -> tuple[str, str]:
    """A field's name and meaning, in the screen's words where it has its own (percent in place of shares)."""
    own = f"screen.field.{model}.{field}"
    base = own if f"{own}.label" in words else f"field.{model}.{field}"
    return words(f"{base}.label"), words(f"{base}.help")


def _number(place: Place) -> None:
    """A number under its field's own name."""
    label, help_text = _label(state.words(), place.shape.model, place.shape.field)
    decimal_input(label, place, help_text=help_text)


# Trees


def _stands(farm: Scenario, words: Words) -> None:
    """Every stand in a box of its own, and a button for one more."""
    name_label, name_help = _label(words, "About", "name")
    text_entry(
        words("screen.numbers.farm_name"),
        farm.about.name,
        lambda name: {"about__name": name.strip(), "about__invented": False},
        name="about.name",
        help_text=name_help or name_label,
    )
    for position, stand in enumerate(farm.stands):
        with st.expander(
            words("screen.numbers.stand_head", name=plain(stand.name), trees=words("unit.trees", n=stand.trees)),
            expanded=position == 0,
            key=key_of(f"stand_box_{position}"),
        ):
            _stand(farm, position, stand, words)
    st.button(words("screen.numbers.add_stand"), on_click=_add_stand, key=key_of("add_stand"))


def _stand(farm: Scenario, position: int, stand: Stand, words: Words) -> None:
    """One stand: name, trees, crop, decline, upkeep, ground, ways."""
    at: Path = ("stands", position)
    left, middle, right = st.columns(3)
    with left:
        label, help_text = _label(words, "Stand", "name")
        text_entry(label, stand.name, _rename(position), name=f"stand.{position}.name", help_text=help_text)
        _number(Place((*at, "trees")))
        _number(Place((*at, "hectares")))
    with middle:
        _crop(position, stand, words)
    with right:
        _number(percent((*at, "decline_per_year")))
        _number(Place((*at, "upkeep_days")))
        _number(Place((*at, "upkeep_inputs")))
    label, help_text = _label(words, "Stand", "untouched")
    switch(
        label,
        stand.untouched,
        lambda on: {f"stands__{position}__untouched": on},
        name=f"stand.{position}.untouched",
        help_text=help_text,
    )
    _suited(farm, position, stand, words)
    if len(farm.stands) > 1:
        st.button(
            words("screen.numbers.remove_stand", name=plain(stand.name)),
            on_click=_remove_stand,
            args=(position,),
            key=key_of(f"remove_stand_{position}_{stand.name}"),
        )


def _crop(position: int, stand: Stand, words: Words) -> None:
    """Today's crop: in kilograms, or by counting pods."""
    at: Path = ("stands", position)
    counted = stand.pods is not None
    choice(
        words("screen.numbers.crop_by"),
        ["kg", "pods"],
        "pods" if counted else "kg",
        lambda way: _crop_by(position, way),
        name=f"stand.{position}.crop_by",
        say_option=lambda way: words(f"screen.numbers.crop_by_{way}"),
    )
    if not counted:
        _number(Place((*at, "crop_per_tree")))
        return
    _number(Place((*at, "pods", "pods_per_tree")))
    _number(Place((*at, "pods", "pods_per_kg")))
    _number(percent((*at, "pods", "lost_share")))
    st.caption(words("screen.numbers.pods_make", kg=words.number(stand.kg_per_tree, 2)))


def _crop_by(position: int, way: str) -> Changes:
    """Turn a crop stated one way into the other, keeping what it says as far as it can be kept."""
    stand = state.scenario().stands[position]
    at = f"stands__{position}__"
    if way == "kg":
        return {f"{at}crop_per_tree": round(stand.kg_per_tree, 4), f"{at}pods": None}
    pods = {"pods_per_tree": round(stand.kg_per_tree * 25.0, 2), "pods_per_kg": 25.0, "lost_share": 0.0}
    return {f"{at}crop_per_tree": None, f"{at}pods": pods}


def _rename(position: int) -> Callable[[str], Changes]:
    """Rename a stand wherever its name stands."""

    def put(name: str) -> Changes:
        farm, new = state.scenario(), name.strip()
        old = farm.stands[position].name
        changes: dict[str, Any] = {f"stands__{position}__name": new}
        if farm.comparison.stand == old:
            changes["comparison__stand"] = new
        for place, treatment in enumerate(farm.plan):
            if treatment.stand == old:
                changes[f"plan__{place}__stand"] = new
        return changes

    return put


def _suited(farm: Scenario, position: int, stand: Stand, words: Words) -> None:
    """Which ways suit a stand."""
    key = key_of(f"stand.{position}.techniques")
    now = list(stand.techniques if stand.techniques is not None else farm.techniques)
    shown = state.memory("shown_text")
    if key not in st.session_state or shown.get(key) != now:
        st.session_state[key] = now
    shown[key] = now
    label, _ = _label(words, "Stand", "techniques")
    st.pills(
        label,
        list(farm.techniques),
        selection_mode="multi",
        key=key,
        format_func=lambda way: way_name(farm, way, words),
        on_change=_take_suited,
        args=(key, position),
    )
    if not now:
        st.caption(words("screen.numbers.no_way"))


def _take_suited(key: str, position: int) -> None:
    """Take the ways chosen for a stand; all of them is the same as naming none."""
    chosen = st.session_state[key]
    every = list(state.scenario().techniques)
    ways = None if len(chosen) == len(every) else tuple(way for way in every if way in chosen)
    state.say_problems(state.change({f"stands__{position}__techniques": ways}))


def _add_stand() -> None:
    """Add a stand like the first one, under a name of its own."""
    farm, words = state.scenario(), state.words()
    taken = {stand.name.casefold() for stand in farm.stands}
    number = len(farm.stands) + 1
    while words("screen.numbers.new_stand", n=number).casefold() in taken:
        number += 1
    new = farm.stands[0].model_copy(update={"name": words("screen.numbers.new_stand", n=number), "untouched": False})
    state.say_problems(state.change({"stands": (*farm.model_dump()["stands"], new.model_dump())}))


def _remove_stand(position: int) -> None:
    """Remove a stand, and what the plan and the comparison say of it."""
    farm = state.scenario()
    name = farm.stands[position].name
    data = farm.model_dump()
    changes: dict[str, Any] = {"stands": tuple(s for place, s in enumerate(data["stands"]) if place != position)}
    changes["plan"] = tuple(treatment for treatment in data["plan"] if treatment["stand"] != name)
    if (farm.comparison.stand or farm.stands[0].name) == name:
        changes |= {"comparison__stand": None, "comparison__trees": None}
    state.say_problems(state.change(changes))
    state.redraw()


# Household


def _household(farm: Scenario, words: Words) -> None:
    """The people: days, wage, money."""
    del farm
    at: Path = ("household",)
    left, right = st.columns(2)
    with left:
        _number(Place((*at, "wage_per_day")))
        _number(percent((*at, "labour_value")))
        _number(Place((*at, "savings")))
        _number(Place((*at, "floor")))
        _number(percent((*at, "savings_rate")))
    with right:
        for field in ("family_days", "living_costs", "other_income"):
            _by_month((*at, field), words)
        _hired_limit(words)


def _by_month(path: Path, words: Words) -> None:
    """One number for every month, or twelve."""
    value = value_at(state.scenario(), path)
    label, help_text = _label(words, "Household", str(path[-1]))
    each = isinstance(value, tuple)
    if not each:
        decimal_input(label, Place(path), help_text=help_text)
    else:
        st.markdown(label, help=help_text)
        for first in range(0, 12, 3):
            for column, month in zip(st.columns(3), range(first, first + 3), strict=True):
                with column:
                    place = Place(path, value=value[month], put=_put_month(path, month))
                    decimal_input(words.month_name(month + 1), place, name=f"month{month}.")
    switch(words("screen.numbers.by_month"), each, _spread(path), name=f"{'.'.join(map(str, path))}.by_month")


def _put_month(path: Path, month: int) -> Callable[[float], Changes]:
    """Change one month of twelve."""

    def put(value: float) -> Changes:
        now = value_at(state.scenario(), path)
        return {"__".join(map(str, path)): (*now[:month], value, *now[month + 1 :])}

    return put


def _spread(path: Path) -> Callable[[bool], Changes]:
    """Turn one number into twelve, or twelve into their mean."""

    def put(by_month: bool) -> Changes:
        now = twelve(value_at(state.scenario(), path))
        return {"__".join(map(str, path)): now if by_month else round(sum(now) / 12, 4)}

    return put


def _hired_limit(words: Words) -> None:
    """The most days that can be hired, or no limit."""
    path: Path = ("household", "hired_days_limit")
    limited = value_at(state.scenario(), path) is not None
    if limited:
        _by_month(path, words)
    switch(
        words("screen.numbers.hired_limit"),
        limited,
        lambda on: {"household__hired_days_limit": 20.0 if on else None},
        name="hired_limit",
    )


# Market and harvest


def _market(farm: Scenario, words: Words) -> None:
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
            _number(Place((*at, "wet_beans", "price_per_kg")))
            _number(Place((*at, "wet_beans", "dry_per_wet")))
            price = words.money(farm.market.dry_price_per_kg, farm.appraisal.currency)
            st.caption(words("screen.numbers.wet_makes", price=plain(price)))
        else:
            _number(Place((*at, "price_per_kg")))
        _number(Place((*at, "deductions_per_kg")))
        _number(Place((*at, "harvest_days_per_kg")))
        for material in dict.fromkeys(t.material for t in farm.techniques.values() if t.mature_crop.value > 0):
            name = words.name("material", material)
            place = percent(
                ("market", "premium", material),
                value=farm.market.premium.get(material, 0.0),
                put=_put_premium(material),
            )
            decimal_input(words("screen.numbers.premium", material=name), place)
    with right:
        _season(farm, words)


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
        kept = {key: share for key, share in state.scenario().market.premium.items() if key != material}
        return {"market__premium": kept | ({material: value} if value else {})}

    return put


_OWN = ""
"""Stands for twelve shares of one's own in the list of harvest windows."""


def _season(farm: Scenario, words: Words) -> None:
    """A country's harvest window, or twelve shares of one's own."""
    season = farm.market.season
    label, help_text = _label(words, "Season", "window")
    now = season.window if season.window in window_names() else _OWN
    choice(
        label,
        [_OWN, *window_names()],
        now,
        _take_window,
        name="window",
        say_option=lambda name: words.name("window", name) if name else words("screen.numbers.own_shares"),
        help_text=help_text,
    )
    st.caption(words("window_help.spread"))
    with st.form(key_of("season"), border=True):
        st.markdown(words("screen.numbers.shares_head"))
        for first in range(0, 12, 2):
            for column, month in zip(st.columns(2, wrap=False), range(first, first + 2), strict=True):
                key = key_of(f"share.{month}.{season.window}.{season.shares[month]:.6g}")
                column.text_input(
                    words.month_name(month + 1), as_text(season.shares[month], 100.0)[:6], key=key, autocomplete="off"
                )
                st.session_state.setdefault("season_keys", {})[month] = key
        st.form_submit_button(words("screen.numbers.use_shares"), on_click=_take_shares)
    said = state.memory("notes").get("season")
    if said:
        st.error(plain(" ".join(said)))


def _take_window(name: str) -> Changes:
    """Take a country's window; own shares begin from those in force."""
    state.memory("notes").pop("season", None)
    if not name:
        return {"market__season__window": None}
    return {"market__season": season_from_window(name).model_dump()}


def _take_shares() -> None:
    """Take twelve typed shares where each is a number and they sum to 100 %."""
    words = state.words()
    said, shares = [], []
    for month, key in sorted(st.session_state["season_keys"].items()):
        try:
            shares.append(read_decimal(st.session_state[key]) / 100)
        except ScenarioError as error:
            said.append(words("screen.numbers.share_of", month=words.month_name(month + 1)))
            said += error.sentences(words)
    if not said and not abs(sum(shares) - 1) <= 0.005:
        said = [words("screen.numbers.shares_sum", sum=words.percent(sum(shares), 1))]
    if not said:
        whole = sum(shares)
        season = {"shares": tuple(share / whole for share in shares), "window": None}
        said = state.change({"market__season": season})
    notes = state.memory("notes")
    notes.pop("season", None)
    if said:
        notes["season"] = [*said, words("screen.numbers.shares_kept")]


# Time and rates


def _time(farm: Scenario, words: Words) -> None:
    """Horizon, rates, currency."""
    at: Path = ("appraisal",)
    left, right = st.columns(2)
    with left:
        _number(Place((*at, "horizon_years")))
        _number(percent((*at, "discount_rate")))
        _number(percent((*at, "inflation")))
        for field in ("finance_rate", "reinvestment_rate"):
            now = getattr(farm.appraisal, field)
            place = percent((*at, field), value=farm.appraisal.discount_rate if now is None else now)
            _number(place)
    with right:
        _currency(farm, words)


def _currency(farm: Scenario, words: Words) -> None:
    """The currency and what a dollar buys of it, changed together; the amounts stay the numbers they are."""
    with st.form(key_of(f"currency.{farm.appraisal.currency}.{farm.appraisal.currency_per_usd}")):
        label, help_text = _label(words, "Appraisal", "currency")
        st.text_input(label, farm.appraisal.currency, key=key_of("currency_code"), help=help_text, max_chars=3)
        label, help_text = _label(words, "Appraisal", "currency_per_usd")
        per_usd = farm.appraisal.currency_per_usd or 1.0
        st.text_input(label, as_text(per_usd), key=key_of("currency_rate"), help=help_text, autocomplete="off")
        st.caption(words("screen.numbers.currency_note"))
        st.form_submit_button(words("screen.numbers.use_currency"), on_click=_take_currency)
    said = state.memory("notes").get("currency")
    if said:
        st.error(plain(" ".join(said)))


def _take_currency() -> None:
    """Write the farm down in the other currency's name and read it back, so that default costs are turned anew."""
    words, notes = state.words(), state.memory("notes")
    notes.pop("currency", None)
    code = st.session_state[key_of("currency_code")].strip().upper()
    try:
        table = written(state.scenario())
        table["appraisal"]["currency"] = code
        rate = read_decimal(st.session_state[key_of("currency_rate")])
        table["appraisal"].pop("currency_per_usd", None)
        if code != "USD":
            table["appraisal"]["currency_per_usd"] = rate
        state.reread(read_scenario(tomli_w.dumps(table), state.origin()))
    except ScenarioError as error:
        notes["currency"] = [*error.sentences(words), words("screen.numbers.currency_kept")]


# Ways


def _ways(farm: Scenario, words: Words) -> None:
    """Which ways the farm weighs."""
    st.markdown(words("screen.numbers.ways_lead"))
    known = list(dict.fromkeys([*farm.techniques, *default_techniques()]))
    left, right = st.columns(2)
    for place, key in enumerate(known):
        with left if place % 2 == 0 else right, st.container(border=True):
            switch(way_name(farm, key, words), key in farm.techniques, _consider(key), name=f"consider.{key}")
            if f"technique_help.{key}" in words:
                st.caption(words(f"technique_help.{key}"))


def _consider(key: str) -> Callable[[bool], Changes]:
    """Take a way up among those weighed, or leave it out wherever it stands."""

    def put(on: bool) -> Changes:
        farm = state.scenario()
        data = farm.model_dump()
        appraisal = farm.appraisal
        if on:
            table = priced_technique(key, appraisal.currency, appraisal.currency_per_usd or 1.0)
            return {"techniques": {**data["techniques"], key: table}}
        kept = {way: table for way, table in data["techniques"].items() if way != key}
        changes: dict[str, Any] = {"techniques": kept}
        changes["plan"] = tuple(treatment for treatment in data["plan"] if treatment["technique"] != key)
        for place, stand in enumerate(farm.stands):
            if stand.techniques is not None:
                changes[f"stands__{place}__techniques"] = tuple(way for way in stand.techniques if way != key)
        pair = {"headline": farm.comparison.headline, "against": farm.comparison.against}
        for field, way in pair.items():
            free = [other for other in kept if other not in pair.values()]
            if way == key and free:
                changes[f"comparison__{field}"] = free[0]
        return changes

    return put
