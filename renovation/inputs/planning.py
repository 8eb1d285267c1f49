"""What the family asks of a plan: years, limits of a year, a loan on offer, learning (method §§8, 10)."""

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from renovation.inputs.loans import LoanOffer
from renovation.inputs.quantities import (
    FrozenDict,
    Key,
    Keys,
    Model,
    Named,
    NotNegative,
    Quantity,
    Share,
    YearMonth,
)
from renovation.inputs.techniques import Anchor

Years = Annotated[tuple[NotNegative, ...], Field(min_length=1, max_length=40)]


def _one_or_years(value: Any) -> str:
    """Tell a list from a single number, so that a mistake is judged as what was meant."""
    return "years" if isinstance(value, tuple | list) else "one"


ByProjectYear = Annotated[
    Annotated[NotNegative, Tag("one")] | Annotated[Years, Tag("years")], Discriminator(_one_or_years)
]
"""One number for every project year, or one for each, the last holding from then on."""


class Practice(Model):
    """One point of a learning table: the take of a season before which so many grafts were made."""

    grafts_before: Annotated[int, Field(ge=0, le=10_000_000), Quantity("grafts")]
    take: Annotated[Share, Quantity("share")]


class Learning(Model):
    """How the take rises with the grafts made before the season: a table, or a learning curve of failures.

    By `crawford` graft number n fails with chance f₁·n^b, by `wright` the first n grafts fail with mean
    chance f₁·n^b; b = log₂(rate), f₁ = 1 − first take. The take never passes `highest_take`, or
    `first_take` where that is higher.
    """

    form: Literal["table", "wright", "crawford"] = "crawford"
    first_take: Annotated[Share, Quantity("share", "common practice")] = 0.25
    highest_take: Annotated[Share, Quantity("share", "common practice")] = 0.75
    rate: Annotated[float, Field(ge=0.5, le=1), Quantity("share of failures left by each doubling", "invented")] = 0.85
    table: Annotated[tuple[Practice, ...], Field(max_length=100)] = ()
    techniques: Keys | None = None
    """The techniques that one practice serves; every way of grafting where absent."""
    grafts_before: Annotated[int, Field(ge=0, le=10_000_000), Quantity("grafts")] = 0
    """Grafts made before the plan begins, beside those on record."""


class WorkDone(Model):
    """Days worked at one operation in a season."""

    days: Annotated[NotNegative, Quantity("person-days")]
    trees: Annotated[int | None, Field(ge=1, le=10_000_000), Quantity("trees")] = None
    """Trees it was done on; see `GraftRecord.worked_on` where absent."""


class GraftRecord(Model):
    """Grafts or plants made in a past season, how many of them took, and the days worked (method §10)."""

    technique: Key
    made: Annotated[int, Field(ge=0, le=10_000_000), Quantity("grafts")]
    taken: Annotated[int, Field(ge=0, le=10_000_000), Quantity("grafts")]
    season: YearMonth | None = None
    work: Named[WorkDone] = Field(default_factory=FrozenDict)
    """By operation."""

    def worked_on(self, operation: str, anchor: Anchor) -> int:
        """Trees that an operation was done on: as stated, else those that took, that failed, or all that were made.

        Example:
            >>> GraftRecord(technique="side_graft", made=60, taken=21).worked_on("unwrap", "established")
            21
        """
        stated = self.work[operation].trees if operation in self.work else None
        usual = {"established": self.taken, "never": self.made - self.taken}
        return usual.get(anchor, self.made) if stated is None else stated


USUAL_YEARS = 5
"""Planning years where none are stated: common practice, no source."""


class Planning(Model):
    """What a plan must keep and what it may use (method §8).

    The floor and the hands to be hired are the household's. Limits of a year bind in the year of use.
    """

    years: Annotated[int | None, Field(ge=1, le=30), Quantity("years", "common practice")] = None
    """Project years in which work on a tree may start; see `years_of` where absent."""
    scions_per_year: Annotated[ByProjectYear | None, Quantity("scions/year")] = None
    plants_per_year: Annotated[ByProjectYear | None, Quantity("plants/year")] = None
    money_per_year: Annotated[ByProjectYear | None, Quantity("money/year")] = None
    """For materials of operations, tools and all the farm's hired labour; not for upkeep inputs."""
    most_share_per_year: Annotated[float | None, Field(gt=0, le=1), Quantity("share of the farm's trees/year")] = None
    batch: Annotated[Named[Annotated[int, Field(ge=1, le=1_000_000)]], Quantity("trees/year by technique")] = Field(
        default_factory=FrozenDict
    )
    """The smallest number of trees of a stand that is worth starting a technique for in a year."""
    at_least_two_clones: bool = False
    largest_clone_share: Annotated[
        float, Field(ge=0.5, lt=1), Quantity("share of a stand's new crowns", "common practice")
    ] = 0.75
    """The most that one planting material may make up, where at least two clones are asked for."""
    loan: LoanOffer | None = None
    value_per_family_day: Annotated[NotNegative | None, Quantity("money/person-day", "common practice")] = None
    """What a day of the family's own work costs in the worth of a plan; the wage × the labour value where absent."""
    years_after_horizon: Annotated[int, Field(ge=0, le=30), Quantity("years", "common practice")] = 0
    gap: Annotated[float, Field(ge=0, le=0.2), Quantity("share of the plan's aim", "common practice")] = 0.0001
    time_limit_seconds: Annotated[float, Field(gt=0, le=3600), Quantity("seconds", "common practice")] = 30.0
    learning: Learning | None = None
    records: Annotated[tuple[GraftRecord, ...], Field(max_length=1000)] = ()
    prior_taken: Annotated[float, Field(gt=0, le=1e6), Quantity("grafts", "common practice")] = 1.0
    """α of the Beta distribution before the first record; 1 and 1 hold every take equally likely."""
    prior_failed: Annotated[float, Field(gt=0, le=1e6), Quantity("grafts", "common practice")] = 1.0

    def years_of(self, horizon_years: int) -> int:
        """The planning years: as stated, else five, or all the years looked at where those are fewer.

        Example:
            >>> Planning().years_of(25), Planning().years_of(3), Planning(years=2).years_of(25)
            (5, 3, 2)
        """
        return min(USUAL_YEARS, horizon_years) if self.years is None else self.years
