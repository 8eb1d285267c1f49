"""No plan keeps every promise: the headline, the changes that would make one possible, and what may be said then."""

from collections.abc import Sequence

from renovation.decide.plan.exact import Breach
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.repairs import Repair, first_payout
from renovation.show.voice import Voice
from renovation.words import Words


def breach_sentence(breach: Breach, plan: Plan, words: Words, group: str = "breach") -> str:
    """Which promise is broken, by how much, where; counted from the promise as stated, where the plan's is eased."""
    voice = Voice.of(plan.scenario, words)
    beyond = breach.amount + (getattr(plan.problem.eased, breach.promise, 0.0) if group == "breach" else 0.0)
    return voice(
        f"plan.{group}.{breach.promise}",
        amount=voice.money(beyond) if breach.promise in ("floor", "money", "loan") else "",
        days=voice.days(beyond),
        number=words.number(round(beyond, 1)),
        month="" if breach.month is None else voice.month(breach.month),
        year="" if breach.year is None else words.number(breach.year),
    )


def headline(plan: Plan, words: Words) -> str:
    """That no plan keeps every promise, or that none was found that does."""
    if plan.impossible is not None:
        return words("plan.broken.head")
    unknown = plan.solution.status in ("stopped", "cancelled")
    return words(f"plan.broken.head{'_unknown' if unknown else '_found'}")


def broken_sentences(plan: Plan, words: Words) -> list[str]:
    """What even the plan that breaks least breaks, by how much and when: of the promises as they were stated."""
    least = plan.impossible is not None and plan.impossible.least
    group = "broken_least" if least else "broken_found"
    return [
        breach_sentence(breach, plan, words, group if f"plan.{group}.{breach.promise}" in words else "breach")
        for breach in plan.broken
    ]


def no_plan_sentences(plan: Plan, repairs: Sequence[Repair] | None, words: Words) -> list[str]:
    """All of it for print: that no plan keeps every promise, by how much, what would make one possible."""
    return [headline(plan, words), *broken_sentences(plan, words), *repair_sentences(repairs, plan, words)]


def repair_sentences(found: Sequence[Repair] | None, plan: Plan, words: Words) -> list[str]:
    """What the changes have in common, and each of them; None where the search for them was stopped."""
    if not found:
        return [words("plan.repair.stopped" if found is None else "plan.repair.none")]
    lead = words("plan.repair.lead" if len(found) > 1 else "plan.repair.lead_one")
    return [lead, *(repair_sentence(repair, plan, words) for repair in found)]


def repair_sentence(repair: Repair, plan: Plan, words: Words) -> str:
    """One change, what it costs where that is the plan's worth, and how much would not be enough."""
    voice = Voice.of(plan.scenario, words)
    in_days = repair.what == "hands"
    said = words(
        f"plan.repair.{_key(repair, plan)}",
        amount=voice.money(repair.amount),
        days=voice.days(repair.amount),
        floor=voice.money(plan.scenario.household.floor - repair.amount),
        month=_month(repair, words),
        years=words("unit.years", n=repair.plan.problem.years),
        before=words.number(plan.problem.years),
        **_terms(repair, words),
    )
    if repair.loan is not None and abs(repair.loan_cost) >= plan.problem.money_unit:
        way = "costs" if repair.loan_cost > 0 else "adds"
        said = words(f"plan.repair.loan_{way}", said=said, cost=voice.money(abs(repair.loan_cost)))
    if not repair.smallest or repair.amount <= repair.step:
        return said
    less = repair.amount - repair.step
    told = voice.days(less) if in_days else voice.money(less)
    return words("plan.repair.smallest", said=said, less=told)


def _month(repair: Repair, words: Words) -> str:
    """The calendar month of more hands, or the month from which a loan is paid out."""
    if repair.loan is not None:
        return words.month(first_payout(repair.loan))
    return "" if repair.month is None else words.month_name(repair.month)


def _key(repair: Repair, plan: Plan) -> str:
    if repair.what == "hands":
        return "hands" if repair.month is not None else "hands_all"
    return "loan_named" if repair.what == "loan" and plan.problem.planning.loan is not None else repair.what


def _terms(repair: Repair, words: Words) -> dict[str, str]:
    """Whose loan, from when on, at what rate, for how long."""
    if repair.loan is None:
        return dict.fromkeys(("loan", "rate", "term"), "")
    terms = {"loan": repair.loan.name, "rate": words.rate(repair.loan.rate_per_year)}
    return {**terms, "term": words("unit.months", n=repair.loan.term_months)}


def in_hand_note(plan: Plan, words: Words) -> str:
    """What the money to have in hand counts on: the floor, or what of it was given up."""
    voice = Voice.of(plan.scenario, words)
    if not plan.broken:
        return words("plan.sheet.in_hand_note")
    used, floor = plan.problem.floor, voice.money(plan.scenario.household.floor)
    if used < 0:
        return words("plan.sheet.in_hand_below", missing=voice.money(-used), floor=floor)
    if plan.problem.eased.floor:
        return words("plan.sheet.in_hand_eased", used=voice.money(used), floor=floor)
    worst = plan.broken[0]
    key = "in_hand_short" if worst.promise == "floor" else "in_hand_broken"
    return words(f"plan.sheet.{key}", floor=floor, breach=breach_sentence(worst, plan, words))
