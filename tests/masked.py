"""A catalogue without letters: whatever letter is left in a text did not come from the catalogue."""

import re

from babel.dates import get_month_names
from babel.lists import format_list

from renovation.words import Words


class Masked(Words):
    """The catalogue with every letter of it replaced, the names of facts in braces left."""

    def __init__(self, language: str = "en") -> None:
        super().__init__(language)
        self._entries = {key: self._mask(entry) for key, entry in self._entries.items()}

    def _mask(self, entry):
        if isinstance(entry, dict):
            return {form: self._mask(text) for form, text in entry.items()}
        parts = re.split(r"(\{[^}]*\})", entry)
        return "".join(part if part.startswith("{") else re.sub(r"[^\W\d_]", "¤", part) for part in parts)


def letters_left(text: str, *data: str) -> set[str]:
    """Words of a text made with the mask that come neither from the data nor from CLDR: months, lists."""
    months = [name for width in ("wide", "abbreviated") for name in get_month_names(width, locale="en").values()]
    lists = format_list(["0", "0"], locale="en")
    known = {part for piece in (*data, *months, lists) for part in re.findall(r"[^\W\d_]+", piece)}
    return {word for word in re.findall(r"[^\W\d_]{2,}", text) if word not in known}
