"""One way of renovating a tree, as a table (method §3): a new technique is a new file, not new code."""

import itertools
from functools import cached_property
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from renovation.inputs.quantities import (
    MOST_NAMED,
    CalendarMonth,
    Figure,
    Finding,
    FrozenDict,
    Key,
    Keys,
    Model,
    Name,
    Named,
    NotNegative,
    Quantity,
    Share,
    ShareBelowOne,
    TwelveMonths,
    WorkedOut,
    problem,
    refuse_all,
    without_reasons,
)
from renovation.inputs.side_income import Payment, PermanentShade

Anchor = Literal["start", "attempt", "established", "never"]
WorksOn = Literal["trees", "empty places"]
MOST_MATERIALS = 3
"""Planting materials that one way mixes, and that are set beside each other."""
FELLING = "fell_old_tree"
"""The operation that fells an old tree: where nothing stands there is none."""
Age = Annotated[float, Field(ge=-600, le=600)]
Points = tuple[tuple[float, float], ...]
Curve = Annotated[tuple[tuple[Age, Annotated[float, Field(ge=0, le=5)]], ...], Field(max_length=100)]
"""Points (age in months, share), ages rising; piecewise linear between them."""
ByYear = Annotated[tuple[NotNegative, ...], Field(min_length=1, max_length=40)]
"""One number per year of age, the last holding from then on."""


def _falling_ages(curve: Figure[Curve], *where: str) -> list[Finding]:
    """Find the variants (value, low, high) of a curve whose ages do not rise."""
    findings: list[Finding] = []
    for variant in ("value", "low", "high"):
        ages = [age for age, _ in getattr(curve, variant)]
        if any(later <= earlier for earlier, later in itertools.pairwise(ages)):
            found = ", ".join(f"{age:g}" for age in ages)
            findings.append(((*where, variant), problem("ages_not_rising", found=found)))
    return findings


def _months_of(days: int) -> range:
    """Months in which a day may fall, counted from an anchor somewhere inside its own month: 30 days are 0 or 1."""
    return range(days // 31, (days + 30) // 31 + 1)


class Use(Model):
    """How much of a supply one operation uses on one tree it touches."""

    quantity: Annotated[Figure[NotNegative], Quantity("units/tree")]
    loss_before_use: Annotated[Figure[ShareBelowOne] | None, Quantity("share")] = None
    """Share lost between getting it and using it (nursery, storage): demand is quantity / (1 − loss)."""

    @property
    def demand(self) -> float:
        """Units to get per tree touched: quantity / (1 − loss before use)."""
        return self.quantity.value / (1 - (self.loss_before_use.value if self.loss_before_use else 0.0))


class Operation(Model):
    """A piece of work: when it falls, how long it takes on one tree, what it uses (method §3)."""

    anchor: Anchor
    month: Annotated[int, Field(ge=-60, le=480), Quantity("months after the anchor")] = 0
    after_days: Annotated[int | None, Field(ge=0, le=366), Quantity("days after the anchor")] = None
    """For the work calendar only: the day, where the trade counts in days. Lies inside `month`."""
    days: Annotated[Figure[NotNegative], Quantity("person-days/tree")]
    every: Annotated[int | None, Field(ge=1, le=480), Quantity("months")] = None
    times: Annotated[int | None, Field(ge=1, le=480), Quantity("times")] = None
    materials: Named[Use] = Field(default_factory=FrozenDict)
    label: Name | None = None
    """Own words for an operation that the catalogue does not know."""

    @model_validator(mode="after")
    def _recurs_soundly(self) -> Self:
        if self.times is not None and self.every is None:
            raise problem("times_without_every", found=str(self.times))
        if self.after_days is not None and self.month not in _months_of(self.after_days):
            raise problem("days_outside_month", found=str(self.after_days), month=self.month)
        if self.month < 0 and self.anchor in ("established", "never"):
            raise problem("before_known", found=str(self.month), anchor=self.anchor)
        return self


class OldCrown(Model):
    """What becomes of the old crown: the share it still bears by age from its anchor."""

    anchor: Literal["established", "start"]
    curve: Annotated[Figure[Curve], Quantity("months, share")]

    @model_validator(mode="after")
    def _rising(self) -> Self:
        refuse_all("OldCrown", _falling_ages(self.curve, "curve"))
        return self


class IntercropSpan(Model):
    """A temporary crop between young trees, over a span of months after the start."""

    first_month: Annotated[int, Field(ge=0, le=480), Quantity("months after the start")]
    last_month: Annotated[int, Field(ge=0, le=480), Quantity("months after the start")]
    income: Annotated[Figure[NotNegative], Quantity("money/place/month")]
    days: Annotated[Figure[NotNegative], Quantity("person-days/place/month")]

    @model_validator(mode="after")
    def _forward(self) -> Self:
        if self.last_month < self.first_month:
            raise problem("span_backwards", found=str(self.last_month), first_month=self.first_month)
        return self


Loss = Annotated[Figure[Annotated[float, Field(ge=0, le=0.9)]] | None, Quantity("share/year")]
PodsLost = Annotated[Figure[Share] | None, Quantity("share")]
MatureCrop = Annotated[Figure[Annotated[float, Field(ge=0, le=20)]], Quantity("kg/tree/year")]
NewCrown = Annotated[Figure[Curve], Quantity("months, share")]


class OwnFigures(Model):
    """A way's own figures, in whose place those of its planting materials stand; never written, never typed."""

    material: Key
    mature_crop: MatureCrop
    new_crown: NewCrown
    tree_loss_per_year: Loss = None
    pods_lost: PodsLost = None


class Technique(Model):
    """A technique's table: attempts, crowns, work, supplies, tools, upkeep (method §3).

    Money stands in US dollars in a default file and in the scenario's currency once a scenario is read.
    Errors: a published figure without a citation, a unit other than declared, ages that do not rise, an
    operation that answers a failure before it can be known, a take times its factors above 1.
    """

    family: Literal["graft", "replant", "prune"]
    """Which group of cautions and words applies."""
    works_on: WorksOn = "trees"
    """Trees of a stand, or places of it where nothing stands: there nothing is felled, and no old crown bears."""
    based_on: Key | None = None
    """In a scenario: the default technique that this one varies."""
    label: Name | None = None
    material: Key
    """The planting material of the new crown: the key of the market's quality premium."""
    planting_materials: Annotated[tuple[Key, ...], Field(max_length=MOST_MATERIALS)] = ()
    """The clones that it uses, in equal parts: what they state stands in place of the way's own figures."""
    own_figures: Annotated[OwnFigures | None, WorkedOut()] = None
    start_months: Annotated[tuple[CalendarMonth, ...], Field(min_length=1, max_length=12), Quantity("months")]
    """Calendar months in which work on a tree may start."""
    attempts: Annotated[Figure[Annotated[int, Field(ge=1, le=12)]], Quantity("attempts")]
    gap_months: Annotated[Figure[Annotated[int, Field(ge=1, le=60)]], Quantity("months")]
    take: Annotated[
        Figure[Annotated[tuple[Share, ...], Field(min_length=1, max_length=40)]],
        Quantity("share by project year"),
    ]
    temporary_shade: bool | None = None
    """Whether temporary shade is grown over the young trees; None where a way plants nothing in the open."""
    take_without_shade: Annotated[
        Figure[Annotated[tuple[Share, ...], Field(min_length=1, max_length=40)]] | None,
        Quantity("share by project year"),
    ] = None
    """The take where no temporary shade is grown: then that of `take` too, whichever of them a file states."""
    attempt_factor: Annotated[
        Figure[Annotated[tuple[NotNegative, ...], Field(min_length=1, max_length=12)]] | None,
        Quantity("factor by attempt"),
    ] = None
    """A factor on the take for each try in turn; a try without one has factor 1."""
    take_by_month: Annotated[Figure[TwelveMonths] | None, Quantity("factor by calendar month")] = None
    """A factor on the take by the calendar month of a try, January to December; 1 in every month where absent."""
    mature_crop: MatureCrop
    new_crown: NewCrown
    old_crown: OldCrown | None = None
    """None on empty places, and there alone."""
    shade: Annotated[Figure[Share] | None, Quantity("share")] = None
    """Share of the new crop lost under a whole old crown; None on empty places, and there alone."""
    operations: Named[Operation]
    tools: Keys = ()
    upkeep_days: Annotated[Figure[ByYear], Quantity("person-days/tree/year by year of age")]
    upkeep_inputs: Annotated[Figure[ByYear], Quantity("money/tree/year by year of age")]
    intercrop: Annotated[tuple[IntercropSpan, ...], Field(max_length=MOST_NAMED)] = ()
    permanent_shade: PermanentShade | None = None
    tree_loss_per_year: Loss = None
    """Yearly chance that a tree is lost from the start of the work on; the stand's where absent."""
    pods_lost: PodsLost = None
    """Share of pods lost from then on, beyond what the crops stated leave out; the stand's where absent."""
    payments: Annotated[tuple[Payment, ...], Field(max_length=MOST_NAMED)] = ()
    cautions: Keys = ()
    """Keys of the cautions to show, in the word catalogue under `caution`."""

    @model_validator(mode="after")
    def _sound(self) -> Self:
        findings = [
            *_falling_ages(self.new_crown, "new_crown"),
            *self._answers_before_failures(),
            *self._sure_things(),
            *self._unsound_ground(),
            *self._unsound_shade(),
            *self._unsound_intercrop(),
            *self._named_twice(),
            *self._nothing_to_plant(),
        ]
        refuse_all("Technique", findings)
        return self

    def _answers_before_failures(self) -> list[Finding]:
        """Find work on an attempt that starts before the failure it answers can be known (method §3)."""
        if self.attempts.value == 1:
            return []
        gap = self.gap_months.value
        return [
            (("operations", key, "month"), problem("before_gap", found=str(op.month), gap=gap, first=1 - gap))
            for key, op in self.operations.items()
            if op.anchor == "attempt" and op.month <= -gap
        ]

    def _sure_things(self) -> list[Finding]:
        """Find a take times its factors above 1, on any try of a start in the technique's own months."""
        factor, month = self.highest_factor
        top = max(self.take.value) * factor
        if top <= 1:
            return []
        if self.take_by_month is None:
            return [(("attempt_factor",), problem("take_above_one", found=f"{top:g}"))]
        return [(("take_by_month",), problem("take_in_month_above_one", found=f"{top:g}", months=(month,)))]

    def _unsound_ground(self) -> list[Finding]:
        """Find an old crown, its shade or its felling where nothing stands; the lack of the first two on a tree."""
        ways = {"old_crown": self.old_crown, "shade": self.shade}
        if self.works_on == "trees":
            return [((key,), problem("needed_on_trees")) for key, stated in ways.items() if stated is None]
        findings: list[Finding] = [
            ((key,), problem("nothing_stands_there")) for key, stated in ways.items() if stated is not None
        ]
        if FELLING in self.operations:
            findings.append((("operations", FELLING), problem("nothing_stands_there")))
        if self.family != "replant":
            findings.append((("family",), problem("only_planting", found=f'"{self.family}"')))
        return findings

    def _unsound_shade(self) -> list[Finding]:
        """Find a choice of shade without its take, and what gainsays it: a temporary crop, or two takes."""
        if (self.temporary_shade is None) != (self.take_without_shade is None):
            missing = "take_without_shade" if self.take_without_shade is None else "temporary_shade"
            return [((missing,), problem("shade_half_stated"))]
        findings: list[Finding] = []
        if self.temporary_shade is False and self.intercrop:
            findings.append((("intercrop",), problem("intercrop_is_shade")))
        without = self.take_without_shade
        if self.temporary_shade is False and without is not None and without.value != self.take.value:
            findings.append((("take",), problem("two_takes_without_shade")))
        return findings

    def _unsound_intercrop(self) -> list[Finding]:
        """Find a temporary crop under old crowns, or spans that overlap."""
        findings: list[Finding] = []
        if self.intercrop and self.old_crown and self.old_crown.anchor != "start":
            findings.append((("intercrop",), problem("intercrop_needs_start", found=self.old_crown.anchor)))
        spans = sorted((span.first_month, span.last_month) for span in self.intercrop)
        if any(later[0] <= earlier[1] for earlier, later in itertools.pairwise(spans)):
            found = ", ".join(f"{first}–{last}" for first, last in spans)
            findings.append((("intercrop",), problem("spans_overlap", found=found)))
        return findings

    def _named_twice(self) -> list[Finding]:
        """Find a tool or a start month that is listed twice."""
        lists: tuple[tuple[str, tuple[str | int, ...]], ...] = (
            ("planting_materials", self.planting_materials),
            ("tools", self.tools),
            ("start_months", self.start_months),
        )
        return [
            ((kind,), problem("listed_twice", found=str(entry)))
            for kind, entries in lists
            for entry in sorted({e for e in entries if entries.count(e) > 1}, key=str)
        ]

    def _nothing_to_plant(self) -> list[Finding]:
        """Find planting material in a way that makes no new crown."""
        if not self.planting_materials or self.family != "prune":
            return []
        return [(("planting_materials",), problem("no_new_crown", found=", ".join(self.planting_materials)))]

    @cached_property
    def numbers(self) -> dict[str, Any]:
        """The table as JSON has it, without reasons; not to be written to."""
        table: dict[str, Any] = without_reasons(self.model_dump(mode="json"))
        return table

    @property
    def factors_by_attempt(self) -> tuple[float, ...]:
        """Factor on the take of each try, (J,): as stated, 1 for a try without one."""
        tries = self.attempts.value
        stated = self.attempt_factor.value[:tries] if self.attempt_factor else ()
        return (*stated, *(1.0,) * (tries - len(stated)))

    @property
    def factors_by_month(self) -> tuple[float, ...]:
        """Factor on the take of a try in each calendar month, (12,): as stated, else 1."""
        return self.take_by_month.value if self.take_by_month else (1.0,) * 12

    @property
    def highest_factor(self) -> tuple[float, int]:
        """The highest product of both factors on any try of a start in the technique's months, and its calendar month.

        Example:
            >>> from renovation.inputs import default_technique
            >>> default_technique("side_graft").highest_factor[0]
            1.0
        """
        gap, by_attempt, by_month = self.gap_months.value, self.factors_by_attempt, self.factors_by_month
        months = [[(start - 1 + j * gap) % 12 for start in self.start_months] for j in range(len(by_attempt))]
        factors = ((by_attempt[j] * by_month[m], m + 1) for j, fallen in enumerate(months) for m in fallen)
        return max(factors, key=lambda found: found[0])

    @property
    def earliest_month(self) -> int:
        """Months before the field start at which the first operation falls (0 or negative)."""
        return min((op.month for op in self.operations.values() if op.anchor in ("start", "attempt")), default=0)


class Item(Model):
    """A supply bought by the unit."""

    unit: Name
    unit_cost: Annotated[Figure[NotNegative], Quantity("money/unit")]
    counts_as: Literal["supply", "scion", "plant"] = "supply"
    label: Name | None = None


class Tool(Model):
    """A tool bought for the farm: it serves any number of trees until it wears out."""

    price: Annotated[Figure[NotNegative], Quantity("money/piece")]
    lasts_years: Annotated[Figure[Annotated[float, Field(ge=0.25, le=40)]], Quantity("years")]
    label: Name | None = None


class Supplies(Model):
    """What a unit of each supply and each tool costs: one price per name, whatever technique uses it."""

    items: Annotated[dict[Key, Item], AfterValidator(FrozenDict), Field(max_length=200)]
    tools: Annotated[dict[Key, Tool], AfterValidator(FrozenDict), Field(max_length=200)]
