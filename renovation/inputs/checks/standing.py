"""What stands already: trees that are there, tries that were made, tries that are left."""

import itertools

from renovation.inputs.checks.farm import Farm, Findings, Path, Table, unknown
from renovation.inputs.quantities import month_count, problem, year_month
from renovation.inputs.techniques import Technique


def trees(farm: Farm) -> Findings:
    """More under way than a stand has trees or empty places, more taken than begun, no tree left to weigh."""
    total: dict[tuple[str, str], int] = {}
    for position, entry in farm.entries("under_way"):
        name, begun, place = str(entry.get("stand")), entry.get("trees"), ("under_way", position)
        plot = name, farm.works_on(entry.get("technique"))
        there, before = farm.there(*plot), total.get(plot, 0)
        total[plot] = before + (begun or 0)
        if there is not None and before <= there < total[plot]:
            facts = {"stand": name, "most": there}
            code = "too_many_under_way" if plot[1] == "trees" else "too_many_planted_already"
            yield (*place, "trees"), problem(code, found=str(farm.under_way[plot]), **facts)
        ended = _ended(entry)
        if begun is not None and ended is not None and ended > begun:
            yield (*place, "trees"), problem("more_ended_than_begun", found=str(begun), least=ended)
    stand = farm.comparison.get("stand") or next(iter(farm.stands), "")
    if farm.under_way.get((stand, "trees")) and farm.under_way[stand, "trees"] == farm.there(stand):
        yield ("comparison", "stand"), problem("nothing_left_to_compare", found=f'"{stand}"')


def _ended(entry: Table) -> int | None:
    """Trees that took or were given up; None where a number of them is not known."""
    taken, given_up = entry.get("taken", ()), entry.get("given_up", 0)
    return None if taken is None or None in taken or given_up is None else sum(taken) + given_up


def tries(farm: Farm) -> Findings:
    """A start not made, tries too many or not made yet, a tree that waits though no try is left or was never tried."""
    for position, entry in farm.entries("under_way"):
        key, written, place = entry.get("technique"), entry.get("start"), ("under_way", position)
        technique = farm.technique(key) if key is not None and key in farm.techniques else None
        if technique is None or written is None or farm.start is None:
            continue
        start, taken, tried = month_count(written), entry.get("taken", ()), entry.get("tried", ())
        if start >= farm.start:
            yield from _not_begun(farm, technique, str(key), start, place)
        if taken is None or tried is None or None in tried:
            continue
        made, most = len(taken), technique.attempts.value
        if made > most:
            facts = {"technique": key, "most": most}
            yield (*place, "taken"), problem("too_many_tries", found=str(made), **facts)
            continue
        yield from _months_of_tries(farm, technique, entry, place)
        yield from _ends_of_tries(entry, made, most, place)


def _not_begun(farm: Farm, technique: Technique, key: str, start: int, place: Path) -> Findings:
    """A start from the first month on without a nursery begun, or beyond the years looked at."""
    if farm.start is not None and start + min(0, technique.earliest_month) >= farm.start:
        facts = {"technique": key, "first": year_month(farm.start)}
        yield (*place, "start"), problem("not_under_way", found=f'"{year_month(start)}"', **facts)
    elif farm.end is not None and start >= farm.end:
        yield from farm.outside((*place, "start"), start)


def _months_of_tries(farm: Farm, technique: Technique, entry: Table, place: Path) -> Findings:
    """Months of tries that do not belong to them, do not rise, or are not over."""
    start, made, written = month_count(entry["start"]), len(entry.get("taken", ())), entry.get("tried", ())
    months = [month_count(month) for month in written]
    if not written:
        last = start + (made - 1) * technique.gap_months.value
        if made and farm.start is not None and last >= farm.start:
            facts = {"made": made, "last": year_month(last), "first": year_month(farm.start)}
            yield (*place, "taken"), problem("try_not_made_yet", found=str(made), **facts)
    elif len(months) != made:
        yield (*place, "tried"), problem("tries_without_month", found=str(len(months)), made=made)
    elif months[0] < start or any(later <= earlier for earlier, later in itertools.pairwise(months)):
        yield (*place, "tried"), problem("tries_not_rising", found=", ".join(map(str, written)), first=entry["start"])
    elif farm.start is not None and months[-1] >= farm.start:
        facts = {"made": made, "last": written[-1], "first": year_month(farm.start)}
        yield (*place, "tried"), problem("try_not_made_yet", found=str(made), **facts)


def _ends_of_tries(entry: Table, made: int, most: int, place: Path) -> Findings:
    """A tree that waits though no try is left, or was given up before any."""
    begun, ended = entry.get("trees"), _ended(entry)
    if begun is not None and ended is not None and made == most and begun > ended:
        facts = {"most": most, "waiting": begun - ended}
        yield (*place, "given_up"), problem("no_try_left", found=str(entry.get("given_up", 0)), **facts)
    if not made and entry.get("given_up"):
        yield (*place, "given_up"), problem("given_up_untried", found=str(entry["given_up"]))


def tools(farm: Farm) -> Findings:
    """A tool that nobody prices."""
    known = farm.section("supplies").get("tools")
    for name in farm.section("tools_owned"):
        if known is not None and name not in known:
            yield unknown("unknown_tool_owned", ("tools_owned", name), name, known)


CHECKS = (trees, tries, tools)
