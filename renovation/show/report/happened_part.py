"""Planned and happened, where the season's record was given."""

from renovation.decide.dossier import Dossier
from renovation.show.report.html import Html, bullets, join, paragraphs, table
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
        ]
    )
