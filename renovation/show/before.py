"""What a change made different, in one sentence a page: the number now, and how much more or less than before."""

from collections.abc import Sequence

from renovation.decide import Comparison
from renovation.decide.plan import Plan
from renovation.farm import HouseholdCash
from renovation.show.voice import Voice
from renovation.words import Words


def compared(now: Comparison, before: Comparison, shown: Sequence[str], words: Words) -> str:
    """What each shown way is worth beside leaving the farm as it is, and how that has moved."""
    voice = Voice.of(now.scenario, words)
    ways = [
        words(
            "before.way",
            way=voice.way(key),
            amount=_moved(now.outcomes[key].npv, before.outcomes[key].npv if key in before.outcomes else None, voice),
        )
        for key in shown
    ]
    return words("before.compare", ways=words.listing(ways))


def cash(now: HouseholdCash, before: HouseholdCash, words: Words) -> str:
    """The lowest balance with the plan, and how it has moved."""
    voice = Voice.about(now, words)
    return words("before.cash", amount=_moved(now.with_plan.deepest, before.with_plan.deepest, voice))


def plan(now: Plan, before: Plan, words: Words) -> str:
    """What the plan is worth and how many trees it treats this year, beside the plan made before."""
    voice = Voice.of(now.scenario, words)
    trees, earlier = (sum(start.trees for start in one.starts if start.year == 1) for one in (now, before))
    facts = {"trees": voice.trees(trees), "before": words.number(earlier)}
    return words("before.plan", amount=_moved(now.npv, before.npv, voice), **facts)


def _moved(now: float, before: float | None, voice: Voice) -> str:
    """An amount, and how far it has moved as far as that can be said."""
    said = voice.money(now)
    if before is None:
        return voice("before.new", now=said)
    if said == voice.money(before):
        return voice("before.same", now=said)
    return voice("before.more" if now > before else "before.less", now=said, by=voice.money(abs(now - before)))
