"""Names of a package that load their file when they are first asked for: a short answer loads little."""

from collections.abc import Callable, Collection
from importlib import import_module
from typing import Any


def on_demand(package: str, **files: Collection[str]) -> Callable[[str], Any]:
    """The `__getattr__` of a package (PEP 562): each file beside `__init__.py` and the names that it has.

    Errors: AttributeError for any other name.

    Example:
        >>> from renovation.decide import Lending
        >>> Lending.__module__
        'renovation.decide.lending'
    """

    file_of = {name: file for file, names in files.items() for name in names}

    def asked(name: str) -> Any:
        if name not in file_of:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{file_of[name]}"), name)

    return asked
