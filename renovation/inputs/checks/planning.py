"""What is asked of a plan: years within the horizon, ways that are considered, takes that can be."""

import itertools

from renovation.inputs.appraisal import LONGEST_YEARS
from renovation.inputs.checks.farm import Farm, Findings, Path, Table, table, tables, unknown
from renovation.inputs.errors import as_written, each
from renovation.inputs.planning import Learning, Planning
from renovation.inputs.quantities import LAST_MONTH, month_count, problem, year_month
from renovation.money.learning import Belief


def years(farm: Farm) -> Findings:
    """Planning years, or years after the horizon, that are too many."""
    stated, after = farm.planning.get("years"), farm.planning.get("years_after_horizon")
    if farm.years is None:
        return
    if stated is not None and stated > farm.years:
        yield ("planning", "years"), problem("planning_beyond_horizon", found=str(stated), most=farm.years)
    if after is not None and after + farm.years > LONGEST_YEARS:
        facts = {"found": str(after), "most": max(0, LONGEST_YEARS - farm.years)}
        yield ("planning", "years_after_horizon"), problem("years_after_too_many", **facts)


def calendar(farm: Farm) -> Findings:
    """Years looked at, and years after them, beyond the last that a calendar has."""
    if farm.start is None or farm.years is None:
        return
    years = farm.years + (farm.planning.get("years_after_horizon") or 0)
    last = month_count(LAST_MONTH) + 1 - 12 * years
    if farm.start > last:
        facts = {"found": f'"{year_month(farm.start)}"', "years": years, "last": year_month(last)}
        yield ("appraisal", "start"), problem("beyond_calendar", **facts)


def names(farm: Farm) -> Findings:
    """A technique with a batch, a record or practice of its own that is not considered."""
    planning = farm.planning
    named: list[tuple[Path, str | None]] = [(("batch", key), key) for key in table(planning.get("batch"))]
    learners = each(table(planning.get("learning")).get("techniques"))
    named += [(("learning", "techniques", i), key) for i, key in learners]
    named += [(("records", i, "technique"), entry.get("technique")) for i, entry in tables(planning.get("records"))]
    for path, key in named:
        if key is not None and key not in farm.techniques:
            yield unknown("technique_not_considered", ("planning", *path), key, farm.techniques)


def sums(farm: Farm) -> Findings:
    """A family day above the wage, a record that cannot be, a learning table that is missing or does not rise."""
    planning, wage = farm.planning, farm.household.get("wage_per_day")
    value = planning.get("value_per_family_day")
    if value is not None and wage is not None and value > wage:
        facts = {"found": as_written(float(value)), "most": float(wage)}
        yield ("planning", "value_per_family_day"), problem("family_day_above_wage", **facts)
    for i, entry in tables(planning.get("records")):
        made, taken = entry.get("made"), entry.get("taken")
        if made is not None and taken is not None and taken > made:
            yield ("planning", "records", i, "taken"), problem("more_taken_than_made", found=str(taken), most=made)
        season = entry.get("season")
        if season is not None and farm.start is not None and month_count(season) >= farm.start:
            facts = {"found": f'"{season}"', "first": year_month(farm.start)}
            yield ("planning", "records", i, "season"), problem("season_not_past", **facts)
    learning, where = table(planning.get("learning")), ("planning", "learning", "table")
    points = [point.get("grafts_before") for _, point in tables(learning.get("table"))]
    if learning.get("form") == "table" and learning.get("table", ()) == ():
        yield where, problem("learning_table_missing")
    known = [point for point in points if point is not None]
    if any(later <= earlier for earlier, later in itertools.pairwise(known)):
        yield where, problem("grafts_not_rising", found=", ".join(map(str, known)))


def learned_takes(farm: Farm) -> Findings:
    """The take that practice or records may bring, times a way's factors, stays at 1 or below."""
    learning, learners = _learners(farm)
    for key in farm.techniques:
        path, take = _highest_take(learning) if key in learners else _recorded_take(farm.planning, key)
        technique = farm.technique(key) if 0 < take <= 1 else None
        if technique is None:  # a take above 1 by itself, or an unsound technique, is told where it stands
            continue
        factor, month = technique.highest_factor
        if take * factor > 1:
            facts = {"technique": key, "found": f"{take:.4g}", "factor": f"{factor:g}"}
            if technique.take_by_month is None:
                yield ("planning", *path), problem("learned_take_above_one", **facts)
            else:
                yield ("planning", *path), problem("learned_take_in_month_above_one", **facts, months=(month,))


def _learners(farm: Farm) -> tuple[Table, set[str]]:
    """The learning that is asked for, and the ways that gain by it."""
    learning = table(farm.planning.get("learning"))
    if not learning:
        return {}, set()
    if learning.get("techniques") is not None:
        return learning, set(learning["techniques"])
    return learning, {key for key, way in farm.techniques.items() if table(way).get("family") == "graft"}


def _highest_take(learning: Table) -> tuple[Path, float]:
    """Where the highest take that practice brings is stated, and that take."""
    if learning.get("form") == "table":
        takes = [point.get("take") or 0.0 for _, point in tables(learning.get("table"))]
        return ("learning", "table"), max(takes, default=0.0)
    usual = Learning.model_fields
    return ("learning", "highest_take"), max(
        learning.get(name, usual[name].default) or 0.0 for name in ("first_take", "highest_take")
    )


def _recorded_take(planning: Table, key: str) -> tuple[Path, float]:
    """Where the last record of a way stands, and the mean take that its records hold; 0 without records."""
    usual = Planning.model_fields
    prior = [planning.get(name, usual[name].default) for name in ("prior_taken", "prior_failed")]
    path: Path = ()
    held = None if None in prior else Belief(*prior)
    for i, entry in tables(planning.get("records")):
        made, taken = entry.get("made"), entry.get("taken")
        if held is None or made is None or taken is None or taken > made:
            continue
        if entry.get("technique") == key:
            path, held = ("records", i, "taken"), held.after(made, taken)
    return path, held.mean if held and path else 0.0


def work(farm: Farm) -> Findings:
    """Days worked at what is no operation of the way, or on no trees."""
    for i, entry in tables(farm.planning.get("records")):
        technique = farm.technique(entry["technique"]) if entry.get("technique") in farm.techniques else None
        if technique is None:
            continue
        for name, worked in table(entry.get("work")).items():
            place = ("planning", "records", i, "work", name)
            if name not in technique.operations:
                known = technique.operations
                yield unknown("unknown_operation", place, name, known, technique=entry["technique"])
            elif table(worked).get("trees") is None and _on_none(entry, technique.operations[name].anchor):
                yield (*place, "trees"), problem("work_on_no_trees", found=str(entry["made"]))


def _on_none(record: Table, anchor: str) -> bool:
    """Whether a record has no trees of the kind that an operation is done on."""
    made, taken = record.get("made"), record.get("taken")
    if made is None or taken is None:
        return False
    usual: dict[str, int] = {"established": taken, "never": made - taken}
    return int(usual.get(anchor, made) or 0) <= 0


CHECKS = (years, calendar, names, sums, learned_takes, work)
