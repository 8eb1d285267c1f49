"""A way is drawn alike on every page and chart, whatever stands beside it, on light and dark ground."""

import itertools

import pytest

from renovation.decide import compare, npv_per_tree
from renovation.decide.replacement import when_to_renovate
from renovation.inputs import default_techniques, demo_scenario
from renovation.show import looks
from renovation.show.compare import charts
from renovation.show.plan import charts as plan_charts
from renovation.show.risk.charts import strategy_styles
from renovation.words import Words

WORDS = Words("en")
FARM = demo_scenario()
COPY = FARM.model_dump()["techniques"]["side_graft"] | {"based_on": "side_graft", "label": "Our own graft"}
WITH_OWN = FARM.changed(techniques={"ours": COPY, **FARM.model_dump()["techniques"]})
GROUNDS = ("#FFFFFF", "#101615")
"""The grounds of `.streamlit/config.toml`."""


def luminance(colour):
    # relative luminance, WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    light, dark = sorted([luminance(one), luminance(other)], reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_is_counted_as_the_guideline_does():
    assert contrast("#FFFFFF", "#000000") == pytest.approx(21)
    # the grey that is just too pale for text, https://webaim.org/resources/contrastchecker/ (from memory)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("ground", GROUNDS)
def test_every_line_stands_out_from_its_ground(ground):
    # WCAG 2.2, 1.4.11: 3 to 1 for what must be seen
    worst = min(
        [*looks.COLOURS, looks.LEFT_ALONE.colour, *(plan.colour for plan in looks.PLANS)],
        key=lambda colour: contrast(colour, ground),
    )
    assert contrast(worst, ground) >= 3.0, worst


def test_the_ways_weighed_most_differ_in_colour_dash_and_marker():
    assert set(looks.FIRST) <= set(default_techniques())
    found = [looks.look(FARM, way) for way in [*looks.FIRST, "gap_planting"]]
    for part in ("colour", "dash", "shape"):
        assert len({str(getattr(one, part)) for one in found}) == len(found)


def test_no_two_ways_have_all_three_alike():
    many = {f"own_{n}": COPY for n in range(30)}
    farm = FARM.changed(techniques={**FARM.model_dump()["techniques"], **many})
    found = {str(looks.look(farm, way)) for way in farm.techniques}
    assert len(found) == len(farm.techniques)


def test_a_way_keeps_its_look_whatever_else_is_weighed_or_shown():
    alone = {key: looks.look(FARM, key) for key in FARM.techniques}
    assert {key: looks.look(WITH_OWN, key) for key in alone} == alone
    assert looks.look(WITH_OWN, "ours") not in alone.values()
    other = demo_scenario("third_year")
    graft = other.model_dump()["techniques"]["side_graft"] | {"based_on": "side_graft", "label": "Our own graft"}
    fewer = other.changed(techniques={"ours": graft, **other.model_dump()["techniques"]})
    assert set(fewer.techniques) < {*WITH_OWN.techniques, "gap_planting"}
    for key in fewer.techniques:
        assert looks.look(fewer, key) == looks.look(WITH_OWN, key)
    for shown in itertools.permutations(("ours", "side_graft", "bud_graft"), 2):
        assert looks.styles(WITH_OWN, shown) == {key: looks.look(WITH_OWN, key) for key in shown}
        assert strategy_styles(WITH_OWN, ("leave", "plan", *shown))[shown[0]] == looks.look(WITH_OWN, shown[0])


def test_more_than_can_be_told_apart_is_refused():
    with pytest.raises(ValueError, match="5 > 4"):
        looks.styles(FARM, list(FARM.techniques)[:5])


def drawn_looks(chart):
    """What a chart's scales give each name: colour, dash, marker."""
    found = {}
    for layer in chart.layers:
        for channel, part in (("color", "colour"), ("strokeDash", "dash"), ("shape", "shape")):
            scale = layer.channels.get(channel, {}).get("scale")
            if scale:
                found |= {(name, part): value for name, value in zip(scale["domain"], scale["range"], strict=True)}
    return found


def test_the_charts_of_ways_draw_each_as_it_is_bound():
    comparison, when = compare(WITH_OWN), when_to_renovate(WITH_OWN)
    shown = ["ours", "bud_graft", "air_layer"]
    stand = comparison.stand
    charts_of_ways = [
        charts.cumulative_cash_chart(comparison, shown, WORDS),
        charts.npv_chart(comparison, npv_per_tree(WITH_OWN), shown, WORDS),
        plan_charts.start_chart(WITH_OWN, [curve for curve in when.starts if curve.stand == stand], WORDS),
        plan_charts.renewal_chart(WITH_OWN, when.renewals, WORDS),
    ]
    bound = {}
    for key, technique in WITH_OWN.techniques.items():
        name, style = WORDS.name("technique", key, technique.label), looks.look(WITH_OWN, key)
        bound |= {(name, part): getattr(style, part) for part in ("colour", "dash", "shape")}
    for chart in charts_of_ways:
        found = drawn_looks(chart)
        assert found
        assert found == {one: bound[one] for one in found}
