"""`renovation words`: what a language lacks beside English, and the empty files of a new one."""

from argparse import Namespace
from collections.abc import Iterator, Sequence
from importlib import resources
from importlib.resources.abc import Traversable
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from renovation.commands.shared import Found, Parser, Refused, usage, write
from renovation.words import Words, languages

if TYPE_CHECKING:
    from renovation.words.audit import Fault


def options(parser: Parser) -> None:
    """A language, or the folder of one; where to begin a new one."""
    parser.positional("code", "code")
    parser.valued("--begin", name="folder", key="begin")


def do(args: Namespace, words: Words) -> str:
    """Say what is to be mended, or write the files of a new language.

    Errors: Found, with what is said, where anything is to be mended.
    """
    from renovation.words.audit import WordsError, faults

    if args.code is None:
        raise Refused(words("translation.error.no_language", usage=usage(args.command, words)))
    try:
        if args.begin is not None:
            return _begun(args, words)
        folder = _folder(args.code, words)
        found = faults(folder, folder.name)
    except WordsError as error:
        raise Refused(words(f"translation.error.{error.code}", **error.facts)) from None
    if not found:
        return words("translation.whole", language=folder.name) + "\n"
    parts = (_part(kind, [*those], words) for kind, those in groupby(found, key=lambda fault: fault.kind))
    raise Found("\n\n".join("\n".join(part) for part in parts) + "\n")


def _folder(found: str, words: Words) -> Traversable:
    """The folder of a language of the program, or a folder that is named; Refused where it is neither."""
    if found in languages():
        return resources.files("renovation.words").joinpath(found)
    if not Path(found).is_dir():
        raise Refused(words("translation.error.no_folder", found=found, known=", ".join(languages())))
    return Path(found).resolve()


def _part(kind: str, those: Sequence["Fault"], words: Words) -> Iterator[str]:
    """What is wrong in one way: how often, what it means, and a line for each key."""
    from renovation.words.audit import LEAST

    yield words(f"translation.head.{kind}", n=len(those))
    if kind == "long":
        yield words("translation.room", least=words.number(LEAST))
    for fault in those:
        facts = {"file": fault.file, "key": fault.key, "found": fault.found, "wanted": fault.wanted}
        if kind in ("facts", "forms"):
            facts |= {name: facts[name] or words("translation.none") for name in ("found", "wanted")}
        if fault.place:
            facts["place"] = words(f"translation.place.{fault.place}")
        yield f"  {words(f'translation.line.{kind}', **facts)}"


def _begun(args: Namespace, words: Words) -> str:
    """Write the empty files of a new language into a new folder of its name; Refused where there is one."""
    from renovation.words.audit import begun

    files, folder = begun(args.code), Path(args.begin) / args.code.replace("-", "_")
    try:
        folder.mkdir(parents=True)
    except FileExistsError:
        raise Refused(words("command.error.file_exists", path=folder)) from None
    except OSError:
        raise Refused(words("translation.error.no_room", path=folder)) from None
    for name, text in files.items():
        write(str(folder / name), text, words)
    return words("translation.begun", n=len(files), folder=folder) + "\n"
