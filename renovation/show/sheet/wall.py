"""What stands on the wall sheet, in words: nothing is left out without saying so, and no height is known here."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from renovation.decide.plan import Look, MonthOfWork, Plan, Sheet, Start, ToBuy
from renovation.show import pictures
from renovation.show.plan.broken import broken_sentences, headline, in_hand_note
from renovation.show.plan.sentences import head_sentence
from renovation.show.plan.sheet_sentences import amount_of, caution_lines, clone_sentences
from renovation.show.plan.work_calendar import EVERY_YEAR
from renovation.show.voice import LEAST_DAYS, Voice
from renovation.words import Words

MOST_CARDS, MOST_NAMED = 6, 8
"""Fields that get a large figure each; more that are named in a sentence."""
MOST_DRAWN = 12
"""Works of a month that have a drawing each; the others are named in a line."""
MOST_LOOKS = 6
"""Looks of one kind that have a line each."""
MOST_ITEMS = 16
"""Things to buy that have a line each."""
LEAST_MONEY = 0.5
WHOLE_DAYS = 10
LINE = "\N{NO-BREAK SPACE}" * 10
"""Room for a number, underlined on paper."""
COUNTED = {("graft", "month"), ("replant", "months_8")}
"""Looks at which the number that is expected to live says something."""


@dataclass(frozen=True)
class Card:
    """So many trees of a field by a way: a drawing, a large figure, where, how and when."""

    picture: str
    trees: str
    where: str
    how: str


@dataclass(frozen=True)
class Month:
    """A month: lines of work with a drawing each, other works in a line, who works, money to have."""

    name: str
    works: tuple[tuple[str, str], ...]
    also: str
    hands: str
    money: str


@dataclass(frozen=True)
class Row:
    """A line to tick: when, how many live of how many, how many we expect."""

    month: str
    alive: str
    expected: str


@dataclass(frozen=True)
class Field:
    """The lines of one field, under its name; none where the line bears it."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Check:
    """One of the three looks: its name, what a live tree looks like, the lines of each field."""

    name: str
    picture: str
    said: tuple[str, ...]
    fields: tuple[Field, ...]
    more: str


@dataclass(frozen=True)
class Wall:
    """One season's sheet in words. marks: said in a frame above all else. items: what, by when, cost."""

    name: str
    season: str
    invented: str
    marks: tuple[str, ...]
    head: str
    cards: tuple[Card, ...]
    notes: tuple[str, ...]
    months: tuple[Month, ...]
    money_note: str
    checks: tuple[Check, ...]
    items: tuple[tuple[str, str, str], ...]
    more_items: str
    total: str
    cautions: tuple[str, ...]


def wall_of(plan: Plan, laid_out: Sheet, words: Words) -> Wall:
    """The sheet of one project year of a plan, in words."""
    about, voice = plan.scenario.about, Voice.of(plan.scenario, words)
    cards, notes = _cards(laid_out.starts, plan, words)
    first, last = (words.month(laid_out.months[at].month) for at in (0, -1))
    items, more_items = _items(laid_out.shopping, voice)
    return Wall(
        name=about.name,
        season=voice("plan.season", first=first, last=last),
        invented=words("sheet.invented") if about.invented else "",
        marks=tuple(_marks(plan, words)),
        head=voice("sheet.trees", trees=words.number(laid_out.trees))
        if laid_out.starts
        else head_sentence(plan, words, laid_out.year),
        cards=cards,
        notes=(*notes, *clone_sentences(laid_out, plan, words)),
        months=tuple(_month(month, voice) for month in laid_out.months),
        money_note=in_hand_note(plan, words),
        checks=tuple(_checks(laid_out.looks, voice)),
        items=items,
        more_items=more_items,
        total=voice("sheet.total", cost=voice.money(laid_out.shopping_cost))
        if items
        else voice("sheet.nothing_to_buy"),
        cautions=tuple(caution_lines(laid_out, plan, words)),
    )


def _items(shopping: tuple[ToBuy, ...], voice: Voice) -> tuple[tuple[tuple[str, str, str], ...], str]:
    """Supplies a line each, the tools of a month in one; a sentence for those that there is no room for."""
    words = voice.words
    named = [voice("sheet.bought", name=_name(item, words), amount=amount_of(item, words)) for item in shopping]
    lines: dict[tuple[str, str], list[tuple[str, float]]] = {}
    for number, (item, said) in enumerate(zip(shopping, named, strict=True)):
        month = item.months[0] if item.months else ""
        if item.kind == "tool":
            tool = voice("sheet.tool", name=_name(item, words), n=words.number(item.quantity))
            lines.setdefault(("tools", month), []).append((tool, item.cost))
        else:
            lines[str(number), month] = [(said, item.cost)]
    rows = [
        (
            voice("sheet.tools", tools=words.listing([said for said, _ in parts])) if kind == "tools" else parts[0][0],
            voice("sheet.by", month=words.month(month)) if month else "",
            math.fsum(cost for _, cost in parts),
        )
        for (kind, month), parts in lines.items()
    ]
    shown, more = rows[:MOST_ITEMS], rows[MOST_ITEMS:]
    cost = voice.money(math.fsum(cost for *_, cost in more))
    return (
        tuple((what, by, voice.money(cost)) for what, by, cost in shown),
        voice("sheet.more_items", n=len(more), cost=cost) if more else "",
    )


def _name(item: ToBuy, words: Words) -> str:
    return words.name(item.kind, item.key, item.label)


def _marks(plan: Plan, words: Words) -> Iterable[str]:
    """That a promise is broken, and by how much; that figures are guesses."""
    if plan.broken:
        yield " ".join([headline(plan, words), *broken_sentences(plan, words)])
    if plan.scenario.guessed:
        yield words("sheet.guessed", n=len(plan.scenario.guessed))


def _cards(starts: tuple[Start, ...], plan: Plan, words: Words) -> tuple[tuple[Card, ...], list[str]]:
    """The trees of each field and way, large; those for which there is no room in a sentence."""
    voice = Voice.of(plan.scenario, words)
    groups: dict[tuple[str, str], list[Start]] = {}
    for start in starts:
        groups.setdefault((start.stand, start.technique), []).append(start)
    cards, sums = [], []
    for (stand, way), mine in groups.items():
        trees = sum(start.trees for start in mine)
        when = [voice("sheet.card_part", n=words.number(s.trees), month=words.month(s.month)) for s in mine]
        sums.append((stand, trees))
        cards.append(
            Card(
                pictures.of_family(plan.scenario.techniques[way].family),
                words.number(trees),
                voice("sheet.card", stand=stand),
                voice(
                    "sheet.card_when",
                    way=voice.way(way),
                    months=words.listing(when) if len(when) > 1 else words.month(mine[0].month),
                ),
            )
        )
    named, unnamed = sums[MOST_CARDS:][:MOST_NAMED], sums[MOST_CARDS + MOST_NAMED :]
    notes = []
    if named:
        parts = [voice("sheet.more_field", trees=voice.trees(trees), stand=stand) for stand, trees in named]
        notes.append(voice("sheet.more_fields", parts=words.listing(parts)))
    if unnamed:
        notes.append(voice("sheet.most_fields", trees=voice.trees(sum(trees for _, trees in unnamed))))
    return tuple(cards[:MOST_CARDS]), notes


def _month(month: MonthOfWork, voice: Voice) -> Month:
    """One month: the plan's work first, then what the farm has every year."""
    kinds = sorted((kind for kind, days in month.work.items() if days >= LEAST_DAYS), key=lambda k: k in EVERY_YEAR)
    lines = [(pictures.of_work(kind), _work(kind, month.work[kind], voice)) for kind in kinds]
    others = [said for _, said in lines[MOST_DRAWN:]]
    hired = "hired" if month.hired_days >= LEAST_DAYS else "family"
    hands = voice(f"sheet.{hired}", family=_days(month.family_days, voice), hired=_days(month.hired_days, voice))
    money = ""
    if month.in_hand >= LEAST_MONEY:
        key = "money_short" if month.short_until_sales >= LEAST_MONEY else "money"
        short = voice.money(month.short_until_sales)
        money = voice(f"sheet.{key}", amount=voice.money(month.in_hand), short=short)
    return Month(
        voice.words.month(month.month),
        tuple(lines[:MOST_DRAWN]),
        voice("sheet.also", works=voice.words.listing(others)) if others else "",
        hands if lines else voice("sheet.rest"),
        money,
    )


def _work(kind: str, days: float, voice: Voice) -> str:
    """A kind of work, in fewer words where the sheet has such, and its days."""
    short = f"sheet.short.{kind}"
    return voice("sheet.work", work=voice(short) if short in voice.words else voice.work(kind), days=_days(days, voice))


def _days(days: float, voice: Voice) -> str:
    """A number of days as the voice rounds it; the title says that it is days."""
    return voice.words.number(round(days) if days >= WHOLE_DAYS else round(days, 1))


def _checks(looks: tuple[Look, ...], voice: Voice) -> Iterable[Check]:
    """The three looks, those that fall into the season."""
    for when in ("days_15", "month", "months_8"):
        mine = [look for look in looks if look.when == when]
        if not mine:
            continue
        shown, more = mine[:MOST_LOOKS], sum(look.trees for look in mine[MOST_LOOKS:])
        families = dict.fromkeys(look.family for look in mine)
        fields: dict[str, list[Look]] = {}
        for look in shown:
            fields.setdefault(look.stand, []).append(look)
        yield Check(
            voice(f"sheet.when.{when}"),
            pictures.of_look(next(iter(families))),
            tuple(voice(f"sheet.look.{family}.{when}") for family in families),
            tuple(_field(stand, looks, voice) for stand, looks in fields.items()),
            voice("sheet.more_looks", trees=voice.trees(more)) if more else "",
        )


def _field(stand: str, looks: list[Look], voice: Voice) -> Field:
    """The lines of a field; a single one bears its name."""
    if len(looks) == 1:
        return Field("", (_row(looks[0], voice, stand),))
    return Field(stand, tuple(_row(look, voice) for look in looks))


def _row(look: Look, voice: Voice, stand: str = "") -> Row:
    """A line to tick at a look."""
    expects, month = (look.family, look.when) in COUNTED, voice.words.month(look.month, "abbreviated")
    return Row(
        voice("sheet.check", month=month, stand=stand) if stand else month,
        voice("sheet.alive", line=LINE, trees=voice.words.number(look.trees)),
        voice("sheet.expected", alive=voice.words.number(round(look.expected_alive))) if expects else "",
    )
