"""Results for other programs: tidy rows for CSV and one JSON document, full precision, stable keys, stamped."""

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from renovation.decide import Comparison, Outcome, Swing
from renovation.decide.practise import PractiseFirst
from renovation.inputs import Scenario

Row = dict[str, Any]


def stamp(scenario: Scenario, version: str, day: date) -> dict[str, str]:
    """What every output carries: program version, scenario and its digest, date as YYYY-MM-DD.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> sorted(stamp(demo_scenario(), "0.1.0", date(2026, 11, 25)))
        ['date', 'program', 'scenario', 'scenario_digest', 'version']
    """
    return {
        "program": "renovation",
        "version": version,
        "scenario": scenario.about.name,
        "scenario_digest": scenario.digest,
        "date": day.isoformat(),
    }


def compare_document(
    comparison: Comparison,
    ranges: Mapping[str, Sequence[Swing]],
    npv_per_tree: Mapping[str, Mapping[str, float | None]],
    practise: PractiseFirst | None,
) -> dict[str, Any]:
    """Everything that a comparison gives, for `--json` under its stamp; `comparison` is its own `as_dict()`."""
    return {
        "comparison": comparison.as_dict(),
        "ranges": {key: [swing.as_dict() for swing in swings] for key, swings in ranges.items()},
        "npv_per_tree": {stand: dict(row) for stand, row in npv_per_tree.items()},
        "practise": None if practise is None else practise.as_dict(),
    }


def json_text(document: Any) -> str:
    """Write JSON: floats so that they read back the same, no NaN, nothing but ASCII on the wire.

    Example:
        >>> json.loads(json_text({"a": 0.1})) == {"a": 0.1}
        True
    """
    return json.dumps(document, indent=2, allow_nan=False)


def year_rows(comparison: Comparison, stamped: Mapping[str, str]) -> list[Row]:
    """One row per technique and project year: the columns of `Outcome.year_rows`, all compared trees together."""
    return [
        {**_head(comparison, outcome.technique), **row, **tail(stamped)}
        for outcome in comparison.outcomes.values()
        for row in outcome.year_rows()
    ]


def measure_rows(comparison: Comparison, stamped: Mapping[str, str]) -> list[Row]:
    """One row per technique: start, measures, returns, break-even values; several roots are joined by a space."""
    rows = []
    for outcome in comparison.outcomes.values():
        amount, month = outcome.most_money_out
        whole = outcome.measures.as_dict()
        irr = whole.pop("irr")
        rows.append(
            {
                **_head(comparison, outcome.technique),
                "start": outcome.treatment.start,
                **whole,
                "irr": irr["value"],
                "irr_verdict": irr["verdict"],
                "irr_roots": irr["roots"],
                "npv_per_tree": outcome.per_tree.npv,
                **_after_practice(comparison, outcome),
                "return_per_day": outcome.return_per_day,
                "return_per_family_day": outcome.return_per_family_day,
                "most_money_out": amount,
                "most_money_out_project_month": month,
                **{f"break_even_{name}": value for name, value in outcome.break_even.as_dict().items()},
                **tail(stamped),
            }
        )
    return rows


def _after_practice(comparison: Comparison, outcome: Outcome) -> Row:
    """The same way with practised hands: its take, None where nothing has to take, its worth and its payback."""
    key, later = outcome.technique, comparison.after_practice or comparison
    same, take = later.outcomes[key], later.scenario.techniques[key].take.value[-1]
    return {
        "take_after_practice": None if same.take_curve is None else take,
        "npv_after_practice": same.npv,
        "npv_per_tree_after_practice": same.per_tree.npv,
        "payback_years_after_practice": same.measures.payback_years,
    }


TABLES = {"years": year_rows, "measures": measure_rows}
"""The tables that may be written as CSV, by name."""


def _head(comparison: Comparison, technique: str) -> Row:
    return {"stand": comparison.stand, "trees": comparison.trees, "technique": technique}


def tail(stamped: Mapping[str, str]) -> Row:
    """What ends every row of a CSV file: digest, version, date."""
    return {name: stamped[name] for name in ("scenario_digest", "version", "date")}


def csv_text(rows: Iterable[Row]) -> str:
    """Write rows as CSV under the keys of the first: full precision, blanks empty, lists joined by a space.

    A text that a spreadsheet would read as a formula gets an apostrophe before it.

    Example:
        >>> print(csv_text([{"stand": "=1+1", "npv": 0.1, "take": [0.25, 0.5], "irr": None}]), end="")
        stand,npv,take,irr
        '=1+1,0.1,0.25 0.5,
    """
    rows = list(rows)
    out = io.StringIO()
    if rows:
        writer = csv.DictWriter(out, rows[0], lineterminator="\n")
        writer.writeheader()
        writer.writerows({key: _csv_cell(value) for key, value in row.items()} for row in rows)
    return out.getvalue()


def _csv_cell(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return " ".join(map(repr, value))
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return value
