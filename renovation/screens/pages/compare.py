"""Compare: the answer first, then crop, cash, what it rests on, and the tables behind it."""

import streamlit as st

from renovation.decide import Comparison
from renovation.inputs import Scenario
from renovation.screens.controls import drivers, room
from renovation.screens.controls.begin import begin_button
from renovation.screens.controls.text import (
    bullets,
    in_columns,
    metric,
    plain,
    section,
    show_chart,
    show_table,
    small,
)
from renovation.screens.memory import before, results, state
from renovation.screens.parts import before as before_part
from renovation.screens.parts import head, planting
from renovation.show import before as moved
from renovation.show import figures, looks
from renovation.show.compare import answer, charts, sentences, tables
from renovation.show.compare.practise import practise_chart, practise_sentences
from renovation.show.guesses import most_telling
from renovation.show.held import held_sentences
from renovation.show.planting import way_sentences
from renovation.show.voice import Voice
from renovation.words import Words


def draw() -> None:
    """Draw the page."""
    farm, words = head.begin(answers_first=True)
    first = st.container()
    if state.in_room():
        head.notes(farm, words)
    elif state.is_demo():
        begin_button("compare")
    comparison = results.compared(farm)
    bullets(most_telling(comparison, words))
    st.caption(plain(sentences.subject(comparison, words)))
    _answer(comparison, words)
    _other_pair(farm, comparison, words)
    shown = _shown(farm, comparison, words)
    if not shown:
        return
    if state.in_room():
        with first:
            _to_a_room(comparison, shown, words)
    else:
        _figures(comparison, shown, words)
    _crop(comparison, shown, words)
    if not state.in_room():
        _cash(comparison, shown, words)
    _details(farm, comparison, shown, words)
    _cautions(farm, shown, words)


def _to_a_room(comparison: Comparison, shown: list[str], words: Words) -> None:
    """Before anything else: the way worth most, what a change has moved, the money in a chart, a card for each way."""
    st.header(plain(sentences.best(comparison, words)), anchor=False)
    stood = before.farm()
    was = None if stood is None else results.compared(stood)
    if was is not None:
        before_part.draw(moved.compared(comparison, was, shown, words))
    chart = charts.cumulative_cash_chart(comparison, shown, words, before=was, height=room.HEIGHT)
    show_chart(chart, key="cash")
    _figures(comparison, shown, words, beside=len(shown))
    bullets([sentences.trough(comparison, key, words) for key in shown])


def _answer(comparison: Comparison, words: Words) -> None:
    """The answer in sentences, the first one large."""
    swings = results.swings(comparison, comparison.headline) if comparison.headline else ()
    st.header(plain(answer.leading(comparison, words)), anchor=False)
    for sentence in answer.worth_most(comparison, words):
        st.markdown(f"**{plain(sentence)}**")
    if said := answer.behind(comparison, swings, words):
        st.markdown(plain(" ".join(said)))
    if said := practise_sentences(results.practised_first(comparison), comparison, words):
        st.markdown(plain(said[0]))


def _other_pair(farm: Scenario, comparison: Comparison, words: Words) -> None:
    """Say so where a way chosen in the sidebar cannot be compared here and another stands in its place."""
    chosen = (farm.comparison.headline, farm.comparison.against)
    missing = [Voice.of(farm, words).way(key) for key in chosen if key not in comparison.outcomes]
    if missing and comparison.outcomes:
        said = words("screen.compare.other_pair", ways=words.listing(missing), stand=comparison.stand)
        st.warning(plain(said))
    if farm.stand(comparison.stand).untouched:
        st.warning(plain(words("screen.compare.untouched", stand=comparison.stand)))


def _shown(farm: Scenario, comparison: Comparison, words: Words) -> list[str]:
    """The headline pair and the ways chosen to stand beside it, those that can be compared."""
    pair = [key for key in (comparison.headline, comparison.against) if key]
    others = [key for key in comparison.outcomes if key not in pair]
    room = looks.MOST - len(pair)
    key = f"beside|{state.edition()}|{'|'.join(pair)}"
    if key not in st.session_state:
        st.session_state[key] = [way for way in drivers.beside() if way in others][:room]
    if others:
        chosen = st.pills(
            words("screen.compare.beside", n=words.number(room)),
            others,
            selection_mode="multi",
            key=key,
            format_func=lambda way: plain(Voice.of(farm, words).way(way)),
        )
        if len(chosen) > room:
            left_out = [Voice.of(farm, words).way(way) for way in chosen[room:]]
            too_many = words("screen.compare.too_many", ways=words.listing(left_out), most=looks.MOST)
            st.warning(plain(too_many))
        drivers.set_beside(list(chosen[:room]))
        pair += chosen[:room]
    return pair


def _figures(comparison: Comparison, shown: list[str], words: Words, beside: int = 1) -> None:
    """Four figures of each way, so many ways beside each other."""
    for key in in_columns(shown, beside):
        with st.container(border=True):
            st.markdown(f"**{plain(Voice.of(comparison.scenario, words).way(key))}**")
            with st.container(horizontal=True, gap="medium"):
                for name in ("payback_years", "npv", "most_money_out", "return_per_day"):
                    said = tables.measure_cell(comparison, key, name, words)
                    metric(words(f"measure.{name}"), said, explained=words(f"measure_help.{name}"))


def _crop(comparison: Comparison, shown: list[str], words: Words) -> None:
    """Crop of one tree by way, all on one scale."""
    st.subheader(words("screen.compare.crop"), anchor=False)
    top = charts.most_kg([comparison.outcomes[key] for key in shown])
    for key in in_columns(shown, 2):
        st.markdown(f"**{plain(Voice.of(comparison.scenario, words).way(key))}**")
        show_chart(charts.crop_chart(comparison, key, words, highest=top), key=f"crop_{key}")
        st.caption(plain(f"{sentences.start(comparison, key, words)} {answer.tried(comparison, key, words)}".strip()))


def _cash(comparison: Comparison, shown: list[str], words: Words) -> None:
    """What the work has cost or brought so far."""
    st.subheader(words("screen.compare.cash"), anchor=False)
    show_chart(charts.cumulative_cash_chart(comparison, shown, words), key="cash")
    bullets([sentences.trough(comparison, key, words) for key in shown])


def _details(farm: Scenario, comparison: Comparison, shown: list[str], words: Words) -> None:
    """The rest, one thing at a time."""
    st.subheader(words("screen.compare.details"), anchor=False)
    names = ("measures", "rests_on", "break_even", "stands", "years", "figures", "practise", "materials")
    part = section("compare", names)
    if part == "measures":
        _measures(farm, comparison, shown, words)
    elif part == "rests_on":
        _rests_on(comparison, words)
    elif part == "break_even":
        _break_even(comparison, shown, words)
    elif part == "stands":
        _stands(farm, comparison, shown, words)
    elif part == "years":
        _years(comparison, shown, words)
    elif part == "materials":
        planting.compare_within(farm, comparison.headline, words)
    elif part == "practise":
        _practise(comparison, words)
    else:
        _leading(comparison, shown, words)


def _measures(farm: Scenario, comparison: Comparison, shown: list[str], words: Words) -> None:
    """All measures side by side, and why any is blank."""
    if hands := answer.both_hands(comparison, words):
        st.markdown(f"**{plain(hands.title)}**")
        show_table(hands)
    bullets(held_sentences(farm, words))
    show_table(tables.measures(comparison, words, shown))
    blanks = sentences.blanks([comparison.outcomes[key] for key in shown], words)
    notes = [note for note in sentences.notes(farm, words) if note != words("compare.note.invented")]
    small([*blanks, *notes])


def _practise(comparison: Comparison, words: Words) -> None:
    """How many trees to graft before deciding on the rest."""
    found = results.practised_first(comparison)
    bullets(practise_sentences(found, comparison, words) or [words("screen.compare.no_graft")])
    if found is not None:
        show_chart(practise_chart(found, comparison, words), key="practise")


def _leading(comparison: Comparison, shown: list[str], words: Words) -> None:
    """The figures that matter most, with their sources."""
    farm = comparison.scenario
    leading = figures.leading_figures({key: farm.techniques[key] for key in shown}, farm.appraisal.currency, words)
    show_table(leading, only=("technique", *figures.FIGURE_COLUMNS))
    st.caption(words("screen.compare.more_figures"))


def _rests_on(comparison: Comparison, words: Words) -> None:
    """What moves the answer of the first way."""
    if comparison.headline is None:
        return
    swings = results.swings(comparison, comparison.headline)
    bullets(sentences.rests_on(comparison, comparison.headline, swings, words))
    show_chart(charts.ranges_chart(comparison, comparison.headline, swings, words), key="ranges")
    show_table(tables.ranges(comparison, comparison.headline, swings, words))


def _break_even(comparison: Comparison, shown: list[str], words: Words) -> None:
    """Where each way just pays, and where the pair is worth the same."""
    st.markdown(words("compare.each_alone"))
    for key in shown:
        st.markdown(f"**{plain(Voice.of(comparison.scenario, words).way(key))}**")
        said = [
            *sentences.break_even(comparison, key, words),
            sentences.rate_of_return(comparison, key, words),
        ]
        bullets(said)
    ties = sentences.ties(comparison, words)
    if ties:
        st.markdown(f"**{words('screen.compare.ties')}**")
        bullets(ties)


def _stands(farm: Scenario, comparison: Comparison, shown: list[str], words: Words) -> None:
    """Which way suits which stand."""
    by_stand = results.worth_by_stand(farm)
    if not by_stand:
        st.markdown(words("screen.compare.no_stand"))
        return
    st.markdown(plain(charts.npv_finding(comparison, by_stand, words)))
    # a way that the sentence names stands in the table, and in the chart as long as there is room
    best = [way for row in by_stand.values() if (way := charts.worth_most(row))]
    told = list(dict.fromkeys([*shown, *best]))
    show_chart(charts.npv_chart(comparison, by_stand, told[: looks.MOST], words), key="npv")
    show_table(tables.npv_per_tree(farm, by_stand, words), only=("stand", *told))
    st.caption(words("compare.note.trees_alone"))


def _years(comparison: Comparison, shown: list[str], words: Words) -> None:
    """The year table of one way at a time."""
    names = {key: Voice.of(comparison.scenario, words).way(key) for key in shown}
    key = st.selectbox(words("screen.compare.year_way"), shown, format_func=lambda way: names[way])
    st.caption(plain(tables.years(comparison, key, words).title))
    show_table(tables.years(comparison, key, words))


def _cautions(farm: Scenario, shown: list[str], words: Words) -> None:
    """What to beware of in the ways shown, and whether the clones that they use set fruit."""
    with st.container(border=True):
        st.subheader(words("screen.compare.cautions"), anchor=False)
        table = figures.cautions({key: farm.techniques[key] for key in shown}, words, losses=farm.states_losses)
        bullets(
            [
                *way_sentences(farm, shown, words),
                *(
                    words("compare.caution", caution=record["caution"], ways=record["applies_to"])
                    for record in table.records()
                ),
            ]
        )
