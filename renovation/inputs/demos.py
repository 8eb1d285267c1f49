"""The invented farms that ship with the program, each called as the reader's language calls it.

A farm's file in `scenarios/` is an ordinary one, in English. `demo.toml` of each language says what its farm, stands
and loans are called there, and its note; no number has part in it. A farm opened from a file stays as typed.
"""

from collections.abc import Mapping
from functools import cache, lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from renovation.inputs.files import load_scenario, scenario_of, written
from renovation.inputs.scenario import Scenario
from renovation.words import Words, languages

FIRST_DEMO = "first_grafters"
OWN_LANGUAGE = "en"
"""The language of the files."""


def scenario_folder() -> Path:
    """The folder of the invented farms: inside an installed package, else beside it."""
    inside = Path(str(resources.files("renovation").joinpath("scenarios")))
    return inside if inside.is_dir() else inside.parent.parent / "scenarios"


def demo_names() -> tuple[str, ...]:
    """The names of the invented farms' files, the one that pages open on first."""
    names = sorted(path.stem for path in scenario_folder().glob("*.toml"))
    return tuple(sorted(names, key=lambda name: name != FIRST_DEMO))


@lru_cache(maxsize=64)
def demo_scenario(name: str | None = None, language: str = OWN_LANGUAGE) -> Scenario:
    """An invented farm by the name of its file, the first where none is given, in the words of a language.

    Example:
        >>> demo_scenario("first_grafters", "es").stands[0].name
        'La Orilla'
    """
    name = name or demo_names()[0]
    farm = load_scenario(_path(name))
    return farm if language == OWN_LANGUAGE else called(farm, name, language, (OWN_LANGUAGE,))


@lru_cache(maxsize=16)
def demo_text(name: str, language: str = OWN_LANGUAGE) -> str:
    """The file of an invented farm as it was written; empty in a language in which nobody wrote one."""
    return _path(name).read_text("utf-8") if language == OWN_LANGUAGE else ""


def called(farm: Scenario, name: str, language: str, before: tuple[str, ...] = ()) -> Scenario:
    """A demo farm, changed or not, in the words of a language; the same object where all of it is called so already.

    before: the languages that may have called it otherwise, any where none is given.
    """
    names = names_in(name, language, before)
    if names.keys().isdisjoint({farm.about.name, farm.about.note, *(stand.name for stand in farm.stands)}):
        return farm
    return scenario_of(renamed(written(farm), names), name)


@cache
def names_in(name: str, language: str, before: tuple[str, ...] = ()) -> Mapping[str, str]:
    """What a language calls the things of a demo farm, by what others call them, where that is something else."""
    own = Words(language).names(f"demo.{name}")
    others = [Words(other).names(f"demo.{name}") for other in before or languages()]
    return {said: own[key] for other in others for key, said in other.items() if said != own[key]}


def renamed(node: Any, names: Mapping[str, str]) -> Any:
    """A table with the texts that have another name under it, at any depth.

    Example:
        >>> renamed({"stands": [{"name": "Le Bas", "trees": 3}]}, {"Le Bas": "El Bajo"})
        {'stands': [{'name': 'El Bajo', 'trees': 3}]}
    """
    if isinstance(node, Mapping):
        return {key: renamed(value, names) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return type(node)(renamed(value, names) for value in node)
    return names.get(node, node) if isinstance(node, str) else node


def _path(name: str) -> Path:
    return scenario_folder() / f"{name}.toml"
