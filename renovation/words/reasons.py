"""Why a default figure is what it is, in the reader's language: the reasonings of the defaults' files, said again."""

import tomllib
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib import resources


@cache
def said_again(language: str) -> Mapping[str, str]:
    """Each reasoning that ships by its English text; nothing for English itself."""
    file = resources.files("renovation.defaults").joinpath("reasons", f"{language}.toml")
    found: Mapping[str, str] = tomllib.loads(file.read_text("utf-8")) if file.is_file() else {}
    return found


@lru_cache(maxsize=1024)
def reason(because: str, language: str) -> str:
    """A reasoning in a language, or several in a row; what does not ship was typed by somebody and stays as it is.

    Example:
        >>> reason("My neighbour's own count.", "es")
        "My neighbour's own count."
    """
    known, said, rest = said_again(language), list[str](), because
    while rest:
        first = max((text for text in known if f"{rest} ".startswith(f"{text} ")), key=len, default=None)
        if first is None:
            return because
        said.append(known[first])
        rest = rest.removeprefix(first).lstrip()
    return " ".join(said)
