"""The command line: `renovation COMMAND`, over the same calls as the dashboard.

Exit codes: 0; 2 for input that cannot be used, with one sentence for each mistake on stderr and nothing on stdout.
A command is a function of the parsed arguments and the words that returns the text to print; a new one is a
function for its options, one for its work, and a line in `COMMANDS`.
"""

import argparse
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from renovation.inputs import (
    Scenario,
    ScenarioError,
    default_supplies,
    default_techniques,
    demo_names,
    demo_scenario,
    load_scenario,
    scenario_folder,
)
from renovation.inputs.errors import near
from renovation.version import __version__
from renovation.words import Words, languages

if TYPE_CHECKING:
    from renovation.decide.plan import Plan
    from renovation.decide.risk.careful import CarefulPlan

DEFAULT_LANGUAGE = "en"
FALLBACK_WIDTH = 100
PROGRAM = "renovation"


class Refused(Exception):  # noqa: N818 - the name says what happened
    """The command cannot be carried out; `sentences` say why."""

    def __init__(self, *sentences: str) -> None:
        """Keep the sentences."""
        super().__init__(*sentences)
        self.sentences = sentences


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
        self.option("--language", metavar=words("command.name_language"), help=_language_help(words))

    def say(self, key: str, **facts: str) -> str:
        """A help text from the catalogue; argparse reads a percent sign as its own, so it is doubled."""
        return self.words(f"command.help.{key}", **facts).replace("%", "%%")

    def positional(self, name: str, key: str) -> None:
        """Add a name that may be missing: the command says so in its own words."""
        self.named.add_argument(name, nargs="?", metavar=self.words(f"command.name_{name}"), help=self.say(key))

    def option(self, *flags: str, **settings: object) -> None:
        """Add an option."""
        self.options.add_argument(*flags, **settings)  # type: ignore[arg-type]

    def valued(self, *flags: str, name: str, key: str, **facts: str) -> None:
        """Add an option that takes one value, kept as it was written."""
        self.option(*flags, metavar=self.words(f"command.name_{name}"), help=self.say(key, **facts))

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
        return args

    def error(self, message: str) -> NoReturn:
        """Refuse: nothing here is required, so argparse calls this only for what it cannot read at all."""
        raise Refused(self.words("command.error.unknown_words", found=message, usage=usage(self.command, self.words)))


def usage(command: str, words: Words) -> str:
    """How a command is written."""
    return words("command.usage", form=words(f"command.{command}.usage"))


def _language_help(words: Words) -> str:
    return words("command.help.language", languages=", ".join(languages()), default=DEFAULT_LANGUAGE)


# What commands share


def _width() -> int:
    return shutil.get_terminal_size((FALLBACK_WIDTH, 24)).columns


def _scenario(args: argparse.Namespace, words: Words) -> Scenario:
    """Read the scenario file that the arguments name."""
    if args.file is None:
        raise Refused(words("command.error.missing_file", usage=usage(args.command, words)))
    return load_scenario(args.file)


def _choose(found: str, known: Iterable[str], code: str, words: Words, **facts: str) -> str:
    """Take a name that is among the known ones; Refused with the nearest, or with all."""
    known = list(known)
    if found in known:
        return found
    if nearest := near(found, known):
        raise Refused(words(f"command.error.{code}_near", found=found, near=nearest, **facts))
    raise Refused(words(f"command.error.{code}", found=found, known=", ".join(known), **facts))


def _stamp_line(scenario: Scenario, words: Words) -> str:
    facts = {"version": __version__, "digest": scenario.digest, "date": words.day(date.today())}
    return words("command.stamp", **facts)


def _write(path: str, content: str | bytes, words: Words, *, over: bool) -> str:
    """Write a file and say so; Refused where it cannot be written, or stands there already and `over` is False."""
    try:
        data = content.encode("utf-8") if isinstance(content, str) else content
        with open(path, "wb" if over else "xb") as file:
            file.write(data)
    except FileExistsError:
        raise Refused(words("command.error.file_exists", path=path)) from None
    except (OSError, ValueError) as error:
        reasons: dict[type[Exception], str] = {
            FileNotFoundError: "no_folder",
            PermissionError: "not_allowed",
            IsADirectoryError: "is_folder",
        }
        reason = words(f"command.reason.{reasons.get(type(error), 'unknown')}")
        raise Refused(words("command.error.cannot_write", path=path, reason=reason)) from None
    return words("command.done.written", path=path)


def _free_output(args: argparse.Namespace, words: Words) -> None:
    """Refuse, before anything is worked out, a file that is not named or stands there already."""
    if args.output is None:
        raise Refused(words("command.error.missing_output", usage=usage(args.command, words)))
    if os.path.lexists(args.output):
        raise Refused(words("command.error.file_exists", path=args.output))


def _write_table(args: argparse.Namespace, text: str, words: Words) -> str:
    """Write a table where --csv says and say so; Refused where that is the scenario file itself."""
    if args.file is not None and Path(args.csv).exists() and Path(args.csv).samefile(args.file):
        raise Refused(words("command.error.same_file", path=args.csv))
    return _write(args.csv, text, words, over=True)


def _one_output(args: argparse.Namespace, words: Words) -> None:
    """Refuse two outputs in one stream."""
    if args.json and args.csv == "-":
        raise Refused(words("command.error.two_outputs"))


def _told(
    args: argparse.Namespace,
    scenario: Scenario,
    words: Words,
    rows: Callable[[], list[dict[str, Any]]],
    document: Callable[[], object],
    text: Callable[[], str],
) -> str:
    """A result as it is asked for: rows where --csv says, and a document for --json or else text under its stamp."""
    from renovation.show import tidy

    said = []
    if args.csv is not None:
        table = tidy.csv_text(rows())
        if args.csv == "-":
            return table
        said.append(_write_table(args, table, words))
    if args.json:
        return tidy.json_text(document()) + "\n"
    return "\n".join([_stamp_line(scenario, words), scenario.about.name, "", text(), *said]) + "\n"


# renovation compare


def _compare_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.valued("--stand", name="stand", key="stand")
    parser.valued("--trees", name="trees", key="trees")
    parser.option("--years", nargs="?", const="", metavar=parser.words("command.name_key"), help=parser.say("years"))
    parser.valued("--csv", name="path", key="csv")
    parser.valued("--csv-table", name="table", key="csv_table", tables="years, measures", default="years")
    parser.option("--json", action="store_true", help=parser.say("json"))


def _compare(args: argparse.Namespace, words: Words) -> str:
    """Compare the ways on one stand's trees."""
    _one_output(args, words)
    scenario = _scenario(args, words)
    file = Path(args.file).name
    if args.stand is not None:
        _choose(args.stand, [stand.name for stand in scenario.stands], "no_stand", words, file=file)
    stand = args.stand or scenario.comparison.stand or scenario.stands[0].name
    return _compared(args, scenario, stand, _trees(args, scenario, stand, words), words)


def _trees(args: argparse.Namespace, scenario: Scenario, stand: str, words: Words) -> int | None:
    """The number of trees asked for; None for the scenario's choice."""
    if args.trees is None:
        return None
    if not (args.trees.isascii() and args.trees.isdigit() and len(args.trees) < 10):
        raise Refused(words("command.error.trees_not_number", found=args.trees))
    trees, has = int(args.trees), scenario.stand(stand).trees
    if not 1 <= trees <= has:
        facts = {"found": args.trees, "stand": stand, "has": words("unit.trees", n=has), "most": words.number(has)}
        raise Refused(words("command.error.too_many_trees", **facts))
    return trees


def _compared(args: argparse.Namespace, scenario: Scenario, stand: str, trees: int | None, words: Words) -> str:
    """The comparison as text, or as JSON or CSV where that is asked for."""
    from renovation.decide import compare, npv_per_tree, ranges
    from renovation.show import tidy

    shown = _years_shown(args.years, scenario, words)
    table = _choose(args.csv_table or "years", tidy.TABLES, "no_table", words)
    comparison = compare(scenario, stand, trees)
    stamped = tidy.stamp(scenario, __version__, date.today())

    def document() -> object:
        swings = {key: ranges(comparison, key) for key in comparison.outcomes}
        return tidy.compare_document(comparison, swings, npv_per_tree(scenario), stamped)

    def text() -> str:
        from renovation.show.terminal import compare_text

        return compare_text(comparison, words, _width(), shown)

    rows = partial(tidy.TABLES[table], comparison, stamped)
    return _told(args, scenario, words, rows, document, text)


def _years_shown(wanted: str | None, scenario: Scenario, words: Words) -> tuple[str, ...]:
    """The techniques whose year tables are shown: none unless asked for, every one where none is named."""
    if wanted is None:
        return ()
    if wanted == "":
        return tuple(scenario.techniques)
    return (_choose(wanted, scenario.techniques, "no_technique", words),)


# renovation check


def _check_options(parser: Parser) -> None:
    parser.positional("file", "file")


def _check(args: argparse.Namespace, words: Words) -> str:
    """Say that a scenario is sound and what it holds; a mistake is refused by its reading."""
    from renovation.show.terminal import check_text

    scenario = _scenario(args, words)
    return "\n".join([_stamp_line(scenario, words), check_text(scenario, words, _width())]) + "\n"


# renovation techniques


def _techniques_options(parser: Parser) -> None:
    parser.positional("key", "key")
    parser.option("--json", action="store_true", help=parser.say("json"))


def _techniques(args: argparse.Namespace, words: Words) -> str:
    """The default techniques with range, unit and source of every figure."""
    techniques, supplies = default_techniques(), default_supplies()
    if args.key is not None:
        techniques = {args.key: techniques[_choose(args.key, techniques, "no_technique", words)]}
    if args.json:
        from renovation.show.tidy import json_text

        tables = {key: technique.model_dump(mode="json") for key, technique in techniques.items()}
        return json_text({"techniques": tables, "supplies": supplies.model_dump(mode="json")}) + "\n"
    from renovation.show.terminal import technique_text, techniques_text

    head = words("command.stamp_plain", version=__version__, date=words.day(date.today()))
    if args.key is None:
        body = techniques_text(techniques, words, _width())
    else:
        body = technique_text(args.key, techniques[args.key], supplies, words, _width())
    return f"{head}\n\n{body}\n"


# renovation schema


def _schema_options(parser: Parser) -> None:
    """The schema command has no options of its own."""


def _schema(args: argparse.Namespace, words: Words) -> str:  # noqa: ARG001 - every command takes the same two
    """The JSON schema of a scenario file."""
    from renovation.inputs import json_schema
    from renovation.show.tidy import json_text

    return json_text(json_schema(words)) + "\n"


# renovation demo


def _demo_options(parser: Parser) -> None:
    parser.valued("-o", "--output", name="path", key="output")
    parser.option("--json", action="store_true", help=parser.say("json"))


def _demo(args: argparse.Namespace, words: Words) -> str:
    """Compare on the demo farm, or write its scenario file to start from."""
    if args.output is not None:
        text = (scenario_folder() / f"{demo_names()[0]}.toml").read_text("utf-8")
        return _write(args.output, text, words, over=False) + "\n"
    scenario = demo_scenario()
    compared = {"file": None, "csv": None, "csv_table": None, "years": None, "json": args.json}
    stand = scenario.comparison.stand or scenario.stands[0].name
    return _compared(argparse.Namespace(**compared), scenario, stand, None, words)


# renovation cash and renovation loan

CASH_TABLES = ("months", "years", "labour")
"""The tables of the cash command that may be written as CSV, the first where none is named."""


def _cash_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.valued("--csv", name="path", key="csv")
    parser.valued("--csv-table", name="table", key="csv_table", tables=", ".join(CASH_TABLES), default=CASH_TABLES[0])
    parser.option("--json", action="store_true", help=parser.say("json"))


def _cash(args: argparse.Namespace, words: Words) -> str:
    """The household's cash with the plan and without, and the work by month."""
    from renovation.farm import farm_flows, household_cash, labour_by_month
    from renovation.show import tidy
    from renovation.show.cash import tables as cash_tables

    _one_output(args, words)
    scenario = _scenario(args, words)
    flows = farm_flows(scenario, scenario.plan)
    with _worded(words):
        cash, labour = household_cash(scenario, flows), labour_by_month(scenario, flows)
    stamped = tidy.stamp(scenario, __version__, date.today())
    tables = cash_tables.cash_rows(cash, labour, stamped)
    table = _choose(args.csv_table or CASH_TABLES[0], tables, "no_table", words)
    document = {"stamp": stamped, "cash": cash.as_dict(), "labour": labour.as_dict()}
    text = cash_tables.cash_text(cash, labour, scenario, words, _width())
    return _told(args, scenario, words, lambda: tables[table], lambda: document, lambda: text)


def _loan_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.option("--payments", action="store_true", help=parser.say("payments"))
    parser.option("--json", action="store_true", help=parser.say("json"))


def _loan(args: argparse.Namespace, words: Words) -> str:
    """Every loan of the scenario, judged on the money that the plan leaves."""
    from renovation.decide import appraise_loans
    from renovation.show import tidy
    from renovation.show.cash import tables as cash_tables

    scenario = _scenario(args, words)
    with _worded(words):
        lending = appraise_loans(scenario)
        if args.json:
            stamped = tidy.stamp(scenario, __version__, date.today())
            return tidy.json_text({"stamp": stamped, "lending": lending.as_dict()}) + "\n"
        text = cash_tables.loan_text(lending, words, _width(), with_payments=args.payments)
    return "\n".join([_stamp_line(scenario, words), scenario.about.name, "", text]) + "\n"


# renovation risk and renovation sensitivity

RISK_TABLES = ("figures", "years", "cases")
"""The tables of the risk command that may be written as CSV, the first where none is named."""
BARS_SHOWN = 10


def _risk_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.valued("--futures", name="number", key="futures")
    parser.valued("--seed", name="number", key="seed")
    parser.option("--years", action="store_true", help=parser.say("chances"))
    parser.option("--robust", action="store_true", help=parser.say("robust"))
    parser.valued("--csv", name="path", key="csv")
    parser.valued("--csv-table", name="table", key="csv_table", tables=", ".join(RISK_TABLES), default=RISK_TABLES[0])
    parser.option("--json", action="store_true", help=parser.say("json"))


def _risk(args: argparse.Namespace, words: Words) -> str:
    """Judge the plan and the ways of the headline on many futures and in hard cases."""
    from renovation.decide.risk import risk, stress_tests
    from renovation.show import tidy
    from renovation.show.plan import careful as careful_words
    from renovation.show.risk import tables as risk_tables

    _one_output(args, words)
    table = _choose(args.csv_table or RISK_TABLES[0], RISK_TABLES, "no_table", words)
    scenario = _scenario(args, words)
    futures, seed = _futures(args, words), _seed(args, words)
    with _worded(words):
        result, tests = risk(scenario, draws=futures, seed=seed), stress_tests(scenario)
        careful = _careful(scenario) if args.robust else None
    stamped = tidy.stamp(scenario, __version__, date.today())
    document = {"stamp": stamped, "risk": result.as_dict(), "stress": tests.as_dict()}
    text = risk_tables.risk_text(result, tests, words, _width(), with_years=args.years)
    if careful:
        document["robust"] = careful.as_dict()
        text += "\n\n" + careful_words.text(careful, words, _width())
    rows = partial(risk_tables.risk_rows, result, tests, stamped)
    return _told(args, scenario, words, lambda: rows()[table], lambda: document, lambda: text)


def _futures(args: argparse.Namespace, words: Words) -> int | None:
    """The number of futures asked for; None for the scenario's choice."""
    from renovation.inputs import Risk, declared

    bounds = declared(Risk, "draws")
    number = _whole_number(args.futures)
    power = number is not None and number & (number - 1) == 0
    if args.futures is not None and not (number is not None and power and bounds.bounds.holds(number)):
        facts = {name: words.number(int(end or 0)) for name, end in (("least", bounds.lower), ("most", bounds.upper))}
        raise Refused(words("command.error.futures_not_number", found=args.futures, **facts))
    return number


def _seed(args: argparse.Namespace, words: Words) -> int | None:
    """The seed asked for; None for the scenario's choice."""
    from renovation.inputs import Risk, declared

    bounds = declared(Risk, "seed")
    number = _whole_number(args.seed)
    if args.seed is not None and not (number is not None and bounds.bounds.holds(number)):
        most = words.number(int(bounds.upper or 0))
        raise Refused(words("command.error.seed_not_number", found=args.seed, most=most))
    return number


def _whole_number(found: str | None) -> int | None:
    """A whole number as it was written; None for anything else."""
    return int(found) if found is not None and found.isascii() and found.isdigit() and len(found) < 12 else None


def _sensitivity_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.valued("--way", name="key", key="way")
    parser.option("--all", action="store_true", help=parser.say("all_bars"))
    parser.valued("--csv", name="path", key="csv")
    parser.option("--json", action="store_true", help=parser.say("json"))


def _sensitivity(args: argparse.Namespace, words: Words) -> str:
    """What the answers of the compared ways rest on, figure by figure."""
    from renovation.decide import compare
    from renovation.decide.risk import sensitivity
    from renovation.show import tidy
    from renovation.show.risk import tables as risk_tables

    _one_output(args, words)
    scenario = _scenario(args, words)
    comparison = compare(scenario)
    if args.way is None:
        ways = [key for key in (comparison.headline, comparison.against) if key]
    else:
        ways = [_choose(args.way, comparison.outcomes, "no_technique", words)]
    found = [sensitivity(comparison, way) for way in ways]
    stamped = tidy.stamp(scenario, __version__, date.today())
    rows = partial(risk_tables.bar_rows, found, stamped)
    document = {"stamp": stamped, "sensitivity": [one.as_dict() for one in found]}
    text = risk_tables.sensitivity_text(found, words, _width(), None if args.all else BARS_SHOWN)
    return _told(args, scenario, words, rows, lambda: document, lambda: text)


# renovation plan

PLAN_TABLES = ("starts", "months", "years", "calendar", "shopping", "looks", "cash")
"""The tables of the plan command that may be written as CSV, the first where none is named."""
MOST_SECONDS = 3600


def _plan_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.option("--why", action="store_true", help=parser.say("why"))
    parser.valued("--seconds", name="number", key="seconds")
    parser.valued("--csv", name="path", key="csv")
    parser.valued("--csv-table", name="table", key="csv_table", tables=", ".join(PLAN_TABLES), default=PLAN_TABLES[0])
    parser.option("--json", action="store_true", help=parser.say("json"))


def _plan(args: argparse.Namespace, words: Words) -> str:
    """How many trees this year, what holds the plan back, and this year's sheet."""
    from renovation.decide.plan import learned_plan, sheet, why_not_more, yardsticks
    from renovation.show import tidy
    from renovation.show.plan import text as plan_text

    _one_output(args, words)
    table = _choose(args.csv_table or PLAN_TABLES[0], PLAN_TABLES, "no_table", words)
    scenario = _scenario(args, words)
    with _worded(words):
        learned = learned_plan(scenario, time_limit_seconds=_seconds(args, words))
    laid_out, rules = sheet(learned.plan), yardsticks(learned.plan)
    limits = why_not_more(learned.plan) if args.why else None
    stamped = tidy.stamp(scenario, __version__, date.today())
    document = {
        "stamp": stamped,
        "plan": learned.as_dict(),
        "yardsticks": [rule.as_dict() for rule in rules],
        "limits": None if limits is None else [limit.as_dict() for limit in limits],
        "sheet": laid_out.as_dict(),
    }
    text = partial(plan_text.plan_text, learned, rules, limits, laid_out, words, _width())
    rows = partial(plan_text.plan_rows, learned, laid_out, stamped)
    return _told(args, scenario, words, lambda: rows()[table], lambda: document, text)


def _seconds(args: argparse.Namespace, words: Words) -> float | None:
    """The time limit asked for; None for the scenario's choice."""
    if args.seconds is None:
        return None
    if not (args.seconds.isascii() and args.seconds.isdigit() and 1 <= int(args.seconds[:6]) <= MOST_SECONDS):
        raise Refused(words("command.error.seconds", found=args.seconds, most=words.number(MOST_SECONDS)))
    return float(args.seconds)


# renovation report


REPORT_SECONDS = 10
"""How long a report waits for a plan."""


def _report_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.valued("-o", "--output", name="path", key="report_output")
    parser.option("--plan", action="store_true", help=parser.say("report_plan", seconds=str(REPORT_SECONDS)))
    parser.option("--robust", action="store_true", help=parser.say("report_robust"))


def _report(args: argparse.Namespace, words: Words) -> str:
    """Write the printed report."""
    from renovation.show.report import report

    scenario = _scenario(args, words)
    _free_output(args, words)
    with _worded(words):
        planned = _found_in_time(scenario) if args.plan else None
        careful = _careful(scenario) if args.robust else None
        text = report(scenario, words, date.today(), planned, careful)
    said = [words("command.done.stated_plan", seconds=str(REPORT_SECONDS))] if args.plan and planned is None else []
    return "\n".join([_write(args.output, text, words, over=False), *said]) + "\n"


def _careful(scenario: Scenario) -> "CarefulPlan":
    """The plan that keeps the floor in nine futures of ten, beside the one on expected figures."""
    from renovation.decide.plan import learned_plan
    from renovation.decide.risk.careful import careful_plan

    return careful_plan(learned_plan(scenario).plan)


def _found_in_time(scenario: Scenario) -> "Plan | None":
    """The plan where it is found and proven in the seconds that a report waits for it; else None."""
    from renovation.decide.plan import learned_plan

    ends = time.monotonic() + REPORT_SECONDS
    found = learned_plan(scenario, cancel=lambda: time.monotonic() > ends).plan
    return found if found.solution.status == "proven" else None


# renovation workbook


def _workbook_options(parser: Parser) -> None:
    parser.positional("file", "file")
    parser.valued("-o", "--output", name="path", key="workbook_output")


def _workbook(args: argparse.Namespace, words: Words) -> str:
    """Write the lender's workbook."""
    from renovation.show.workbook import workbook

    scenario = _scenario(args, words)
    _free_output(args, words)
    with _worded(words):
        content = workbook(scenario, words, date.today())
    return _write(args.output, content, words, over=False) + "\n"


@contextmanager
def _worded(words: Words) -> Iterator[None]:
    """Say in words that a loan cannot be worked out, or that a search failed."""
    from renovation.money.loans import LoanError
    from renovation.show.cash.sentences import refusal

    try:
        yield
    except LoanError as error:
        raise Refused(refusal(error, words)) from None
    except RuntimeError as error:
        from renovation.decide.plan import SolverFailed  # costs the solver's import, which is paid already

        if isinstance(error, SolverFailed):
            raise Refused(words("plan.failed")) from None
        raise


# The commands


@dataclass(frozen=True)
class Command:
    """One command: its name, the function that adds its options, the function that does it and gives the text."""

    name: str
    options: Callable[[Parser], None]
    do: Callable[[argparse.Namespace, Words], str]


COMMANDS = {
    command.name: command
    for command in (
        Command("compare", _compare_options, _compare),
        Command("cash", _cash_options, _cash),
        Command("loan", _loan_options, _loan),
        Command("risk", _risk_options, _risk),
        Command("sensitivity", _sensitivity_options, _sensitivity),
        Command("plan", _plan_options, _plan),
        Command("report", _report_options, _report),
        Command("workbook", _workbook_options, _workbook),
        Command("check", _check_options, _check),
        Command("techniques", _techniques_options, _techniques),
        Command("schema", _schema_options, _schema),
        Command("demo", _demo_options, _demo),
    )
}


def _root_help(words: Words) -> str:
    """What the program does and its commands."""
    widest = max(map(len, COMMANDS))
    options = {"-h, --help": words("command.help.help"), "--version": words("command.help.version")}
    options[f"--language {words('command.name_language')}"] = _language_help(words)
    left = max(widest, *map(len, options))
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


def _language(argv: Sequence[str]) -> str:
    """The language asked for, wherever `--language` stands; the default where it has no value."""
    for position, word in enumerate(argv):
        if word == "--language" and position + 1 < len(argv):
            return argv[position + 1]
        if word.startswith("--language="):
            return word.removeprefix("--language=")
    return DEFAULT_LANGUAGE


def answer(argv: Sequence[str]) -> str:
    """What the program prints for these arguments; raises Refused or ScenarioError for bad input."""
    language, default = _language(argv), Words(DEFAULT_LANGUAGE)
    words = Words(_choose(language, languages(), "no_language", default))
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
    command = COMMANDS[_choose(first, COMMANDS, "unknown_command", words)]
    parser = Parser(command.name, words)
    command.options(parser)
    if any(word in ("-h", "--help") for word in rest):
        return parser.format_help()
    args = parser.read(rest)
    args.command = command.name
    return command.do(args, words)


def printable(text: str) -> str:
    """Put a sign in the place of control characters: a name in a file must not steer the terminal.

    Example:
        >>> printable("a\\x1b[2J") == "a\\N{REPLACEMENT CHARACTER}[2J"
        True
    """
    plain = text.isprintable() and text
    return plain or "".join(c if c.isprintable() or c in "\n\u00a0\u202f" else "\ufffd" for c in text)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0, or 2 for input that cannot be used."""
    argv = sys.argv[1:] if argv is None else argv
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        text = answer(argv)
    except Refused as refused:
        return _refuse(refused.sentences)
    except ScenarioError as error:
        return _refuse(error.sentences(Words(_language(argv))))
    try:
        sys.stdout.write(printable(text))
        sys.stdout.flush()
    except BrokenPipeError:
        # the reader has left; nothing more may be written when Python closes the stream
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _refuse(sentences: Iterable[str]) -> int:
    sys.stderr.write(printable("\n".join(sentences)) + "\n")
    return 2


def run() -> NoReturn:
    """Run the program: the entry point of the `renovation` command."""
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    run()
