"""The plan in words: each fact a sentence of the catalogue, under `plan.*`. No sentence stands here."""

from collections.abc import Iterable, Sequence

from renovation.decide.plan.plan import Plan, Start
from renovation.decide.plan.poorest import poorest_first
from renovation.decide.plan.repairs import Repair
from renovation.decide.plan.why_not_more import Limit
from renovation.decide.plan.yardsticks import CautionPoint, Yardstick
from renovation.decide.replacement import OldTreeRule, RenewalCurve, StartCurve
from renovation.inputs import Scenario
from renovation.show.plan.broken import breach_sentence, broken_sentences, headline, repair_sentences
from renovation.show.voice import Voice
from renovation.words import Words, smallest_unit

SHARE_DIGITS = 2
MOST_IN_A_SENTENCE = 3
"""Starts that the head of a plan names in one sentence."""


def plan_sentences(
    plan: Plan,
    words: Words,
    year: int = 1,
    repairs: Sequence[Repair] | None = None,
    which: Sequence[str] = (),
    *,
    short: bool = False,
) -> list[str]:
    """The plan in a few sentences: this year's trees, the loan, what it is worth, how sure that is, the money.

    Of a plan that breaks a promise first that, and the changes that would make one possible: none of its worth, for
    it is no answer. repairs: None where nobody sought them. which: what says which plan it is, after its trees.
    short: without what is at the head.
    """
    voice = Voice.of(plan.scenario, words)
    deepest = plan.deepest_month
    lines = [] if short else [*_first(plan, words, year, repairs), *which]
    group = "plan.broken" if plan.broken else "plan"
    later = [start for start in plan.starts if start.year > year]
    if later:
        trees = voice.trees(sum(s.trees for s in later))
        lines.append(voice(f"{group}.later", trees=trees, month=words.month(later[-1].month)))
    if plan.loan is not None:
        lines.append(voice(f"{group}.loan", amount=voice.money(plan.loan.amount), loan=plan.loan.name))
    elif plan.problem.planning.loan is not None:
        lines.append(voice(f"{group}.no_loan", loan=plan.problem.planning.loan.name))
    lines += [
        voice(f"plan.{'' if first else 'not_'}poorest_first", stand=whole)
        for whole, first in poorest_first(plan).items()
    ]
    if not plan.broken:
        lines += [gain_sentence(plan, words), *loan_sentences(plan, words), day_sentence(plan, words)]
        lines.append(aim_sentence(plan, words))
    if not short and not (which and plan.solution.status == "given"):
        lines.append(standing_sentence(plan, words))
    lines.append(
        voice(
            "plan.lowest",
            month=voice.month(deepest),
            balance=voice.money(float(plan.account.balance[deepest])),
            floor=voice.money(plan.scenario.household.floor),
        )
    )
    lines += why_sentences(plan, words)
    if plan.problem.undervalues_late_starts:
        lines.append(voice("plan.undervalued"))
    return lines if short else lines + left_out_sentences(plan, words)


def _first(plan: Plan, words: Words, year: int, repairs: Sequence[Repair] | None) -> list[str]:
    """What comes first: this year's trees; where promises are broken that, what would mend it, and then the trees."""
    head, parts = head_in_parts(plan, words, year)
    if not plan.broken:
        return [head, *parts]
    mended = [] if repairs is None else repair_sentences(repairs, plan, words)
    return [headline(plan, words), *broken_sentences(plan, words), *mended, words("plan.broken.below"), head, *parts]


def gain_sentence(plan: Plan, words: Words) -> str:
    """What the plan is worth beside the farm as it is: its NPV, as on every page."""
    return worth_sentence(plan.npv, plan.scenario, words)


def worth_sentence(npv: float, scenario: Scenario, words: Words) -> str:
    """The same of the NPV of a plan of a farm, whoever worked it out."""
    voice = Voice.of(scenario, words)
    if abs(npv) <= smallest_unit(voice.currency) / 2:
        return voice("plan.gain_nothing")
    return voice("plan.gain" if npv > 0 else "plan.gain_less", amount=voice.money(abs(npv)))


def loan_sentences(plan: Plan, words: Words) -> list[str]:
    """What the loan adds or costs, which is no part of the worth; nothing without one."""
    voice, adds = Voice.of(plan.scenario, words), plan.account.loan_adds
    if plan.loan is None:
        return []
    return [voice(f"plan.loan_{'adds' if adds > 0 else 'costs'}", amount=voice.money(abs(adds)))]


def day_sentence(plan: Plan, words: Words) -> str:
    """What a day of work costs in what a plan is worth, whoever works it."""
    voice, household = Voice.of(plan.scenario, words), plan.scenario.household
    return voice("plan.day", amount=voice.money(household.wage_per_day * household.labour_value))


def aim_sentence(plan: Plan, words: Words) -> str:
    """The sum that plans are chosen by, which is not the worth, and what it comes to."""
    voice, planning, value = Voice.of(plan.scenario, words), plan.problem.planning, plan.problem.value_per_family_day
    parts = [voice("plan.aim.day" if value else "plan.aim.day_free", amount=voice.money(value))]
    if planning.loan is not None:
        parts.append(voice("plan.aim.loan"))
    if planning.years_after_horizon:
        parts.append(voice("plan.aim.after", years=words("unit.years", n=planning.years_after_horizon)))
    side = "more" if plan.aim_gain >= 0 else "less"
    facts = {"parts": words.listing(parts), "amount": voice.money(abs(plan.aim_gain))}
    return voice(f"plan.aim.{side}", **facts)


def head_sentence(plan: Plan, words: Words, year: int = 1, *, stated: bool = False) -> str:
    """How many trees this year, of which stand, by which way, in which month.

    stated: whether the family's own plan is told, which is no answer, whatever it breaks.
    """
    voice = Voice.of(plan.scenario, words)
    broken = bool(plan.broken) and not stated
    now = [start for start in plan.starts if start.year == year]
    if now:
        parts = [_part(voice, start) for start in now]
        key = "plan.broken.this_year" if broken else "plan.head"
        return voice(key, trees=voice.trees(sum(s.trees for s in now)), parts=words.listing(parts))
    later = [start for start in plan.starts if start.year > year]
    if later:
        return voice("plan.broken.starts_later" if broken else "plan.head_later", part=_part(voice, later[0]))
    if broken:
        return voice("plan.broken.none")
    if plan.starts:
        return voice("plan.head_done")
    return voice("plan.head_none_unproven" if plan.standing == "unproven" else "plan.head_none")


def head_in_parts(plan: Plan, words: Words, year: int = 1, *, stated: bool = False) -> tuple[str, list[str]]:
    """The same, but where a sentence would be too long to read, the sum, and each start on a line."""
    voice = Voice.of(plan.scenario, words)
    now = [start for start in plan.starts if start.year == year]
    if len(now) <= MOST_IN_A_SENTENCE:
        return head_sentence(plan, words, year, stated=stated), []
    lines = [voice("plan.head_part", part=_part(voice, start)) for start in now]
    key = "plan.broken.this_year_count" if plan.broken and not stated else "plan.head_count"
    return voice(key, trees=voice.trees(sum(s.trees for s in now))), lines


def _part(voice: Voice, start: Start) -> str:
    """One stand's trees by one way."""
    return voice(
        "plan.part",
        trees=voice.trees(start.trees),
        stand=start.stand,
        way=voice.way_inside(start.technique),
        month=voice.words.month(start.month),
    )


def standing_sentence(plan: Plan, words: Words) -> str:
    """How good the plan is proven to be; never "best" where it is not."""
    voice = Voice.of(plan.scenario, words)
    proven = "plan.broken" if plan.broken else "plan.standing"
    if plan.standing == "best":
        return voice(f"{proven}.best")
    better = plan.at_most_better
    if plan.standing == "within_gap" and better is not None:
        return voice(f"{proven}.within_gap", amount=voice.money(better))
    ended = plan.solution.status
    if better is None:
        return voice(f"plan.standing.{ended}_unknown")
    return voice(f"plan.standing.{ended}", amount=voice.money(better))


def why_sentences(plan: Plan, words: Words) -> list[str]:
    """What doing nothing breaks; how far the plan may go, where it is not known whether less is possible."""
    why = plan.impossible
    if why is None:
        return []
    voice = Voice.of(plan.scenario, words)
    lines = [breach_sentence(breach, plan, words, "nothing_breaks") for breach in why.nothing]
    eased = {promise: getattr(why.eased, promise) for promise in ("floor", "hands", "money")}
    return lines + [
        voice(f"plan.against_unproven.{promise}", amount=voice.money(amount), days=voice.days(amount))
        for promise, amount in eased.items()
        if amount and not why.least
    ]


def left_out_sentences(plan: Plan, words: Words) -> list[str]:
    """Techniques that have no start in some planning years or some of their months, a sentence each."""
    voice = Voice.of(plan.scenario, words)
    lines = []
    for key, reason in dict.fromkeys((out.technique, out.reason) for out in plan.left_out):
        outs = [out for out in plan.left_out if (out.technique, out.reason) == (key, reason)]
        years = [words.number(out.year) for out in outs if out.whole_year]
        months = [voice.month(month) for out in outs if not out.whole_year for month in out.months]
        for name, when in (("years", years), ("months", months)):
            if when:
                lines.append(voice(f"plan.left_out.{reason}.{name}", way=voice.way(key), when=words.listing(when)))
    return lines


def yardstick_sentences(plan: Plan, rules: Iterable[Yardstick], words: Words) -> list[str]:
    """Each simple rule against the plan, and whether it keeps the promises."""
    voice = Voice.of(plan.scenario, words)
    lines = []
    for rule in rules:
        facts = {
            "amount": voice.money(abs(plan.npv - rule.npv)),
            "share": "" if rule.share is None else words.percent(rule.share),
        }
        kept = "breaks" if not rule.keeps_promises else "keeps" if plan.impossible is None else "keeps_eased"
        side = _beside(plan, rule)
        lines.append(voice(f"plan.rule.{rule.rule}", said=voice(f"plan.rule_{side}.{kept}", **facts), **facts))
        if not rule.keeps_promises:
            lines.append(breach_sentence(rule.account.breaches[0], plan, words))
    return lines


def _beside(plan: Plan, rule: Yardstick) -> str:
    """Whether a rule is worth the `same` as the plan, `less`, `more`, or `though`: more, and no better by the aim."""
    unit = plan.problem.money_unit / 2
    if abs(rule.npv - plan.npv) <= unit:
        return "same"
    if rule.npv < plan.npv:
        return "less"
    return "more" if rule.aim > plan.aim + unit else "though"


def caution_sentences(plan: Plan, points: Sequence[CautionPoint], words: Words) -> list[str]:
    """What a higher floor costs, against the lowest one that can be kept."""
    voice = Voice.of(plan.scenario, words)
    kept = [(point, point.npv) for point in points if point.npv is not None]
    if not kept:
        return [voice("plan.caution.none" if all(point.proven for point in points) else "plan.caution.none_found")]
    (lowest, first), unit = kept[0], plan.problem.money_unit / 2
    lines = [
        voice(
            f"plan.caution.{'cost' if first - npv > unit else 'more' if npv - first > unit else 'free'}",
            floor=voice.money(point.floor),
            lowest=voice.money(lowest.floor),
            amount=voice.money(abs(first - npv)),
        )
        for point, npv in kept[1:]
    ]
    lost = [point for point in points if point.npv is None and point.proven]
    return lines + [voice("plan.caution.impossible", floor=voice.money(point.floor)) for point in lost]


def limit_sentence(limit: Limit, plan: Plan, words: Words) -> str:
    """What holds the plan back, and what one more unit of it would be worth."""
    voice = Voice.of(plan.scenario, words)
    months = [voice.month(month) for month in limit.months[:6]]
    name = "" if limit.name is None else voice.way(limit.name) if limit.what == "take" else limit.name
    said = voice(
        f"plan.limit.{limit.what}",
        amount=voice.money(limit.worth),
        unit=voice.money(limit.unit),
        month="" if limit.month is None else voice.month(limit.month),
        months=words.listing(months),
        year="" if limit.year is None else words.number(limit.year),
        name=name,
    )
    if limit.confirmed is None:
        return said
    return voice("plan.limit_confirmed", said=said, amount=voice.money(limit.confirmed))


def limit_sentences(limits: Iterable[Limit] | None, plan: Plan, words: Words) -> list[str]:
    """What holds the plan back, worth most first; that no limit does; or that nobody found out (None)."""
    if plan.broken:
        return [words("plan.broken.limit")]
    voice = Voice.of(plan.scenario, words)
    said = [limit_sentence(limit, plan, words) for limit in limits or ()]
    return said or [voice("plan.limit_unknown" if limits is None else "plan.limit_none")]


def when_sentences(
    scenario: Scenario,
    starts: Iterable[StartCurve],
    renewals: Iterable[RenewalCurve],
    old_trees: Iterable[OldTreeRule],
    words: Words,
) -> list[str]:
    """When to renovate at all: per stand the best way and year, the rule for old trees, the age of renewal."""
    voice = Voice.of(scenario, words)
    lines = []
    curves = list(starts)
    for stand in dict.fromkeys(curve.stand for curve in curves):
        mine = [curve for curve in curves if curve.stand == stand and curve.best is not None]
        if not mine:
            lines.append(voice("plan.when.never", stand=stand))
            continue
        top = max(mine, key=lambda curve: float(curve.npv.max()))
        lines.append(
            voice(
                "plan.when.best",
                stand=stand,
                way=voice.way_inside(top.technique),
                month=words.month(top.calendar[top.best or 0]),
                amount=voice.money(float(top.npv.max())),
            )
        )
    for rule in old_trees:
        if rule.year is not None and rule.technique is not None:
            lines.append(
                voice(
                    "plan.when.old_tree",
                    stand=rule.stand,
                    year=words.number(rule.year),
                    rent=voice.money(rule.rent),
                    income=voice.money(float(rule.income[rule.year - 1])),
                    way=voice.way_inside(rule.technique),
                )
            )
    for curve in renewals:
        key = "when.renewal_none" if curve.best_age is None else "when.renewal"
        lines.append(
            voice(
                f"plan.{key}",
                way=voice.way_inside(curve.technique),
                years=words("unit.years", n=curve.best_age or curve.lev.size),
            )
        )
    return lines
