"""A way of one's own: a way copied under another name, its figures then changed; renamed, and removed again.

A copy rests on a default way (`based_on`), so that a file says only what differs from it. Its key is made of its name
once and stays when it is renamed: whatever names the way goes on naming it.
"""

import re
import unicodedata
from collections.abc import Mapping
from typing import Any, NamedTuple

from renovation.inputs.defaults import default_techniques
from renovation.inputs.errors import Problem, ScenarioError
from renovation.inputs.files import priced_supplies, priced_technique
from renovation.inputs.quantities import FrozenDict, Model
from renovation.inputs.scenario import Scenario
from renovation.words import Words

LONGEST_NAME = 40
"""Letters of a name, so that it stands beside a line of a chart."""
STRATEGIES = ("leave", "plan", "expected_plan", "robust_plan")
"""What stands beside the ways where strategies are weighed: no way is called so."""
Changes = Mapping[str, Any]


class Copied(NamedTuple):
    """A way that was copied: its key, and the changes of the farm that hold it."""

    key: str
    changes: Changes


def is_own_way(key: str) -> bool:
    """Whether a way does not come with the program."""
    return key not in default_techniques()


def origin_of(farm: Scenario, key: str) -> str | None:
    """The default way that a way of one's own was copied from; None for a default way, and for one without a base."""
    return farm.techniques[key].based_on if is_own_way(key) else None


def default_at(farm: Scenario, key: str, at: tuple[str | int, ...]) -> Any:
    """What stands at a place of a way as it ships, in the farm's currency; None where no default has such a place."""
    technique, appraisal = farm.techniques[key], farm.appraisal
    base = technique.based_on or key
    if base not in default_techniques():
        return None
    shaded = technique.temporary_shade is not False
    return _below(priced_technique(base, appraisal.currency, appraisal.currency_per_usd or 1.0, shaded=shaded), at)


def is_changed(farm: Scenario, key: str, at: tuple[str | int, ...]) -> bool:
    """Whether a figure of a way has another value than the default has in its place."""
    here: Any = farm.techniques[key]
    for part in at:
        here = getattr(here, str(part)) if isinstance(here, Model) else here[part]
    base = default_at(farm, key, at)
    return base is None or here.value != base["value"]


def default_price(farm: Scenario, at: tuple[str | int, ...]) -> Any:
    """What stands at a place of the supplies as they ship, in the farm's currency; None where nothing does."""
    appraisal = farm.appraisal
    return _below(priced_supplies(appraisal.currency, appraisal.currency_per_usd or 1.0), at)


def _below(node: Any, at: tuple[str | int, ...]) -> Any:
    """Follow a path through tables and tuples; None where it leads nowhere."""
    for part in at:
        if isinstance(node, dict):
            node = node.get(part)
        else:
            node = node[part] if isinstance(node, tuple) and isinstance(part, int) and part < len(node) else None
    return node


def copied(farm: Scenario, of: str, name: str, words: Words) -> Copied:
    """A way copied under a name, beside the one that it is a copy of wherever ways are chosen.

    Errors: ScenarioError for a name that no way can have; KeyError for a way that the farm does not weigh.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> key, changes = copied(demo_scenario(), "side_graft", "Our graft", Words("en"))
        >>> key, demo_scenario().changed(**changes).techniques[key].label
        ('our_graft', 'Our graft')
    """
    label = _sound(farm, name, None, words)
    way, key = farm.techniques[of], _key_of(label, farm)
    base = way.based_on or (of if of in default_techniques() else None)
    tables = farm.model_dump(include={"techniques"})["techniques"]
    changes: dict[str, Any] = {"techniques": {**tables, key: {**tables[of], "label": label, "based_on": base}}}
    for place, stand in enumerate(farm.stands):
        if stand.techniques is not None and of in stand.techniques:
            changes[f"stands__{place}__techniques"] = (*stand.techniques, key)
    if of in farm.planning.batch:
        changes["planning__batch"] = {**farm.planning.batch, key: farm.planning.batch[of]}
    learning = farm.planning.learning
    if learning is not None and learning.techniques is not None and of in learning.techniques:
        changes["planning__learning__techniques"] = (*learning.techniques, key)
    return Copied(key, changes)


def renamed(farm: Scenario, key: str, name: str, words: Words) -> Changes:
    """The change that gives a way another name. Errors: as of `copied`."""
    return {f"techniques__{key}__label": _sound(farm, name, key, words)}


def removed(farm: Scenario, key: str, words: Words) -> Changes:
    """The change that takes a way of one's own out, wherever it is named as one of those to choose from.

    Errors: ScenarioError where trees of the plan, trees under way or counted grafts are by this way, or a loan pays
    for it.
    """
    name = words.name("technique", key, farm.techniques[key].label)
    planned = sum(item.trees for item in farm.plan if item.technique == key)
    begun = sum(entry.trees for entry in farm.under_way if entry.technique == key)
    for case, number in (("under_way", begun), ("planned", planned)):
        if number:
            raise _refused(f"own_way.{case}", name, trees=words("unit.trees", n=number))
    if lender := next((loan for loan in farm.loans if key in loan.works), None):
        raise _refused("own_way.lent", name, loan=lender.name)
    if any(record.technique == key for record in farm.planning.records):
        raise _refused("own_way.counted", name)
    return without(farm, key)


def without(farm: Scenario, key: str) -> Changes:
    """The change that leaves a way out wherever it stands: the ways, the plan, stands, batches, learners, the pair."""
    kept = {way: technique for way, technique in farm.techniques.items() if way != key}
    tables = farm.model_dump(include={"techniques", "plan"})
    changes: dict[str, Any] = {"techniques": {way: tables["techniques"][way] for way in kept}}
    changes["plan"] = tuple(treatment for treatment in tables["plan"] if treatment["technique"] != key)
    for place, stand in enumerate(farm.stands):
        if stand.techniques is not None:
            changes[f"stands__{place}__techniques"] = tuple(way for way in stand.techniques if way != key)
    if key in farm.planning.batch:
        changes["planning__batch"] = {way: trees for way, trees in farm.planning.batch.items() if way != key}
    learning = farm.planning.learning
    if learning is not None and learning.techniques is not None and key in learning.techniques:
        changes["planning__learning__techniques"] = tuple(way for way in learning.techniques if way != key)
    pair = {"headline": farm.comparison.headline, "against": farm.comparison.against}
    free = [way for way, technique in kept.items() if technique.works_on == "trees" and way not in pair.values()]
    for field, way in pair.items():
        if way == key and free:
            changes[f"comparison__{field}"] = free[0]
    return changes


def _sound(farm: Scenario, name: str, key: str | None, words: Words) -> str:
    """The name without spaces around it, where way `key`, or a new one, can have it."""
    label = name.strip()
    if not label:
        raise _refused("own_way.empty", "")
    if len(label) > LONGEST_NAME:
        raise _refused("own_way.too_long", label, n=len(label), most=LONGEST_NAME)
    strategies = (words(f"risk.strategy.{one}") for one in STRATEGIES)
    if label.casefold() in {strategy.casefold() for strategy in strategies}:
        raise _refused("own_way.reserved", label)
    others = {way: technique.label for way, technique in farm.techniques.items() if way != key}
    taken = [words.name("technique", way, stated) for way, stated in others.items()]
    taken += [words.name("technique", way) for way in default_techniques() if way != key]
    if label.casefold() in {other.casefold() for other in taken}:
        raise _refused("own_way.taken", label)
    return label


def _key_of(label: str, farm: Scenario) -> str:
    """A key that says the name in small letters, and that nothing else has."""
    plain = unicodedata.normalize("NFKD", label).encode("ascii", "ignore").decode().lower()
    stem = re.sub("[^a-z0-9]+", "_", plain).strip("_")[:LONGEST_NAME].strip("_")
    stem = stem if re.match("[a-z]", stem) else f"own_{stem}".strip("_")
    taken = {*farm.techniques, *default_techniques(), *STRATEGIES, "own"}
    number = 1
    while (key := stem if number == 1 else f"{stem}_{number}") in taken:
        number += 1
    return key


def _refused(code: str, name: str, **facts: Any) -> ScenarioError:
    return ScenarioError([Problem("", "", code, name, FrozenDict(facts))])
