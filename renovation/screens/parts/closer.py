"""A plan looked at more closely: the bolder one, rules, what holds it back, caution, when to renovate, trees, years."""

from functools import partial

import streamlit as st

from renovation.decide.replacement import WhenToRenovate
from renovation.decide.taught import taught
from renovation.inputs import Scenario
from renovation.screens import jobs, searches
from renovation.screens.controls.text import bullets, plain, section, show_chart, show_table, small
from renovation.screens.memory import plan as plan_results
from renovation.screens.memory.state import key_of
from renovation.screens.parts import adopt, search
from renovation.screens.parts import careful as careful_part
from renovation.screens.searches import Found
from renovation.show.plan import charts as plan_charts
from renovation.show.plan import tables as plan_tables
from renovation.show.plan.learning import learning_sentences
from renovation.show.plan.sentences import caution_sentences, head_in_parts, limit_sentences, when_sentences
from renovation.show.voice import Voice
from renovation.words import Words

PARTS = ("careful", "rules", "limits", "caution", "when", "trees", "years")


def draw(farm: Scenario, found: Found, words: Words) -> None:
    """The rest, one thing at a time."""
    st.subheader(words("screen.plan.why"), anchor=False)
    part = section("plan", PARTS)
    plan = found.plan
    if part == "rules":
        show_table(plan_tables.rules(plan, found.rules, words))
        another = [] if found.learned.plan is plan else [words("plan.which.rules")]
        small([*plan_tables.broken(plan, found.rules, words), *another])
    elif part == "limits":
        expected = found.learned.plan
        bullets(limit_sentences(found.limits, expected, words))
        small([words("screen.plan.limits_note"), *([] if expected is plan else [words("plan.which.limits")])])
    elif part == "caution":
        _caution(farm, found, words)
    elif part == "careful":
        _careful(farm, found, words)
    elif part == "when":
        _when(farm, words)
    elif part == "trees":
        head, parts = head_in_parts(plan, words)
        st.markdown(plain(head))
        bullets(parts)
        bullets(learning_sentences(taught(found.learned, plan), words))
        show_table(plan_tables.trees(plan, words))
    else:
        show_table(plan_tables.years(plan, words))


def _caution(farm: Scenario, found: Found, words: Words) -> None:
    """What a higher floor costs: asked for, since each floor is a search of its own."""
    points = jobs.result(plan_results.question(found.farm), "caution")
    if points is None and search.at_work_below(farm):
        search.at_work()
        return
    if points is None:
        st.markdown(words("screen.plan.caution_lead"))
        st.button(
            words("screen.plan.caution_make"),
            key=key_of("make_caution"),
            disabled=search.busy(),
            on_click=search.start,
            args=("caution", plan_results.question(found.farm), partial(searches.caution, found)),
        )
        return
    plan = found.plan
    chart = plan_charts.caution_chart(plan, points, words)
    if chart is None:
        bullets(caution_sentences(plan, points, words))
    else:
        show_chart(chart, key="plan_caution")
    show_table(plan_tables.floors(plan, points, words))
    if plan.standing == "within_gap" and plan.at_most_better is not None:
        close = Voice.of(plan.scenario, words).money(plan.at_most_better)
        small([words("screen.plan.caution_note", amount=close)])


def _careful(farm: Scenario, found: Found, words: Words) -> None:
    """The plan that keeps floor and instalments in nine futures of ten, beside the bolder one on expected figures."""
    if found.careful is None:
        st.markdown(words("screen.plan.careful_none"))
        return
    bolder = found.learned.plan
    loans = adopt.loans_with(farm, bolder, (bolder.loan,) if bolder.loan else ())
    careful_part.draw(found.careful, adopt.in_use(farm, bolder), lambda: adopt.take_up(bolder.treatments, loans), words)


def _when(farm: Scenario, words: Words) -> None:
    """When to renovate at all: by year of starting, and by age."""
    found = plan_results.when(farm)
    ageing = [curve for curve in found.renewals if curve.best_age is not None]
    bullets([*when_sentences(farm, found.starts, ageing, found.old_trees, words), *_ageless(farm, found, words)])
    stands = list(dict.fromkeys(curve.stand for curve in found.starts))
    if stands:
        stand = st.selectbox(words("screen.cash.stand"), stands, key=key_of(f"when_stand|{'|'.join(stands)}"))
        chart = plan_charts.start_chart(farm, [curve for curve in found.starts if curve.stand == stand], words)
        if chart is not None:
            show_chart(chart, key=f"when_{stands.index(stand)}")
    chart = plan_charts.renewal_chart(farm, found.renewals, words)
    if chart is not None:
        show_chart(chart, key="renewal")
    small([words("screen.plan.when_note")])


def _ageless(farm: Scenario, found: WhenToRenovate, words: Words) -> list[str]:
    """The ways whose trees show no age at which renewing them again pays, in one sentence."""
    ageless = [curve for curve in found.renewals if curve.best_age is None]
    if not ageless:
        return []
    ways = words.listing([Voice.of(farm, words).way(curve.technique) for curve in ageless])
    return [words("plan.when.renewal_none", way=ways, years=words("unit.years", n=ageless[0].lev.size))]
