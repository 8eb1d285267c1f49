"""`renovation farms`: many farms checked, compared, planned, booked as a lender does, shown, or invented for trying."""

from argparse import Namespace
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from renovation.commands.farms_work import counted, hear, outcome, placed, worded, worked
from renovation.commands.plan import seconds
from renovation.commands.shared import (
    Parser,
    Refused,
    chosen,
    open_scenario,
    refuse_output,
    usage,
    whole_number,
    width,
    write,
)
from renovation.inputs import Scenario
from renovation.version import __version__
from renovation.words import Words

if TYPE_CHECKING:
    import pandas as pd

    from renovation.farms.run import Asked
    from renovation.farms.table import Checked

DUES = 60
"""Instalments of a farm, more or less: for the room on the disk."""
FUTURES = (64, 8192)
"""How many futures a book draws at least and at most: what it keeps of each instalment grows with them."""
FULL = 5
"""Mistakes that are said in full; all stand in the file."""


def options(parser: Parser) -> None:
    """What is wanted, the template and the tables, where to write, who works, and how the answer is given."""
    parser.positional("action", "farms_action")
    parser.positional("file", "farms_file")
    parser.positional("table_file", "farms_stands")
    parser.valued("--farms", name="table_file", key="farms_farms")
    parser.valued("-o", "--output", name="path", key="farms_output")
    parser.valued("--workers", name="number", key="farms_workers")
    parser.valued("--engine", name="address", key="farms_engine")
    parser.switch("--resume", "farms_resume")
    parser.switch("--go-on", "farms_go_on")
    parser.valued("--first", name="number", key="farms_first")
    parser.valued("--seconds", name="number", key="farms_seconds")
    parser.valued("-n", "--number", name="number", key="farms_number")
    parser.valued("--seed", name="number", key="farms_seed")
    parser.valued("--futures", name="number", key="farms_futures")
    parser.valued("--season", name="percent", key="farms_season")
    parser.valued("--way", name="key", key="farms_way")
    parser.switch("--json", "json")


def do(args: Namespace, words: Words) -> str:
    """Do what is wanted of the farms."""
    what = {"check": _check, "compare": _compare, "plan": _plan, "book": _book, "show": _show, "invent": _invent}
    how = usage(args.command, words)
    if args.action is None:
        raise Refused(words("run.error.what", known=words.listing(list(what)), usage=how))
    done: str = what[chosen(args.action, what, "unknown_command", words)](args, words)
    return done


# What is wanted


def _check(args: Namespace, words: Words) -> str:
    """Say which farms are refused, and why."""
    from renovation.show import tidy
    from renovation.show.grid import lines

    _, checked = _checked(args, words)
    facts = {"farms": words("run.farms", n=checked.farms), "stands": words("unit.stands", n=checked.stands)}
    if args.json:
        document = {
            "farms": checked.farms,
            "stands": checked.stands,
            "refused_farms": checked.refused_farms,
            "tried": checked.tried,
            "disagreed": checked.disagreed,
            "refused": checked.refused.to_dict("records"),
        }
        return tidy.json_text({"stamp": _stamp(), **document}) + "\n"
    said = [words("run.done.check", **facts)]
    said += _refusals(checked, words) or [words("run.done.sound")]
    said.append(words("run.done.tried", farms=words("run.farms", n=checked.tried), disagreed=checked.disagreed))
    written = []
    if args.output is not None:
        from renovation.farms.out import sheet

        refuse_output(args, ".csv", words)
        sheet(Path(args.output), checked.refused)
        written = [words("command.done.written", path=args.output)]
    return _text(words, lines(said, width()), *written)


def _compare(args: Namespace, words: Words) -> str:
    """Compare every way on every stand, and leave the result in a folder."""
    from renovation.farms.arrays import compare_many

    templates, checked = _checked(args, words, sound=True)
    rows = checked.stands * max(len(one.techniques) for one in templates.values())
    asked = _asked("compare", args, templates, checked)
    worked(args, words, compare_many, checked.batches(), asked, checked, rows=rows)
    return _finished(args, templates, checked, words)


def _plan(args: Namespace, words: Words) -> str:
    """Seek a plan for each farm, those with most to gain first."""
    first = counted(args.first, "first", words)
    from renovation.farms.arrays import compare_many
    from renovation.farms.group import grouped
    from renovation.farms.plan import alone, first_farms, longest_first, plan_each

    templates, checked = _checked(args, words, sound=True)
    placed(args, words)
    group = grouped(map(compare_many, checked.batches()), most=checked.farms)
    gains = dict(zip(group.first["farm"], group.first["gain"], strict=True))
    batches = longest_first(alone(checked.batches(), first_farms(gains, first)))
    function = partial(plan_each, seconds=seconds(args, words))
    asked = _asked("plan", args, templates, checked, first=first, seconds=seconds(args, words))
    hear(words("run.done.plan_first", farms=words("run.farms", n=len(batches))))
    worked(args, words, function, batches, asked, checked, planned=batches)
    return _finished(args, templates, checked, words)


def _book(args: Namespace, words: Words) -> str:
    """Tell a lender which instalments are missed in which month, and in how many futures."""
    seed = _seed(args, words)
    from renovation.farms.book import Draws, book_each, chosen_batches, sample_of

    draws = Draws(_futures(args, words) or Draws.number, seed, _season(args, words))
    templates, checked = _checked(args, words, sound=True)
    names, way = {one.digest: name for name, one in templates.items()}, _way(args, templates, words)
    sample = sample_of(checked.batches(), names, seed=seed)
    if not sample.lending:
        raise Refused(words("run.error.no_loans"))
    asked = _asked("book", args, templates, checked, draws=asdict(draws), strata=sample.strata, way=way)
    function = partial(book_each, draws=draws, names=names, way=way)
    batches = chosen_batches(checked.batches(), sample)
    rows = sample.worked * DUES * draws.number // Draws.number
    worked(args, words, function, batches, asked, checked, rows=rows, chosen=sample.worked)
    return _finished(args, templates, checked, words)


def _futures(args: Namespace, words: Words) -> int | None:
    """How many futures a book draws; None where it is not said."""
    number, (least, most) = whole_number(args.futures), FUTURES
    if args.futures is not None and (number is None or number & (number - 1) or not least <= number <= most):
        facts = {"least": words.number(least), "most": words.number(most)}
        raise Refused(words("command.error.futures_not_number", found=args.futures, **facts))
    return number


def _season(args: Namespace, words: Words) -> float:
    """The share of the crop's swings that all farms have in common, a half where it is not said."""
    percent = whole_number(args.season or "50")
    if percent is None or percent > 100:
        raise Refused(words("run.error.season", found=args.season))
    return percent / 100


def _way(args: Namespace, templates: Mapping[str, Scenario], words: Words) -> str | None:
    """The way that every farm begins; None where it is not said."""
    if args.way is None:
        return None
    known = {key for one in templates.values() for key, way in one.techniques.items() if way.works_on == "trees"}
    return chosen(args.way, sorted(known), "no_technique", words)


def _seed(args: Namespace, words: Words) -> int:
    """The seed that is given, else 1."""
    seed = whole_number(args.seed or "1")
    if seed is None:
        raise Refused(words("run.error.seed", found=args.seed))
    return seed


def _show(args: Namespace, words: Words) -> str:
    """Tell what stands in a finished folder."""
    from renovation.farms.run import NotTheSame, read_note

    if args.file is None:
        raise Refused(words("run.error.files", usage=usage(args.command, words)))
    try:
        told = read_note(args.file)
    except NotTheSame:
        raise Refused(words("run.error.no_run", path=args.file)) from None
    if told.get("status") != "done":
        raise Refused(words("run.error.not_finished", path=args.file))
    return _said(args, Path(args.file), told, words)


def _invent(args: Namespace, words: Words) -> str:
    """Write a table of farms invented around a template, the demo farm where none is named."""
    from renovation.farms.invent import MOST_FARMS, invent, invented_file
    from renovation.inputs import demo_scenario

    farms = counted(args.number or "1000", "number", words, MOST_FARMS) or 1
    seed = _seed(args, words)
    placed(args, words)
    if not args.output.casefold().endswith((".parquet", ".csv")):
        raise Refused(words("run.error.table_ending", path=args.output))
    template = demo_scenario(None, words.language) if args.file is None else open_scenario(args, words)[0]
    content = invented_file(invent(farms, seed, template), args.output, seed, template)
    return _text(words, write(args.output, content, words), words("run.said.invented"))


def _finished(args: Namespace, templates: Mapping[str, Scenario], checked: "Checked", words: Words) -> str:
    """Put the lists, the summary and what it was about beside the tables of a finished run, and say what there is."""
    from renovation.farms.kept import keep, with_villages
    from renovation.farms.out import sheet
    from renovation.farms.parts import write_beside
    from renovation.farms.run import read_note
    from renovation.show.farms.said import WHO

    place = Path(args.output)
    told = read_note(place)
    sheet(place / "refused.csv", refused_rows(checked.refused, told["aside"], words))
    found = outcome(place, told, words)
    for name, table in found.lists.items():
        sheet(place / name, with_villages(table, checked.tables) if name == WHO else table)
    write_beside(place / "summary.html", found.page(_stamp_line(words)).encode("utf-8"))
    with worded(args, words):
        keep(place, templates, args.table_file, args.farms)
    return _said(args, place, told, words)


def refused_rows(refused: "pd.DataFrame", aside: Any, words: Words) -> "pd.DataFrame":
    """Farms refused for their rows, and those that could not be worked out, as `refused.csv` has them."""
    import pandas as pd

    rows = [
        {"farm": farm, "stand": "", "column": "", "found": words(f"run.aside.{why}", what=what), "accepted": ""}
        for farm, why, what in aside
    ]
    return pd.concat([refused, pd.DataFrame(rows)], ignore_index=True) if rows else refused


def _said(args: Namespace, place: Path, told: Mapping[str, Any], words: Words) -> str:
    """A finished run as text or JSON."""
    from renovation.show import tidy
    from renovation.show.farms.said import span
    from renovation.show.grid import lines, render

    found = outcome(place, told, words)
    if args.json:
        return tidy.json_text({"stamp": _stamp(), "run": dict(told), "group": found.group.as_dict()}) + "\n"
    tables = [render(table, width()) for table in found.tables]
    took = {"time": span(told["seconds"], found.voice), "workers": words("run.workers", n=told["workers"])}
    written = words("run.done.worked", farms=words("run.farms", n=told["farms"]), **took)
    written += f" {words('command.done.written', path=place)}"
    return _text(words, lines([found.head], width()), *tables, lines(found.notes, width()), written)


def _text(words: Words, *said: str) -> str:
    return "\n\n".join([_stamp_line(words), *said]) + "\n"


def _stamp_line(words: Words) -> str:
    return words("command.stamp_plain", version=__version__, date=words.day(date.today()))


def _stamp() -> dict[str, str]:
    return {"program": "renovation", "version": __version__, "date": date.today().isoformat()}


# What goes in


def _templates(args: Namespace, words: Words) -> dict[str, Scenario]:
    """The template, or those of a folder by their names."""
    from renovation.inputs.files import opened

    if args.file is None or args.table_file is None:
        raise Refused(words("run.error.files", usage=usage(args.command, words)))
    place = Path(args.file)
    if not place.is_dir():
        return {"": opened(args.file)[0]}
    found = {path.stem: opened(str(path))[0] for path in sorted(place.glob("*.toml"))}
    if not found:
        raise Refused(words("run.error.template_folder", path=args.file))
    currencies = sorted({one.appraisal.currency for one in found.values()})
    if len(currencies) > 1:
        raise Refused(words("run.error.templates_differ", currencies=words.listing(currencies)))
    return found


def _checked(args: Namespace, words: Words, *, sound: bool = False) -> "tuple[dict[str, Scenario], Checked]":
    """Templates and tables, every farm checked; sound: refused where too many farms are wrong."""
    from renovation.farms.table import check

    templates = _templates(args, words)
    if sound:
        placed(args, words)
    checked = check(templates.get("", templates), args.table_file, args.farms, words)
    if sound and checked.refused_farms:
        for line in _refusals(checked, words):
            hear(line)
    if sound and checked.too_many and not args.go_on:
        from renovation.farms.out import sheet

        path = Path(f"{args.output}-refused.csv")
        sheet(path, checked.refused)
        facts = {"refused": words.number(checked.refused_farms), "farms": words("run.farms", n=checked.farms)}
        raise Refused(words("run.error.too_many_refused", **facts, file=path))
    return templates, checked


def _refusals(checked: "Checked", words: Words) -> list[str]:
    """How many farms are refused, and the first mistakes in full."""
    from renovation.farms.refused import sentence

    if not checked.refused_farms:
        return []
    said = words("run.said.refused", farms=words("run.farms", n=checked.refused_farms), file="refused.csv")
    return [
        said,
        *(sentence({str(k): v for k, v in row.items()}, words) for _, row in checked.refused.head(5).iterrows()),
    ]


def _asked(
    command: str, args: Namespace, templates: Mapping[str, Scenario], checked: "Checked", **more: Any
) -> "Asked":
    """What must be the same to go on with the folder."""
    from renovation.farms.kept import digest_of
    from renovation.farms.run import Asked

    files = {Path(name).name: digest_of(name) for name in (args.table_file, args.farms) if name is not None}
    labels = {key: way.label for one in templates.values() for key, way in one.techniques.items() if way.label}
    currency = next(iter(templates.values())).appraisal.currency
    lands = {one.about.country for one in templates.values()}
    facts = {
        "currency": currency,
        "country": lands.pop() if len(lands) == 1 else None,
        "labels": labels,
        "invented": checked.tables.invented,
        "go_on": args.go_on,
        **more,
    }
    return Asked(command, files, {name: one.digest for name, one in templates.items()}, facts)
