"""Own figures of a way: each default with its unit, range and source, and an own value in its place."""

from collections.abc import Mapping, Sequence
from typing import Any, Literal

import streamlit as st

from renovation.inputs import Figure, Scenario, ScenarioError, as_stated, default_techniques, read_decimal
from renovation.screens.controls.fields import Path, Place, as_text, decimal_input, switch, value_at
from renovation.screens.controls.overrides import default_figure, is_own, own, own_entry, own_shade, own_value
from renovation.screens.controls.phone import NUMBER, tight
from renovation.screens.controls.text import bullets, in_columns, plain, section, show_chart, why
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.screens.parts import beside, planting
from renovation.show import figure_charts, figures
from renovation.show.held import taught, work_sentences
from renovation.show.meant import figure_meant
from renovation.show.planting import way_sentences
from renovation.show.voice import Voice, at_head
from renovation.words import Words

Curve = tuple[tuple[float, float], ...]


def draw(farm: Scenario, words: Words) -> None:
    """Choose a way, then change its figures."""
    st.markdown(words("screen.figures.lead"))
    ways = list(farm.techniques)
    way = st.selectbox(
        words("screen.figures.way"), ways, key=chosen_way(farm), format_func=lambda k: Voice.of(farm, words).way(k)
    )
    if said := figures.origin_sentence(farm, way, words):
        st.caption(plain(said))
    parts = {"crown": _crown, "material": planting.draw, "tries": _tries, "work": _work, "upkeep": _upkeep}
    parts |= {"beside": _beside, "prices": _prices}
    part = section("figures", list(parts))
    if part != "material" and (planted := way_sentences(farm, [way], words)[:1]):
        st.info(plain(" ".join([*planted, words("planting.instead")])))
    parts[part](farm if part == "material" else as_stated(farm), way, words)


def chosen_way(farm: Scenario) -> str:
    """The key of the control that chooses one of the farm's ways."""
    return key_of(f"figures_of|{'|'.join(farm.techniques)}")


def _crown(farm: Scenario, way: str, words: Words) -> None:
    """Mature crop, shade and the two curves; without the old crown's where there is none."""
    on_trees = farm.techniques[way].old_crown is not None
    at: Path = ("techniques", way)
    left, right = st.columns(2)
    with left:
        _figure(farm, (*at, "mature_crop"), words("figure.mature_crop"), words)
    if on_trees:
        with right:
            _figure(farm, (*at, "shade"), words("figure.shade"), words)
    _curve(farm, (*at, "new_crown"), words("figure.new_crown"), words)
    if on_trees:
        _curve(farm, (*at, "old_crown", "curve"), words("figure.old_crown"), words)


def _tries(farm: Scenario, way: str, words: Words) -> None:
    """Attempts, their gap, the take by year."""
    at: Path = ("techniques", way)
    left, right = st.columns(2)
    with left:
        _figure(farm, (*at, "attempts"), words("figure.attempts"), words)
        _figure(farm, (*at, "gap_months"), words("figure.gap_months"), words)
    with right:
        if taught(farm, way):
            st.caption(words("screen.figures.taught", page=words("screen.page.plan")))
        _by_year(farm, (*at, "take"), words("figure.take"), words, "project_year")
    technique = farm.techniques[way]
    if technique.temporary_shade is not None and (technique.based_on or way) in default_techniques():
        label, meaning = (words(f"field.Technique.temporary_shade.{part}") for part in ("label", "help"))
        name = f"temporary_shade.{way}"
        switch(label, technique.temporary_shade, own_shade(way), name=name, help_text=meaning)


def _work(farm: Scenario, way: str, words: Words) -> None:
    """Each piece of work: its days and its supplies, and what was counted of it."""
    bullets(work_sentences(farm, words, way))
    for name, operation in farm.techniques[way].operations.items():
        at: Path = ("techniques", way, "operations", name)
        with st.container(border=True):
            st.markdown(f"**{plain(words.name('operation', name, operation.label))}**")
            if f"operation_help.{name}" in words:
                st.caption(words(f"operation_help.{name}"))
            places: list[tuple[Path, str]] = [((*at, "days"), words("screen.figures.days"))]
            for item, use in operation.materials.items():
                label = words.name("item", item, farm.supplies.items[item].label)
                places.append(((*at, "materials", item, "quantity"), label))
                if use.loss_before_use is not None:
                    path = (*at, "materials", item, "loss_before_use")
                    places.append((path, words("screen.figures.lost", item=label)))
            for path, label in in_columns(places, 3):
                _figure(farm, path, label, words)


def _upkeep(farm: Scenario, way: str, words: Words) -> None:
    """Upkeep of the new crown by year of age."""
    at: Path = ("techniques", way)
    left, right = st.columns(2)
    with left:
        _by_year(farm, (*at, "upkeep_days"), words("figure.upkeep_days"), words, "year_of_age")
    with right:
        _by_year(farm, (*at, "upkeep_inputs"), words("figure.upkeep_inputs"), words, "year_of_age")


def _beside(farm: Scenario, way: str, words: Words) -> None:
    """What is lost, and what stands, grows or is paid beside the crop."""
    beside.draw(farm, way, words, _figure, _by_year)


def _prices(farm: Scenario, way: str, words: Words) -> None:
    """What the supplies and tools of a way cost; a price holds for every way that uses the thing."""
    st.caption(words("screen.figures.prices_note"))
    places: list[tuple[Path, str]] = []
    for key in figures.supplies_of(farm.techniques[way]):
        if key in farm.supplies.items:
            item = farm.supplies.items[key]
            unit = words.name("supply_unit", item.unit)
            label = words("screen.figures.price_of", thing=words.name("item", key, item.label), unit=unit)
            places.append((("supplies", "items", key, "unit_cost"), label))
        else:
            name = words.name("tool", key, farm.supplies.tools[key].label)
            places.append((("supplies", "tools", key, "price"), name))
            places.append((("supplies", "tools", key, "lasts_years"), words("screen.figures.lasts", tool=name)))
    for path, label in in_columns(places, 3):
        _figure(farm, path, label, words)


# One figure


def _figure(farm: Scenario, path: Path, label: str, words: Words) -> None:
    """One number in place of a default, with range and source, and the way back."""
    figure = value_at(farm, path)
    place = Place(path, put=own(path), value=figure.value)
    decimal_input(label, place)
    _example(farm, path, figure, words)
    _where_from(farm, path, figure, words)


def _by_year(farm: Scenario, path: Path, label: str, words: Words, kind: str) -> None:
    """Numbers by year, the last holding from then on; one more and one fewer."""
    figure = value_at(farm, path)
    numbers = figure.value
    st.markdown(f"**{plain(label)}**")
    _example(farm, path, figure, words)
    for entry, number in enumerate(numbers):
        form = "last" if entry == len(numbers) - 1 else "one"
        name = words(f"screen.figures.{kind}_{form}", n=entry + 1)
        place = Place(path, put=own_entry(path, entry), value=number)
        decimal_input(name, place, name=f"entry{entry}.")
    more, fewer = st.columns(2)
    longer, shorter = (*numbers, numbers[-1]), numbers[:-1]
    more.button(words("screen.figures.one_more"), key=key_of(f"more{path}"), on_click=_put, args=(path, longer))
    if shorter:
        fewer.button(words("screen.figures.one_fewer"), key=key_of(f"fewer{path}"), on_click=_put, args=(path, shorter))
    _where_from(farm, path, figure, words)


def _put(path: Path, value: Any) -> None:
    """Put an own value in place."""
    state.say_problems(state.change(own_value(state.scenario(), path, value)))


def _example(farm: Scenario, path: Path, figure: Figure[Any], words: Words) -> None:
    """What a figure means, on a hundred trees or along a curve; the figure in words where it has no such sentence."""
    if path[0] != "techniques":
        return
    example = figure_meant(farm, path, figure.value, words)
    if example or isinstance(figure.value, tuple):
        st.markdown(plain(example or figures.figure_cell(figure.value, figure.unit, words)))


def _where_from(farm: Scenario, path: Path, figure: Figure[Any], words: Words) -> None:
    """Range and source of a figure; of an own one what the default was, and the way back to it."""
    base = default_figure(farm, path)
    if is_own(farm, path) and base is not None:
        shown = figures.figure_cell(base["value"], base["unit"], words)
        st.caption(plain(_from(farm, path, words, words("screen.figures.own", default=shown))))
        _why(path, figure, base, words)
        _way_back(path, base["value"], words)
        return
    value, span, _, source = figures.figure_row(figure, farm.appraisal.currency, words)
    if figure.low == figure.high:
        span = value
    st.caption(plain(_from(farm, path, words, words("screen.figures.default", range=span, source=source))))
    _why(path, figure, base, words)


def _from(farm: Scenario, path: Path, words: Words, said: str) -> str:
    """What is said of a figure's source, and of one's own way from which way it was copied."""
    origin = figures.origin(farm, str(path[1]), path[2:], words) if path[0] == "techniques" else ""
    return words("origin.beside", said=said, origin=at_head(origin)) if origin else said


def _why(path: Path, figure: Figure[Any], base: Mapping[str, Any] | None, words: Words) -> None:
    """Why a figure is what it is, one tap away; where an own one does not say, why its default is."""
    if figure.because or base is None:
        why(words("reasons.why"), figure.because, name=str(path))
    else:
        why(words("reasons.why_default"), base["because"], name=str(path))


def _way_back(path: Path, default: Any, words: Words) -> None:
    """The button that puts the default back in an own value's place."""
    back = words("screen.figures.back")
    st.button(back, key=key_of(f"back{path}"), on_click=_put, args=(path, default), type="tertiary")


# A curve


def _curve(farm: Scenario, path: Path, label: str, words: Words) -> None:
    """A curve's table, typed as text so that a decimal comma is read right, with its chart beside it."""
    figure = value_at(farm, path)
    st.markdown(f"**{plain(label)}**")
    _example(farm, path, figure, words)
    left, right = st.columns(2)
    with left:
        _curve_editor(path, figure.value, words)
        refused = state.memory("notes").get(f"curve{path}")
        if refused:
            st.error(plain(" ".join(refused)))
        _where_from_curve(farm, path, figure, words)
    if not (figure.value or figure.low or figure.high):
        return
    with right:
        chart = figure_charts.curve_chart(label, figure.value, figure.low, figure.high, words)
        show_chart(chart, key=key_of(f"chart{path}"))


def _curve_editor(path: Path, points: Curve, words: Words) -> None:
    """Each point's age and share as text, so that a comma is read right; taken only when asked to.

    An empty point is left out; one empty point more stands ready. Points are put in the order of their ages.
    """
    # what the farm holds names the form: it starts again when the curve in force changes, and only then
    key = key_of(f"curve{path}{points}")
    typed = [(as_text(age), as_text(share, 100.0)) for age, share in points]
    with st.form(f"form_{key}", border=True):
        rows = []
        for place, (age, share) in enumerate([*typed, ("", "")]):
            left, right = st.columns(2, wrap=tight())
            visible: Literal["visible", "collapsed"] = "collapsed" if place else "visible"
            with left:
                label = words("screen.figures.point_age" if place else "chart.curve.age", n=words.number(place + 1))
                text = st.text_input(
                    label, age, key=f"{key}.{place}.age", label_visibility=visible, autocomplete=NUMBER
                )
            with right:
                label = words(
                    "screen.figures.point_share" if place else "screen.figures.share", n=words.number(place + 1)
                )
                rows.append(
                    (
                        text,
                        st.text_input(
                            label, share, key=f"{key}.{place}.share", label_visibility=visible, autocomplete=NUMBER
                        ),
                    )
                )
        if st.form_submit_button(words("screen.figures.use_curve")):
            _take_curve(path, [row for row in rows if any(text.strip() for text in row)], words)
            st.rerun()


def _take_curve(path: Path, rows: Sequence[tuple[str, str]], words: Words) -> None:
    """Take a typed curve where every entry is a number and the farm accepts it."""
    notes = state.memory("notes")
    notes.pop(f"curve{path}", None)
    said: list[str] = []
    points: list[tuple[float, float]] = []
    for age, share in rows:
        try:
            points.append((read_decimal(age, words=words), read_decimal(share, per=100, words=words)))
        except ScenarioError as error:
            said += error.sentences(words)
    if not said:
        said = state.change(own_value(state.scenario(), path, tuple(sorted(points))))
    if said:
        notes[f"curve{path}"] = [*said, words("screen.figures.curve_kept")]


def _where_from_curve(farm: Scenario, path: Path, figure: Figure[Any], words: Words) -> None:
    """The source of a curve; of an own one the way back."""
    base: Mapping[str, Any] | None = default_figure(farm, path)
    if is_own(farm, path) and base is not None:
        st.caption(plain(_from(farm, path, words, words("screen.figures.own_curve"))))
        _why(path, figure, base, words)
        _way_back(path, base["value"], words)
    else:
        said = words("screen.figures.source", source=figures.source_cell(figure, words))
        st.caption(plain(_from(farm, path, words, said)))
        _why(path, figure, base, words)
