"""What stands only in the printed report: each loan at a glance, what is planned, whose figures, plan and stands."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from pydantic import BaseModel

from renovation.decide import Comparison, Swing
from renovation.decide.lending import Lending, LoanAppraisal
from renovation.farm import HouseholdCash, by_year
from renovation.inputs import Figure, Scenario, Technique
from renovation.money import incremental
from renovation.show.grid import Column, Table, column, columns
from renovation.show.loans.contract import payouts
from renovation.show.report.stated import stated_by
from renovation.show.voice import Voice
from renovation.types import FloatArray
from renovation.words import Words

# At a glance


def glance(lending: Lending, new_kg: FloatArray, words: Words) -> Table:
    """Each loan beside the new crop: paid out, first crop, first instalment, tightest coverage.

    new_kg: (T,) kg of the new crowns by month. Without a plan no crop is told, without a loan the crop alone.
    """
    crop = _crop_glance(lending.cash, new_kg, words) if lending.scenario.plan else {}
    loans = [_loan_glance(judged, crop, words) for judged in lending.loans] or [crop]
    rows = tuple((words(f"report.glance.{key}"), *(loan[key] for loan in loans)) for key in loans[0])
    names = [judged.loan.name for judged in lending.loans] or [words("report.column.figure")]
    headed = (Column(f"figure_{place}", name) for place, name in enumerate(names))
    return Table(words("report.table.glance"), (column("report.column.what", words), *headed), rows)


def _crop_glance(cash: HouseholdCash, new_kg: FloatArray, words: Words) -> dict[str, str]:
    """The first month with a crop from new crowns, and the first year in which the farm brings more for the plan."""
    voice = Voice.about(cash, words)
    first = np.flatnonzero(new_kg > 0)
    more = np.flatnonzero(incremental(by_year(cash.with_plan.farm_cash), by_year(cash.without.farm_cash)) > 0)
    none = words("lending.cell.none")
    return {
        "first_crop": words.month(cash.months[first[0]]) if first.size else none,
        "brings_more": voice.year(int(more[0]) + 1) if more.size else none,
    }


def _loan_glance(judged: LoanAppraisal, crop: Mapping[str, str], words: Words) -> dict[str, str]:
    """One loan in the order of its life, the crop between payout and first instalment."""
    voice = Voice.about(judged, words)
    verdict, cover = judged.as_stated, judged.as_stated.cover_after_living
    plan, tightest = verdict.schedule, int(np.nanargmin(cover))
    first = plan.first_instalment_month
    asked = voice.exact_money(float(plan.debt_service[first]))
    facts = {
        "cover": words.number(float(cover[tightest]), 2),
        "year": voice.year(tightest + 1),
        "target": words.number(verdict.means.cover_target, 2),
    }
    return {
        "paid_out": payouts(judged, words),
        **crop,
        "first_instalment": words("report.cell.payout", month=words.month(verdict.label(first)), money=asked),
        "cover": words("report.glance.cover_in_year", **facts),
    }


def planned(scenario: Scenario, words: Words) -> str:
    """What the loan is for: how many trees the plan renews, when, by which ways."""
    voice = Voice.of(scenario, words)
    if not scenario.plan:
        return words("report.plan.none")
    trees: Counter[str] = Counter()
    for treatment in scenario.plan:
        trees[treatment.technique] += treatment.trees
    months = sorted(treatment.start for treatment in scenario.plan)
    parts = [
        words("report.answer.plan_part", trees=words.number(n), way=voice.way_inside(key))
        for key, n in trees.most_common()
    ]
    facts = {"trees": voice.trees(trees.total()), "parts": words.listing(parts)}
    facts |= {"first": words.month(months[0]), "last": words.month(months[-1])}
    return words("report.answer.plan" if months[0] != months[-1] else "report.answer.plan_at_once", **facts)


SOURCES = ("published", "common practice", "from memory", "invented", "counted")


def sources(scenario: Scenario, comparison: Comparison, swings: Sequence[Swing], words: Words) -> str:
    """How many figures of the plan's ways are of which source, and where the one that moves the answer most is from."""
    used = dict.fromkeys(treatment.technique for treatment in scenario.plan) or scenario.techniques
    found = [str(figure.source) for key in used for figure in figures_below(scenario.techniques[key])]
    parts = [
        words("report.answer.source_part", n=words.number(found.count(name)), source=words(f"source.{name}"))
        for name in SOURCES
        if name in found
    ]
    if own := found.count("own"):
        parts.append(words("report.answer.source_part_own", n=words.number(own)))
    said = [words("report.answer.sources", n=words.number(len(found)), parts=words.listing(parts))]
    alone = [swing for swing in swings if swing.driver != "together" and swing.span]
    if alone and comparison.headline:
        driver = max(alone, key=lambda swing: swing.width).driver
        source = _source_of(driver, scenario, scenario.techniques[comparison.headline], words)
        said.append(words("report.answer.source_of", driver=words(f"compare.driver.{driver}"), source=source))
    return " ".join(said)


def _source_of(driver: str, scenario: Scenario, technique: Technique, words: Words) -> str:
    """The source of a figure that an answer rests on, in words; what is no figure of the way the family states."""
    old_crown = technique.old_crown.curve if technique.old_crown else None
    figure = old_crown if driver == "old_crown" else getattr(technique, driver, None)
    if isinstance(figure, Figure) and figure.source != "own":
        return words(f"source.{figure.source}")
    return stated_by(scenario, words)


def figures_below(node: object) -> Iterator[Figure[Any]]:
    """Every figure below a model, a table or a list, in order."""
    if isinstance(node, Figure):
        yield node
    elif isinstance(node, BaseModel):
        for name in type(node).model_fields:
            yield from figures_below(getattr(node, name))
    elif isinstance(node, Mapping):
        for value in node.values():
            yield from figures_below(value)
    elif isinstance(node, tuple):
        for value in node:
            yield from figures_below(value)


# The plan


def plan(scenario: Scenario, words: Words) -> Table:
    """What the family means to do: month, trees, stand, way; the sum of trees last."""
    voice = Voice.of(scenario, words)
    ordered = sorted(scenario.plan, key=lambda item: item.start)
    rows = [(words.month(t.start), t.stand, voice.way(t.technique), words.number(t.trees)) for t in ordered]
    total = sum(treatment.trees for treatment in ordered)
    rows.append((words("report.row.total"), "", "", words.number(total)))
    headed = columns("report.column", ("start", "stand", "way", "trees"), words, ("trees",))
    return Table(words("report.table.plan"), headed, tuple(rows))


def stands(scenario: Scenario, words: Words) -> Table:
    """The farm's stands: trees, those under way, empty places, crop today, what the plan treats, by which ways.

    Columns of what no stand has are left out.
    """
    voice = Voice.of(scenario, words)
    rows = []
    begun = ("under_way",) if scenario.under_way else ()
    gaps = ("empty_places",) if any(stand.empty_places for stand in scenario.stands) else ()
    for stand in scenario.stands:
        here = [treatment for treatment in scenario.plan if treatment.stand == stand.name]
        ways = dict.fromkeys(voice.way(treatment.technique) for treatment in here)
        rows.append(
            (
                stand.name,
                words.number(stand.trees),
                *(words.number(stand.trees - scenario.free_trees(stand.name)) for _ in begun),
                *(words.number(stand.empty_places) for _ in gaps),
                words.number(stand.kg_per_tree, 2),
                words.number(stand.kg_per_tree * scenario.free_trees(stand.name), 0),
                words.number(sum(treatment.trees for treatment in here)),
                ", ".join(ways) or words("report.cell.left_as_is"),
            )
        )
    names = ("trees", *begun, *gaps, "crop_per_tree", "crop", "treated")
    headed = columns("report.column", ("stand", *names, "ways"), words, names)
    return Table(words("report.table.stands"), headed, tuple(rows))
