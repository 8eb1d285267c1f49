"""One way with different planting material: the same trees, the same start, beside the way without a named clone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from renovation.decide.compare import Comparison, compare
from renovation.decide.ranges import Swing, ranges
from renovation.inputs import FrozenDict, Material, Scenario, as_stated, default_groups, default_materials
from renovation.inputs.materials import Pollination, pollination
from renovation.inputs.planted import planted
from renovation.inputs.techniques import MOST_MATERIALS

ALONE = ""
"""Stands for the way without a named material."""


@dataclass(frozen=True)
class MaterialComparison:
    """One way on the same trees with each of some materials, each against leaving the trees alone.

    each: by material, `ALONE` first, the comparison of that way by itself; a way that cannot start has no outcomes.
    materials: what is known of each, without `ALONE`.
    """

    way: str
    materials: Mapping[str, Material]
    each: Mapping[str, Comparison]

    @property
    def worth(self) -> dict[str, float]:
        """NPV by material, `ALONE` first; empty where the way cannot start."""
        outcomes = {name: found.outcomes.get(self.way) for name, found in self.each.items()}
        return {name: outcome.npv for name, outcome in outcomes.items() if outcome is not None}

    @property
    def best(self) -> str | None:
        """The material of highest NPV, the first named where several are worth the same; None where none can start."""
        worth = {name: npv for name, npv in self.worth.items() if name != ALONE}
        return max(worth, key=lambda name: worth[name]) if worth else None

    @cached_property
    def together(self) -> Comparison:
        """All of them as the ways of one comparison, for tables and charts: keys are of `key_of`."""
        first = self.each[ALONE]
        ways = {self.key_of(name): found.scenario.techniques[self.way] for name, found in self.each.items()}
        outcomes = {
            self.key_of(name): replace(outcome, technique=self.key_of(name), label=ways[self.key_of(name)].label)
            for name, found in self.each.items()
            if (outcome := found.outcomes.get(self.way)) is not None
        }
        scenario = first.scenario.model_copy(update={"techniques": FrozenDict(ways)})
        keys = list(outcomes)
        pair = (keys[0] if keys else None), (keys[1] if len(keys) > 1 else None)
        return replace(first, scenario=scenario, outcomes=outcomes, headline=pair[0], against=pair[1])

    def key_of(self, material: str) -> str:
        """The key of a material in `together`: the way's own where it is without one."""
        return f"with_{material}" if material else self.way

    @cached_property
    def swings(self) -> dict[str, tuple[Swing, ...]]:
        """NPV over the ranges of the figures, those of the material among them: `ranges`."""
        return {name: ranges(self.each[name], self.way) for name in self.worth}

    def span(self, material: str) -> tuple[float, float] | None:
        """Lowest and highest NPV with all figures of a material and its way together; None where one is refused."""
        return next((swing.span for swing in self.swings[material] if swing.driver == "together"), None)

    @property
    def pollination(self) -> dict[str, Pollination]:
        """Of each material by itself, whether it sets fruit where no other is planted."""
        return {name: pollination({name: entry}, default_groups()) for name, entry in self.materials.items()}

    @property
    def mixed(self) -> Pollination:
        """Whether they set fruit where all of them are planted."""
        return pollination(self.materials, default_groups())

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        found = {name or None: one.outcomes.get(self.way) for name, one in self.each.items()}
        return {
            "way": self.way,
            "stand": self.each[ALONE].stand,
            "trees": self.each[ALONE].trees,
            "currency": self.each[ALONE].scenario.appraisal.currency,
            "best": self.best,
            "outcomes": [
                {
                    "material": name,
                    **({} if outcome is None else outcome.as_dict()),
                    "ranges": [swing.as_dict() for swing in self.swings.get(name or ALONE, ())],
                }
                for name, outcome in found.items()
            ],
            "materials": {name: entry.model_dump(mode="json") for name, entry in self.materials.items()},
            "sets_fruit_alone": {name: one.is_sure for name, one in self.pollination.items()},
            "set_fruit_together": self.mixed.is_sure,
        }


def takes_materials(scenario: Scenario, way: str) -> bool:
    """Whether a way makes a new crown, so that a material can be named for it."""
    technique = scenario.techniques[way]
    return technique.family != "prune" and technique.mature_crop.value > 0


def known_materials(scenario: Scenario) -> dict[str, Material]:
    """The materials that ship, as the farm has them, then those of its own."""
    return {**default_materials(), **scenario.materials}


def compare_materials(
    scenario: Scenario, way: str, names: Sequence[str], stand: str | None = None, trees: int | None = None
) -> MaterialComparison:
    """Weigh one way without a named material and with each of one to three.

    Raises KeyError for a way or a material that is not known, ValueError for a way without a new crown, for no material
    and for more than three; else as `compare`.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> found = compare_materials(demo_scenario(), "side_graft", ["kw_30", "ics_60"])
        >>> found.best, list(found.worth)
        ('kw_30', ['', 'kw_30', 'ics_60'])
    """
    names = list(dict.fromkeys(names))
    known = known_materials(scenario)
    materials = {name: known[name] for name in names}
    if not takes_materials(scenario, way) or not 1 <= len(names) <= MOST_MATERIALS:
        raise ValueError(f"{len(names)} materials for {way}")
    each = {}
    for name in (ALONE, *names):
        farm = _with(scenario, way, name, materials)
        on = farm.techniques[way].works_on
        each[name] = compare(farm, stand, trees, [way], works_on=on)
    return MaterialComparison(way, materials, each)


def _with(scenario: Scenario, way: str, name: str, materials: Mapping[str, Material]) -> Scenario:
    """The farm where a way uses one material alone, or none; other ways use theirs."""
    stated = as_stated(scenario)
    update: dict[str, Any] = {"planting_materials": (name,) if name else ()}
    if name:
        update["label"] = materials[name].label or name.replace("_", " ")
    technique = stated.techniques[way].model_copy(update=update)
    ways = FrozenDict({**stated.techniques, way: technique})
    own = FrozenDict({**stated.materials, **materials})
    return planted(stated.model_copy(update={"techniques": ways, "materials": own}))
