"""The part on risk: what the futures say, chances by year, hard cases, what the answer rests on."""

from renovation.decide.dossier import Dossier
from renovation.decide.risk.strategy import LEAVE
from renovation.show.plan import careful as careful_words
from renovation.show.plan.broken import no_plan_sentences
from renovation.show.report.html import Html, bullets, chart, join, paragraphs, table, tag
from renovation.show.risk import answers as risk_answers
from renovation.show.risk import charts as risk_charts
from renovation.show.risk import sentences as risk_sentences
from renovation.show.risk import tables as risk_tables
from renovation.words import Words

WIDTH = 560
"""Width of a chart's plot, with names on its left."""
ROW = 44
"""Pixels of a bar."""


def risk_part(dossier: Dossier, words: Words) -> Html:
    """Answers first, each with its sampling error; then tables and pictures."""
    found = dossier.risk
    doing = [answer for key, answer in found.answers.items() if key != LEAVE]
    if not doing:
        return tag("p", words("risk.none"))
    middles = [risk_answers.middle(found, answer, words) for answer in doing]
    pieces = [
        chart(risk_charts.worth_chart(found, words, row=ROW), "worth", WIDTH),
        bullets([*middles, *risk_answers.side_by_side(found, words)]),
        table(risk_tables.answers(found, words)),
        paragraphs([*risk_sentences.precision(found, words), words("risk.note")], class_="note"),
        tag("h3", words("report.risk.chances")),
        bullets(risk_answers.chances(found, answer, words) for answer in found.answers.values()),
        table(risk_tables.chances_by_year(found, words)),
        *_hard(dossier, words),
        *_rests_on(dossier, words),
    ]
    return join(pieces)


def _hard(dossier: Dossier, words: Words) -> list[Html]:
    """The named hard cases of each strategy, and what each means."""
    return [
        tag("h3", words("report.risk.hard")),
        bullets(risk_sentences.hardest(dossier.stress, words)),
        *(table(risk_tables.stress(dossier.stress, key, words)) for key in dossier.stress.rows),
        paragraphs(risk_sentences.case_notes(dossier.stress, words), class_="note"),
    ]


def _rests_on(dossier: Dossier, words: Words) -> list[Html]:
    """The ranking of figures for the way of the headline."""
    if dossier.ranked is None:
        return []
    return [
        tag("h3", words("report.risk.rests_on")),
        chart(risk_charts.bars_chart(dossier.ranked, words, row=ROW), "bars", WIDTH),
        table(risk_tables.bars(dossier.ranked, words, risk_charts.BARS_SHOWN)),
        tag("p", words("sensitivity.note"), class_="note"),
    ]


def careful_part(dossier: Dossier, words: Words) -> list[Html]:
    """The careful plan: how often each plan keeps the floor, what that costs, what each starts.

    Where no plan keeps every promise, that, and what would make one possible.
    """
    title, found = tag("h3", words("risk.robust.title")), dossier.careful
    if found is None:
        return [title, bullets(no_plan_sentences(dossier.plan, dossier.repairs, words))]
    return [
        title,
        bullets(careful_words.said(found, words)),
        *([] if found.same else [table(careful_words.starts(found, words), total=True)]),
        table(careful_words.answers(found, words)),
    ]
