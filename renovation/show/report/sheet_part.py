"""The part on this year: trees, who does what, what to get, what to look at, the money to have in hand."""

from renovation.decide.dossier import Dossier
from renovation.show.plan import tables as plan_tables
from renovation.show.plan.broken import in_hand_note, no_plan_sentences
from renovation.show.plan.sentences import head_in_parts, standing_sentence
from renovation.show.plan.sheet_sentences import clone_sentences, look_sentence
from renovation.show.plan.which import which_sentences
from renovation.show.report.html import Html, bullets, join, table, tag
from renovation.words import Words


def sheet_part(dossier: Dossier, words: Words) -> Html:
    """This year's sheet; it says whose plan it is: the one stated, the careful or the bolder one that was found.

    Where no plan keeps every promise, that is said first, with what would make one possible.
    """
    plan, laid_out, is_stated = dossier.year_plan, dossier.year_sheet, dossier.year_is_stated
    told = words("report.plan_sheet.stated") if is_stated else words("report.plan_sheet.found")
    first, parts = head_in_parts(plan, words, laid_out.year, stated=is_stated)
    head = [first, *parts] if plan.starts or not is_stated else []
    which: list[str] = []
    pieces = []
    if plan.broken and not is_stated:
        pieces.append(bullets(no_plan_sentences(plan, dossier.repairs, words)))
        told = words("plan.broken.below")
    elif not is_stated:
        which = which_sentences(dossier.careful, words, bolder=dossier.bolder)
    standing = [] if is_stated or (which and plan.solution.status == "given") else [standing_sentence(plan, words)]
    pieces += [
        tag("p", told, class_="lead"),
        bullets([*head, *which, *standing, *clone_sentences(laid_out, plan, words)]),
        table(plan_tables.work(laid_out, plan.scenario, words), shares=WORK),
    ]
    if laid_out.shopping:
        pieces.append(table(plan_tables.shopping(laid_out, words), total=True))
        pieces.append(tag("p", words("plan.sheet.spare"), class_="note"))
    if laid_out.looks:
        pieces.append(tag("h3", words("plan.sheet.looks")))
        pieces.append(bullets(look_sentence(look, plan, words) for look in laid_out.looks))
    pieces.append(table(plan_tables.in_hand(laid_out, words)))
    pieces.append(tag("p", in_hand_note(plan, words), class_="note"))
    return join(pieces)


WORK = (12, 64, 12, 12)
"""Widths of the columns of work, in percent."""
