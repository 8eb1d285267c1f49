"""Where the figures come from: every figure in use with its unit, range and source, and what to beware of."""

from typing import Any

import streamlit as st

from renovation.decide.held import as_held
from renovation.decide.materials import known_materials
from renovation.inputs import Figure, Scenario
from renovation.inputs.seasons import seasons
from renovation.screens.controls.text import bullets, in_columns, plain, section, show_chart, show_table, small, why
from renovation.screens.memory import results, state
from renovation.screens.memory.state import key_of
from renovation.screens.parts import hard
from renovation.show import figure_charts, figures
from renovation.show.compare.reasons import reasons
from renovation.show.guesses import reasoned, summary
from renovation.show.meant import Path, figure_meant, range_meant
from renovation.show.planting import group_reasons, material_reasons, materials_table
from renovation.show.voice import Voice
from renovation.words import Words


def draw() -> None:
    """Draw the page."""
    words = state.words()
    farm = as_held(state.scenario(), state.scenario().plan)
    st.title(words("screen.page.sources"), anchor=False)
    st.markdown(words("screen.sources.lead"))
    bullets(
        words("sources.kind", kind=words(f"source.{kind}"), meaning=words(f"source_help.{kind}"))
        for kind in ("published", "common practice", "from memory", "invented", "own", "guess", "counted")
        if (kind != "counted" or farm.planning.records) and (kind != "guess" or farm.guessed)
    )
    parts = {
        "way": _way,
        "materials": _materials,
        "supplies": _supplies,
        "season": _season,
        "cautions": _cautions,
        "ways": _ways,
        "words": _words,
    }
    if farm.guessed:
        parts = {"guesses": _guesses, **parts}
    parts[section("sources", list(parts))](farm, words)
    st.caption(words("screen.sources.stamp", name=plain(farm.about.name), digest=plain(farm.digest)))


def _guesses(farm: Scenario, words: Words) -> None:
    """What is guessed of the farm: each figure with its range, its class and why."""
    st.markdown(plain(summary(results.compared(state.scenario()), words)))
    bullets(reasoned(farm, words))


def _way(farm: Scenario, words: Words) -> None:
    """Every figure of one way."""
    ways = list(farm.techniques)
    way = st.selectbox(
        words("screen.sources.way"),
        ways,
        key=key_of(f"sources_of|{'|'.join(ways)}"),
        format_func=lambda key: Voice.of(farm, words).way(key),
    )
    if f"technique_help.{way}" in words:
        st.markdown(words(f"technique_help.{way}"))
    if told := figures.origin_sentence(farm, way, words):
        st.markdown(plain(told))
    _cards(farm, way, words)
    if said := reasons(farm.techniques[way], farm.supplies, words):
        with st.expander(words("reasons.title")):
            bullets(said)


def _cards(farm: Scenario, way: str, words: Words) -> None:
    """A card for each figure: what it means, its range and where it comes from; a curve drawn too."""
    technique = farm.techniques[way]
    months = words.listing([words.month_name(month) for month in technique.start_months])
    st.markdown(plain(words("screen.sources.starts", months=months)))
    for name, at, figure in in_columns(figures.placed_figures(technique, farm.supplies, words), 2):
        path = ("techniques", way, *at)
        with st.container(border=True):
            st.markdown(f"**{plain(name)}**")
            st.markdown(plain(figure_meant(farm, path, figure.value, words) or _value(farm, figure, words)))
            if at[-1] in ("new_crown", "curve") and figure.value:
                source = figures.with_origin(
                    figures.source_cell(figure, words), figures.origin(farm, way, at, words), words
                )
                st.caption(plain(words("screen.figures.source", source=source)))
                chart = figure_charts.curve_chart(name, figure.value, figure.low, figure.high, words, height=220)
                show_chart(chart, key=key_of(f"sources_chart.{way}.{name}"))
            else:
                st.caption(plain(_range(farm, path, figure, words)))


def _range(farm: Scenario, path: Path, figure: Figure[Any], words: Words) -> str:
    """How low and how high a figure may be, each in the words of its value, and where it comes from."""
    _, between, _, source = figures.figure_row(figure, farm.appraisal.currency, words)
    source = figures.with_origin(source, figures.origin(farm, str(path[1]), tuple(path[2:]), words), words)
    low, high = range_meant(farm, path, figure, words)
    if figure.low == figure.high:
        return words("screen.figures.source", source=source)
    if low and high:
        return words("screen.sources.range", low=low, high=high, source=source)
    return words("screen.figures.default", range=between, source=source)


def _value(farm: Scenario, figure: Figure[Any], words: Words) -> str:
    """A figure's value with its unit, where that says more than percent, ages and years do; before several numbers."""
    value, _, unit, _ = figures.figure_row(figure, farm.appraisal.currency, words)
    if "share" in figure.unit:
        return value
    return words("cell.of_many" if isinstance(figure.value, tuple) else "cell.of_one", value=value, unit=unit)


def _materials(farm: Scenario, words: Words) -> None:
    """What is known of the clones that ship and of the farm's own, why, and who sets fruit with whom."""
    known = known_materials(farm)
    st.markdown(words("planting.screen.none_used"))
    show_table(materials_table(known, farm.appraisal.currency, words))
    with st.expander(words("reasons.title")):
        bullets([*material_reasons(known, words), *group_reasons(words)])
    small([words("planting.station")])
    st.warning(words("caution.clean_budwood"))


def _supplies(farm: Scenario, words: Words) -> None:
    """What things cost."""
    used = dict.fromkeys(key for way in farm.techniques.values() for key in figures.supplies_of(way))
    show_table(figures.supplies(farm.supplies, farm.appraisal.currency, words, list(used)))


def _season(farm: Scenario, words: Words) -> None:
    """When the crop ripens, and who says so."""
    season = farm.market.season
    if season.window:
        window = words.name("window", season.window)
        st.markdown(words("sources.window", window=plain(window)))
        st.markdown(plain(words("sources.window_source", citation=seasons().windows_source.citation)))
        st.markdown(words("window_help.spread"))
        if months := seasons().windows.get(season.window):
            why(words("reasons.why_mid"), seasons().mid_share[months.mid_share].because, name="mid_share")
    else:
        st.markdown(words("sources.own_season"))
    show_chart(figure_charts.season_chart(season.shares, words), key=key_of("sources_season"))
    bullets(
        words("screen.sources.month_share", month=words.month_name(month), share=words.percent(share, 1))
        for month, share in enumerate(season.shares, start=1)
        if share > 0
    )


def _cautions(farm: Scenario, words: Words) -> None:
    """What to beware of."""
    show_table(figures.cautions(farm.techniques, words, losses=farm.states_losses))


def _words(farm: Scenario, words: Words) -> None:
    """The hard words of all pages."""
    del farm
    hard.whole(words)


def _ways(farm: Scenario, words: Words) -> None:
    """The ways in words, each with its work."""
    for key, technique in farm.techniques.items():
        with st.expander(plain(Voice.of(farm, words).way(key))):
            if f"technique_help.{key}" in words:
                st.markdown(words(f"technique_help.{key}"))
            bullets(
                words(
                    "screen.sources.step",
                    step=words.name("operation", name, operation.label),
                    how=words(f"operation_help.{name}") if f"operation_help.{name}" in words else "",
                )
                for name, operation in technique.operations.items()
            )
