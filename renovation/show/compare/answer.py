"""The answer of a comparison in sentences: where it turns, with hands that begin and after practice.

No sentence stands here: each function chooses a key of the catalogue (`compare.*`) and the facts it needs.
"""

from collections.abc import Sequence

from renovation.decide import Comparison, Swing
from renovation.decide.hands import Turn, months_tried, take_after_practice
from renovation.show.compare.sentences import (
    best,
    case_of_best,
    headline,
    not_possible,
    payback_case,
    paybacks,
    rests_on,
    worth_facts,
)
from renovation.show.compare.tables import measure_cells
from renovation.show.grid import Table, column
from renovation.show.voice import Voice
from renovation.words import Words


def answer(comparison: Comparison, swings: Sequence[Swing], words: Words) -> list[str]:
    """The whole answer in order: where it turns, the way worth most, paybacks, its range, what is left out.

    swings: the ranges of the headline technique; none where there is no headline.
    """
    return [leading(comparison, words), *worth_most(comparison, words), *behind(comparison, swings, words)]


def leading(comparison: Comparison, words: Words) -> str:
    """Say first the take at which the answer turns, or that none turns it; without grafts the paybacks."""
    return " ".join(turns(comparison, words)) or headline(comparison, words)


def behind(comparison: Comparison, swings: Sequence[Swing], words: Words) -> list[str]:
    """What stands behind the answer: what its takes stand for, the paybacks, its range, what is left out."""
    said = []
    if turns(comparison, words):
        if comparison.turns:
            said.append(words("compare.turn.counts"))
        said.append(headline(comparison, words))
    later = comparison.after_practice
    if later is not None and comparison.headline is not None:
        said.append(words("compare.hands.paybacks", said=paybacks(later, words)))
    said.append(one_take(comparison, words))
    if comparison.headline is not None and swings:
        said += rests_on(comparison, comparison.headline, swings, words)
    said += [not_possible(comparison, words), *empty_places(comparison, words)]
    return [sentence for sentence in said if sentence]


def empty_places(comparison: Comparison, words: Words) -> list[str]:
    """What each way for the stand's empty places is worth, beside leaving them empty; nothing without any."""
    gaps = comparison.on_empty_places
    if gaps is None:
        return []
    voice = Voice.of(comparison.scenario, words)
    facts = {
        "stand": comparison.stand,
        "places": words("unit.places", n=gaps.trees),
        "horizon": voice.whole_years(comparison.scenario.appraisal.horizon_years),
    }
    said = []
    for key, outcome in gaps.outcomes.items():
        npv, payback = outcome.measures.npv, outcome.measures.payback_years
        case = f"more_{payback_case(payback)}" if npv > 0 else "less"
        more = {"money": voice.money(abs(npv)), "span": words.span(payback or 0)}
        said.append(voice.sentence(f"compare.gaps.{case}", way=voice.way_inside(key), **more, **facts))
    return said + [
        voice.sentence("compare.gaps.no_start", way=voice.way_inside(key), **facts) for key in gaps.not_possible
    ]


def one_take(comparison: Comparison, words: Words) -> str:
    """The ways of grafting of which one take is stated for all hands; empty where practice brings each a higher one."""
    scenario = comparison.scenario
    voice = Voice.of(scenario, words)
    stated = {key: scenario.techniques[key].take.value for key in comparison.graft_curves}
    ways = [
        voice("compare.hands.take_of", way=voice.way_inside(key), take=words.rate(takes[0]))
        for key, takes in stated.items()
        if set(takes) == {take_after_practice(scenario, key)}
    ]
    return words("compare.hands.one_take", n=len(ways), takes=words.listing(ways)) if ways else ""


def worth_most(comparison: Comparison, words: Words) -> list[str]:
    """The way worth most: with hands that begin and after practice where takes rise, else once."""
    later, voice = comparison.after_practice, Voice.of(comparison.scenario, words)
    if not comparison.outcomes:
        return []
    if later is None:
        return [best(comparison, words)]
    if comparison.best is not None and comparison.best == later.best and len(comparison.outcomes) > 1:
        facts = worth_facts(comparison, words)
        return [voice.at_head(words("compare.hands.both", **facts, later=worth_facts(later, words)["money"]))]
    return [
        voice.at_head(words(f"compare.hands.{hands}.{case_of_best(asked)}", **worth_facts(asked, words)))
        for hands, asked in (("begin", comparison), ("after", later))
    ]


def turns(comparison: Comparison, words: Words) -> list[str]:
    """The takes at which another way becomes the one worth most; nothing where no way is a graft."""
    if not comparison.graft_curves or len(comparison.outcomes) < 2:
        return []
    if not comparison.turns:
        # the same at every take
        way = comparison.best_at(min(curve.highest for curve in comparison.graft_curves.values()) / 2)
        if way is None:
            return [words("compare.turn.none_leave")]
        return [words("compare.turn.none", way=Voice.of(comparison.scenario, words).way_inside(way))]
    return [_turn(comparison, turn, words) for turn in comparison.turns]


def _turn(comparison: Comparison, turn: Turn, words: Words) -> str:
    """One take at which the answer turns."""
    voice = Voice.of(comparison.scenario, words)
    sides = {
        side: words("compare.turn.leave") if key is None else voice.way_inside(key)
        for side, key in (("below", turn.below), ("above", turn.above))
    }
    return words("compare.turn.at", take=words.percent(turn.take, 1), **sides)


HANDS = ("take", "npv", "payback_years")
"""What is set out for both hands."""


def both_hands(comparison: Comparison, words: Words) -> Table | None:
    """Worth and payback of each way with hands that begin and after practice; None where no take changes."""
    later = comparison.after_practice
    if later is None:
        return None
    columns = [column("column.technique", words)]
    columns += [column(f"column.{name}_{hands}", words, "right") for name in HANDS for hands in ("begin", "after")]
    order = tuple(comparison.outcomes)
    sides = [_cells(asked, order, name, words) for name in HANDS for asked in (comparison, later)]
    names = [words.name("technique", key, outcome.label) for key, outcome in comparison.outcomes.items()]
    return Table(words("table.both_hands"), tuple(columns), tuple(zip(names, *sides, strict=True)))


def _cells(comparison: Comparison, order: Sequence[str], name: str, words: Words) -> list[str]:
    """A measure of each way, or its takes by project year; a dash where nothing has to take."""
    if name != "take":
        return measure_cells(comparison, order, name, words)
    return [
        words("measure_cell.blank")
        if comparison.scenario.techniques[key].family == "prune"
        else ", ".join(words.rate(take) for take in comparison.scenario.techniques[key].take.value)
        for key in order
    ]


def tried(comparison: Comparison, key: str, words: Words) -> str:
    """The months in which a tree is tried again, and which of them the way does not start in; empty for one try."""
    scenario, outcome = comparison.scenario, comparison.outcomes[key]
    technique = scenario.techniques[key]
    again = months_tried(technique, outcome.start, scenario.appraisal.months)[1:]
    if not again:
        return ""
    voice = Voice.of(scenario, words)
    named = words.listing([voice.month(month) for month in again])
    said = voice.sentence("compare.tries.again", way=voice.way_inside(key), months=named)
    first = scenario.appraisal.start_calendar_month - 1
    unusual = dict.fromkeys(month for at in again if (month := (first + at) % 12 + 1) not in technique.start_months)
    if not unusual:
        return said
    outside = words.listing([words.month_name(month) for month in unusual])
    return f"{said} {words('compare.tries.outside', n=len(unusual), months=outside)}"
