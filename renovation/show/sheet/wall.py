"""What stands on the wall sheet, in words: nothing is left out without saying so, and no height is known here."""

from collections.abc import Iterable
from dataclasses import dataclass

from renovation.decide.plan import Look, Plan, Sheet, Start
from renovation.show import pictures
from renovation.show.plan.broken import broken_sentences, headline, in_hand_note
from renovation.show.plan.sentences import head_sentence
from renovation.show.plan.sheet_sentences import caution_keys
from renovation.show.sheet.baskets import Basket, baskets_of
from renovation.show.sheet.months import SALES, Column, Month, column_of, keys_of, month_name, month_of, planned
from renovation.show.voice import LEAST_DAYS, Voice
from renovation.words import Words

HALF = 0.5
"""A day's."""


@dataclass(frozen=True)
class Room:
    """How much stands one by one; what is beyond it is named or summed in a sentence.

    cards: fields and ways with a large figure. works: of a month, with a drawing and days; those of less than `little`
    days have neither. looks: of one kind. items: to buy; priced: with the cost of each, else of a month's. cut: months
    in few letters, so that their works have more room.
    """

    cards: int
    works: int
    looks: int
    items: int
    priced: bool = True
    little: float = HALF
    cut: bool = False


ROOMS = (
    Room(6, 12, 12, 18, little=0.25),
    Room(6, 8, 12, 18),
    Room(6, 8, 12, 18, priced=False),
    Room(3, 6, 8, 18, priced=False),
    Room(3, 3, 4, 18, priced=False),
    Room(3, 3, 2, 18, priced=False),
    Room(2, 3, 3, 12, priced=False),
    Room(2, 2, 2, 6, priced=False),
    Room(2, 2, 2, 6, priced=False, cut=True),
    Room(2, 2, 2, 4, priced=False, cut=True),
    Room(2, 2, 1, 4, priced=False, cut=True),
)
"""From the fullest down."""
MOST_NAMED = 8
"""Fields without a card that a sentence names."""
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
class Row:
    """A box to write in how many live: when, of how many, how many we expect."""

    month: str
    trees: str
    expected: str


@dataclass(frozen=True)
class Field:
    """The boxes of one field, beside its name."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Check:
    """One of the three looks: its name, a drawing and what lives by family, the boxes of each field."""

    name: str
    said: tuple[tuple[str, str], ...]
    fields: tuple[Field, ...]
    more: str


@dataclass(frozen=True)
class Wall:
    """One season's sheet in words.

    marks: said in a frame above all else. columns: of figures beside the works of each month. work, few: over these.
    """

    name: str
    season: str
    invented: str
    marks: tuple[str, ...]
    head: str
    cards: tuple[Card, ...]
    notes: tuple[str, ...]
    columns: tuple[Column, ...]
    work: str
    few: str
    months: tuple[Month, ...]
    months_note: str
    look: str
    checks: tuple[Check, ...]
    buy: str
    baskets: tuple[Basket, ...]
    priced: bool
    more_items: str
    beware: str
    cautions: tuple[str, ...]


def wall_of(plan: Plan, laid_out: Sheet, words: Words, room: Room = ROOMS[0]) -> Wall:
    """The sheet of one project year of a plan, in words."""
    about, voice = plan.scenario.about, Voice.of(plan.scenario, words)
    cards, notes = _cards(laid_out.starts, voice, room)
    first, last = (words.month(laid_out.months[at].month) for at in (0, -1))
    baskets, more_items = baskets_of(laid_out.shopping, room.items, voice, priced=room.priced)
    keys = keys_of(laid_out.months)
    months = tuple(month_of(month, keys, room.works, room.little, voice, cut=room.cut) for month in laid_out.months)
    few = any(LEAST_DAYS <= days < room.little for month in laid_out.months for days in planned(month).values())
    return Wall(
        name=about.name,
        season=voice("plan.season", first=first, last=last),
        invented=words("sheet.invented") if about.invented else "",
        marks=tuple(_marks(plan, words)),
        head=voice("sheet.trees", trees=words.number(laid_out.trees))
        if laid_out.starts
        else head_sentence(plan, words, laid_out.year),
        cards=cards,
        notes=(*notes, *_clones(laid_out, words)),
        columns=tuple(column_of(key, voice) for key in keys),
        work=words("sheet.months"),
        few=words(f"sheet.little.{'half' if room.little == HALF else 'quarter'}") if few else "",
        months=months,
        months_note=" ".join(
            [
                in_hand_note(plan, words) if plan.broken else words("sheet.in_hand"),
                *[words("sheet.sales")] * (SALES in keys),
            ]
        ),
        look=words("sheet.checks"),
        checks=tuple(_checks(laid_out.looks, voice, room)),
        baskets=baskets,
        buy=voice("sheet.buy", cost=voice.money(laid_out.shopping_cost)) if baskets else voice("sheet.buy_nothing"),
        priced=room.priced,
        more_items=more_items,
        beware=words("sheet.beware"),
        cautions=tuple(_cautions(laid_out, plan, words)),
    )


def _marks(plan: Plan, words: Words) -> Iterable[str]:
    """That a promise is broken, and by how much; that figures are guesses."""
    if plan.broken:
        yield " ".join([headline(plan, words), *broken_sentences(plan, words)])
    if plan.scenario.guessed:
        yield words("sheet.guessed", n=len(plan.scenario.guessed))


# Trees


def _cards(starts: tuple[Start, ...], voice: Voice, room: Room) -> tuple[tuple[Card, ...], list[str]]:
    """The trees of each field and way, large; those for which there is no room in a sentence."""
    words = voice.words
    groups: dict[tuple[str, str], list[Start]] = {}
    for start in starts:
        groups.setdefault((start.stand, start.technique), []).append(start)
    cards, sums = [], []
    for (stand, way), mine in sorted(groups.items(), key=lambda group: -sum(start.trees for start in group[1])):
        trees = sum(start.trees for start in mine)
        parts = [
            voice("sheet.card_part", n=words.number(start.trees), month=month_name(start.month, words, "abbreviated"))
            for start in mine
        ]
        sums.append((stand, trees))
        cards.append(
            Card(
                pictures.of_family(voice.techniques[way].family),
                words.number(trees),
                voice("sheet.card", stand=stand),
                voice(
                    "sheet.card_when",
                    way=voice.way(way),
                    months=words.listing(parts) if len(parts) > 1 else month_name(mine[0].month, words),
                ),
            )
        )
    more, unnamed = sums[room.cards :][:MOST_NAMED], sums[room.cards + MOST_NAMED :]
    notes = []
    if more:
        parts = [voice("sheet.more_field", trees=voice.trees(trees), stand=stand) for stand, trees in more]
        notes.append(voice("sheet.more_fields", parts=words.listing(parts)))
    if unnamed:
        notes.append(voice("sheet.most_fields", trees=voice.trees(sum(trees for _, trees in unnamed))))
    return tuple(cards[: room.cards]), notes


def _clones(laid_out: Sheet, words: Words) -> Iterable[str]:
    """How to split the new trees of each field between two clones."""
    if laid_out.clones:
        parts = [
            words("sheet.clones_field", stand=stand, first=words.number(first), second=words.number(second))
            for stand, (first, second) in laid_out.clones.items()
        ]
        yield words("sheet.clones", parts=words.listing(parts))


# Looks


def _checks(looks: tuple[Look, ...], voice: Voice, room: Room) -> Iterable[Check]:
    """The three looks, those that fall into the season."""
    for when in ("days_15", "month", "months_8"):
        mine = [look for look in looks if look.when == when]
        if not mine:
            continue
        largest = sorted(mine, key=lambda look: -look.trees)
        more = sum(look.trees for look in largest[room.looks :])
        fields: dict[str, list[Look]] = {}
        for look in (look for look in mine if look in largest[: room.looks]):
            fields.setdefault(look.stand, []).append(look)
        families = dict.fromkeys(look.family for look in mine)
        yield Check(
            voice(f"sheet.when.{when}"),
            tuple((pictures.of_family(family), voice(f"sheet.look.{family}.{when}")) for family in families),
            tuple(Field(stand, tuple(_row(look, voice) for look in looks)) for stand, looks in fields.items()),
            voice("sheet.more_looks", trees=voice.trees(more)) if more else "",
        )


def _row(look: Look, voice: Voice) -> Row:
    """A box to fill in at a look."""
    expects = (look.family, look.when) in COUNTED and round(look.expected_alive)
    return Row(
        month_name(look.month, voice.words, "abbreviated"),
        voice("sheet.of", trees=voice.words.number(look.trees)),
        voice("sheet.expected", alive=voice.words.number(round(look.expected_alive))) if expects else "",
    )


def _cautions(laid_out: Sheet, plan: Plan, words: Words) -> Iterable[str]:
    """The cautions in fewer words, where the sheet has such; of clones where no note says it already."""
    for key in caution_keys(laid_out, plan):
        if key == "mixed_clones" and laid_out.clones:
            continue
        short = f"sheet.caution.{key}"
        yield words(short if short in words else f"caution.{key}")
