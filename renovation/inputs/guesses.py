"""Figures of a farm that nobody has stated yet: our guesses, each with its range, by the path at which it stands."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, Field

from renovation.inputs.quantities import MOST, FrozenDict, Model

PATH = r"^[a-z_]+(\.([a-z_]+|[0-9]{1,4}))+$"
GuessPath = Annotated[str, Field(pattern=PATH, max_length=120)]
"""A place of the farm from its file down, such as `stands.0.trees`; entries of a list count from 0."""


class Guess(Model):
    """How low and how high a figure may well be that we guess."""

    low: Annotated[float, Field(ge=-MOST, le=MOST)]
    high: Annotated[float, Field(ge=-MOST, le=MOST)]


Guesses = Annotated[dict[GuessPath, Guess], AfterValidator(FrozenDict), Field(max_length=2000)]


def at(root: Any, path: str) -> Any:
    """What stands at a path of models, tables and lists; None where it leads nowhere.

    Example:
        >>> at({"stands": ({"trees": 3},)}, "stands.0.trees"), at({"stands": ()}, "stands.0.trees")
        (3, None)
    """
    for part in path.split("."):
        if isinstance(root, BaseModel):
            root = getattr(root, part, None)
        elif isinstance(root, Mapping):
            root = root.get(part)
        elif isinstance(root, tuple | list) and part.isdecimal() and int(part) < len(root):
            root = root[int(part)]
        else:
            return None
    return root


def still_guessed(before: Any, after: Any, changed: Mapping[str, Any]) -> dict[str, Guess]:
    """The guesses of a farm that a change leaves guesses: where nothing was said and the value is as it was.

    before: the scenario. after: its changed data. changed: what was said, by keys joined by `__`; a figure that is
    said is no guess any longer, even where it is the same. Stands that came by a walk keep what is guessed of theirs.
    """
    said = {key.replace("__", ".") for key in changed}
    moved = _stands_moved(before, after) if "stands" in said else None
    kept: dict[str, Guess] = {}
    for path, guess in before.guessed.items():
        if path in said:
            continue
        section, place, *rest = path.split(".")
        places = [path]
        if moved is not None and section == "stands":
            places = [".".join([section, str(now), *rest]) for now in moved.get(place, ())]
        kept |= {there: guess for there in places if at(after, there) == at(before, path) is not None}
    return kept


def _stands_moved(before: Any, after: Any) -> dict[str, tuple[int, ...]]:
    """Where each stand of a farm stands now, by its place before: itself, or its classes."""
    found: dict[str, list[int]] = {str(place): [] for place in range(len(before.stands))}
    names = {stand.name: place for place, stand in enumerate(before.stands)}
    wholes: dict[str, int] = {}
    for place, stand in enumerate(before.stands):
        wholes.setdefault(stand.part_of or stand.name, place)
    for place, (name, part_of) in enumerate(_named(after)):
        origin = names.get(name, wholes.get(part_of) if part_of else None)
        if origin is not None:
            found[str(origin)].append(place)
    return {origin: tuple(places) for origin, places in found.items()}


def _named(after: Any) -> Iterator[tuple[str, str | None]]:
    stands = at(after, "stands")
    for stand in stands if isinstance(stands, tuple | list) else ():
        yield str(at(stand, "name")), at(stand, "part_of")
