"""Cross-checks of a scenario: what no single field can know.

They run on plain nested tables and pass over what is missing or of the wrong type, so that their findings
stand beside those of the fields. Each yields the path and the problem.
"""

import itertools
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from renovation.inputs.errors import as_written, each, near
from renovation.inputs.overrides import unit_findings
from renovation.inputs.planning import Learning, Planning
from renovation.inputs.quantities import Finding, month_count, problem, year_month
from renovation.inputs.seasons import window_names
from renovation.inputs.techniques import Supplies, Technique
from renovation.words import known_currency, smallest_unit

Table = Mapping[str, Any]
Findings = Iterator[Finding]
LONGEST_YEARS = 40
DEFAULT_PAIR = {"headline": "side_graft", "against": "rooted_cutting"}


def cross_checks(data: Any) -> list[Finding]:
    """All findings on a scenario's data: nested tables, models, or a mixture of both."""
    farm = _Farm(_plain(data))
    return [finding for check in CHECKS for finding in check(farm)]


def _plain(data: Any) -> Any:
    """Turn models into tables, all the way down."""
    if isinstance(data, float | int | str | None):
        return data
    if isinstance(data, BaseModel):
        return data.model_dump()
    if isinstance(data, Mapping):
        return {key: _plain(entry) for key, entry in data.items()}
    return tuple(map(_plain, data)) if isinstance(data, list | tuple) else data


def _table(value: Any) -> Table:
    return value if isinstance(value, Mapping) else {}


def _whole(value: Any) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _month(value: Any) -> int | None:
    """Count the months of a `YYYY-MM`; None for anything else."""
    if not isinstance(value, str) or len(value) != 7:
        return None
    year, dash, month = value.partition("-")
    sound = dash and len(year) == 4 and (year + month).isdecimal() and 1 <= int(month) <= 12
    return month_count(value) if sound else None


class _Farm:
    """A scenario's data, read with tolerance."""

    def __init__(self, data: Any) -> None:
        self.data = _table(data)
        self.appraisal = self.section("appraisal")
        self.start = _month(self.appraisal.get("start"))
        years = _whole(self.appraisal.get("horizon_years"))
        self.end = self.start + 12 * years if self.start is not None and years is not None else None
        self.techniques = self.section("techniques")
        self.stands: dict[str, Table] = {}
        for _, stand in each(self.data.get("stands")):
            name = _table(stand).get("name")
            if isinstance(name, str):
                self.stands.setdefault(name, _table(stand))

    def section(self, key: str) -> Table:
        return _table(self.data.get(key))

    def entries(self, key: str) -> Iterator[tuple[int, Table]]:
        """The tables of a list of tables, with their positions."""
        return ((i, entry) for i, entry in each(self.data.get(key)) if isinstance(entry, Mapping))


def _unknown(code: str, path: tuple[str | int, ...], found: str, known: Any, **facts: Any) -> Finding:
    choices = tuple(known)
    return path, problem(code, found=f'"{found}"', near=near(found, choices), choices=choices, **facts)


# Names


def _duplicate_names(farm: _Farm) -> Findings:
    for group, code in (("stands", "duplicate_stand"), ("loans", "duplicate_loan")):
        seen: set[str] = set()
        for position, entry in farm.entries(group):
            name = entry.get("name")
            if not isinstance(name, str):
                continue
            if name.strip().casefold() in seen:
                yield (group, position, "name"), problem(code, found=f'"{name}"')
            seen.add(name.strip().casefold())


def _unknown_names(farm: _Farm) -> Findings:
    named: list[tuple[tuple[str | int, ...], Table]] = [(("plan", i), entry) for i, entry in farm.entries("plan")]
    for path, entry in [*named, (("comparison",), farm.section("comparison"))]:
        stand = entry.get("stand")
        if isinstance(stand, str) and stand not in farm.stands:
            yield _unknown("unknown_stand", (*path, "stand"), stand, farm.stands)
    for position, entry in farm.entries("plan"):
        key = entry.get("technique")
        if isinstance(key, str) and key not in farm.techniques:
            place = ("plan", position, "technique")
            yield _unknown("technique_not_considered", place, key, farm.techniques)
    for position, stand_table in farm.entries("stands"):
        for i, key in each(stand_table.get("techniques")):
            if isinstance(key, str) and key not in farm.techniques:
                where = ("stands", position, "techniques", i)
                yield _unknown("technique_not_considered", where, key, farm.techniques)


def _no_technique(farm: _Farm) -> Findings:
    if isinstance(farm.data.get("techniques"), Mapping) and not farm.techniques:
        yield ("techniques",), problem("no_technique")


# The comparison


def _comparison(farm: _Farm) -> Findings:
    comparison = farm.section("comparison")
    pair = {field: comparison.get(field, default) for field, default in DEFAULT_PAIR.items()}
    for field, key in pair.items():
        known = key in farm.techniques or key == DEFAULT_PAIR[field]
        if isinstance(key, str) and not known:
            yield _unknown("technique_not_considered", ("comparison", field), key, farm.techniques)
    if pair["headline"] == pair["against"]:
        yield ("comparison", "against"), problem("compared_with_itself", found=f'"{pair["against"]}"')
    first = next(iter(farm.stands), None)
    stand = comparison.get("stand") or first
    trees, there = _whole(comparison.get("trees")), _whole(farm.stands.get(str(stand), {}).get("trees"))
    if trees is not None and there is not None and trees > there:
        yield ("comparison", "trees"), problem("too_many_compared", found=str(trees), stand=stand, most=there)


# The plan


def _trees_in_plan(farm: _Farm) -> Findings:
    asked: dict[str, int] = {}
    for _, entry in farm.entries("plan"):
        asked[str(entry.get("stand"))] = asked.get(str(entry.get("stand")), 0) + (_whole(entry.get("trees")) or 0)
    total: dict[str, int] = {}
    for position, entry in farm.entries("plan"):
        name, trees = entry.get("stand"), _whole(entry.get("trees"))
        stand = farm.stands.get(name) if isinstance(name, str) else None
        if stand is None:
            continue
        place = ("plan", position)
        if stand.get("untouched") is True:
            yield (*place, "stand"), problem("untouched_in_plan", found=f'"{name}"')
        key, suited = entry.get("technique"), stand.get("techniques")
        if isinstance(suited, tuple) and key in farm.techniques and key not in suited:
            facts = {"stand": name, "choices": tuple(map(str, suited))}
            yield (*place, "technique"), problem("technique_not_for_stand", found=f'"{key}"', **facts)
        before = total.get(str(name), 0)
        total[str(name)] = before + (trees or 0)
        there = _whole(stand.get("trees"))
        if there is not None and before <= there < total[str(name)]:
            facts = {"stand": name, "most": there}
            yield (*place, "trees"), problem("too_many_treated", found=str(asked[str(name)]), **facts)


def _starts_in_plan(farm: _Farm) -> Findings:
    for position, entry in farm.entries("plan"):
        start, place = _month(entry.get("start")), ("plan", position, "start")
        if start is None or farm.start is None or farm.end is None:
            continue
        if not farm.start <= start < farm.end:
            yield place, problem("outside_horizon", **_horizon(farm, entry["start"]))
            continue
        technique = farm.techniques.get(entry.get("technique", ""))
        if not isinstance(technique, Mapping):
            continue
        months = {m for _, m in each(technique.get("start_months")) if _whole(m) and 1 <= m <= 12}
        if months and start % 12 + 1 not in months:
            found = f'"{entry["start"]}"'
            facts = {"technique": entry["technique"], "months": tuple(sorted(months))}
            yield place, problem("not_a_start_month", found=found, **facts)
        short = farm.start - start - _earliest_month(technique)
        if short > 0:
            works = (m for m in itertools.count(start + short) if not months or m % 12 + 1 in months)
            facts = {"technique": entry["technique"], "n": short, "first": year_month(next(works))}
            yield place, problem("nursery_before_start", found=f'"{entry["start"]}"', **facts)


def _earliest_month(technique: Table) -> int:
    """Months from the field start to the first operation, 0 or negative."""
    operations = (_table(op) for op in _table(technique.get("operations")).values())
    months = [_whole(op.get("month")) or 0 for op in operations if op.get("anchor") in ("start", "attempt")]
    return min([0, *months])


def _horizon(farm: _Farm, found: str) -> dict[str, Any]:
    assert farm.start is not None
    assert farm.end is not None
    return {"found": f'"{found}"', "first": year_month(farm.start), "last": year_month(farm.end - 1)}


# Loans


def _loans(farm: _Farm) -> Iterator[tuple[tuple[str | int, ...], Table]]:
    """The loans stated and the one on offer to the plan, with their places."""
    yield from ((("loans", position), loan) for position, loan in farm.entries("loans"))
    offer = farm.section("planning").get("loan")
    if isinstance(offer, Mapping):
        yield ("planning", "loan"), offer


def _payouts(farm: _Farm) -> Findings:
    for place, loan in _loans(farm):
        payouts = [(i, _table(payout)) for i, payout in each(loan.get("payouts"))]
        months = {i: month for i, payout in payouts if (month := _month(payout.get("month"))) is not None}
        shares = [_number(payout.get("share", 1.0)) for _, payout in payouts]
        sound = [share for share in shares if share is not None]
        if sound and len(sound) == len(shares) and abs(sum(sound) - 1) > 1e-6:
            yield (*place, "payouts"), problem("payouts_not_one", found=f"{sum(sound):g}")
        grace = _whole(loan.get("grace_months", 0))
        for i, month in months.items():
            here, found = (*place, "payouts", i, "month"), year_month(month)
            if farm.start is not None and farm.end is not None and not farm.start <= month < farm.end:
                yield here, problem("outside_horizon", **_horizon(farm, found))
            if grace is not None and month - min(months.values()) > grace:
                last = year_month(min(months.values()) + grace)
                yield here, problem("payout_after_grace", found=f'"{found}"', last=last)


def _terms(farm: _Farm) -> Findings:
    for place, loan in _loans(farm):
        months = [_month(_table(payout).get("month")) for _, payout in each(loan.get("payouts"))]
        first = min((month for month in months if month is not None), default=None)
        term, grace = _whole(loan.get("term_months")), _whole(loan.get("grace_months", 0))
        if term is None or grace is None:
            continue
        if term <= grace:
            yield (*place, "term_months"), problem("term_within_grace", found=str(term), grace=grace)
            continue
        if first is None:
            continue
        last = _last_instalment(loan, first + grace, first + term)
        if farm.end is not None and first < farm.end <= last:
            facts = {"last": year_month(last), "most": farm.end - 1 - first}
            yield (*place, "term_months"), problem("term_beyond_horizon", found=str(term), **facts)
        yield from _harvest_terms(loan, place, first + grace, first + term)


def _last_instalment(loan: Table, grace_end: int, end: int) -> int:
    """The month of the last instalment: the term's end, or the last harvest month before it."""
    months = {m for _, m in each(loan.get("harvest_months", ())) if _whole(m)}
    if loan.get("repayment") != "harvest":
        return end
    return max((m for m in range(grace_end + 1, end + 1) if m % 12 + 1 in months), default=end)


def _loan_amounts(farm: _Farm) -> Findings:
    """A loan is a whole number of the currency's smallest units."""
    currency = farm.appraisal.get("currency")
    if not isinstance(currency, str) or not known_currency(currency):
        return
    unit = smallest_unit(currency)
    for place, loan in _loans(farm):
        amount = loan.get("amount")
        if isinstance(amount, bool) or not isinstance(amount, int | float) or not 0 < amount < 1e12:
            continue
        if abs(round(amount / unit) * unit - amount) > 1e-6 * unit:
            yield (*place, "amount"), problem("amount_not_whole_units", found=repr(amount), unit=f"{unit:g}")


def _harvest_terms(loan: Table, place: tuple[str | int, ...], grace_end: int, end: int) -> Findings:
    """A loan repaid at harvest needs harvest months, one of them after grace and within its term."""
    months = [m for _, m in each(loan.get("harvest_months", ())) if _whole(m)]
    where = (*place, "harvest_months")
    for month in sorted({m for m in months if months.count(m) > 1}):
        yield where, problem("listed_twice", found=str(month))
    if loan.get("repayment") != "harvest":
        return
    if not each_any(loan.get("harvest_months", ())):
        yield where, problem("no_harvest_months")
    elif months and not any(m % 12 + 1 in months for m in range(grace_end + 1, end + 1)):
        facts = {"first": year_month(grace_end + 1), "last": year_month(end)}
        yield where, problem("no_harvest_in_term", found=", ".join(map(str, months)), **facts)


def each_any(value: Any) -> bool:
    """Whether a value is a list that holds anything, or no list at all (which its field refuses)."""
    return not isinstance(value, list | tuple) or bool(value)


# Planning


def _planning_years(farm: _Farm) -> Findings:
    planning = farm.section("planning")
    years, horizon = _whole(planning.get("years")), _whole(farm.appraisal.get("horizon_years"))
    if years is not None and horizon is not None and years > horizon:
        yield ("planning", "years"), problem("planning_beyond_horizon", found=str(years), most=horizon)
    after = _whole(planning.get("years_after_horizon"))
    if after is not None and horizon is not None and after + horizon > LONGEST_YEARS:
        most = max(0, LONGEST_YEARS - horizon)
        yield ("planning", "years_after_horizon"), problem("years_after_too_many", found=str(after), most=most)


def _planning_names(farm: _Farm) -> Findings:
    planning = farm.section("planning")
    named: list[tuple[tuple[str | int, ...], Any]] = [(("batch", key), key) for key in _table(planning.get("batch"))]
    learners = each(_table(planning.get("learning")).get("techniques"))
    named += [(("learning", "techniques", i), key) for i, key in learners]
    named += [
        (("records", i, "technique"), _table(entry).get("technique")) for i, entry in each(planning.get("records"))
    ]
    for path, key in named:
        if isinstance(key, str) and key not in farm.techniques:
            yield _unknown("technique_not_considered", ("planning", *path), key, farm.techniques)


def _planning_sums(farm: _Farm) -> Findings:
    planning = farm.section("planning")
    value, wage = _number(planning.get("value_per_family_day")), _number(farm.section("household").get("wage_per_day"))
    if value is not None and wage is not None and value > wage:
        yield ("planning", "value_per_family_day"), problem("family_day_above_wage", found=as_written(value), most=wage)
    for i, entry in each(planning.get("records")):
        made, taken = _whole(_table(entry).get("made")), _whole(_table(entry).get("taken"))
        if made is not None and taken is not None and taken > made:
            yield ("planning", "records", i, "taken"), problem("more_taken_than_made", found=str(taken), most=made)
    learning = _table(planning.get("learning"))
    points = [_whole(_table(point).get("grafts_before")) for _, point in each(learning.get("table"))]
    if learning.get("form") == "table" and not points:
        yield ("planning", "learning", "table"), problem("learning_table_missing")
    known = [point for point in points if point is not None]
    if any(later <= earlier for earlier, later in itertools.pairwise(known)):
        found = ", ".join(map(str, known))
        yield ("planning", "learning", "table"), problem("grafts_not_rising", found=found)


def _learned_takes(farm: _Farm) -> Findings:
    """The take that practice or records may bring, times a way's factors, stays at 1 or below."""
    planning = farm.section("planning")
    learning, learners = _learners(farm)
    for key, table in farm.techniques.items():
        path, take = _highest_take(learning) if key in learners else _recorded_take(planning, key)
        technique = _sound_technique(table) if 0 < take <= 1 else None
        if technique is None:  # a take above 1 by itself, or an unsound technique, is told where it stands
            continue
        factor, month = technique.highest_factor
        if take * factor > 1:
            facts = {"technique": key, "found": f"{take:.4g}", "factor": f"{factor:g}"}
            if technique.take_by_month is None:
                yield ("planning", *path), problem("learned_take_above_one", **facts)
            else:
                yield ("planning", *path), problem("learned_take_in_month_above_one", **facts, months=(month,))


def _sound_technique(table: Any) -> Technique | None:
    """The technique that a table states; None where it states none that can be."""
    try:
        return Technique.model_validate(table)
    except ValidationError:
        return None


def _learners(farm: _Farm) -> tuple[Table, set[Any]]:
    """The learning that is asked for, and the ways that gain by it."""
    learning = farm.section("planning").get("learning")
    if not isinstance(learning, Mapping):
        return {}, set()
    if learning.get("techniques") is not None:
        return learning, {key for _, key in each(learning.get("techniques"))}
    return learning, {key for key, way in farm.techniques.items() if _table(way).get("family") == "graft"}


def _highest_take(learning: Table) -> tuple[tuple[str | int, ...], float]:
    """Where the highest take that practice brings is stated, and that take."""
    if learning.get("form") == "table":
        points = [_number(_table(point).get("take")) or 0.0 for _, point in each(learning.get("table"))]
        return ("learning", "table"), max(points, default=0.0)
    usual = Learning.model_fields
    takes = (_number(learning.get(name, usual[name].default)) or 0.0 for name in ("first_take", "highest_take"))
    return ("learning", "highest_take"), max(takes)


def _recorded_take(planning: Table, key: str) -> tuple[tuple[str | int, ...], float]:
    """Where the last record of a way stands, and the mean take that its records hold; 0 without records."""
    usual = Planning.model_fields
    taken, failed = (
        _number(planning.get(name, usual[name].default)) or 0.0 for name in ("prior_taken", "prior_failed")
    )
    path: tuple[str | int, ...] = ()
    found = False
    for i, entry in each(planning.get("records")):
        made, took = _whole(_table(entry).get("made")), _whole(_table(entry).get("taken"))
        if _table(entry).get("technique") == key and made is not None and took is not None:
            path, found = ("records", i, "taken"), True
            taken, failed = taken + took, failed + made - took
    return path, taken / (taken + failed) if found and taken + failed > 0 else 0.0


# Supplies, units, currency, season


def _supplies(farm: _Farm) -> Findings:
    supplies = farm.section("supplies")
    items, tools = supplies.get("items"), supplies.get("tools")
    for key, technique in farm.techniques.items():
        table = _table(technique)
        for name, operation in _table(table.get("operations")).items():
            for item in _table(_table(operation).get("materials")):
                if isinstance(items, Mapping) and item not in items:
                    place = ("techniques", key, "operations", name, "materials", item)
                    yield _unknown("unknown_item", place, item, items)
        for i, tool in each(table.get("tools")):
            if isinstance(tools, Mapping) and isinstance(tool, str) and tool not in tools:
                yield _unknown("unknown_tool", ("techniques", key, "tools", i), tool, tools)


def _units(farm: _Farm) -> Findings:
    currency = farm.appraisal.get("currency")
    if not isinstance(currency, str):
        return
    for key, technique in farm.techniques.items():
        for path, error in unit_findings(Technique, technique, currency):
            yield ("techniques", key, *path), error
    for path, error in unit_findings(Supplies, farm.section("supplies"), currency):
        yield ("supplies", *path), error


def _currency(farm: _Farm) -> Findings:
    currency, rate = farm.appraisal.get("currency"), farm.appraisal.get("currency_per_usd")
    if not isinstance(currency, str) or len(currency) != 3 or not currency.isupper():
        return
    if not known_currency(currency):
        yield ("appraisal", "currency"), problem("unknown_currency", found=f'"{currency}"')
    elif currency == "USD" and rate is not None and _number(rate) not in (None, 1.0):
        yield ("appraisal", "currency_per_usd"), problem("usd_rate_not_one", found=as_written(rate))
    elif currency != "USD" and rate is None:
        yield ("appraisal", "currency_per_usd"), problem("currency_rate_missing", iso=currency)


def _window(farm: _Farm) -> Findings:
    window = _table(farm.section("market").get("season")).get("window")
    if isinstance(window, str) and window not in window_names():
        yield _unknown("unknown_window", ("market", "season", "window"), window, window_names())


CHECKS: tuple[Callable[[_Farm], Findings], ...] = (
    _duplicate_names,
    _no_technique,
    _unknown_names,
    _comparison,
    _trees_in_plan,
    _starts_in_plan,
    _payouts,
    _terms,
    _loan_amounts,
    _planning_years,
    _planning_names,
    _planning_sums,
    _learned_takes,
    _supplies,
    _units,
    _currency,
    _window,
)
