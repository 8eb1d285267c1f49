"""Curves and numbers by year in a sentence: what holds until when, halfway, at the top, from when on."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from renovation.words import Words

Points = Sequence[tuple[float, float]]
"""Age in months and share."""


@dataclass(frozen=True)
class Stretch:
    """Ages in months, from first to last, over which a curve's share stays the same; one age where it does not."""

    share: float
    first: float
    last: float


def curve_sentence(points: Points, words: Words, *, before: float | None = None) -> str:
    """A curve said by its ends, its level stretches, its turns, and halfway between them; each as its table states it.

    before: the share ahead of the first point, 0 of a new crown and 1 of an old one; not said where None. What holds
    before the start, age 0, is not said either.

    Example:
        >>> words = Words("en")
        >>> curve_sentence(((9, 0.0), (12, 0.03), (36, 0.58), (60, 1.0), (180, 1.0), (300, 0.8)), words)
        'nothing until 9 months, 58% at 3 years, 100% from 5 to 15 years, 80% from 25 years on'
        >>> curve_sentence(((24, 1.0), (60, 0.5)), words, before=0.0)
        'nothing before 2 years, 100% at 2 years, 50% from 5 years on'
        >>> curve_sentence(((-1, 1.0), (0, 0.0)), words, before=1.0)
        'nothing from the start on'
    """
    said = [
        Stretch(share, group[0][0], group[-1][0])
        for share, found in groupby(points, key=lambda point: point[1])
        for group in [list(found)]
    ]
    if not said:
        return words("cell.curve_empty")
    while len(said) > 1 and said[0].last < 0:
        said = said[1:]
    kept = telling(said)
    parts = [_say(kept, place, words, before) for place in range(len(kept))]
    if before is not None and before != kept[0].share and kept[0].first > 0:
        first = age_in_words(kept[0].first, words)
        parts.insert(0, words("curve.before", share=_share(before, words), first=first))
    return words("curve.joint").join(parts)


def telling(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The stretches that tell a curve: its ends, what is level, its turns, and one halfway between them."""
    last = len(stretches) - 1
    kept: list[Stretch] = []
    passed: list[Stretch] = []
    for place, now in enumerate(stretches):
        turns = (
            0 < place < last and (now.share - stretches[place - 1].share) * (stretches[place + 1].share - now.share) < 0
        )
        if place not in (0, last) and now.first == now.last and not turns:
            passed.append(now)
            continue
        if passed:
            middle = (kept[-1].share + now.share) / 2
            kept.append(min(passed, key=lambda stretch: abs(stretch.share - middle)))
            passed = []
        kept.append(now)
    return kept


def _say(kept: Sequence[Stretch], place: int, words: Words, before: float | None) -> str:
    """One stretch. The first holds until its last age where the same share holds before it too."""
    now = kept[place]
    share = _share(now.share, words)
    first, last = age_in_words(now.first, words), age_in_words(now.last, words)
    if place == len(kept) - 1:
        return words("curve.on", share=share, first=first)
    if place == 0 and now.last > 0 and (now.share == before or (before is None and now.share == 0)):
        return words("curve.until", share=share, last=last)
    if now.first == now.last:
        return words("curve.at", share=share, first=first)
    if _in_years(now.first) == _in_years(now.last) and now.first > 0:  # "from 8 to 12 months"
        first = words.number(now.first / 12 if _in_years(now.first) else now.first)
    return words("curve.between", share=share, first=first, last=last)


def _share(share: float, words: Words) -> str:
    return words.rate(share) if share else words("curve.nothing")


def age_in_words(months: float, words: Words) -> str:
    """An age in months, or in years where it is a whole number of them, two at least; age 0 is the start.

    Example:
        >>> age_in_words(18, Words("en")), age_in_words(36, Words("en")), age_in_words(0, Words("en"))
        ('18 months', '3 years', 'the start')
    """
    if months == 0:
        return words("curve.start")
    if _in_years(months):
        return words("unit.years", n=int(months // 12))
    return words("unit.months", n=int(months) if months == int(months) else months)


def _in_years(months: float) -> bool:
    return months >= 24 and months % 12 == 0


def by_year_sentence(entries: Sequence[str], words: Words) -> str:
    """Numbers by year, each already in words, the last holding from then on; equal ones that follow are said once.

    Example:
        >>> by_year_sentence(("25%", "75%"), Words("en"))
        '25% in year 1, 75% from year 2 on'
    """
    said, year = [], 1
    for entry, found in groupby(entries):
        end = year + len(list(found)) - 1
        form = "on_year" if end == len(entries) else "in_year" if end == year else "between_years"
        said.append(words(f"curve.{form}", share=entry, first=words.number(year), last=words.number(end)))
        year = end + 1
    return words("curve.joint").join(said)
