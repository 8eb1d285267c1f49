"""What a page said, so that its hard words can be explained at its foot."""

from threading import local
from typing import Any

from renovation.words import Words

_HERE = local()
"""What is said by the page that this thread draws."""


class Heard(Words):
    """The catalogue of the screens: what it says to the page that is being drawn is kept until the page ends."""

    def __call__(self, key: str, /, **facts: Any) -> str:
        """Fill the sentence of a key, and keep it."""
        said = super().__call__(key, **facts)
        kept: set[str] | None = getattr(_HERE, "said", None)
        if kept is not None:
            kept.add(said)
        return said


def listen() -> None:
    """Begin to keep what is said."""
    _HERE.said = set()


def heard() -> str:
    """All that was said since, and end."""
    said, _HERE.said = _HERE.said, None
    return "\n".join(said)
