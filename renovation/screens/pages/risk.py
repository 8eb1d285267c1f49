"""Risk: strategies side by side on the same futures, the answer first, then a picture for each question."""

from collections.abc import Iterator

import streamlit as st

from renovation.decide.risk import Answers, RiskResult, Strategy, strategies_of
from renovation.decide.risk.strategy import LEAVE, PLAN
from renovation.inputs import Scenario
from renovation.screens.controls import drivers
from renovation.screens.controls.text import bullets, in_columns, plain, section, show_chart, show_table, small
from renovation.screens.memory import results, state
from renovation.screens.memory import risk as risk_results
from renovation.screens.memory.state import key_of
from renovation.screens.parts import followed, head
from renovation.screens.parts import futures as futures_part
from renovation.show import looks
from renovation.show.risk import answers as risk_answers
from renovation.show.risk import charts as risk_charts
from renovation.show.risk import sentences as risk_sentences
from renovation.show.risk import tables as risk_tables
from renovation.show.voice import Voice
from renovation.words import Words

PARTS = ("cash", "chances", "hard", "bars", "table", "figures")


def draw() -> None:
    """Draw the page."""
    farm, words = head.begin("screen.page.risk", answers_first=True)
    first = st.container()
    if state.in_room():
        head.notes(farm, words)
    followed.draw(farm, words)
    strategies = _strategies(farm, words)
    if not strategies:
        st.warning(words("risk.none"))
        futures_part.draw(farm, words)
        return
    found = head.unless_refused(lambda: _judged(farm, strategies, words))
    if found is None:
        return
    if state.in_room():
        with first:
            _to_a_room(found, words)
    _answer(found, words)
    if not state.in_room():
        _worth(found, words)
    _details(farm, strategies, found, words)


def _to_a_room(found: RiskResult, words: Words) -> None:
    """Before anything else: the first strategy's answer, and what each is worth, drawn."""
    st.header(plain(risk_answers.worth(found, _doing(found)[0], words)), anchor=False)
    show_chart(risk_charts.worth_chart(found, words), key="worth")


def _strategies(farm: Scenario, words: Words) -> tuple[Strategy, ...]:
    """Choose which strategies stand side by side: the plan, the headline's ways, and others."""
    comparison = results.compared(farm)
    pair = [key for key in (comparison.headline, comparison.against) if key]
    ways = [*pair, *(key for key in comparison.outcomes if key not in pair)]
    options = [*([PLAN] if farm.plan else []), *ways]
    if not options:
        return ()
    usual = [*([PLAN] if farm.plan else []), *pair, *(key for key in drivers.beside() if key in ways)]
    kept, name = state.memory("risk_beside"), f"{state.edition()}|{'|'.join(options)}"
    key = f"strategies|{name}"
    if key not in st.session_state:
        st.session_state[key] = kept.get(name, list(dict.fromkeys(usual))[: looks.MOST])
    chosen = st.pills(
        words("screen.risk.strategies", n=words.number(looks.MOST)),
        options,
        selection_mode="multi",
        key=key,
        format_func=lambda one: plain(Voice.of(farm, words).strategy(one)),
    )
    kept[name] = list(chosen)
    if len(chosen) > looks.MOST:
        left_out = [Voice.of(farm, words).strategy(one) for one in chosen[looks.MOST :]]
        too_many = words("screen.risk.too_many", ways=words.listing(left_out), most=looks.MOST)
        st.warning(plain(too_many))
    shown = [one for one in options if one in chosen[: looks.MOST]] or options[:1]
    known = {strategy.key: strategy for strategy in strategies_of(farm, ways)}
    return tuple(known[one] for one in shown)


def _judged(farm: Scenario, strategies: tuple[Strategy, ...], words: Words) -> RiskResult:
    """Try the futures, with the share done in sight while they are tried."""
    slot = st.empty()
    futures = words("unit.futures", n=farm.risk.draws)

    def show(place: int, share: float) -> None:
        if place:
            said = words("screen.risk.waiting", place=words.number(place))
        else:
            said = words("screen.risk.working", futures=futures, share=words.percent(share))
        slot.progress(share, said)

    found = risk_results.judged(farm, strategies, show)
    slot.empty()
    return found


def _doing(found: RiskResult) -> list[Answers]:
    """The answers of the strategies that do something."""
    return [answer for key, answer in found.answers.items() if key != LEAVE]


def _answer(found: RiskResult, words: Words) -> None:
    """Each strategy in one sentence, the first one large; how ways on the same trees stand against each other."""
    futures = words("unit.futures", n=found.number)
    st.caption(plain(words("screen.risk.subject", name=found.scenario.about.name, futures=futures)))
    first, *rest = (risk_answers.worth(found, answer, words) for answer in _doing(found))
    if not state.in_room():
        st.header(plain(first), anchor=False)
    for sentence in rest:
        st.markdown(f"**{plain(sentence)}**")
    ahead = risk_answers.side_by_side(found, words)
    if ahead:
        st.markdown(plain(" ".join(ahead)))
    small([*risk_sentences.precision(found, words), words("risk.note")])


def _worth(found: RiskResult, words: Words) -> None:
    """What each is worth, drawn."""
    st.subheader(words("screen.risk.worth_title"), anchor=False)
    bullets(risk_answers.middle(found, answer, words) for answer in _doing(found))
    show_chart(risk_charts.worth_chart(found, words), key="worth")


def _details(farm: Scenario, strategies: tuple[Strategy, ...], found: RiskResult, words: Words) -> None:
    """The rest, one thing at a time; only what is open is worked out."""
    part = section("risk", PARTS)
    if part == "cash":
        _cash(found, words)
    elif part == "chances":
        _chances(found, words)
    elif part == "hard":
        _hard(farm, strategies, words)
    elif part == "bars":
        _bars(farm, strategies, words)
    elif part == "table":
        show_table(risk_tables.answers(found, words))
        st.caption(plain(risk_answers.tried(found, words)))
    else:
        futures_part.draw(farm, words)


def _cash(found: RiskResult, words: Words) -> None:
    """The money in hand of each strategy as a fan, all on one scale."""
    span = risk_charts.fan_span(found)
    for answer in _side_by_side(found, words):
        st.markdown(plain(risk_charts.fan_finding(found, answer, words)))
        show_chart(risk_charts.fan_chart(found, answer.key, words, span=span), key=f"fan_{answer.key}")
    st.caption(plain(risk_answers.tried(found, words)))


def _chances(found: RiskResult, words: Words) -> None:
    """Chances of each strategy by year, all on one scale."""
    for answer in _side_by_side(found, words):
        st.markdown(plain(risk_answers.chances(found, answer, words)))
        show_chart(risk_charts.chance_chart(found, answer.key, words), key=f"chances_{answer.key}")
    st.caption(plain(risk_answers.tried(found, words)))
    show_table(risk_tables.chances_by_year(found, words))


def _side_by_side(found: RiskResult, words: Words) -> Iterator[Answers]:
    """Each strategy in a column under its name, two beside each other; leaving things alone comes last."""
    alone, *others = found.answers.values()
    for answer in in_columns([*others, alone], 2):
        st.markdown(f"**{plain(Voice.of(found.scenario, words).strategy(answer.key))}**")
        yield answer


def _hard(farm: Scenario, strategies: tuple[Strategy, ...], words: Words) -> None:
    """The named hard cases, one at a time and together."""
    tests = risk_results.stressed(farm, strategies)
    bullets(risk_sentences.hardest(tests, words))
    st.markdown(words("screen.risk.hard_lead"))
    for key in tests.rows:
        st.markdown(f"**{plain(Voice.of(farm, words).strategy(key))}**")
        show_table(risk_tables.stress(tests, key, words))
    small(risk_sentences.case_notes(tests, words))


def _bars(farm: Scenario, strategies: tuple[Strategy, ...], words: Words) -> None:
    """What the answer of one way rests on, figure by figure."""
    comparison = results.compared(farm)
    ways = [strategy.key for strategy in strategies if strategy.key in comparison.outcomes] or list(comparison.outcomes)
    if not ways:
        st.markdown(words("screen.map.none"))
        return
    way = ways[0]
    if len(ways) > 1:
        key = key_of(f"bars_of|{'|'.join(ways)}")
        way = st.selectbox(
            words("screen.risk.bars_of"), ways, key=key, format_func=lambda k: Voice.of(farm, words).way(k)
        )
    found = risk_results.ranked(farm, way)
    bullets(risk_sentences.rests_on(found, words))
    show_chart(risk_charts.bars_chart(found, words), key=f"bars_{way}")
    every = st.toggle(words("screen.risk.every_figure", n=words.number(len(found.bars))), key=key_of("every_figure"))
    show_table(risk_tables.bars(found, words, None if every else risk_charts.BARS_SHOWN))
    st.caption(words("sensitivity.note"))
