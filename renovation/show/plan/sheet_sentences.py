"""This year's sheet in words: who does what, what to get, what to look at, the money to have in hand."""

from renovation.decide.plan.plan import Plan
from renovation.decide.plan.sheet import Look, MonthOfWork, Sheet, ToBuy
from renovation.show.planting import renewal_sentences
from renovation.show.voice import LEAST_DAYS, Voice
from renovation.words import Words


def clone_sentences(laid_out: Sheet, plan: Plan, words: Words) -> list[str]:
    """How to split the new trees between two clones, and whether the clones that are named set fruit together."""
    voice = Voice.of(plan.scenario, words)
    ways = dict.fromkeys(start.technique for start in laid_out.starts)
    split = [
        voice("plan.clones", stand=stand, first=words.number(first), second=words.number(second))
        for stand, (first, second) in laid_out.clones.items()
    ]
    return [*split, *renewal_sentences(plan.scenario, ways, words)]


def month_sentence(month: MonthOfWork, plan: Plan, words: Words) -> str:
    """Who does what in one month: the three largest pieces of work, family and hired days."""
    voice = Voice.of(plan.scenario, words)
    works = [
        voice("plan.work", work=voice.work(kind), days=voice.days(days)) for kind, days in list(month.work.items())[:3]
    ]
    hired = "hired" if month.hired_days >= LEAST_DAYS else "family"
    return voice.sentence(
        f"plan.calendar.{hired}",
        month=words.month(month.month),
        works=words.listing(works),
        family=voice.days(month.family_days),
        hired=voice.days(month.hired_days),
    )


def buy_sentence(item: ToBuy, plan: Plan, words: Words) -> str:
    """One thing to get: how many, how many of them spare, what it costs."""
    voice = Voice.of(plan.scenario, words)
    facts = {
        "name": words.name(item.kind, item.key, item.label),
        "quantity": words.number(item.quantity),
        "amount": amount_of(item, words),
        "spare": words.number(item.spare),
        "cost": voice.money(item.cost),
        "month": words.month(item.months[0]) if item.months else "",
    }
    if item.kind == "tool":
        return voice("plan.buy.tool", **facts)
    return voice("plan.buy.spare" if item.spare > 0 else "plan.buy.exact", **facts)


def amount_of(item: ToBuy, words: Words) -> str:
    """How much to get, with its unit; an own unit stands as it was written."""
    counted = f"supply_count.{item.unit}"
    if counted in words:
        return words(counted, n=item.quantity)
    return f"{words.number(item.quantity)} {item.unit}"


def look_sentence(look: Look, plan: Plan, words: Words) -> str:
    """What to look at, when, and how many trees are expected to be alive."""
    voice = Voice.of(plan.scenario, words)
    return voice.sentence(
        f"plan.look.{look.family}.{look.when}",
        month=words.month(look.month),
        stand=look.stand,
        way=voice.way_inside(look.technique),
        trees=voice.trees(look.trees),
        alive=words.number(round(look.expected_alive))
        if look.expected_alive >= 0.5
        else voice("plan.look_one_at_most"),
    )


def cash_sentences(laid_out: Sheet, plan: Plan, words: Words) -> list[str]:
    """Money to have in hand at the start of a month; only months in which something must be paid."""
    voice = Voice.of(plan.scenario, words)
    lines = []
    for month in laid_out.months:
        if month.in_hand < 0.5:
            continue
        key = "cash.short" if month.short_until_sales >= 0.5 else "cash.enough"
        lines.append(
            voice.sentence(
                f"plan.{key}",
                month=words.month(month.month),
                amount=voice.money(month.in_hand),
                opening=voice.money(month.opening),
                short=voice.money(month.short_until_sales),
            )
        )
    return lines


def caution_keys(laid_out: Sheet, plan: Plan) -> list[str]:
    """The cautions of the year's work, of the loan, and of every plan, by their keys."""
    return [*laid_out.cautions, *(["debt"] if plan.loan is not None else []), "planning_aid"]


def caution_lines(laid_out: Sheet, plan: Plan, words: Words) -> list[str]:
    """These cautions in words."""
    return [words(f"caution.{key}") for key in caution_keys(laid_out, plan) if f"caution.{key}" in words]
