"""The careful plan, in words and tables, for screen, terminal and report."""

import math
from collections import Counter
from dataclasses import replace

from renovation.decide.plan.repairs import first_payout
from renovation.decide.risk import Estimate
from renovation.decide.risk.careful import CarefulPlan
from renovation.decide.risk.mends import Mend
from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE
from renovation.inputs import Loan, Treatment, month_count
from renovation.show.grid import Table, columns, lines, month_cell, render
from renovation.show.risk import tables as risk_tables
from renovation.show.risk.answers import often
from renovation.show.voice import Voice
from renovation.words import Words, smallest_unit

FIRST_YEAR = 12
"""Months."""


def said(found: CarefulPlan, words: Words) -> list[str]:
    """How often the promise is kept, what that costs, and what the careful plan does otherwise."""
    voice = Voice.of(found.scenario, words)
    facts = _often(found, found.kept, words)
    facts["level"], facts["floor"] = voice.money(found.level), voice.money(found.floor)
    same, paid = "_same" if found.same else "", "_paid" if found.lends and found.instalments else ""
    lines = [] if found.settled else [words("risk.robust.not_settled")]
    if not found.at_floor:
        lines.append(words(f"risk.robust.lower{same}", **facts))
    if not found.instalments:
        lines.append(words("risk.robust.unpaid"))
    kind = f"same{paid}" if found.same and found.at_floor else f"kept{paid}{same}"
    lines.append(words(f"risk.robust.{kind}", **facts))
    if found.lends:
        lines.append(words(f"risk.robust.missed{same}", **_often(found, found.missed, words)))
    if found.bound is not None:
        lines.append(words("risk.robust.bound", bound=voice.money(_rounded_up(found, found.bound))))
    if not found.same:
        lines += _otherwise(found, words)
    futures = voice.futures(found.result.number)
    lines.append(words(f"risk.robust.tried{same}", futures=futures))
    return [*lines, words("risk.hands")] if found.result.hands else lines


def _often(found: CarefulPlan, chances: dict[str, Estimate], words: Words) -> dict[str, str]:
    """How often something happens with either plan and with the farm as it is."""
    names = (("robust", CAREFUL), ("expected", EXPECTED), ("leave", LEAVE))
    return {name: often(chances[key], found.result.number, words) for name, key in names}


def _otherwise(found: CarefulPlan, words: Words) -> list[str]:
    """What the careful plan costs, how many trees it starts, and what it borrows."""
    voice = Voice.of(found.scenario, words)
    worth = found.answers[CAREFUL].expected_npv
    facts = {"worth": voice.money(worth), "cost": voice.money(found.cost)}
    first, before = (_trees(plan, found, FIRST_YEAR) for plan in (found.careful.treatments, found.expected.treatments))
    every, whole = (_trees(plan, found) for plan in (found.careful.treatments, found.expected.treatments))
    lines = [
        words(f"risk.robust.{'cost' if found.cost > 0 else 'no_cost'}", **facts),
        words(
            "risk.robust.first_year",
            trees=voice.trees(first),
            before=words.number(before),
            every=words.number(every),
            all=words.number(whole),
        ),
    ]
    taken, offered = _borrowed(found.careful.loans), _borrowed((found.expected.loan,) if found.expected.loan else ())
    if taken != offered:
        lines.append(words("risk.robust.loan", amount=voice.money(taken), before=voice.money(offered)))
    return [*lines, words(f"risk.robust.sought{'_few' if found.narrowed else ''}")]


def bolder(found: CarefulPlan, words: Words) -> list[str]:
    """The plan made on expected figures beside the careful one: what it starts, would gain, and how often it fails."""
    voice = Voice.of(found.scenario, words)
    first, every = (_trees(found.expected.treatments, found, months) for months in (FIRST_YEAR, None))
    fails = Estimate(1 - found.kept[EXPECTED].value, found.kept[EXPECTED].error)
    paid = "_paid" if found.lends and found.instalments else ""
    return [
        words("risk.robust.bolder_starts", trees=voice.trees(first), all=voice.trees(every)),
        words(f"risk.robust.bolder_gains{'' if found.cost > 0 else '_none'}", amount=voice.money(found.cost)),
        words(
            f"risk.robust.bolder_fails{paid}",
            level=voice.money(found.level),
            often=often(fails, found.result.number, words),
        ),
    ]


def out_of_reach(found: CarefulPlan, words: Words) -> list[str]:
    """That no plan keeps the floor in nine futures of ten, and the changes that let this one; nothing where it does."""
    if found.at_floor:
        return []
    voice = Voice.of(found.scenario, words)
    missing = voice.money(_rounded_up(found, found.floor - found.level))
    facts = {"floor": voice.money(found.floor), "level": voice.money(found.level), "missing": missing}
    lead = "none" if not found.mends else "lead" if len(found.mends) > 1 else "lead_one"
    leading = words(f"risk.mend.{lead}", futures=voice.futures(found.result.number))
    changes = [_mend(mend, found, words) for mend in found.mends]
    return [words("risk.robust.out_of_reach", **facts), leading, *changes]


def _mend(mend: Mend, found: CarefulPlan, words: Words) -> str:
    """One change, and what a loan costs that is no part of the plan's worth."""
    if mend.what == "later":
        return words("risk.mend.later")
    voice, loan = Voice.of(found.scenario, words), mend.loan
    facts = {"amount": voice.money(mend.amount)}
    if loan is None:
        return words(f"plan.repair.{mend.what}", **facts)
    facts |= {
        "loan": loan.name,
        "rate": words.rate(loan.rate_per_year),
        "term": words("unit.months", n=loan.term_months),
    }
    offered = found.scenario.planning.loan is not None
    said = words(f"plan.repair.loan{'_named' if offered else ''}", month=words.month(first_payout(loan)), **facts)
    if abs(mend.loan_cost) < smallest_unit(found.scenario.appraisal.currency):
        return said
    way = "costs" if mend.loan_cost > 0 else "adds"
    return words(f"plan.repair.loan_{way}", said=said, cost=voice.money(abs(mend.loan_cost)))


def _rounded_up(found: CarefulPlan, bound: float) -> float:
    """A bound as sentences write money, rounded up: never below what was proven."""
    unit = smallest_unit(found.scenario.appraisal.currency) if abs(bound) < 100 else 1.0
    return math.ceil(bound / unit - 1e-9) * unit


def _borrowed(loans: tuple[Loan, ...]) -> float:
    """Money of all loans."""
    return float(sum(loan.amount for loan in loans))


def _trees(treatments: tuple[Treatment, ...], found: CarefulPlan, months: int | None = None) -> int:
    """Trees that a plan starts, in all or in its first months."""
    end = None if months is None else month_count(found.scenario.appraisal.start) + months
    return sum(start.trees for start in treatments if end is None or month_count(start.start) < end)


def starts(found: CarefulPlan, words: Words) -> Table:
    """What each plan starts: the careful one beside the one on expected figures, with the sums beneath."""
    voice = Voice.of(found.scenario, words)
    plans: list[Counter[tuple[str, str, str]]] = []
    for treatments in (found.careful.treatments, found.expected.treatments):
        plans.append(Counter())
        for start in treatments:
            plans[-1][start.start, start.stand, start.technique] += start.trees
    rows = [
        (
            month_cell(month, words),
            stand,
            voice.way(way),
            *(words.number(plan[month, stand, way]) if plan[month, stand, way] else "" for plan in plans),
        )
        for month, stand, way in sorted({*plans[0], *plans[1]})
    ]
    rows.append((words("risk.robust.all"), "", "", *(words.number(plan.total()) for plan in plans)))
    names = ("start", "stand", "way", "robust", "expected")
    return Table(words("risk.robust.starts"), columns("risk.robust", names, words, names[3:]), tuple(rows))


def answers(found: CarefulPlan, words: Words) -> Table:
    """What the futures say of leaving the farm and of each plan; of one plan once."""
    told = {key: answer for key, answer in found.answers.items() if not (found.same and key == EXPECTED)}
    return risk_tables.answers(replace(found.result, answers=told), words)


def text(found: CarefulPlan, words: Words, width: int) -> str:
    """The careful plan for the terminal: sentences, starts, and what the futures say."""
    told = f"{words('risk.robust.title')}\n{lines(said(found, words), width)}"
    tables = [*([] if found.same else [starts(found, words)]), answers(found, words)]
    return "\n\n".join([told, *(render(table, width) for table in tables)])
