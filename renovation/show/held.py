"""What was held of the takes before, what was counted, what is held now: in sentences, for every page (method §10)."""

from renovation.decide.belief import Practice, beliefs_of, practice_of
from renovation.decide.held import worked_of
from renovation.decide.learners import learners_of
from renovation.inputs import GraftRecord, Scenario, month_count, year_month
from renovation.inputs.planning import Planning
from renovation.money.learning import Belief
from renovation.show.voice import Voice
from renovation.words import Words


def record_sentences(scenario: Scenario, words: Words, planning: Planning | None = None) -> list[str]:
    """What was held before, what was counted, what is held now: of the ways that learn, and of each other way.

    planning: the scenario's own where None.
    """
    planning, voice = scenario.planning if planning is None else planning, Voice.of(scenario, words)
    practice = practice_of(scenario, planning)
    learners = () if practice is None else practice.learners
    lines = [] if practice is None else _practice_says(practice, voice)
    before = Belief(planning.prior_taken, planning.prior_failed)
    for key, now in beliefs_of(planning).items():
        if key in learners:
            continue
        mine = [record for record in planning.records if record.technique == key]
        way = voice.way(key)
        lines += [
            voice("plan.record_before", way=way, **_shares(before, voice)),
            voice(
                "plan.record_counted",
                way=way,
                made=voice.words.number(sum(record.made for record in mine)),
                taken=voice.words.number(sum(record.taken for record in mine)),
            ),
            voice("plan.record_now", way=way, **_shares(now, voice)),
        ]
    return lines


def held_sentences(scenario: Scenario, words: Words) -> list[str]:
    """What stands behind takes and days of a farm on which grafts were counted; nothing where none were."""
    if not scenario.planning.records:
        return []
    said = [*record_sentences(scenario, words), *work_sentences(scenario, words)]
    return [*said, words("plan.held_everywhere")]


def work_sentences(scenario: Scenario, words: Words, way: str | None = None) -> list[str]:
    """Days for 100 trees of each piece of work on record, of one way or all: held before, counted, held now."""
    voice = Voice.of(scenario, words)
    return [
        voice(
            "plan.work_counted",
            way=voice.way(one.technique),
            work=voice.work(one.operation),
            before=voice.days(100 * one.before),
            days=voice.days(one.days),
            trees=voice.trees(one.trees),
            now=voice.days(100 * one.now),
        )
        for one in worked_of(scenario, scenario.planning)
        if way in (None, one.technique)
    ]


def taught(scenario: Scenario, key: str) -> bool:
    """Whether a way's take follows from practice or records, so that the one in its table is not used."""
    planning = scenario.planning
    return key in learners_of(scenario, planning.learning) or key in beliefs_of(planning)


def season_said(record: GraftRecord, scenario: Scenario, words: Words) -> str:
    """The twelve months of a record's season, counted back from the farm's start; empty where none is stated.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> record = GraftRecord(technique="side_graft", made=9, taken=3, season="2025-11")
        >>> season_said(record, demo_scenario("first_grafters"), Words("en"))
        'January 2025 to December 2025'
    """
    return "" if record.season is None else season_of(season_start(record.season, scenario), words)


def season_start(month: str, scenario: Scenario) -> int:
    """The first month, as a month count, of the season that a month `YYYY-MM` lies in."""
    start = month_count(scenario.appraisal.start)
    return start + (month_count(month) - start) // 12 * 12


def season_of(first: int, words: Words) -> str:
    """A season by its first and its last month."""
    return words("plan.season", first=words.month(year_month(first)), last=words.month(year_month(first + 11)))


def _practice_says(practice: Practice, voice: Voice) -> list[str]:
    """What was held before, what was counted and what is held now of ways that learn together; nothing uncounted."""
    before, now = practice.held_before(), practice.held_now()
    if before is None or now is None:
        return []
    number = voice.words.number
    counted = [
        voice("plan.practice_counted", season=number(place), made=number(season.made), taken=number(season.taken))
        for place, season in enumerate(practice.seasons, 1)
    ]
    ways = voice.words.listing([voice.way_inside(key) for key in practice.learners])
    return [
        voice("plan.practice_before", grafts=number(round(practice.before)), **_shares(before, voice)),
        *counted,
        voice("plan.practice_now", ways=ways, **_shares(now, voice)),
    ]


def _shares(belief: Belief, voice: Voice) -> dict[str, str]:
    """Mean and the ends of the 90 % interval in words."""
    mean, low, high = (voice.words.percent(share) for share in (belief.mean, *belief.interval()))
    return {"mean": mean, "low": low, "high": high}
