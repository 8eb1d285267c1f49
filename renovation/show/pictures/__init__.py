"""Our own line drawings, a file each, and which of them stands beside which work.

A drawing never stands alone: whoever shows one writes the work's words beside it.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources


@cache
def named() -> Mapping[str, Mapping[str, str]]:
    """What `works.toml` says: group, key, name of a drawing."""
    return tomllib.loads(resources.files(__name__).joinpath("works.toml").read_text("utf-8"))


def of_work(kind: str) -> str:
    """The drawing's name for a kind of work; of a farm's own operation that for any other work.

    Example:
        >>> of_work("graft_shoot"), of_work("sing_to_the_tree")
        ('graft', 'person')
    """
    return named()["work"].get(kind, sign("other"))


def of_family(family: str) -> str:
    """The drawing's name for a way of a family: graft, replant, prune."""
    return named()["family"][family]


def of_look(family: str) -> str:
    """The drawing's name for looking at the trees of a way of a family."""
    return named()["look"][family]


def sign(key: str) -> str:
    """The drawing's name for what is no work: buy, money, hands, beware, look."""
    return named()["sign"][key]


@cache
def svg(name: str) -> str:
    """A drawing as SVG, as its file says; FileNotFoundError for a name that has none.

    Example:
        >>> svg("graft").startswith("<svg")
        True
    """
    return resources.files(__name__).joinpath(f"{name}.svg").read_text("utf-8").strip()


__all__ = ["named", "of_family", "of_look", "of_work", "sign", "svg"]
