"""Planned and happened, where the season's record was given."""

from renovation.decide.dossier import Dossier
from renovation.show.loans import signed
from renovation.show.report.html import Html, bullets, join, paragraphs, table, tag
from renovation.show.season import happened as shown
from renovation.words import Words


def happened(dossier: Dossier, words: Words) -> Html:
    """The season beside what was expected of it, and why the money differs."""
    found = dossier.happened
    if found is None:
        return join([])
    return join(
        [
            bullets(shown.happened_sentences(found, words)),
            table(shown.parts_table(found, words), total=True),
            table(shown.figures_table(found, words)),
            paragraphs(shown.happened_notes(words), class_="note"),
            *_signed(dossier, words),
        ]
    )


def _signed(dossier: Dossier, words: Words) -> list[Html]:
    """Each loan after signing: its account, and what can be agreed where it is behind."""
    found = dossier.signed
    if found is None or not found.loans:
        return []
    parts = [tag("h3", words("signed.title"))]
    for one in found.loans:
        tables = (signed.account_table(found, one, words), signed.ways_table(found, one, words))
        parts.append(bullets([*signed.account_said(found, one, words), *signed.now_said(found, one, words)]))
        parts += [table(drawn) for drawn in tables if drawn is not None]
    return [*parts, paragraphs(signed.notes(found, words), class_="note")]
