"""`renovation risk`: the plan and the ways of the headline on many futures and in hard cases."""

from argparse import Namespace
from functools import partial
from typing import Any

from renovation.commands.shared import Parser, Refused, asked, told, whole_number, width, worded
from renovation.inputs import Scenario
from renovation.words import Words

TABLES = ("figures", "years", "cases")
"""The tables that --csv may write, the first where none is named."""


def options(parser: Parser) -> None:
    """A file, how many futures from which seed, and how the answer is given."""
    parser.positional("file", "file")
    parser.valued("--futures", name="number", key="futures")
    parser.valued("--seed", name="number", key="seed")
    parser.switch("--years", "chances")
    parser.switch("--robust", "robust")
    parser.outputs(*TABLES)


def do(args: Namespace, words: Words) -> str:
    """Judge the strategies on many futures and in hard cases, and make the careful plan where that is asked for."""
    from renovation.decide.risk import risk, stress_tests
    from renovation.show.risk import tables

    scenario, table = asked(args, words, *TABLES)
    words = words.for_country(scenario.about.country)
    futures, seed = _futures(args, words), _seed(args, words)
    with worded(words):
        result, tests = risk(scenario, draws=futures, seed=seed), stress_tests(scenario)
        document = {"risk": result.as_dict(), "stress": tests.as_dict()}
        text = tables.risk_text(result, tests, words, width(), with_years=args.years)
        if args.robust:
            more, said = _careful(scenario, words)
            document, text = {**document, **more}, f"{text}\n\n{said}"
    rows = partial(tables.risk_rows, result, tests)
    return told(args, scenario, words, lambda stamp: rows(stamp)[table], lambda: document, lambda: text)


def _careful(scenario: Scenario, words: Words) -> tuple[dict[str, Any], str]:
    """The careful plan for `--json` and for the terminal; where no plan keeps every promise, what would mend that."""
    from renovation.decide.dossier import Dossier
    from renovation.show.grid import lines
    from renovation.show.plan import careful
    from renovation.show.plan.broken import no_plan_sentences

    dossier = Dossier(scenario)
    found = dossier.careful
    if found is None:
        return dossier.as_dict("robust", "repairs"), lines(
            no_plan_sentences(dossier.plan, dossier.repairs, words), width()
        )
    return dossier.as_dict("robust"), careful.text(found, words, width())


def _futures(args: Namespace, words: Words) -> int | None:
    """The number of futures asked for; None for the scenario's choice."""
    from renovation.inputs import Risk, declared

    bounds = declared(Risk, "draws")
    number = whole_number(args.futures)
    power = number is not None and number & (number - 1) == 0
    if args.futures is not None and not (number is not None and power and bounds.bounds.holds(number)):
        facts = {name: words.number(int(end or 0)) for name, end in (("least", bounds.lower), ("most", bounds.upper))}
        raise Refused(words("command.error.futures_not_number", found=args.futures, **facts))
    return number


def _seed(args: Namespace, words: Words) -> int | None:
    """The seed asked for; None for the scenario's choice."""
    from renovation.inputs import Risk, declared

    bounds = declared(Risk, "seed")
    number = whole_number(args.seed)
    if args.seed is not None and not (number is not None and bounds.bounds.holds(number)):
        most = words.number(int(bounds.upper or 0))
        raise Refused(words("command.error.seed_not_number", found=args.seed, most=most))
    return number
