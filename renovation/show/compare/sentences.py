"""A comparison in sentences, answer first: pure functions of its result.

No sentence stands here: each function chooses a key of the catalogue (`compare.*`) and the facts it needs.
"""

import math
from collections.abc import Iterable, Sequence

from renovation.decide import Comparison, Outcome, Swing
from renovation.decide.switching import Line
from renovation.inputs import Appraisal, Scenario, declared
from renovation.show.clones import of_clones
from renovation.show.voice import WHOLE_FROM, Voice
from renovation.words import Words, smallest_unit

# The answer


def subject(comparison: Comparison, words: Words) -> str:
    """What is compared: how many trees of which stand, from when, for how long."""
    voice = Voice.of(comparison.scenario, words)
    scenario = comparison.scenario
    return words(
        "compare.subject.trees",
        trees=voice.trees(comparison.trees),
        stand=comparison.stand,
        horizon=voice.whole_years(scenario.appraisal.horizon_years),
        month=words.month(scenario.appraisal.start),
    )


def headline(comparison: Comparison, words: Words) -> str:
    """The answer at the head: when the two ways of the headline pay back, or the one there is.

    Example (the two paybacks are the comparison's own):
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> headline(compare(demo_scenario(), techniques=["side_graft"]), Words("en"))[:26]
        'Side grafting pays back in'
    """
    return Voice.of(comparison.scenario, words).at_head(paybacks(comparison, words))


def paybacks(comparison: Comparison, words: Words) -> str:
    """When the two ways of the headline pay back, as it stands inside a sentence."""
    voice = Voice.of(comparison.scenario, words)
    first, second = comparison.headline, comparison.against
    within = voice.whole_years(comparison.scenario.appraisal.horizon_years)
    if first is None:
        return voice("compare.alone.no_way", horizon=within)
    first_way = voice.way_inside(first)
    first_payback = comparison.outcomes[first].measures.payback_years
    if second is None:
        key = f"compare.alone.{payback_case(first_payback)}"
        return voice(key, way=first_way, span=words.span(first_payback or 0), horizon=within)
    second_payback = comparison.outcomes[second].measures.payback_years
    return voice(
        f"compare.pair.{payback_case(first_payback)}_{payback_case(second_payback)}",
        first=first_way,
        second=voice.way_inside(second),
        first_span=words.span(first_payback or 0),
        second_span=words.span(second_payback or 0),
        horizon=within,
    )


def payback_case(payback_years: float | None) -> str:
    """Which of the three cases a payback is: `after` a span, `at_once`, or `not_within` the horizon."""
    if payback_years is None:
        return "not_within"
    return "at_once" if payback_years == 0 else "after"


def best(comparison: Comparison, words: Words) -> str:
    """The way worth most and by how much, or that none is worth it; empty where no way is possible."""
    if not comparison.outcomes:
        return ""
    voice = Voice.of(comparison.scenario, words)
    return voice.sentence(f"compare.best.{case_of_best(comparison)}", **worth_facts(comparison, words))


def case_of_best(comparison: Comparison) -> str:
    """How the best way stands: `worth` or `none_nearest` among several, `only` or `only_none` where it is alone."""
    alone = len(comparison.outcomes) == 1
    if comparison.best is None:
        return "only_none" if alone else "none_nearest"
    return "only" if alone else "worth"


def worth_facts(comparison: Comparison, words: Words) -> dict[str, str]:
    """The way worth most of all, and how much more or less than leaving the farm as it is."""
    voice = Voice.of(comparison.scenario, words)
    top = max(comparison.outcomes.values(), key=lambda outcome: outcome.npv)
    return {"way": voice.way_inside(top.technique), "money": voice.money(abs(top.npv))}


def start(comparison: Comparison, technique: str, words: Words) -> str:
    """When a way starts, with the month of its nursery where it has one."""
    voice = Voice.of(comparison.scenario, words)
    scenario, outcome = comparison.scenario, comparison.outcomes[technique]
    before = scenario.techniques[technique].earliest_month
    way = voice.way_inside(technique)
    month = voice.month(outcome.start)
    if before == 0:
        return voice.sentence("compare.start.field", way=way, month=month)
    early = voice.month(outcome.start + before)
    return voice.sentence("compare.start.nursery", way=way, month=month, early=early)


def trough(comparison: Comparison, technique: str, words: Words) -> str:
    """The deepest point of the cash that the change has brought so far, with its month."""
    voice = Voice.of(comparison.scenario, words)
    outcome = comparison.outcomes[technique]
    amount, month = outcome.most_money_out
    way = voice.way_inside(technique)
    if amount == 0:
        return voice.sentence("compare.trough.none", way=way)
    money = voice.money(-amount)
    return voice.sentence("compare.trough.deepest", way=way, money=money, month=voice.month(month))


def not_possible(comparison: Comparison, words: Words) -> str:
    """The ways that no month of the horizon suits; empty where there is none."""
    voice = Voice.of(comparison.scenario, words)
    ways = [voice.way_inside(key) for key in comparison.not_possible]
    return voice("compare.not_possible", ways=words.listing(ways)) if ways else ""


# What the answer rests on


def rests_on(comparison: Comparison, technique: str, swings: Sequence[Swing], words: Words) -> list[str]:
    """The range of the answer: all together, the figure that moves it most, and which could turn it round."""
    voice = Voice.of(comparison.scenario, words)
    npv = comparison.outcomes[technique].npv
    stated = {"way": voice.way_inside(technique), "npv": voice.money(npv)}
    together = next((swing for swing in swings if swing.driver == "together"), None)
    alone = [swing for swing in swings if swing.driver != "together" and swing.span]
    if together is None or together.span is None:
        said = [voice.sentence("compare.range.answer_open", **stated)]
    else:
        said = [voice.sentence("compare.range.answer", **stated, **_ends(together, voice))]
    if alone:
        widest = max(alone, key=lambda swing: swing.width)
        said_of = words(f"compare.driver.{widest.driver}")
        driver = of_clones(comparison.scenario, technique, widest.driver, said_of, words)
        said.append(voice.sentence("compare.range.rests_on", driver=driver, **_ends(widest, voice)))
        said.append(_turns(npv, alone, voice))
    return said


def _ends(swing: Swing, voice: Voice) -> dict[str, str]:
    low, high = swing.span or (0.0, 0.0)
    return {"low": voice.money(low), "high": voice.money(high)}


def _turns(npv: float, alone: Sequence[Swing], voice: Voice) -> str:
    """Which single figures could turn a gain into a loss, or a loss into a gain."""
    gains = npv > 0
    turning = [s for s in alone if s.span and (s.span[0] < 0 if gains else s.span[1] > 0)]
    drivers = voice.words.listing([voice(f"compare.driver.{swing.driver}") for swing in turning or alone])
    if not turning:
        return voice.sentence("compare.range.holds" if gains else "compare.range.never_gains", drivers=drivers)
    key = "compare.range.turns" if gains else "compare.range.turns_to_gain"
    return voice.sentence(key, n=len(turning), drivers=drivers)


def break_even_case(line: Line, at: float | None) -> str:
    """How a way pays along a driver: still or only, above or below its break-even value, always or never.

    Example (an NPV of 50 at a price of 4, rising by 25 with each unit of price: it pays from 2 on):
        >>> break_even_case(Line(value=4.0, npv=50.0, slope=25.0), 2.0)
        'still_above'
    """
    pays = line.npv >= 0
    if at is None or line.slope == 0:
        return "always" if pays else "never"
    return f"{'still' if pays else 'only'}_{'above' if line.slope > 0 else 'below'}"


def break_even(comparison: Comparison, technique: str, words: Words) -> list[str]:
    """One sentence for each driver: take, price, wage and mature crop at which the way just pays, each moved alone.

    A value is rounded to the side on which the way still pays.
    """
    voice = Voice.of(comparison.scenario, words)
    scenario, outcome = comparison.scenario, comparison.outcomes[technique]
    values, currency = outcome.break_even, scenario.appraisal.currency
    way = voice.way_inside(technique)
    said = [_break_even_take(scenario, outcome, way, words)]
    for driver in ("price_per_kg", "wage_per_day", "mature_crop"):
        if driver not in values.lines:
            continue
        at = getattr(values, driver)
        case = break_even_case(values.lines[driver], at)
        if driver == "mature_crop":
            shown = words.number(on_the_paying_side(at or 0.0, 0.01, case), 2)
        else:
            step = smallest_unit(currency) if (at or 0.0) < WHOLE_FROM else 1.0
            shown = voice.small_money(on_the_paying_side(at or 0.0, step, case))
        said.append(voice.sentence(f"compare.break_even.{driver}.{case}", way=way, value=shown))
    return [sentence for sentence in said if sentence]


def _break_even_take(scenario: Scenario, outcome: Outcome, way: str, words: Words) -> str:
    """The take at which a way just pays, and what it counts for; nothing where nothing has to take."""
    voice = Voice.of(scenario, words)
    values, curve = outcome.break_even, outcome.break_even.take_curve
    if curve is None:
        return ""
    technique = scenario.techniques[outcome.technique]
    kind = "take_graft" if technique.family == "graft" else "take_replant"
    counts = voice.sentence("compare.break_even.take_counts", n=technique.attempts.value)
    first, last = curve.at(0.0), curve.at(curve.highest)
    if len(values.take) > 1 or (values.take and (first < 0) == (last < 0)):
        takes = words.listing([words.percent(take, 1) for take in values.take])
        return f"{voice.sentence(f'compare.break_even.{kind}.several', way=way, value=takes)} {counts}"
    at = values.take[0] if values.take else None
    case = break_even_case(Line(0.0, outcome.npv if values.take else last, last - first), at)
    value = words.percent(on_the_paying_side(at or 0.0, 0.01, case))
    said = voice.sentence(f"compare.break_even.{kind}.{case}", way=way, value=value)
    return said if case in ("always", "never") else f"{said} {counts}"


def on_the_paying_side(value: float, step: float, case: str) -> float:
    """Round up where the way pays above the value, down where it pays below.

    Example:
        >>> on_the_paying_side(1.9631, 0.01, "still_above"), on_the_paying_side(31.8575, 0.01, "still_below")
        (1.97, 31.85)
    """
    steps = round(value / step, 6)
    return (math.floor(steps) if case.endswith("below") else math.ceil(steps)) * step


def ties(comparison: Comparison, words: Words) -> list[str]:
    """Where the two ways of the headline are worth the same; nothing where there is no pair."""
    voice = Voice.of(comparison.scenario, words)
    if comparison.ties is None or comparison.headline is None or comparison.against is None:
        return []
    scenario, tied = comparison.scenario, comparison.ties
    names = {
        "first": voice.way_inside(comparison.headline),
        "second": voice.way_inside(comparison.against),
    }
    first, second = (comparison.outcomes[key].break_even.lines for key in (comparison.headline, comparison.against))
    said = []
    for driver in ("price_per_kg", "wage_per_day"):
        value = getattr(tied, driver)
        if value is not None:
            better = names["first" if first[driver].slope > second[driver].slope else "second"]
            money = voice.small_money(value)
            said.append(voice.sentence(f"compare.tie.{driver}", value=money, better=better, **names))
    # a rate beyond what a farm may state is a root of the sum, but no discount rate that anyone has
    most = declared(Appraisal, "discount_rate").upper or 1.0
    if sensible := [rate for rate in tied.discount_rates if 0 <= rate <= most]:
        rates = words.listing([words.percent(rate, 1) for rate in sensible])
        said.append(voice.sentence("compare.tie.discount_rates", value=rates, **names))
    if tied.take_of_first:
        kind = "take_graft" if scenario.techniques[comparison.headline].family == "graft" else "take_replant"
        takes = words.listing([words.percent(take, 1) for take in tied.take_of_first])
        said.append(voice.sentence(f"compare.tie.{kind}", value=takes, **names))
    return said or [voice.sentence("compare.tie.none", **names)]


# Measures in words


def rate_of_return(comparison: Comparison, technique: str, words: Words) -> str:
    """The rate of return: the one there is, every one of several, or none."""
    voice = Voice.of(comparison.scenario, words)
    irr = comparison.outcomes[technique].measures.irr
    way = voice.way_inside(technique)
    roots = [irr.value] if irr.verdict == "one" and irr.value is not None else list(irr.roots)
    value = words.listing([words.percent(root, 1) for root in roots])
    return voice.sentence(f"compare.irr.{irr.verdict}", way=way, value=value)


BLANKS = ("irr", "mirr", "benefit_cost", "net_benefit_cost", "return_per_day", "return_per_family_day")
"""Measures that may be blank."""


def blanks(outcomes: Iterable[Outcome], words: Words) -> list[str]:
    """Why a measure is blank, one sentence for each measure that is blank for any of the outcomes."""
    blank = set()
    for outcome in outcomes:
        if outcome.measures.irr.verdict == "none":
            blank.add("irr")
        holders = {name: outcome if name.startswith("return_per_") else outcome.measures for name in BLANKS[1:]}
        blank |= {name for name, holder in holders.items() if getattr(holder, name) is None}
    return [words(f"compare.blank.{name}") for name in BLANKS if name in blank]


def notes(scenario: Scenario, words: Words) -> list[str]:
    """What to know before reading: what pays means, today's money, when payback starts, what a day of work counts."""
    voice = Voice.of(scenario, words)
    appraisal, labour_value = scenario.appraisal, scenario.household.labour_value
    later, now = (voice.money(1000 * (1 + r)) for r in (appraisal.discount_rate, 0.0))
    said = [
        words("compare.note.pays"),
        words("compare.note.today", rate=words.rate(appraisal.discount_rate), later=later, now=now),
        words("compare.note.payback_from", month=words.month(appraisal.start)),
    ]
    if labour_value == 0:
        said.append(words("compare.note.no_labour_value"))
    elif labour_value < 1:
        said.append(words("compare.note.labour_value", share=words.percent(labour_value)))
    said += [words("compare.note.losses")] if scenario.states_losses else []
    said += [words("compare.note.payments")] if scenario.states_payments else []
    if scenario.about.invented:
        said.append(words("compare.note.invented"))
    return said
