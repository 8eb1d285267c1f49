"""The report as one self-contained HTML file: no script, nothing fetched, set for A4."""

from datetime import date
from importlib import resources

from renovation.decide.dossier import Dossier
from renovation.inputs import Scenario
from renovation.show.guesses import guessed_lines
from renovation.show.report.html import Html, join, style_text, tag
from renovation.show.report.parts import PARTS
from renovation.show.voice import Voice
from renovation.version import __version__
from renovation.words import Words

NOTHING_FETCHED = "default-src 'none'; style-src 'unsafe-inline'"
"""What the file may load: nothing but the style that it holds."""
LONGEST_IN_FOOT = 40
"""Letters of a name that the foot of a page has room for."""
PAGE, PAGES = "\x00", "\x01"


def report(scenario: Scenario, words: Words, today: date) -> str:
    """The report of a scenario as one HTML file; the same for the same scenario, version, language and date.

    Everything in it is what `compare`, `household_cash`, `labour_by_month`, `appraise_loans` and `risk` give, in the
    tables and sentences of the other outputs; the year laid out is that of the plan that the scenario states. Raises
    LoanError for a loan that cannot be, as `appraise_loans` does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> text = report(demo_scenario(), Words("en"), date(2026, 11, 25))
        >>> text.startswith("<!DOCTYPE html>"), "<script" in text
        (True, False)
    """
    return report_of(Dossier(scenario), words, today)


def report_of(dossier: Dossier, words: Words, day: date) -> str:
    """The report of a dossier; what was asked of that before is not asked again.

    The dossier knows whose year is laid out, whether the careful plan is set out, and of a season looked back upon.
    """
    scenario = dossier.scenario
    name = _name(scenario, words)
    keys = [key for key in PARTS if key != "happened" or dossier.happened is not None]
    titles = {key: words("report.numbered", n=n, title=words(f"report.part.{key}")) for n, key in enumerate(keys, 1)}
    body = [
        tag("header", *_opening(scenario, name, words, day)),
        tag("nav", *(tag("a", title, href=f"#{key}") for key, title in titles.items())),
        tag("main", *(_part(key, titles[key], dossier, words) for key in keys)),
    ]
    return page_of(words("report.title_of", name=name), _margins(scenario, name, words, day), join(body), words)


def page_of(title: str, margins: Html, body: Html, words: Words) -> str:
    """A self-contained HTML file in the report's style, set for A4. margins: style rules of its own."""
    style = resources.files("renovation.show.report").joinpath("report.css").read_text("utf-8")
    return file_of(title, join([Html(style), margins]), body, words)


def file_of(title: str, style: Html, body: Html, words: Words) -> str:
    """A self-contained HTML file: no script, nothing fetched."""
    head = tag(
        "head",
        Html('<meta charset="utf-8">'),
        Html(f'<meta http-equiv="Content-Security-Policy" content="{NOTHING_FETCHED}">'),
        Html('<meta name="viewport" content="width=device-width, initial-scale=1">'),
        tag("title", title),
        tag("style", style),
    )
    return f"<!DOCTYPE html>\n{tag('html', head, tag('body', body), lang=words.language)}\n"


def _part(key: str, title: str, dossier: Dossier, words: Words) -> Html:
    """One part under its title."""
    return tag("section", tag("h2", title), PARTS[key](dossier, words), id=key, class_="part")


def _name(scenario: Scenario, words: Words) -> str:
    """The scenario's name, marked where it is invented."""
    name = scenario.about.name
    return words("farm.invented", name=name) if scenario.about.invented else name


def _guessed(scenario: Scenario, words: Words) -> list[Html]:
    """How many figures are guesses and which move the answer most; each stands with its range among what is stated."""
    return [tag("p", line, class_="guessed") for line in guessed_lines(scenario, words)[:1]]


def _opening(scenario: Scenario, name: str, words: Words, today: date) -> list[Html]:
    """Title, name, and what stands for the run: start, span, money, program, digest, date, room for who made it."""
    voice = Voice.of(scenario, words)
    appraisal = scenario.appraisal
    facts = {
        "start": words.month(appraisal.start),
        "horizon": voice.whole_years(scenario.appraisal.horizon_years),
        "currency": _money(voice),
        "date": words.day(today),
        "version": words("command.version", version=__version__),
        "digest": scenario.digest,
    }
    pairs = [tag("div", tag("dt", words(f"report.head.{key}")), tag("dd", value)) for key, value in facts.items()]
    pairs.append(tag("div", tag("dt", words("report.head.by")), tag("dd", class_="line"), class_="by"))
    invented = [tag("p", words("compare.note.invented"), class_="invented")] if scenario.about.invented else []
    return [
        tag("h1", words("report.title")),
        tag("p", name, class_="name"),
        *invented,
        *_guessed(scenario, words),
        tag("dl", *pairs),
    ]


def _money(voice: Voice) -> str:
    """The currency's code, and its sign where that is another."""
    if voice.sign == voice.currency:
        return voice.currency
    return voice("report.money", code=voice.currency, sign=voice.sign)


def _margins(scenario: Scenario, name: str, words: Words, today: date) -> Html:
    """The foot of every page: name (cut where it is long), digest, version, date, and the number of the page."""
    facts = {"version": __version__, "digest": scenario.digest, "date": words.day(today)}
    short = name if len(name) <= LONGEST_IN_FOOT else f"{name[:LONGEST_IN_FOOT]}…"
    left = style_text(words("report.foot", name=short, stamp=words("command.stamp", **facts)))
    numbered = style_text(words("report.page_number", page=PAGE, pages=PAGES))
    for mark, counter in ((PAGE, "page"), (PAGES, "pages")):
        numbered = numbered.replace(f"\\{ord(mark):x} ", f'" counter({counter}) "')
    return join([Html(f"@page {{ @bottom-left {{ content: {left} }} @bottom-right {{ content: {numbered} }} }}")])
