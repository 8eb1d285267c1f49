"""Cross-checks of a scenario: what no single field can know. Each finding is a path and the problem."""

from collections.abc import Callable, Collection, Mapping
from typing import Any

from renovation.inputs.checks import guesses, loans, names, planning, standing, supplies, treatments
from renovation.inputs.checks.farm import Farm, Findings, Path
from renovation.inputs.quantities import Finding, FrozenDict
from renovation.inputs.techniques import Technique

CHECKS: tuple[Callable[[Farm], Findings], ...] = (
    *names.CHECKS,
    *standing.CHECKS,
    *treatments.CHECKS,
    *loans.CHECKS,
    *planning.CHECKS,
    *supplies.CHECKS,
    *guesses.CHECKS,
)

__all__ = ["cross_checks"]


def cross_checks(
    data: Any, refused: Collection[Path] = (), techniques: Mapping[str, Technique] = FrozenDict()
) -> list[Finding]:
    """All findings on what passed the fields of a scenario.

    data: nested tables, models, or a mixture of both. refused: where a field has refused what stands there: it is
    passed over. techniques: those that are known to be sound.
    """
    farm = Farm(data, refused, techniques)
    return [finding for check in CHECKS for finding in check(farm)]
