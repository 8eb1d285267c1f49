"""What was counted of the family's own grafts, and how the take rises with practice, in sentences under `plan.*`."""

from renovation.decide.plan.learned import AtRate, LearnedPlan
from renovation.show.held import record_sentences
from renovation.show.plan.broken import breach_sentence
from renovation.show.voice import Voice
from renovation.words import Words


def learning_sentences(learned: LearnedPlan, words: Words) -> list[str]:
    """What the records say, and how the take rises with the plan's own practice."""
    voice = Voice.of(learned.plan.scenario, words)
    lines = record_sentences(learned.plan.scenario, words, learned.plan.problem.planning)
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
    if not learned.rounds:
        return lines
    cut_short = learned.plan.solution.status == "cancelled"
    settled = "settled" if learned.settled else "settled_unknown" if cut_short else "not_settled"
    return [*lines, voice(f"plan.{settled}", ways=ways)]


def _how_fast(learned: LearnedPlan, voice: Voice) -> list[str]:
    """What the same plan is worth to hands that learn slowly and to hands that learn fast; nothing if that is one."""
    if not learned.at_rates:
        return []
    fast, slow = learned.at_rates
    if abs(fast.npv - slow.npv) <= learned.plan.problem.money_unit / 2:
        return []
    after = next((year + 1 for year, grafts in enumerate(learned.grafts) if grafts >= 0.5), 0)

    def facts(end: AtRate) -> dict[str, str]:
        take = voice.words.percent(end.takes[min(after, len(end.takes) - 1)])
        return {"take": take, "amount": voice.money(end.npv)}

    lines = [
        voice("plan.learning_slow", year=voice.words.number(after + 1), **facts(slow)),
        voice("plan.learning_fast", **facts(fast)),
    ]
    broken = [breach_sentence(breach, learned.plan, voice.words) for breach in slow.breaches[:1]]
    return lines + [voice("plan.learning_breaks", breach=breach) for breach in broken]
