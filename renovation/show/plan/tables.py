"""The plan in tables of words: trees, work, shopping, money, simple rules, floors."""

from collections.abc import Iterable, Sequence

from renovation.decide.plan import CautionPoint, MonthOfWork, Plan, Sheet, ToBuy, Yardstick
from renovation.inputs import Scenario
from renovation.show.grid import Column, Table, month_cell
from renovation.show.plan.broken import breach_sentence
from renovation.show.plan.work_calendar import EVERY_YEAR
from renovation.show.voice import LEAST_DAYS, Voice
from renovation.words import Words

LEFT = ("month", "from", "stand", "way", "start", "done", "what", "rule", "promises", "floor", "said", "when")
"""Columns of words; all others hold numbers."""


def _table(name: str, keys: Sequence[str], rows: Iterable[Sequence[str]], words: Words, **facts: str) -> Table:
    """A table whose title and headings stand under `plan.table`."""
    columns = tuple(Column(k, words(f"plan.table.column.{k}"), "left" if k in LEFT else "right") for k in keys)
    return Table(words(f"plan.table.title.{name}", **facts), columns, tuple(tuple(row) for row in rows))


def trees(plan: Plan, words: Words) -> Table:
    """Every start of the plan: when, how many trees, of which stand, by which way."""
    voice = Voice.of(plan.scenario, words)
    rows = [
        (
            month_cell(start.month, words),
            words.number(start.trees),
            start.stand,
            voice.way(start.technique),
        )
        for start in plan.starts
    ]
    return _table("trees", ("start", "trees", "stand", "way"), rows, words)


def work(laid_out: Sheet, scenario: Scenario, words: Words) -> Table:
    """The year's calendar: what is done in each month, the days of the family and of hired hands."""
    rows = [
        (
            month_cell(month.month, words),
            "; ".join(_works(month, scenario, words)),
            words.number(month.family_days, 1),
            words.number(month.hired_days, 1) if month.hired_days >= LEAST_DAYS else "",
        )
        for month in laid_out.months
    ]
    return _table("work", ("month", "done", "family", "hired"), rows, words)


def _works(month: MonthOfWork, scenario: Scenario, words: Words) -> list[str]:
    """The plan's kinds of work in a month with their days, then upkeep and harvest together."""
    voice = Voice.of(scenario, words)
    usual = sum(month.work.get(kind, 0.0) for kind in EVERY_YEAR)
    named = {voice.work(kind): days for kind, days in month.work.items() if kind not in EVERY_YEAR}
    named[words("plan.table.usual")] = usual
    return [
        words("cash.calendar.work", work=name, days=voice.days(days))
        for name, days in named.items()
        if days >= LEAST_DAYS
    ]


def shopping(laid_out: Sheet, words: Words) -> Table:
    """What to get: how many, how many of them spare, what it costs, by when; the sum beneath."""
    voice = Voice(words, laid_out.currency)
    rows = [
        (
            words.name(item.kind, item.key, item.label),
            _quantity(item, words),
            voice.money(item.cost),
            month_cell(item.months[0], words) if item.months else "",
        )
        for item in laid_out.shopping
    ]
    rows.append((words("plan.table.all"), "", voice.money(laid_out.shopping_cost), ""))
    return _table("shopping", ("what", "quantity", "cost", "start"), rows, words)


def _quantity(item: ToBuy, words: Words) -> str:
    """How many, in a unit where it is not sold by the piece, and how many of them are spare."""
    key = f"plan.table.unit.{item.unit}"
    said = words(key, n=item.quantity) if key in words else words.number(item.quantity)
    if item.spare <= 0:
        return said
    return words("plan.table.spare", said=said, spare=words.number(item.spare))


def in_hand(laid_out: Sheet, words: Words) -> Table:
    """Money by month: to have in hand before a kilogram is sold, at the start and at the end."""
    said = Voice(words, laid_out.currency).whole_money
    rows = [(month_cell(m.month, words), *map(said, (m.in_hand, m.opening, m.balance))) for m in laid_out.months]
    return _table("in_hand", ("month", "in_hand", "opening", "balance"), rows, words)


def years(plan: Plan, words: Words) -> Table:
    """The plan by project year, each by its first month: trees started, lowest money, money at the end."""
    voice = Voice.of(plan.scenario, words)
    _money, named = plan.scenario.appraisal.currency, plan.problem.months_named
    rows = [
        (
            month_cell(named[12 * (row["year"] - 1)], words),
            words.number(row["trees"]),
            *(voice.whole_money(row[key]) for key in ("lowest_balance", "balance")),
        )
        for row in plan.year_rows()
    ]
    return _table("years", ("from", "trees", "lowest", "balance"), rows, words)


def rules(plan: Plan, yardsticks: Iterable[Yardstick], words: Words) -> Table:
    """The plan beside simple rules: worth beside the farm as it is, lowest money, whether promises are kept."""
    voice = Voice.of(plan.scenario, words)
    kept = "kept_eased" if plan.broken else "kept"
    named = {words("plan.table.rule.plan"): plan.account}
    for rule in yardsticks:
        share = "" if rule.share is None else words.percent(rule.share)
        named[words(f"plan.table.rule.{rule.rule}", share=share)] = rule.account
    rows = [
        (
            name,
            voice.money(account.npv),
            voice.whole_money(float(account.balance.min())),
            words(f"plan.table.{kept if account.keeps_promises else 'broken'}"),
        )
        for name, account in named.items()
    ]
    return _table("rules", ("rule", "gain", "lowest", "promises"), rows, words)


def broken(plan: Plan, yardsticks: Iterable[Yardstick], words: Words) -> list[str]:
    """For each rule that breaks a promise, the first that it breaks."""
    said = []
    for rule in yardsticks:
        if not rule.keeps_promises:
            share = "" if rule.share is None else words.percent(rule.share)
            name = words(f"plan.table.rule.{rule.rule}", share=share)
            why = breach_sentence(rule.account.breaches[0], plan, words)
            said.append(words("plan.table.breaks", rule=name, why=why))
    return said


def floors(plan: Plan, points: Sequence[CautionPoint], words: Words) -> Table:
    """What each floor leaves of the plan: trees, and what it costs against the lowest; below 0 where it adds."""
    voice = Voice.of(plan.scenario, words)
    lowest = next((point.npv for point in points if point.npv is not None), None)
    rows = []
    for point in points:
        floor = voice.money(point.floor)
        if point.npv is None or point.trees is None or lowest is None:
            said = "not_kept" if point.proven else "not_found"
            rows.append((floor, "", "", words(f"plan.table.{said}")))
            continue
        cost = voice.money(lowest - point.npv)
        note = "" if point.proven else words("plan.table.unproven")
        rows.append((floor, words.number(point.trees), cost, note))
    return _table("floors", ("floor", "trees", "floor_cost", "said"), rows, words)
