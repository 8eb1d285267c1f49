"""What is uncertain and how much: prices, crops, takes, wages, costs; and the named stress tests (method §9)."""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from renovation.inputs.quantities import Model, Quantity, Share, problem

Spread = Annotated[float, Field(ge=0, le=2)]
"""A standard deviation of yearly logarithms, or of a yearly rate."""
PathShare = Annotated[float, Field(ge=0.05, le=20)]


def _power_of_two(draws: int) -> int:
    """Refuse a number that the point sequence cannot spread evenly."""
    if draws & (draws - 1):
        raise problem("draws_not_power_of_two", found=str(draws), near=1 << (draws.bit_length() - 1))
    return draws


class Stress(Model):
    """The named bad cases that a plan is tried against, one at a time and together."""

    beginner_take: Annotated[Share, Quantity("share", "common practice")] = 0.25
    """Grafts take no better than this while they last: a first season gives 20–30 %."""
    beginner_seasons: Annotated[int, Field(ge=0, le=40), Quantity("years", "common practice")] = 3
    lost_crop_year: Annotated[int, Field(ge=1, le=40), Quantity("project year", "invented")] = 3
    """The project year in which the main crop fails: by then old crowns are going and new ones bear little."""
    wage_rise: Annotated[float, Field(ge=0, le=10), Quantity("share of the wage", "common practice")] = 0.5
    hand_days: Annotated[float, Field(ge=0, le=31), Quantity("person-days/month", "common practice")] = 20.0
    """What one hired hand works in a month."""
    lost_trees: Annotated[Share, Quantity("share")] = 0.0
    """A share of all trees, old and new, that is lost at once; 0 leaves the case out."""
    lost_trees_year: Annotated[int, Field(ge=1, le=40), Quantity("project year", "invented")] = 3
    """The project year at whose beginning they are lost."""


class Risk(Model):
    """How far prices, crops, takes and costs may stray from what is expected (method §9).

    Spreads of 0 make every future the expected run. Errors: a number of futures that is no power of two, an expected
    price path of the typed kind without its shares.
    """

    draws: Annotated[
        int, Field(ge=512, le=1_048_576), AfterValidator(_power_of_two), Quantity("futures", "common practice")
    ] = 8192
    seed: Annotated[int, Field(ge=0, le=4_294_967_295), Quantity("any whole number", "common practice")] = 1
    price_persistence: Annotated[
        float,
        Field(ge=0, le=1),
        Quantity(
            "share left after a year", "published", "World Bank commodity prices, real series 1960–2023, fitted here"
        ),
    ] = 0.834
    """φ: the share of a price's (logarithmic) distance from its expected level that is left a year later."""
    price_sd: Annotated[
        Spread,
        Quantity("yearly log move", "published", "World Bank commodity prices, real series 1960–2023, fitted here"),
    ] = 0.218
    """σ of the yearly shocks to the logarithm of the price."""
    farm_gate_share: Annotated[Share, Quantity("share of a price move", "common practice")] = 1.0
    """The share of a move of the world price that reaches the farm; 1, the whole of it, is the cautious end."""
    price_setting: Literal["market", "board"] = "market"
    """`board`: the price of a year is fixed before it begins, on the world price of the year before."""
    price_path: Literal["constant", "typed", "reverting"] = "constant"
    """Expected prices: today's for good, typed by year, or on the way to a long-run level."""
    price_by_year: Annotated[
        tuple[PathShare, ...], Field(max_length=40), Quantity("share of today's price by project year")
    ] = ()
    """The last entry holds from then on."""
    long_run_price: Annotated[PathShare, Quantity("share of today's price", "common practice")] = 1.0
    crop_sd: Annotated[Spread, Quantity("yearly log move", "invented")] = 0.15
    take_spread: Annotated[float, Field(ge=0, le=0.5), Quantity("share of the widest spread", "invented")] = 0.04
    """A season's take is Beta with variance spread · p(1 − p), so α + β = 1/spread − 1. 0.04 gives a take of 64 % a
    standard deviation of 9.6 points; five farms of a trial ran from 53.2 to 74.5 % (Soppeng 2010)."""
    wage_drift_sd: Annotated[Spread, Quantity("share/year", "invented")] = 0.01
    input_drift_sd: Annotated[Spread, Quantity("share/year", "invented")] = 0.02
    stress: Stress = Stress()

    @model_validator(mode="after")
    def _path_stated(self) -> Self:
        if self.price_path == "typed" and not self.price_by_year:
            raise problem("price_path_missing")
        return self

    @property
    def certain(self) -> bool:
        """Whether nothing may stray from what is expected."""
        spreads = (self.price_sd, self.crop_sd, self.take_spread, self.wage_drift_sd, self.input_drift_sd)
        return not any(spreads[1:]) and not self.price_sd * self.farm_gate_share
