"""The plan set out for the terminal, and its rows for other programs."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from renovation.decide.plan import LearnedPlan, Limit, Plan, Repair, Sheet, Yardstick
from renovation.show.grid import paragraph
from renovation.show.plan.broken import in_hand_note
from renovation.show.plan.learning import learning_sentences
from renovation.show.plan.sentences import limit_sentences, plan_sentences, yardstick_sentences
from renovation.show.plan.sheet_sentences import (
    buy_sentence,
    cash_sentences,
    caution_lines,
    clone_sentences,
    look_sentence,
    month_sentence,
)
from renovation.show.tidy import Row
from renovation.show.voice import Voice
from renovation.words import Words

TABLES = ("starts", "months", "years", "calendar", "shopping", "looks", "cash")
"""The tables of a plan that may be written as CSV."""


def plan_text(
    learned: LearnedPlan,
    rules: Iterable[Yardstick],
    limits: Iterable[Limit] | None,
    laid_out: Sheet,
    words: Words,
    width: int,
    repairs: Sequence[Repair] | None = None,
    which: Sequence[str] = (),
    limited: Plan | None = None,
    *,
    why: bool = False,
) -> str:
    """The plan in paragraphs under headings: the answer, simple rules, what holds it back, this year's sheet.

    limits: where None they are left out, or said not to be known where `why` asked for them. repairs: what would make
    a plan possible, where none keeps every promise. which: what says which plan it is. limited: the plan on expected
    figures, which the limits hold back, where it is another.
    """
    plan = learned.plan
    another = limited is not None and limited is not plan
    parts: list[tuple[str, Sequence[str]]] = [
        ("", plan_sentences(plan, words, laid_out.year, repairs, which)),
        ("learning", learning_sentences(learned, words)),
        ("rules", [*yardstick_sentences(plan, rules, words), *([words("plan.which.rules")] if another else [])]),
    ]
    if why or limits is not None:
        said = limit_sentences(limits, limited or plan, words)
        parts.append(("limits", [*said, *([words("plan.which.limits")] if another else [])]))
    parts += [
        ("work", [month_sentence(month, plan, words) for month in laid_out.months if month.work]),
        ("shopping", _shopping(laid_out, plan, words)),
        ("looks", [look_sentence(look, plan, words) for look in laid_out.looks]),
        ("cash", _in_hand(laid_out, plan, words)),
        ("cautions", [*clone_sentences(laid_out, plan, words), *caution_lines(laid_out, plan, words)]),
    ]
    blocks = []
    for heading, sentences in parts:
        if sentences:
            lines = [words(f"plan.heading.{heading}")] if heading else []
            blocks.append("\n".join([*lines, *(paragraph(sentence, width) for sentence in sentences)]))
    return "\n\n".join(blocks)


def _in_hand(laid_out: Sheet, plan: Plan, words: Words) -> list[str]:
    """Money to have in hand, and what floor that counts on."""
    lines = cash_sentences(laid_out, plan, words)
    return [*lines, in_hand_note(plan, words)] if lines and plan.broken else lines


def _shopping(laid_out: Sheet, plan: Any, words: Words) -> list[str]:
    """The shopping list and what it costs."""
    lines = [buy_sentence(item, plan, words) for item in laid_out.shopping]
    if lines:
        total = Voice(words, laid_out.currency).money(laid_out.shopping_cost)
        lines.append(words("plan.shopping_total", amount=total))
    return lines


def plan_rows(learned: LearnedPlan, laid_out: Sheet, stamped: Mapping[str, str]) -> dict[str, list[Row]]:
    """Tidy rows of every table, each with its stamp: full precision, stable columns."""
    plan = learned.plan
    frames = {
        "starts": plan.starts_table(),
        "months": plan.months_table(),
        "years": plan.years_table(),
        "calendar": laid_out.calendar_table(),
        "shopping": laid_out.shopping_table(),
        "looks": laid_out.looks_table(),
        "cash": laid_out.cash_table(),
    }
    return {
        name: [{**stamped, **{str(k): _plain(v) for k, v in row.items()}} for row in frame.to_dict("records")]
        for name, frame in frames.items()
    }


def _plain(value: Any) -> Any:
    """Lists as one cell of text."""
    return " ".join(map(str, value)) if isinstance(value, list) else value
