"""Practise first, in sentences and drawn: keys `compare.practise`, `chart.practise`."""

import numpy as np

from renovation.decide import Comparison
from renovation.decide.practise import PractiseFirst
from renovation.show import drawing as draw
from renovation.show.vega import Chart, Layer, Part, columns, encoding
from renovation.show.voice import Voice
from renovation.words import Words

LEAST_DRAWN, SHARE_DRAWN = 20, 4
"""First trees up to this many are drawn, or up to so many times the best."""


def practise_sentences(found: PractiseFirst | None, comparison: Comparison, words: Words) -> list[str]:
    """How many trees to graft first and what of them must live, what that rests on, a trained grafter beside it."""
    if found is None:
        return []
    voice = Voice.of(comparison.scenario, words)
    facts = {"way": voice.way_inside(found.technique), "stand": found.stand, "trees": voice.trees(found.trees)}
    said = [voice.sentence(f"compare.practise.{_case(found)}", **facts, **_numbers(found, voice))]
    held = {"mean": words.percent(found.belief.mean), "n": round(found.belief.alpha + found.belief.beta)}
    said.append(words("compare.practise.held", **held))
    if found.trained:
        own = voice.money(max(0.0, found.worth))
        beside = [
            voice("compare.practise.trained_way", way=voice.way_inside(one.technique), money=voice.money(one.worth))
            for one in found.trained
        ]
        said.append(voice.sentence("compare.practise.trained", ways=words.listing(beside), own=own))
    else:
        said.append(words("compare.practise.no_trained"))
    return said


def _case(found: PractiseFirst) -> str:
    if not found.decides_at_once:
        return "first"
    return "all" if found.trial.mean > 0 else "none"


def _numbers(found: PractiseFirst, voice: Voice) -> dict[str, str]:
    """The numbers of a trial; none where it gains nothing."""
    if found.live is None:
        return {}
    live, value = voice.words.number(found.live), voice.money(found.trial.value)
    return {"first": voice.trees(found.first), "live": live, "value": value}


def practise_chart(found: PractiseFirst, comparison: Comparison, words: Words, *, height: int = 300) -> Chart:
    """Worth of practising on so many trees first, beside deciding on all at once; the best of them marked."""
    voice = Voice.of(comparison.scenario, words)
    last = min(found.trial.worth.size - 1, max(LEAST_DRAWN, SHARE_DRAWN * (found.first % found.trees)))
    trees = np.arange(last + 1)
    worth = found.trial.worth[: last + 1] - max(0.0, found.trial.all_now)
    span = draw.span_of([worth, np.zeros(1)])
    rows = [
        {"trees": n, "worth": value, "money": voice.money(value)}
        for n, value in zip(trees.tolist(), worth.tolist(), strict=True)
    ]
    axis = Part(grid=False, tickMinStep=1, tickCount=6, format="d")
    scale = Part(domain=[0, last], nice=False)
    x = encoding("trees:Q", title=words("chart.practise.trees_axis"), scale=scale, axis=axis)
    y = draw.left_axis("worth:Q", span, draw.money_axis(words, span))
    tips = [
        encoding("trees:Q", title=words("chart.practise.trees_axis")),
        encoding("money:N", title=words("chart.tip.npv")),
    ]
    line = Layer(rows).mark("line", strokeWidth=3, color=draw.COLOURS[0]).encode(x=x, y=y, tooltip=tips)
    zero = Layer(columns(worth=0.0)).mark("rule", color=draw.INK, strokeWidth=2).encode(y=y)
    marked = [row for row in rows if row["trees"] == found.first]
    best = Layer(marked).mark("point", filled=True, size=170, opacity=1, color=draw.COLOURS[1])
    layers = [zero, line, *([best.encode(x=x, y=y, tooltip=tips)] if marked else [])]
    finding = practise_sentences(found, comparison, words)[0]
    return draw.finish(words, layers, words("chart.practise.axis", currency=voice.sign), finding, height)
