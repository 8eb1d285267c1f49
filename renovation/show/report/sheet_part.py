"""The part on this year: trees, who does what, what to get, what to look at, the money to have in hand."""

from renovation.decide.plan import Plan, Sheet
from renovation.show.plan import tables as plan_tables
from renovation.show.plan.broken import broken_sentences, headline, in_hand_note
from renovation.show.plan.sentences import head_in_parts, standing_sentence
from renovation.show.plan.sheet_sentences import clone_sentences, look_sentence
from renovation.show.report.html import Html, bullets, join, table, tag
from renovation.words import Words


def sheet_part(plan: Plan, laid_out: Sheet, is_stated: bool, words: Words) -> Html:
    """This year's sheet; it says whether the plan is the one stated or the one that was found."""
    told = words("report.plan_sheet.stated") if is_stated else words("report.plan_sheet.found")
    standing = [] if is_stated else [standing_sentence(plan, words)]
    first, parts = head_in_parts(plan, words, laid_out.year, stated=is_stated)
    head = [first, *parts] if plan.starts else []
    if plan.broken and not is_stated:
        told = words("plan.broken.below")
        head = [headline(plan, words), *broken_sentences(plan, words), *head]
    pieces = [
        tag("p", told, class_="lead"),
        bullets([*head, *standing, *clone_sentences(laid_out, plan, words)]),
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
