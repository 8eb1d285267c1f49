"""The command line: `renovation COMMAND`, over the same calls as the dashboard; each command is a file beside this.

Exit codes: 0; 1 where `words` found something to mend; 2 for what cannot be done, with one sentence for each mistake
on stderr and nothing on stdout; 130 for an interrupt.
"""

import os
import sys
from collections.abc import Iterable, Sequence
from importlib import import_module
from typing import TextIO

from renovation.commands import COMMANDS
from renovation.commands.shared import (
    DEFAULT_LANGUAGE,
    LANGUAGE_VARIABLE,
    Found,
    Parser,
    Refused,
    chosen,
    language_help,
    reason,
)
from renovation.inputs import ScenarioError
from renovation.version import __version__
from renovation.words import Words, language_of, languages


def answer(argv: Sequence[str]) -> str:
    """What the program prints for these arguments; raises Refused or ScenarioError for bad input."""
    words = _words(argv)
    rest = list(argv)
    while rest and rest[0].startswith("--language"):  # an option before the command
        rest = rest[1 if "=" in rest[0] else 2 :]
    if not rest:
        raise Refused(words("command.error.no_command", known=", ".join(COMMANDS)), words("command.more"))
    first, *rest = rest
    if first in ("-h", "--help"):
        return _root_help(words)
    if first == "--version":
        return words("command.version", version=__version__) + "\n"
    name = chosen(first, COMMANDS, "unknown_command", words)
    command, parser = import_module(f"renovation.commands.{name}"), Parser(name, words)
    command.options(parser)
    if any(word in ("-h", "--help") for word in rest):
        return parser.format_help()
    return str(command.do(parser.read(rest), words))


def _words(argv: Sequence[str]) -> Words:
    """The words in the language of `--language`, else of the environment's variable, else of the machine's locale.

    Errors: Refused for an option, or a variable that it would go by, that names none of ours.
    """
    asked, named = _option(argv), os.environ.get(LANGUAGE_VARIABLE, "").strip()
    words = Words(language_of(named) or _of_machine())
    if asked is not None:
        return Words(language_of(asked) or chosen(asked, languages(), "no_language", words))
    if named and language_of(named) is None:
        facts = {"variable": LANGUAGE_VARIABLE, "found": named, "known": ", ".join(languages())}
        raise Refused(words("command.error.language_variable", **facts))
    return words


def _of_machine() -> str:
    """The language of the locale, by the first of these variables that is set (POSIX, 8.2); else English."""
    stated = (os.environ.get(name) for name in ("LC_ALL", "LC_MESSAGES", "LANG"))
    return language_of(next(filter(None, stated), "")) or DEFAULT_LANGUAGE


def _option(argv: Sequence[str]) -> str | None:
    """The language asked for, wherever `--language` stands; None where it does not, or has no value."""
    for position, word in enumerate(argv):
        if word == "--language" and position + 1 < len(argv):
            return argv[position + 1]
        if word.startswith("--language="):
            return word.removeprefix("--language=")
    return None


def _root_help(words: Words) -> str:
    """What the program does and its commands."""
    options = {"-h, --help": words("command.help.help"), "--version": words("command.help.version")}
    options[f"--language {words('command.name_language')}"] = language_help(words)
    left = max(map(len, [*COMMANDS, *options]))
    lines = [
        words("command.usage", form=words("command.root_usage")),
        "",
        words("command.about"),
        "",
        f"{words('command.commands')}:",
    ]
    lines += [f"  {name:{left}}  {words(f'command.{name}.help')}" for name in COMMANDS]
    lines += ["", f"{words('command.options')}:", *(f"  {flag:{left}}  {text}" for flag, text in options.items())]
    return "\n".join([*lines, "", words("command.more")]) + "\n"


def printable(text: str) -> str:
    """Put a sign in the place of control characters: a name in a file must not steer the terminal.

    Example:
        >>> printable("a\\x1b[2J") == "a\\N{REPLACEMENT CHARACTER}[2J"
        True
    """
    plain = text.isprintable() and text
    return plain or "".join(c if c.isprintable() or c in "\n\u00a0\u202f" else "\ufffd" for c in text)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0, 1 for what was looked for and found, or 2 for what cannot be done.

    A reader who has left, or an output that was closed before, is no fault; one that is full is.
    """
    argv = sys.argv[1:] if argv is None else argv
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    code = 0
    try:
        text = answer(argv)
    except Found as found:
        text, code = found.text, 1
    except Refused as refused:
        return _refuse(refused.sentences)
    except ScenarioError as error:
        return _refuse(error.sentences(_words(argv)))
    fault = _say(text, sys.stdout)
    if fault is None:
        return code
    words = _words(argv)
    return _refuse([words("command.error.output_failed", reason=reason(fault, words))])


def _refuse(sentences: Iterable[str]) -> int:
    """Say why not; where nobody can be told, the exit code alone does."""
    _say("\n".join(sentences) + "\n", sys.stderr)
    return 2


def _say(text: str, stream: TextIO | None) -> OSError | None:
    """Write to a stream, None where it is closed; give back why it could not be, unless its reader has left."""
    if stream is None:
        return None
    try:
        stream.write(printable(text))
        stream.flush()
    except OSError as fault:
        # what is left of the text must go nowhere when Python closes the stream
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        return None if isinstance(fault, BrokenPipeError) else fault
    return None
