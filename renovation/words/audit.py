"""What a language's folder lacks beside English, and an empty folder for a new one.

English is the measure: every key of it, with the same facts; what counts with the plural forms that CLDR has for the
language; nothing beside; and a label no longer than its place holds.
"""

import re
import string
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Literal

from babel import Locale, UnknownLocaleError

from renovation.words.catalogue import PLURAL_FORMS, Entry, flatten, topics

MEASURE = "en"
LABELS = {
    "page": r"screen\.page\.\w+",
    "tab": r"screen\.\w+\.tab\.\w+",
    "column": r"(.+\.)?\w*column\.\w+|plan\.table\..+",
    "button": r"(before|change|notebook|planting\.screen|tally)\.("
    r"again_nothing|back_nothing|forget|begin|begin_again|next|skip|to_plan|add|typed|use)"
    r"|screen\.(beside|cash|device|farms|figures|lender|numbers|own_way|plan|risk|season|share|sidebar|standing)\.("
    r"add|add_payout|add_record|add_stand|add_tool|add_year|blank_csv|blank_page|caution_make|code|copy|figures|forget"
    r"|make|make_again|one_fewer|one_more|open|remove|remove_loan|remove_stand|save|save_code|save_next|show|stop"
    r"|take_in|use_bolder|use_currency|use_curve|use_loan|use_shares|without)",
}
"""Keys by the place in which they stand, where there is little room."""
LEAST = 16
"""Letters that every such place holds."""
TIMES = 2
"""As often as long as in English a label may be: English is held to half the width of a phone, so twice of it fits."""
KINDS = ("missing", "unused", "facts", "forms", "long")
"""What can be wrong with a key, in the order in which it is told."""
Kind = Literal["missing", "unused", "facts", "forms", "long"]


class WordsError(ValueError):
    """A folder that cannot be read as a language: `code` names its sentence, `facts` fill it."""

    def __init__(self, code: str, **facts: str) -> None:
        """Keep both."""
        super().__init__(code)
        self.code, self.facts = code, facts


@dataclass(frozen=True)
class Fault:
    """What is wrong with a key: found is what the language has, wanted what it should; place as of `LABELS`."""

    kind: Kind
    file: str
    key: str
    found: str = ""
    wanted: str = ""
    place: str = ""


def plural_forms(code: str) -> frozenset[str]:
    """The plural forms of a language, as CLDR has them.

    Errors: WordsError `no_code` for a language that CLDR does not know.

    Example:
        >>> sorted(plural_forms("fr")), sorted(plural_forms("id"))
        (['many', 'one', 'other'], ['other'])
    """
    try:
        return frozenset({*Locale.parse(code.replace("-", "_")).plural_form.rules, "other"})
    except (UnknownLocaleError, ValueError):
        raise WordsError("no_code", found=code) from None


def entries(folder: Traversable) -> dict[str, tuple[str, Entry]]:
    """File and words of every key of a folder.

    Errors: WordsError: `not_toml`, `not_words` for what is no text, `twice` for a key of two files, `no_files`.
    """
    found: dict[str, tuple[str, Entry]] = {}
    for file in topics(folder):
        try:
            read = dict(flatten(tomllib.loads(file.read_text("utf-8"))))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            line = re.search(r"line (\d+)", str(error))
            raise WordsError("not_toml", file=file.name, line=line[1] if line else "1") from None
        except TypeError:
            raise WordsError("not_words", file=file.name) from None
        if twice := sorted(read.keys() & found.keys()):
            raise WordsError("twice", file=file.name, key=twice[0])
        found |= {key: (file.name, entry) for key, entry in read.items()}
    if not found:
        raise WordsError("no_files", found=folder.name)
    return found


@cache
def measure() -> Mapping[str, tuple[str, Entry]]:
    """File and words of every key of English."""
    return entries(_english())


def _english() -> Traversable:
    return resources.files("renovation.words").joinpath(MEASURE)


def faults(folder: Traversable, code: str) -> tuple[Fault, ...]:
    """All that is to be mended in a language's folder, by kind; the code is the language's, for its plural forms.

    Errors: WordsError.
    """
    forms = plural_forms(code)
    english, own = measure(), entries(folder)
    found = [Fault("unused", file, key) for key, (file, _) in own.items() if key not in english]
    for key, (file, wanted) in english.items():
        there, entry = own.get(key, (file, ""))
        if not texts(entry) or not all(texts(entry)):
            found.append(Fault("missing", there, key, wanted=texts(wanted)[-1]))
        else:
            found += _wrong(there, key, entry, wanted, forms)
    return tuple(sorted(found, key=lambda fault: KINDS.index(fault.kind)))


def _wrong(file: str, key: str, entry: Entry, wanted: Entry, forms: frozenset[str]) -> Iterator[Fault]:
    """What is wrong with the words of a key that has some."""
    counts = isinstance(wanted, dict)
    has = frozenset(entry) if isinstance(entry, dict) else frozenset()
    if has != (forms if counts else frozenset()):
        yield Fault("forms", file, key, ", ".join(sorted(has)), ", ".join(sorted(forms if counts else ())))
    due = {fact for text in texts(wanted) for fact in facts_in(text)} - ({"n"} if counts else set())
    for text in texts(entry):
        if (said := facts_in(text) - ({"n"} if counts else set())) != due:
            yield Fault("facts", file, key, _braced(said), _braced(due))
            break
    place = next((place for place, keys in LABELS.items() if re.fullmatch(keys, key)), "")
    most = max(LEAST, TIMES * max(map(len, texts(wanted))))
    if place and (longest := max(texts(entry), key=len)) and len(longest) > most:
        yield Fault("long", file, key, longest, str(most), place)


def texts(entry: Entry) -> list[str]:
    """The sentences of a key: one, or one for each plural form."""
    return [entry] if isinstance(entry, str) else [*entry.values()]


def facts_in(text: str) -> set[str]:
    """The places for facts in a sentence; the sentence itself where its braces do not match."""
    try:
        return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}
    except ValueError:
        return {text}


def _braced(names: set[str]) -> str:
    return ", ".join(f"{{{name}}}" for name in sorted(names))


# A new language

_TEXT = r'"(?:[^"\\]|\\.)*"'
_COUNTED = re.compile(rf"((?:\w+\.)*)({'|'.join(sorted(PLURAL_FORMS))})\s*=\s*{_TEXT}")
_COUNTED_INLINE = re.compile(rf"\{{\s*(?:{'|'.join(sorted(PLURAL_FORMS))})\s*=\s*{_TEXT}.*\}}")


def begun(code: str) -> Mapping[str, str]:
    """The files of a new language, by name: those of English, each sentence a comment above its empty place.

    Errors: WordsError for a language that CLDR does not know.
    """
    forms = sorted(plural_forms(code))
    return {file.name: "\n".join(emptied(file.read_text("utf-8"), forms)) + "\n" for file in topics(_english())}


def emptied(text: str, forms: list[str]) -> Iterator[str]:
    """The lines of a word file with its words taken out, and the plural forms of another language put in.

    Example:
        >>> print("\\n".join(emptied('[a]\\nb = "Trees"\\nc = { one = "{n} tree", other = "{n} trees" }', ["other"])))
        [a]
        # b = "Trees"
        b = ""
        # c = { one = "{n} tree", other = "{n} trees" }
        c = { other = "" }
    """
    lines, head = text.splitlines(), ""
    counting = {key for key, entry in flatten(tomllib.loads(text)) if isinstance(entry, dict)}
    inline = "{ " + ", ".join(f'{form} = ""' for form in forms) + " }"

    def counted(line: str) -> str | None:
        """What stands before the plural form on a line of a key that counts; None on any other."""
        found = _COUNTED.match(line)
        return found[1] if found and f"{head}{found[1]}".rstrip(".") in counting else None

    for line, after in zip(lines, [*lines[1:], ""], strict=True):
        if line.startswith("["):
            head = line.strip("[] ").replace('"', "") + "."
        if not line.strip() or line.startswith(("#", "[")):
            yield line
            continue
        yield f"# {line}"
        if (before := counted(line)) is not None:
            if counted(after) != before:  # the last form of this key
                yield from (f'{before}{form} = ""' for form in forms)
        elif _COUNTED_INLINE.search(line):
            yield _COUNTED_INLINE.sub(inline, line)
        else:
            yield re.sub(rf"=(\s*){_TEXT}", r'=\1""', line)
