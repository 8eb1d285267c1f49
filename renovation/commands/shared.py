"""What commands share: the parser, refusals, scenarios read, results given as text, JSON or CSV, files written."""

import argparse
import errno
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from renovation.inputs import LoanTest, Scenario, ScenarioError
from renovation.inputs.errors import near
from renovation.inputs.files import opened
from renovation.inputs.shapes import bounds, fields
from renovation.version import __version__
from renovation.whole import write_whole
from renovation.words import Words, languages

if TYPE_CHECKING:
    from renovation.decide.dossier import Dossier

DEFAULT_LANGUAGE = "en"
LANGUAGE_VARIABLE = "RENOVATION_LANGUAGE"
"""The variable of the environment that names the language of every command."""
FALLBACK_WIDTH = 100
PROGRAM = "renovation"


class Refused(Exception):  # noqa: N818 - the name says what happened
    """The command cannot be carried out; `sentences` say why."""

    def __init__(self, *sentences: str) -> None:
        """Keep the sentences."""
        super().__init__(*sentences)
        self.sentences = sentences


class Found(Exception):  # noqa: N818 - the name says what happened
    """What a command looked for is there: `text` tells it, and the program ends with 1."""

    def __init__(self, text: str) -> None:
        """Keep the text."""
        super().__init__(text)
        self.text = text


# Arguments


class Parser(argparse.ArgumentParser):
    """A parser whose every word comes from the catalogue."""

    def __init__(self, command: str, words: Words) -> None:
        """Open an empty parser for one command."""
        self.words, self.command = words, command
        super().__init__(
            prog=f"{PROGRAM} {command}",
            usage=argparse.SUPPRESS,
            description=f"{usage(command, words)}\n\n{words(f'command.{command}.help')}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
            add_help=False,
            allow_abbrev=False,
            exit_on_error=False,
        )
        self.named = self.add_argument_group(words("command.arguments"))
        self.options = self.add_argument_group(words("command.options"))
        self.option("-h", "--help", action="help", help=self.say("help"))
        self.option("--language", metavar=words("command.name_language"), help=language_help(words))

    def say(self, key: str, **facts: str) -> str:
        """A help text from the catalogue; argparse reads a percent sign as its own, so it is doubled."""
        return self.words(f"command.help.{key}", **facts).replace("%", "%%")

    def positional(self, name: str, key: str) -> None:
        """Add a name that may be missing: the command says so in its own words."""
        self.named.add_argument(name, nargs="?", metavar=self.words(f"command.name_{name}"), help=self.say(key))

    def option(self, *flags: str, **settings: object) -> None:
        """Add an option."""
        self.options.add_argument(*flags, **settings)  # type: ignore[arg-type]

    def switch(self, flag: str, key: str, **facts: str) -> None:
        """Add an option that is given or not."""
        self.option(flag, action="store_true", help=self.say(key, **facts))

    def valued(self, *flags: str, name: str, key: str, **facts: str) -> None:
        """Add an option that takes one value, kept as it was written."""
        self.option(*flags, metavar=self.words(f"command.name_{name}"), help=self.say(key, **facts))

    def outputs(self, *tables: str) -> None:
        """Add the ways out beside text: --csv, of the first of several tables where none is named, and --json."""
        self.valued("--csv", name="path", key="csv")
        if tables:
            self.valued("--csv-table", name="table", key="csv_table", tables=", ".join(tables), default=tables[0])
        self.switch("--json", "json")

    def read(self, argv: Sequence[str]) -> argparse.Namespace:
        """Read the arguments; Refused for an unknown option or one without its value."""
        how = usage(self.command, self.words)
        try:
            args, left = self.parse_known_args(argv)
        except argparse.ArgumentError as error:
            option = error.argument_name or ""
            raise Refused(self.words("command.error.option_value", option=option, usage=how)) from None
        if left:
            found = self.words.listing([str(word) for word in left])
            raise Refused(self.words("command.error.unknown_words", found=found, usage=how))
        args.command = self.command
        return args

    def error(self, message: str) -> NoReturn:
        """Refuse: nothing here is required, so argparse calls this only for what it cannot read at all."""
        raise Refused(self.words("command.error.unknown_words", found=message, usage=usage(self.command, self.words)))


def usage(command: str, words: Words) -> str:
    """How a command is written."""
    return words("command.usage", form=words(f"command.{command}.usage"))


def language_help(words: Words) -> str:
    """What the option of every command says: which languages there are, and which it is without."""
    known = ", ".join(languages())
    return words("command.help.language", languages=known, variable=LANGUAGE_VARIABLE, default=DEFAULT_LANGUAGE)


def chosen(found: str, known: Iterable[str], code: str, words: Words, **facts: str) -> str:
    """Take a name that is among the known ones; Refused with the nearest, or with all."""
    known = list(known)
    if found in known:
        return found
    if nearest := near(found, known):
        raise Refused(words(f"command.error.{code}_near", found=found, near=nearest, **facts))
    raise Refused(words(f"command.error.{code}", found=found, known=", ".join(known), **facts))


def whole_number(found: str | None) -> int | None:
    """A whole number as it was written; None for anything else."""
    return int(found) if found is not None and found.isascii() and found.isdigit() and len(found) < 12 else None


def read_scenario(args: argparse.Namespace, words: Words) -> Scenario:
    """Read the scenario file that the arguments name."""
    return open_scenario(args, words)[0]


def open_scenario(args: argparse.Namespace, words: Words) -> tuple[Scenario, str]:
    """Read the scenario file that the arguments name, with its text for what is written over it."""
    if args.file is None:
        raise Refused(words("command.error.missing_file", usage=usage(args.command, words)))
    return opened(args.file)


def at_lower_prices(args: argparse.Namespace, scenario: Scenario, words: Words) -> Scenario:
    """The scenario with its loans tried at the prices that --price-lower names, in percent; as it is without."""
    if args.price_lower is None:
        return scenario
    from renovation.inputs import read_decimal

    try:
        shares = tuple(read_decimal(part, per=100) for part in args.price_lower.replace(";", " ").split())
        return scenario.changed(loan_test__lower_prices=shares)
    except ScenarioError:
        limit = bounds(fields(LoanTest)["lower_prices"])
        ends = {"least": words.number(100 * (limit.lower or 0)), "most": words.number(100 * (limit.upper or 0))}
        raise Refused(words("command.error.price_lower", found=args.price_lower, **ends)) from None


def asked(args: argparse.Namespace, words: Words, *tables: str) -> tuple[Scenario, str]:
    """The scenario, and the table that --csv writes: the one named, else the first, "" where the command has one only.

    Refused where two outputs would stand in one stream, or there is no such table.
    """
    if args.json and args.csv == "-":
        raise Refused(words("command.error.two_outputs"))
    table = chosen(args.csv_table or tables[0], tables, "no_table", words) if tables else ""
    return read_scenario(args, words), table


# Results


def width() -> int:
    """How many letters a line of the terminal holds."""
    return shutil.get_terminal_size((FALLBACK_WIDTH, 24)).columns


def stamp_line(scenario: Scenario, words: Words) -> str:
    """The line above every answer: version, digest of the scenario, date."""
    facts = {"version": __version__, "digest": scenario.digest, "date": words.day(date.today())}
    return words("command.stamp", **facts)


def stamp_of(scenario: Scenario) -> dict[str, str]:
    """The same facts for a table or a document."""
    from renovation.show.tidy import stamp

    return stamp(scenario, __version__, date.today())


def told(
    args: argparse.Namespace,
    scenario: Scenario,
    words: Words,
    rows: Callable[[dict[str, str]], list[dict[str, Any]]],
    document: Callable[[], dict[str, Any]],
    text: Callable[[], str],
) -> str:
    """A result as it is asked for: rows where --csv says, and a document for --json or else text, under its stamp.

    Only what is asked for is made: `rows` of the stamp that ends each of them, `document` without its stamp, `text`.
    """
    from renovation.show import tidy

    said = []
    if args.csv is not None:
        table = tidy.csv_text(rows(stamp_of(scenario)))
        if args.csv == "-":
            return table
        said.append(_write_table(args, table, words))
    if args.json:
        return tidy.json_text({"stamp": stamp_of(scenario), **document()}) + "\n"
    from renovation.show.grid import lines
    from renovation.show.guesses import guessed_lines

    guessed = guessed_lines(scenario, words)
    return under_stamp(scenario, words, text(), *(["", lines(guessed, width())] if guessed else []), *said)


def under_stamp(scenario: Scenario, words: Words, *said: str) -> str:
    """A text for the terminal, under its stamp and the name of the farm."""
    return "\n".join([stamp_line(scenario, words), scenario.about.name, "", *said]) + "\n"


def followed(dossier: "Dossier", words: Words) -> str:
    """Which plan is followed where none is sought, and what it is worth, as a paragraph; empty without a plan."""
    from renovation.show.grid import lines
    from renovation.show.plan.which import followed_sentences

    return lines(followed_sentences(dossier.scenario, dossier.measures.npv, words), width())


@contextmanager
def worded(words: Words) -> Iterator[None]:
    """Say in words that a loan cannot be worked out, or that a search failed."""
    from renovation.money.loan_terms import LoanError
    from renovation.show.loans.refused import refusal

    try:
        yield
    except LoanError as error:
        raise Refused(refusal(error, words)) from None
    except RuntimeError as error:
        from renovation.decide.plan import SolverFailed  # costs the solver's import, which is paid already

        if isinstance(error, SolverFailed):
            raise Refused(words("plan.failed")) from None
        raise


# Files


def refuse_output(args: argparse.Namespace, ending: str, words: Words) -> None:
    """Refuse, before anything is worked out, a file that is not named, of another kind, or there already."""
    if args.output is None:
        raise Refused(words("command.error.missing_output", usage=usage(args.command, words)))
    if not args.output.casefold().endswith(ending):
        raise Refused(words("command.error.wrong_ending", path=args.output, ending=ending))
    if os.path.lexists(args.output):
        raise Refused(words("command.error.file_exists", path=args.output))


def write(path: str, content: str | bytes, words: Words, *, over: bool = False) -> str:
    """Write a file whole and say so; Refused where it cannot be, or stands there already and `over` is False."""
    try:
        write_whole(path, content.encode("utf-8") if isinstance(content, str) else content, over=over)
    except FileExistsError:
        raise Refused(words("command.error.file_exists", path=path)) from None
    except (OSError, ValueError) as error:
        raise Refused(words("command.error.cannot_write", path=path, reason=reason(error, words))) from None
    return words("command.done.written", path=path)


def reason(error: OSError | ValueError, words: Words) -> str:
    """Why something cannot be written, as a part of a sentence."""
    kinds: dict[type[Exception], str] = {
        FileNotFoundError: "no_folder",
        PermissionError: "not_allowed",
        IsADirectoryError: "is_folder",
    }
    full = isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT)
    return words(f"command.reason.{'full' if full else kinds.get(type(error), 'unknown')}")


def _write_table(args: argparse.Namespace, text: str, words: Words) -> str:
    """Write a table where --csv says and say so; Refused where that is the scenario file itself."""
    if args.file is not None and Path(args.csv).exists() and Path(args.csv).samefile(args.file):
        raise Refused(words("command.error.same_file", path=args.csv))
    return write(args.csv, text, words, over=True)
