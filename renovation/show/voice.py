"""One voice: whoever puts a farm into words says its money, days, years, months, ways and rates with this object.

It knows the language (`Words`) and the farm: currency, first month, names of ways and of work. A rounding, a sign or a
name is changed here once, and sentences, tables, charts, report and screens change together.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

from renovation.inputs import Scenario, Technique, month_count, year_month
from renovation.words import Words

if TYPE_CHECKING:
    from renovation.decide.risk import Estimate

WHOLE_FROM = 1000.0
"""From here on a sum that could be small is shown in whole units."""
LEAST_DAYS = 0.05
"""Fewer days than this would read as 0."""
FEW_YEARS = 2
"""A run of consecutive years longer than this is told by its first and last."""


class Dated(Protocol):
    """A result in a currency whose month 0 is known: a household's cash, its work, a judged loan."""

    @property
    def currency(self) -> str:
        """ISO 4217."""

    @property
    def start(self) -> str:
        """Month 0, `YYYY-MM`."""


def at_head(text: str) -> str:
    """A text as it stands at the head of a sentence, where the name of a way may come first.

    Example:
        >>> at_head("rooted cutting pays back.")
        'Rooted cutting pays back.'
    """
    return text[:1].upper() + text[1:]


def inside(name: str) -> str:
    """A name of the catalogue as it stands inside a sentence.

    Example:
        >>> inside("Rooted cutting")
        'rooted cutting'
    """
    return name[:1].lower() + name[1:]


@dataclass(frozen=True)
class Voice:
    """What says a farm in a language: its money, days, years, months, ways and work.

    start: month 0, `YYYY-MM`; left out where no project month or year is said. techniques: the farm's own ways; another
    goes by the catalogue's name.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> voice = Voice.of(demo_scenario("few_hands"), Words("en"))
        >>> voice.days(0.02), voice.month(14), voice.way("side_graft")
        ('less than 0.1 days', 'November 2027', 'Side graft')
    """

    words: Words
    currency: str
    start: str = ""
    techniques: Mapping[str, Technique] = field(default_factory=dict)

    @classmethod
    def of(cls, scenario: Scenario, words: Words) -> "Voice":
        """The voice of a farm."""
        return cls(words, scenario.appraisal.currency, scenario.appraisal.start, scenario.techniques)

    @classmethod
    def about(cls, result: Dated, words: Words) -> "Voice":
        """The voice of a result that knows its currency and month 0, where no way is named."""
        return cls(words, result.currency, result.start)

    # Sentences

    def __call__(self, key: str, /, **facts: Any) -> str:
        """The words of a key, filled with facts."""
        return self.words(key, **facts)

    def sentence(self, key: str, /, **facts: Any) -> str:
        """The same as a sentence of its own, with a capital at its head."""
        return self.at_head(self.words(key, **facts))

    def at_head(self, text: str) -> str:
        """A text with a capital at its head; a farm's own name of a way stands there as it was typed.

        Example:
            >>> from renovation.inputs import default_technique
            >>> ours = default_technique("side_graft").model_copy(update={"label": "eGraft"})
            >>> voice = Voice(Words("en"), "USD", techniques={"ours": ours})
            >>> voice.at_head("eGraft pays back."), voice.at_head("rooted cutting pays back.")
            ('eGraft pays back.', 'Rooted cutting pays back.')
        """
        labels = (way.label for way in self.techniques.values() if way.label)
        return text if any(re.match(rf"{re.escape(label)}(?!\w)", text) for label in labels) else at_head(text)

    # Money

    @property
    def sign(self) -> str:
        """The currency's sign."""
        return self.words.currency_sign(self.currency)

    def money(self, amount: float) -> str:
        """A sum in a sentence: no decimals from 100 units on."""
        return self.words.round_money(amount, self.currency)

    def exact_money(self, amount: float) -> str:
        """A sum to the smallest unit, as a contract states it."""
        return self.words.money(amount, self.currency)

    def whole_money(self, amount: float) -> str:
        """A sum in whole units, as in a column of large sums."""
        return self.words.money(amount, self.currency, 0)

    def small_money(self, amount: float) -> str:
        """A price, a wage or the worth of one tree: to the smallest unit, in whole units from 1,000 on.

        Example:
            >>> voice = Voice(Words("en"), "USD", "2027-01")
            >>> voice.small_money(2.5), voice.small_money(5928.21)
            ('$2.50', '$5,928')
        """
        return self.words.money(amount, self.currency, 0 if abs(amount) >= WHOLE_FROM else None)

    def future_money(self, amount: float) -> str:
        """A sum that futures tell, to whole units from one on: futures know no cents.

        Example:
            >>> [Voice(Words("en"), "USD", "2027-01").future_money(amount) for amount in (87.58, 0.5, 0.0)]
            ['$88', '$0.50', '$0']
        """
        return self.whole_money(amount) if _whole(amount) else self.money(amount)

    def money_error(self, found: "Estimate") -> str:
        """The error of such a sum in the digits of the sum, rounded up where those are whole units.

        Example:
            >>> from renovation.decide.risk import Estimate
            >>> voice = Voice(Words("en"), "USD", "2027-01")
            >>> voice.money_error(Estimate(566.0, 55.2)), voice.money_error(Estimate(0.5, 0.21))
            ('$56', '$0.21')
        """
        return self.future_money(math.ceil(found.error - 1e-9) if _whole(found.value) else found.error)

    # Days, trees, futures

    def days(self, days: float) -> str:
        """A number of days: whole from ten on, else to a tenth, and never 0 where there is some.

        Example:
            >>> voice = Voice(Words("en"), "USD", "2027-01")
            >>> voice.days(33.98), voice.days(1.26), voice.days(0.02), voice.days(0.0)
            ('34 days', '1.3 days', 'less than 0.1 days', '0 days')
        """
        if 0 < days < LEAST_DAYS:
            return self.words("cash.hands.few", n=self.words.number(0.1, 1))
        return self.words("unit.days", n=round(days) if days >= 10 else round(days, 1))

    def trees(self, number: int) -> str:
        """A whole number of trees."""
        return self.words("unit.trees", n=number)

    def futures(self, number: int) -> str:
        """A number of futures."""
        return self.words("unit.futures", n=number)

    # Time

    def whole_years(self, years: int) -> str:
        """A span of whole years, such as the years that are looked at."""
        return self.words("unit.years", n=years)

    def month(self, project_month: int) -> str:
        """A project month by its calendar name, from 0: March 2028."""
        return self.words.month(self._calendar(project_month))

    def year(self, year: int) -> str:
        """A project year, from 1: the calendar year where month 0 is a January, else both years that it lies in.

        Example:
            >>> Voice(Words("en"), "USD", "2027-01").year(2), Voice(Words("en"), "USD", "2026-10").year(2)
            ('2028', '2027/28')
        """
        first = self._calendar(12 * (year - 1))
        if first.endswith("-01"):
            return first[:4]
        year = int(first[:4])
        return self.words("cash.year_from", first=year, last=f"{(year + 1) % 100:02d}")

    def years(self, years: tuple[int, ...]) -> str:
        """Project years in a sentence, runs of them by their ends.

        Example:
            >>> Voice(Words("en"), "USD", "2027-01").years((1, 2, 4, 5, 6))
            '2027, 2028 and 2030 to 2032'
            >>> Voice(Words("en"), "USD", "2026-10").years((1, 3, 4))
            '2026/27, 2028/29 and 2029/30'
        """
        return self.words.listing([name for run in runs(years) for name in self._run(run)])

    def _run(self, run: list[int]) -> list[str]:
        """A run of years: few of them one by one, many by the ends."""
        if len(run) <= FEW_YEARS:
            return [self.year(year) for year in run]
        return [self.words("cash.years_run", first=self.year(run[0]), last=self.year(run[-1]))]

    def _calendar(self, project_month: int) -> str:
        """A project month as `YYYY-MM`."""
        return year_month(month_count(self.start) + project_month)

    # Names

    def way(self, key: str) -> str:
        """A way as a heading: its own label, else the catalogue's name.

        Example:
            >>> Voice(Words("en"), "USD", "2027-01").way("rooted_cutting")
            'Rooted cutting'
        """
        return self.words.name("technique", key, self._label(key))

    def way_inside(self, key: str) -> str:
        """A way inside a sentence, as what is done there; a farm's own label as a name that was typed.

        Example:
            >>> Voice(Words("en"), "USD", "2027-01").way_inside("rooted_cutting")
            'planting rooted cuttings'
        """
        label = self._label(key)
        return self.named(label) if label else self.words.name("way", key)

    def way_named(self, key: str) -> str:
        """The name of a way inside a sentence, where its figures are meant and not the work.

        Example:
            >>> Voice(Words("en"), "USD", "2027-01").way_named("rooted_cutting")
            'rooted cutting'
        """
        label = self._label(key)
        return self.named(label) if label else inside(self.way(key))

    def named(self, name: str) -> str:
        """A name that somebody typed inside a sentence, in the quotes of the language where it writes them."""
        return self.words("grammar.quoted", name=name)

    def strategy(self, key: str) -> str:
        """A strategy as a heading: the plan, leaving the farm as it is, or a way.

        Example:
            >>> Voice(Words("en"), "USD", "2027-01").strategy("plan")
            'The plan'
        """
        plan = f"risk.strategy.{key}"
        return self.words(plan) if plan in self.words else self.way(key)

    def strategy_inside(self, key: str) -> str:
        """A strategy inside a sentence."""
        plan = f"risk.answer.name.{key}"
        return self.words(plan) if plan in self.words else self.way_inside(key)

    def work(self, kind: str) -> str:
        """A kind of work: upkeep, harvest, the temporary crop, or an operation by its own label.

        Example:
            >>> Voice(Words("en"), "USD", "2027-01").work("harvest")
            'Harvest and drying'
        """
        if f"cash.work.{kind}" in self.words:
            return self.words(f"cash.work.{kind}")
        labels = (t.operations[kind].label for t in self.techniques.values() if kind in t.operations)
        return self.words.name("operation", kind, next((label for label in labels if label), None))

    def _label(self, key: str) -> str | None:
        technique = self.techniques.get(key)
        return technique.label if technique else None


def runs(numbers: tuple[int, ...]) -> list[list[int]]:
    """Rising whole numbers as runs of neighbours.

    Example:
        >>> runs((1, 2, 4, 5, 6))
        [[1, 2], [4, 5, 6]]
    """
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    return found


def _whole(amount: float) -> bool:
    """Whether a sum that futures tell is written without the currency's small units."""
    return amount == 0 or abs(amount) >= 1
