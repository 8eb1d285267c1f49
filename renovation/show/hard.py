"""Hard words and what they mean: which of them a text says, each explained in a sentence (`hard.*`)."""

import re
from functools import cache

from renovation.words import Words


def keys_of(group: str, words: Words) -> list[str]:
    """The keys of the words that are explained (`hard`), or of those said otherwise (`instead`)."""
    found = {key.split(".")[1] for key in words.keys() if key.startswith(f"{group}.")}  # noqa: SIM118 - no mapping
    return sorted(found)


def forms_of(group: str, key: str, words: Words) -> list[str]:
    """The forms in which a hard word stands, the one that is shown first.

    Example:
        >>> forms_of("hard", "scion", Words("en"))
        ['scion', 'scions']
    """
    return words(f"{group}.{key}.word").split(" / ")


@cache
def _known(group: str, words: Words) -> tuple[re.Pattern[str], dict[str, str]]:
    """A pattern of all forms, the longest first, and the key of each form."""
    keys = {form.casefold(): key for key in keys_of(group, words) for form in forms_of(group, key, words)}
    longest = sorted(keys, key=len, reverse=True)
    return re.compile(r"\b(" + "|".join(map(re.escape, longest)) + r")\b", re.IGNORECASE), keys


def said_in(text: str, words: Words, group: str = "hard") -> list[str]:
    """The keys of the hard words that a text says, by the alphabet.

    Example:
        >>> said_in("Scions come before the first instalment; so do more scions.", Words("en"))
        ['instalment', 'scion']
    """
    pattern, keys = _known(group, words)
    return sorted({keys[found.casefold()] for found in pattern.findall(text)})


def plainer(words: Words) -> list[str]:
    """What is said in place of each hard word that no page says.

    Example:
        >>> plainer(Words("en"))[0]
        'Anew: again'
    """
    return [
        words("hard_page.line", word=_first("instead", key, words), means=words(f"instead.{key}.plain"))
        for key in keys_of("instead", words)
    ]


def _first(group: str, key: str, words: Words) -> str:
    """A hard word as it is shown, with a capital at its head."""
    name = forms_of(group, key, words)[0]
    return name[:1].upper() + name[1:]


def explained(keys: list[str], words: Words) -> list[str]:
    """A sentence for each hard word.

    Example:
        >>> explained(["inflation"], Words("en"))
        ['Inflation: How fast prices rise.']
    """
    names = {key: _first("hard", key, words) for key in keys}
    return [
        words("hard_page.line", word=name, means=words(f"hard.{key}.means"))
        for key, name in sorted(names.items(), key=lambda item: item[1])
    ]
