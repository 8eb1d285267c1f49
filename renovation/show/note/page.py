"""The credit note as HTML: two pages of A4, no script, nothing fetched."""

from collections.abc import Iterable
from datetime import date
from importlib import resources

from renovation.decide.dossier import Dossier
from renovation.decide.lending import LoanAppraisal
from renovation.inputs import Scenario
from renovation.show.cash import sentences as cash_sentences
from renovation.show.grid import Table
from renovation.show.loans import signed
from renovation.show.loans.charts import calendar_chart
from renovation.show.loans.near import near
from renovation.show.note import said
from renovation.show.note.fit import scale_of
from renovation.show.report.document import file_of, report_of
from renovation.show.report.html import Html, bullets, chart, join, paragraphs, tag
from renovation.show.voice import Voice
from renovation.version import __version__
from renovation.words import Words

PICTURE = 640, 95
"""Pixels of the picture's plot."""
WIDE = 178
"""Millimetres of a page inside its margins."""


SHORT = 16
"""Letters of a cell up to which it is not broken."""


def credit_note(scenario: Scenario, words: Words, day: date) -> str:
    """The credit note of a scenario as one HTML file. Raises LoanError for a loan that cannot be.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> text = credit_note(demo_scenario(), Words("en"), date(2026, 11, 29))
        >>> text.count('<section class="note-page"'), "<script" in text
        (2, False)
    """
    return note_of(Dossier(scenario), words, day)


def note_of(dossier: Dossier, words: Words, day: date) -> str:
    """The credit note of a dossier as one HTML file."""
    return file_of(words("note.title_of", name=dossier.scenario.about.name), style(), pages(dossier, words, day), words)


def with_appendix(dossier: Dossier, words: Words, day: date) -> str:
    """The note, and after it the whole report: its parts are numbered, for Chromium counts no pages in a contents."""
    report = report_of(dossier, words, day)
    return report.replace("<style>", f"<style>{style()}", 1).replace("<body>", f"<body>{pages(dossier, words, day)}", 1)


def style() -> Html:
    """The note's own style."""
    return Html(resources.files("renovation.show.note").joinpath("note.css").read_text("utf-8"))


def pages(dossier: Dossier, words: Words, day: date) -> Html:
    """Both pages."""
    judged = said.asked_for(dossier)
    facts = {"version": __version__, "digest": dossier.scenario.digest, "date": words.day(day)}
    stamp = words("command.stamp", **facts)
    return join(
        _page([*parts, tag("footer", words("note.page", n=words.number(n)), " · ", stamp)])
        for n, parts in enumerate((_asked(dossier, judged, words), _safe(dossier, judged, words)), 1)
    )


def _page(parts: list[Html]) -> Html:
    """One page, set smaller where it would not stand on one."""
    scale = scale_of(tag("section", *parts))
    smaller = f"zoom:{scale:.2f};width:{WIDE / scale:.1f}mm" if scale < 1 else None
    return tag("section", *parts, class_="note-page", style=smaller)


def _asked(dossier: Dossier, judged: LoanAppraisal | None, words: Words) -> list[Html]:
    """Page 1: who asks for what, the recommendation, what the money is used for, loan against crop."""
    scenario = dossier.scenario
    voice = Voice.of(scenario, words)
    parts = [
        tag("header", tag("h1", words("note.title")), tag("p", scenario.about.name, class_="name")),
        *([tag("p", words("compare.note.invented"), class_="invented")] if scenario.about.invented else []),
        *_part("who", [paragraphs(said.who(dossier, words))], words),
    ]
    title = words("lending.no_loans") if judged is None else cash_sentences.loan_title(judged, words)
    asked = [] if judged is None else [bullets(said.asks(judged, words))]
    running = judged is not None and judged.as_stated.terms.running
    parts += _part("running" if running else "what", [tag("p", tag("strong", title)), *asked], words)
    parts += [
        tag(
            "div",
            tag("h2", words("note.part.recommendation")),
            tag("p", tag("strong", said.recommendation(judged, words)), " ", words("note.lender_decides")),
            bullets(said.conditions(judged, words)),
            *_nearest(judged, words),
            class_="box",
        )
    ]
    if judged is not None:
        found = said.funds_of(dossier, judged)
        tables = tag("div", *map(_table, said.funds_tables(found, voice)), class_="two")
        parts += _part("funds", [tag("p", said.funds_said(found, voice)), tables], words)
        picture = chart(calendar_chart(judged, words, height=PICTURE[1]), "note", PICTURE[0])
        parts += _part("picture", [picture], words)
    return parts


def _nearest(judged: LoanAppraisal | None, words: Words) -> list[Html]:
    """The nearest loans that fit where the one asked for does not, each with its full cost; or why none does."""
    told = [] if judged is None else near(judged, words)
    if judged is not None and judged.near:
        return [tag("p", told[0]), bullets(told[1:])]
    return [tag("p", " ".join(told))] if told else []


def _safe(dossier: Dossier, judged: LoanAppraisal | None, words: Words) -> list[Html]:
    """Page 2: how safe it is, security, other debts, checks before each payout, what it rests on, signatures."""
    cases = said.bad_cases(dossier, judged, words)
    safe = (
        []
        if judged is None
        else [_table(said.cover(judged, words)), tag("p", cash_sentences.bands(words), class_="small")]
    )
    debts = said.other_debts(dossier, judged, words)
    parts = [
        *_part("safe", [bullets(said.lowest(dossier, words)), *safe, _table(cases)], words),
        *_after_signing(dossier, words),
        *_part("security", [_lines("note.security", words)], words),
        *_part(
            "debts",
            [bullets(debts) if debts else tag("p", words("note.no_debts")), _lines("note.other_debts", words)],
            words,
        ),
    ]
    if judged is not None and not judged.as_stated.terms.running:
        how, counted = tag("p", words("note.check_how")), _table(said.checks(dossier, judged, words))
        parts += _part("checks", [how, counted, paragraphs([said.more_checks(judged, words)])], words)
    parts += _part("rests", [bullets(said.rests_on(dossier, words)), tag("p", words("caution.planning_aid"))], words)
    return [*parts, _signed(words)]


def _after_signing(dossier: Dossier, words: Words) -> list[Html]:
    """What was due, paid and late in the recorded season, and what now; nothing where none is recorded."""
    found = dossier.signed
    if found is None or found.record is None or not found.loans:
        return []
    said_of = [
        line
        for one in found.loans
        for line in (*signed.account_said(found, one, words), *signed.now_said(found, one, words))
    ]
    return _part("signed", [bullets(said_of), tag("p", signed.notes(found, words)[0], class_="small")], words)


def _part(key: str, inside: Iterable[Html], words: Words) -> list[Html]:
    return [tag("h2", words(f"note.part.{key}")), *inside]


def _table(shown: Table) -> Html:
    """A table; its title above, where it has one."""
    sides = ["right" if column.align == "right" else None for column in shown.columns]
    heads = [
        tag("th", column.heading, scope="col", class_=side) for column, side in zip(shown.columns, sides, strict=True)
    ]
    body = [tag("tr", *(_cell(cell, side) for cell, side in zip(row, sides, strict=True))) for row in shown.rows]
    caption = [tag("caption", shown.title)] if shown.title else []
    return tag("table", *caption, tag("thead", tag("tr", *heads)), tag("tbody", *body))


def _cell(cell: str, side: str | None) -> Html:
    """A cell of a table; a short one keeps to one line."""
    if len(cell) > SHORT:
        return tag("td", cell, class_=side)
    looks = " ".join(filter(None, [side, "short"]))
    return tag("td", cell.replace(" ", "\N{NO-BREAK SPACE}"), class_=looks)


def _lines(key: str, words: Words) -> Html:
    """A line to fill by hand, after what it is for."""
    return tag("p", words(key), class_="fill")


def _signed(words: Words) -> Html:
    """Room to sign for family and lender."""
    fields = ("date", "name", "signature")
    return tag(
        "div",
        *(
            tag(
                "div",
                tag("b", words(f"report.sign.{by}")),
                *(tag("p", words(f"report.sign.{f}"), class_="fill") for f in fields),
            )
            for by in ("family", "lender")
        ),
        class_="two",
    )
