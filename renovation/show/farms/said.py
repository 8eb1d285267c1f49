"""Sentences and tables of many farms compared."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from renovation.farms.group import Group, farms_for
from renovation.farms.planned import PlanGroup
from renovation.show.grid import Column, Table, blank
from renovation.show.voice import Voice

WHO, MONTHS, REFUSED = "who_first.csv", "months.csv", "refused.csv"
SHOWN = 12
"""Farms that are named on a page; the others stand in the file."""
MINUTE, HOUR = 60, 3600


def way_of(key: str, labels: Mapping[str, str], voice: Voice) -> str:
    """A way by the name that the template gives it, else the catalogue's."""
    return voice.words.name("technique", key, labels.get(key))


def sentence(group: Group, voice: Voice) -> str:
    """What all of it comes to, in one sentence."""
    farms = voice("run.farms", n=group.farms)
    if not group.gaining:
        return voice("run.said.none", farms=farms)
    gaining = voice.words.number(group.gaining)
    return voice("run.said.gain", gaining=gaining, farms=farms, gain=voice.money(group.gain))


def further(group: Group, told: Mapping[str, Any], voice: Voice) -> list[str]:
    """What else is to be known: from how many farms it comes, who is missing, what was not asked."""
    said = []
    if group.gaining:
        half, most = (voice("run.farms", n=farms_for(group.gains, share)) for share in (0.5, 0.9))
        said.append(voice("run.said.half", half=half, most=most, file=WHO))
    return [*said, *missing(told, voice), *(voice(f"run.said.{key}") for key in ("each_alone", "money", "private"))]


def missing(told: Mapping[str, Any], voice: Voice) -> list[str]:
    """Who is not among these farms, and whether they are invented."""
    said = []
    for name in ("refused", "aside"):
        count = told[name] if name == "refused" else len(told[name])
        if count:
            said.append(voice(f"run.said.{name}", farms=voice("run.farms", n=count), file=REFUSED))
    if told["options"].get("invented"):
        said.append(voice("run.said.invented"))
    return said


def ways_table(group: Group, labels: Mapping[str, str], voice: Voice) -> Table:
    """Each way with the stands where it is worth most, and what it brings there."""
    rows = tuple(
        (way_of(key, labels, voice), voice.words.number(stands), voice.money(gain))
        for key, (stands, gain) in group.ways.items()
    )
    return Table(voice("run.table.ways"), _columns(voice, "way", "stands", "gain"), rows)


def first_table(first: pd.DataFrame, labels: Mapping[str, str], voice: Voice) -> Table:
    """Who gains most. first: rows of `Group.first`."""
    names = _columns(voice, "farm", "gain", "per_tree", "trees", "way", "payback", left=("farm", "way"))
    return Table(voice("run.table.first"), names, tuple(_row(row, labels, voice) for row in _records(first)))


def _records(first: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(key): value for key, value in row.items()} for row in first.to_dict("records")]


def _row(row: Mapping[str, Any], labels: Mapping[str, str], voice: Voice) -> tuple[str, ...]:
    nothing = blank(voice.words)
    back = row["payback_years"]
    return (
        str(row["farm"]),
        voice.money(float(row["gain"])),
        nothing if pd.isna(row["gain_per_tree"]) else voice.small_money(float(row["gain_per_tree"])),
        voice.words.number(int(row["trees"])),
        nothing if pd.isna(row["way"]) else way_of(str(row["way"]), labels, voice),
        nothing if pd.isna(back) else voice("unit.years", n=round(float(back), 1)),
    )


# Plans


def plan_sentence(group: PlanGroup, voice: Voice) -> str:
    """What all plans come to, in one sentence."""
    farms = voice("run.farms", n=group.farms)
    if not group.renewing:
        return voice("run.plan.none", farms=farms)
    facts = {"renewing": voice.words.number(group.renewing), "trees": voice.trees(group.trees_this_year)}
    return voice("run.plan.head", farms=farms, worth=voice.money(float(group.worth.sum())), **facts)


def plan_notes(group: PlanGroup, told: Mapping[str, Any], voice: Voice) -> list[str]:
    """What else is to be known of the plans."""
    said = []
    for name in ("borrowing", "breaking"):
        if count := getattr(group, name):
            said.append(voice(f"run.plan.{name}", farms=voice("run.farms", n=count)))
    notes = (voice(f"run.plan.{key}") for key in ("expected", "together"))
    return [*said, *missing(told, voice), *notes, voice("run.said.private")]


def needs_table(group: PlanGroup, labels: Mapping[str, str], voice: Voice) -> Table:
    """Trees by way, as all plans together start them."""
    rows = tuple((way_of(key, labels, voice), voice.words.number(trees)) for key, trees in group.ways.items())
    return Table(voice("run.plan.ways"), _columns(voice, "way", "trees"), rows)


def plans_table(first: pd.DataFrame, voice: Voice) -> Table:
    """Whose plan is worth most. first: rows of `PlanGroup.first`."""
    names = _columns(voice, "farm", "gain", "trees", "this_year", "loan", left=("farm",))
    rows = tuple(
        (
            str(row["farm"]),
            voice.money(float(row["npv"])),
            voice.words.number(int(row["trees"])),
            voice.words.number(int(row["trees_this_year"])),
            voice.money(float(row["loan"])) if row["loan"] else blank(voice.words),
        )
        for row in _records(first)
    )
    return Table(voice("run.table.first"), names, rows)


def _columns(voice: Voice, *keys: str, left: tuple[str, ...] = ("way",)) -> tuple[Column, ...]:
    return tuple(Column(key, voice(f"run.table.{key}"), "left" if key in left else "right") for key in keys)


def span(seconds: float, voice: Voice) -> str:
    """A time that is waited: seconds, minutes from two on, hours from two on."""
    if seconds < 2 * MINUTE:
        return voice("run.seconds", n=round(seconds))
    if seconds < 2 * HOUR:
        return voice("run.minutes", n=round(seconds / MINUTE))
    return voice("run.hours", n=round(seconds / HOUR, 1))
