"""What was counted of the family's own grafts, and how the take rises with practice, in sentences under `plan.*`."""

from renovation.decide.belief import Practice, beliefs_of, practice_of
from renovation.decide.plan.learned import AtRate, LearnedPlan
from renovation.inputs import Scenario
from renovation.inputs.planning import Planning
from renovation.money.learning import Belief
from renovation.show.plan.sentences import breach_sentence
from renovation.show.voice import Voice
from renovation.words import Words


def learning_sentences(learned: LearnedPlan, words: Words) -> list[str]:
    """What the records say, and how the take rises with the plan's own practice."""
    voice = Voice.of(learned.plan.scenario, words)
    lines = _records_say(learned.plan.scenario, learned.plan.problem.planning, voice)
    if not learned.learners:
        return lines
    ways = words.listing([voice.way_inside(key) for key in learned.learners])
    takes = [*learned.takes, learned.takes[-1]]
    lines += [
        voice(
            "plan.practice",
            year=words.number(year + 1),
            grafts=words.number(round(grafts)),
            take=words.percent(takes[min(year, len(takes) - 1)]),
            after=words.percent(takes[min(year + 1, len(takes) - 1)]),
        )
        for year, grafts in enumerate(learned.grafts)
        if grafts >= 0.5
    ]
    lines += _how_fast(learned, voice)
    cut_short = learned.plan.solution.status == "cancelled"
    settled = "settled" if learned.settled else "settled_unknown" if cut_short else "not_settled"
    return [*lines, voice(f"plan.{settled}", ways=ways)]


def _how_fast(learned: LearnedPlan, voice: Voice) -> list[str]:
    """What the same plan is worth to hands that learn slowly and to hands that learn fast; nothing if that is one."""
    if not learned.at_rates:
        return []
    fast, slow = learned.at_rates
    if abs(fast.gain - slow.gain) <= learned.plan.problem.money_unit / 2:
        return []
    after = next((year + 1 for year, grafts in enumerate(learned.grafts) if grafts >= 0.5), 0)

    def facts(end: AtRate) -> dict[str, str]:
        take = voice.words.percent(end.takes[min(after, len(end.takes) - 1)])
        return {"take": take, "amount": voice.money(end.gain)}

    lines = [
        voice("plan.learning_slow", year=voice.words.number(after + 1), **facts(slow)),
        voice("plan.learning_fast", **facts(fast)),
    ]
    broken = [breach_sentence(breach, learned.plan, voice.words) for breach in slow.breaches[:1]]
    return lines + [voice("plan.learning_breaks", breach=breach) for breach in broken]


def record_sentences(scenario: Scenario, words: Words) -> list[str]:
    """What the grafts on record say of the take of each way, before any plan is made."""
    return _records_say(scenario, scenario.planning, Voice.of(scenario, words))


def _records_say(scenario: Scenario, planning: Planning, voice: Voice) -> list[str]:
    """What was held before, what was counted, what is held now: of the ways that learn, and of each other way."""
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
