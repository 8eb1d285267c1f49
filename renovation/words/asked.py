"""Which language somebody asks for: the wish of a browser, the settings of a machine, a code in a link."""

import re

from renovation.words.catalogue import languages

OLD_CODES = {"in": "id"}
"""Codes that older phones still send for a language."""
_WEIGHT = re.compile(r";\s*q\s*=\s*([0-9.]+)\s*$", re.IGNORECASE)


def language_of(tag: str) -> str | None:
    """The language of a tag, whatever country stands behind it; None where it is none of ours.

    Example:
        >>> [language_of(tag) for tag in ("es-EC", "pt_BR.UTF-8", "FR", "in-ID", "de", "C", "")]
        ['es', 'pt', 'fr', 'id', None, None, None]
    """
    code = re.split(r"[-_.@]", tag.strip().casefold())[0]
    code = OLD_CODES.get(code, code)
    return code if code in languages() else None


def wished(header: str) -> str | None:
    """The language of ours that a list of tags wishes for most; None where it wishes for none of them.

    header: as a browser sends it, each tag with a weight from 0 (never) to 1, which is meant where none stands
    (RFC 9110, 12.5.4); of the same weight the first is wished for most.

    Example:
        >>> wished("de-CH, en;q=0.5, es-EC;q=0.8"), wished("qu;q=1, *;q=0.1"), wished("fr;q=0")
        ('es', None, None)
    """
    weighed = [(_weight(entry), language_of(_WEIGHT.sub("", entry))) for entry in header.split(",")]
    found = [(weight, language) for weight, language in weighed if language is not None and weight > 0]
    return max(found, key=lambda pair: pair[0])[1] if found else None


def _weight(entry: str) -> float:
    """The weight of an entry; 0 for one that is no number."""
    stated = _WEIGHT.search(entry)
    try:
        return float(stated[1]) if stated else 1.0
    except ValueError:
        return 0.0
