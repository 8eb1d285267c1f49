"""Which plan is laid out, its promise and the other one's; which plan is followed where none is sought."""

from renovation.decide.risk import Estimate
from renovation.decide.risk.careful import CarefulPlan
from renovation.decide.risk.strategy import CAREFUL, EXPECTED
from renovation.inputs import Scenario
from renovation.show.plan.careful import out_of_reach
from renovation.show.plan.sentences import worth_sentence
from renovation.show.risk.answers import often
from renovation.show.voice import Voice
from renovation.words import Words


def which_sentences(found: CarefulPlan | None, words: Words, *, bolder: bool = False) -> list[str]:
    """The careful plan or the bolder one with its promise, and the other; nothing where no plan keeps every promise.

    found: both. bolder: whether the one on expected figures is laid out.
    """
    if found is None:
        return []
    voice, futures = Voice.of(found.scenario, words), found.result.number
    kept, before = found.kept[CAREFUL], found.kept[EXPECTED]
    facts = {
        "level": voice.money(found.level),
        "amount": voice.money(abs(found.cost)),
        "kept": often(kept, futures, words),
        "lost": often(Estimate(1 - kept.value, kept.error), futures, words),
        "fails": often(Estimate(1 - before.value, before.error), futures, words),
    }
    key = "same" if found.same else "bolder" if bolder else "careful"
    lines = [words(f"plan.which.{key}{'_paid' if found.lends and found.instalments else ''}", **facts)]
    if not found.same:
        lines.append(words(f"plan.which.beside_{key}{'' if found.cost > 0 else '_none'}", **facts))
    if not found.settled:
        lines.append(words("risk.robust.not_settled"))
    if not found.instalments:
        lines.append(words("risk.robust.unpaid"))
    return lines + out_of_reach(found, words)


def followed_sentences(scenario: Scenario, npv: float, words: Words, shown_as: str = "stated") -> list[str]:
    """Which plan is followed by what looks for none, with how many trees, and what it is worth; nothing without one.

    npv: `appraise_plan` of the scenario's own plan. shown_as: as which plan this one was found, else "stated".
    """
    named = followed(scenario, words, shown_as)
    return [named, worth_sentence(npv, scenario, words)] if named else []


def followed(scenario: Scenario, words: Words, shown_as: str = "stated") -> str:
    """The first of them alone; empty without a plan."""
    if not scenario.plan:
        return ""
    return words(
        f"plan.followed.{shown_as}", trees=words("unit.trees", n=sum(treatment.trees for treatment in scenario.plan))
    )
