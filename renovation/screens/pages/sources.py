"""Where the figures come from: every figure in use with its unit, range and source, and what to beware of."""

from typing import Any

import streamlit as st

from renovation.decide.held import as_held
from renovation.inputs import Figure, Scenario
from renovation.inputs.seasons import seasons
from renovation.screens.controls.text import bullets, in_columns, plain, section, show_chart, show_table
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show import figure_charts, figures
from renovation.show.compare.reasons import reasons
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
        for kind in ("published", "common practice", "from memory", "invented", "own", "counted")
        if kind != "counted" or farm.planning.records
    )
    parts = {"way": _way, "supplies": _supplies, "season": _season, "cautions": _cautions, "ways": _ways}
    parts[section("sources", list(parts))](farm, words)
    st.caption(words("screen.sources.stamp", name=plain(farm.about.name), digest=plain(farm.digest)))


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
    _cards(farm, way, words)
    if said := reasons(farm.techniques[way], farm.supplies, words):
        with st.expander(words("reasons.title")):
            bullets(said)


def _cards(farm: Scenario, way: str, words: Words) -> None:
    """A card for each figure: what it is, its range and where it comes from; a curve drawn too."""
    technique = farm.techniques[way]
    stated = dict(figures.named_figures(technique, farm.supplies, words))
    rows = figures.figures(farm, way, words).records()
    for row in in_columns(rows, 2):
        with st.container(border=True):
            st.markdown(f"**{plain(row['figure'])}**")
            figure = stated.get(row["figure"])
            st.markdown(plain(_value(row["value"], row["unit"], figure, words)))
            if figure is None:
                continue
            between = row["range"] or row["value"]
            st.caption(plain(words("screen.figures.default", range=between, source=row["source"])))
            if isinstance(figure.value, tuple) and figure.unit.startswith("months") and figure.value:
                chart = figure_charts.curve_chart(
                    row["figure"], figure.value, figure.low, figure.high, words, height=220
                )
                show_chart(chart, key=key_of(f"sources_chart.{way}.{row['figure']}"))


def _value(value: str, unit: str, figure: Figure[Any] | None, words: Words) -> str:
    """A figure's value with its unit, where that says more than percent, ages and years do; before several numbers."""
    if figure is None or "share" in figure.unit:
        return value
    return words("cell.of_many" if isinstance(figure.value, tuple) else "cell.of_one", value=value, unit=unit)


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
    else:
        st.markdown(words("sources.own_season"))
    bullets(
        words("screen.sources.month_share", month=words.month_name(month), share=words.percent(share, 1))
        for month, share in enumerate(season.shares, start=1)
        if share > 0
    )


def _cautions(farm: Scenario, words: Words) -> None:
    """What to beware of."""
    show_table(figures.cautions(farm.techniques, words))


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
