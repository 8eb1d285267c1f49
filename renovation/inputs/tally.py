"""A stand walked through, tree by tree or class by class: each class becomes a stand of its own (method §11)."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, model_validator

from renovation.inputs.decimals import read_decimal
from renovation.inputs.declared import declared
from renovation.inputs.defaults import default_tree_classes
from renovation.inputs.errors import Problem, ScenarioError
from renovation.inputs.quantities import FrozenDict, Model, Quantity, problem
from renovation.inputs.rows import read_rows
from renovation.inputs.scenario import Scenario
from renovation.inputs.stands import Pods, Stand

CLASSES = ("good", "average", "poor", "bare")
"""From the best to those that bear nothing."""
COLUMNS = ("tree", "pods")
EMPTY = "empty"
"""What stands under pods where no tree is."""
LONGEST_NAME = 80


class TreeClass(Model):
    """Trees of one class, and the pods that one of them bears in a year."""

    trees: Annotated[int, Field(ge=0, le=1_000_000), Quantity("trees")] = 0
    pods_per_tree: Annotated[float, Field(ge=0, le=500), Quantity("pods/tree/year")] = 0.0


class Tally(Model):
    """What a walk counted: trees and pods by class, empty places; of trees told one by one the pods of each."""

    good: TreeClass = TreeClass()
    average: TreeClass = TreeClass()
    poor: TreeClass = TreeClass()
    bare: TreeClass = TreeClass()
    empty_places: Annotated[int, Field(ge=0, le=1_000_000), Quantity("places")] = 0
    pods: Annotated[tuple[Annotated[float, Field(ge=0, le=500)], ...], Quantity("pods/tree/year")] = ()

    @model_validator(mode="after")
    def _trees_there(self) -> "Tally":
        if not self.trees:
            raise problem("no_trees_counted")
        return self

    @property
    def trees(self) -> int:
        """Trees in all."""
        return sum(getattr(self, name).trees for name in CLASSES)

    @property
    def classes(self) -> dict[str, TreeClass]:
        """The classes that have trees, from the best on."""
        return {name: one for name in CLASSES if (one := getattr(self, name)).trees}


def class_of(pods: float) -> str:
    """The class of a tree by the pods that it bears in a year, by the published borders.

    Example:
        >>> [class_of(pods) for pods in (25, 24, 15, 14, 1, 0)]
        ['good', 'average', 'average', 'poor', 'poor', 'bare']
    """
    borders = default_tree_classes()
    if pods <= 0:
        return "bare"
    return "good" if pods >= borders.good.value else "average" if pods >= borders.average.value else "poor"


def tally_of(pods: tuple[float, ...], empty_places: int = 0) -> Tally:
    """The tally of trees told one by one: of each class how many there are, and the mean of their pods.

    Example:
        >>> tally_of((30, 20, 0, 16, 4), empty_places=2).average
        TreeClass(trees=2, pods_per_tree=18.0)
    """
    of_class: dict[str, list[float]] = {}
    for one in pods:
        of_class.setdefault(class_of(one), []).append(one)
    classes = {name: TreeClass(trees=len(own), pods_per_tree=sum(own) / len(own)) for name, own in of_class.items()}
    return Tally(**classes, empty_places=empty_places, pods=pods)


def read_tally(content: str | bytes, name: str) -> Tally:
    """The tally of a CSV called `name` with a row a tree: its number, and its pods a year, or `empty` for a place.

    Errors: ScenarioError with a sentence for each mistake and its line, of the table (`read_rows`) or of a row.

    Example:
        >>> read_tally("tree,pods\\n1,30\\n2,0\\n3,empty\\n", "walk.csv").empty_places
        1
    """
    shape = declared(TreeClass, "pods_per_tree")
    pods: list[float] = []
    wrong: list[Problem] = []
    empty = 0
    for row in read_rows(content, name, COLUMNS):
        cell = row.cells["pods"]
        if cell.casefold() == EMPTY:
            empty += 1
            continue
        try:
            pods.append(read_decimal(cell, shape))
        except ScenarioError as error:
            facts = FrozenDict(reason=error.problems[0])
            wrong.append(Problem(name, str(row.line), "tally.at_line", cell, facts))
    if not pods and not wrong:
        wrong.append(Problem(name, "", "no_trees_counted"))
    if wrong:
        raise ScenarioError(wrong)
    return tally_of(tuple(pods), empty)


def default_pods_per_kg(farm: Scenario, name: str) -> float:
    """Pods to a kilogram of dry beans: as the stand or a class of it states them, else the published number."""
    for stand in farm.stands:
        if name in (stand.name, stand.part_of) and stand.pods is not None:
            return stand.pods.pods_per_kg
    return default_tree_classes().pods_per_kg.value


@dataclass(frozen=True)
class Walk:
    """A tally put into a farm. stand: the whole that was walked. stated: its trees before, but for those under way."""

    farm: Scenario
    stand: str
    stated: int
    tally: Tally
    pods_per_kg: float


def walked(farm: Scenario, name: str, tally: Tally, say_class: Callable[[str], str], pods_per_kg: float) -> Walk:
    """The farm with each class of a stand, or of the classes that it was in before, as a stand of its own.

    Trees under way are not counted on a walk: they stay in the stand in which they began, which keeps them alone. What
    the plan treats is taken from the poorest trees on. Empty places, and what is planted on them, go with the class of
    most trees. say_class: the words that follow the stand's name.
    Errors: KeyError for a stand that is not there, ScenarioError where the plan treats more trees than were counted.
    """
    whole = next((stand.part_of for stand in farm.stands if stand.name == name and stand.part_of), name)
    group = [stand for stand in farm.stands if whole in (stand.name, stand.part_of)]
    if not group:
        raise KeyError(name)
    begun = {stand.name: stand.trees - farm.free_trees(stand.name) for stand in group}
    planted = sum(stand.empty_places - farm.free_places(stand.name) for stand in group)
    ground = sum(stand.hectares or 0.0 for stand in group)
    kept = [stand.model_copy(update={"trees": begun[stand.name]}) for stand in group if begun[stand.name]]
    made: list[Stand] = []
    for key, one in tally.classes.items():
        called = _free_name(f"{whole}, {say_class(key)}", {stand.name.casefold() for stand in (*kept, *made)})
        made.append(_class(group[0], called, one, pods_per_kg))
    in_all = sum(stand.trees for stand in (*kept, *made))
    host = max(made, key=lambda stand: stand.trees).name
    parts = [
        stand.model_copy(
            update={
                "part_of": whole,
                "hectares": ground * stand.trees / in_all if ground else None,
                "empty_places": planted + tally.empty_places if stand.name == host else 0,
            }
        )
        for stand in (*kept, *made)
    ]
    stated = sum(stand.trees for stand in group) - sum(begun.values())
    return Walk(_in_their_place(farm, group, parts, host), whole, stated, tally, pods_per_kg)


def _free_name(called: str, taken: set[str]) -> str:
    """A name that is not taken, as long as a name may be."""
    called, number = called[-LONGEST_NAME:].strip(), 2
    found = called
    while found.casefold() in taken:
        found, number = f"{called[: LONGEST_NAME - 4]} {number}", number + 1
    return found


def _class(like: Stand, name: str, trees: TreeClass, pods_per_kg: float) -> Stand:
    """The trees of a class as a stand, in all else like the one that was walked."""
    lost = like.pods.lost_share if like.pods else 0.0
    pods = Pods(pods_per_tree=trees.pods_per_tree, pods_per_kg=pods_per_kg, lost_share=lost)
    return like.model_copy(update={"name": name, "trees": trees.trees, "pods": pods, "crop_per_tree": None})


def _in_their_place(farm: Scenario, group: list[Stand], parts: list[Stand], host: str) -> Scenario:
    """The farm with a group of stands replaced, its plan and its comparison moved on to those that came.

    host: the part that has the empty places, and what is planted on them.
    """
    gone, first = {stand.name for stand in group}, farm.stands.index(group[0])
    others = [stand for stand in farm.stands if stand.name not in gone]
    under_way = tuple(
        entry.model_copy(update={"stand": host}) if entry.stand in gone and _on_places(farm, entry.technique) else entry
        for entry in farm.under_way
    )
    changes: dict[str, Any] = {
        "stands": tuple(stand.model_dump() for stand in (*others[:first], *parts, *others[first:])),
        "under_way": tuple(entry.model_dump() for entry in under_way),
    }
    begun = [entry for entry in under_way if entry.stand in {stand.name for stand in parts}]
    left = {
        (stand.name, on_places): (stand.empty_places if on_places else stand.trees)
        - sum(e.trees for e in begun if e.stand == stand.name and _on_places(farm, e.technique) == on_places)
        for stand in sorted(parts, key=lambda stand: stand.kg_per_tree)
        for on_places in (False, True)
    }
    changes["plan"] = tuple(_moved(farm, gone, left))
    if (farm.comparison.stand or farm.stands[0].name) in gone:
        most = max(parts, key=lambda stand: left[stand.name, False])
        changes |= {"comparison__stand": most.name, "comparison__trees": None}
    return farm.changed(**changes)


def _on_places(farm: Scenario, technique: str) -> bool:
    return farm.techniques[technique].works_on == "empty places"


def _moved(farm: Scenario, gone: set[str], left: dict[tuple[str, bool], int]) -> Iterator[dict[str, Any]]:
    """The treatments of a plan, those of stands that are gone taken from what is left, the poorest trees first."""
    for treatment in farm.plan:
        if treatment.stand not in gone:
            yield treatment.model_dump()
            continue
        wanted, on_places = treatment.trees, _on_places(farm, treatment.technique)
        for name, there in [(name, there) for (name, places), there in left.items() if places == on_places]:
            if trees := min(wanted, there):
                yield {**treatment.model_dump(), "stand": name, "trees": trees}
                left[name, on_places], wanted = there - trees, wanted - trees
        if wanted:
            raise ScenarioError([Problem("", "", "tally.plan_too_many", facts=FrozenDict(stand=treatment.stand))])
