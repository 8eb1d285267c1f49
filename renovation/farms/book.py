"""The book of a lender: which instalments of which farm are missed in which future (methods §§7, 9, 13).

Price, wages and the cost of supplies are the same for all farms of a future, and so is its season, a share of the
crop's swings; the rest of these swings and the takes are each farm's own, drawn by its name. With s the share of the
variance of the yearly logarithm that farms have in common, z of the season and e of the farm, both standard normal:

    crop = exp(√s·σ·z − s·σ²/2) · exp(√(1−s)·σ·e − (1−s)·σ²/2),  of mean 1 and spread σ for each farm, whatever s

A farm stands in the book as it is, with its trees under way and its loans, or with one way begun besides. What a future
does to it is worked out by the same `lay_out`, `farm_cash` and balance as for a farm alone.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from renovation.decide.held import as_held
from renovation.decide.risk import Futures, Layout, Strategy, draw_futures, lay_out
from renovation.decide.risk.judge import farm_cash, stray_of
from renovation.decide.risk.strategy import LEAVE, one_way
from renovation.decide.starts import NoStart, techniques_for
from renovation.farm import month_labels
from renovation.farms.batch import FARM, Batch
from renovation.farms.columns import TEMPLATE, VILLAGE
from renovation.inputs import Risk, Scenario
from renovation.money import balance, missed
from renovation.types import BoolArray

PRICES = (1.0, 0.9, 0.8, 0.67)
"""Shares of the expected price that the book is told at."""
WAY = "way"
MOST = 10_000
"""Farms that are worked out one by one; of more a sample is."""
AT_ONCE = 25
"""Farms of a batch: few enough that the workers end together."""
LATE = tuple(f"late_{share:g}" for share in PRICES)
"""Columns of the futures in which an instalment is missed, a price each."""
COLUMNS = {
    "farms": [FARM, TEMPLATE, VILLAGE, WAY, "instalments", *(f"missed_{share:g}" for share in PRICES)],
    "dues": [FARM, TEMPLATE, VILLAGE, WAY, "month", "in_harvest", "due", *LATE],
}


@dataclass(frozen=True)
class Draws:
    """How futures are drawn. number: a power of two, at least 32. season: share s of the crop's swings in common.

    No source says how large s is: a half is a guess. The more farms have in common, the more miss at once.
    """

    number: int = 512
    seed: int = 1
    season: float = 0.5


@lru_cache(maxsize=16)
def common_futures(risk: Risk, years: int, draws: Draws) -> Futures:
    """What all farms share: price, season (as `crop`), wages, cost of supplies; takes as expected.

    Example:
        >>> calm = Risk(price_sd=0.0, crop_sd=0.0, wage_drift_sd=0.0, input_drift_sd=0.0)
        >>> bool((common_futures(calm, 5, Draws()).price == 1).all())
        True
    """
    shared = risk.model_copy(update={"crop_sd": risk.crop_sd * draws.season**0.5, "take_spread": 0.0})
    return draw_futures(shared, years, draws.number, draws.seed)


def seed_of(name: str, seed: int) -> int:
    """The seed of a farm: its name and the book's seed, digested; the same on every machine.

    Example:
        >>> seed_of("Farm 1", 1) == seed_of("Farm 1", 1), seed_of("Farm 1", 1) == seed_of("Farm 2", 1)
        (True, False)
    """
    return int.from_bytes(hashlib.sha256(f"{seed}\n{name}".encode()).digest()[:16], "big")


def futures_of(farm: str, risk: Risk, years: int, draws: Draws) -> Futures:
    """The common futures with what is the farm's own in each: its crop's swings and its takes.

    Example:
        >>> some = futures_of("Farm 1", Risk(), 5, Draws())
        >>> some.crop.shape, bool((some.price == futures_of("Farm 2", Risk(), 5, Draws()).price).all())
        ((512, 5), True)
    """
    common = common_futures(risk, years, draws)
    rng = np.random.default_rng(seed_of(farm, draws.seed))
    normal, luck = rng.standard_normal(common.crop.shape), rng.random(common.crop.shape)
    own = risk.crop_sd * (1 - draws.season) ** 0.5
    crop = common.crop * np.exp(own * normal - own**2 / 2) if own > 0 else common.crop
    return replace(common, crop=crop, luck=luck if risk.take_spread > 0 else None, spread=risk.take_spread)


def layout_of(scenario: Scenario, way: str | None = None) -> Layout:
    """The farm with its trees under way and all its loans. way: begun on its compared trees, as `one_way` has it.

    A farm whose stand does not allow the way, or that no month suits, is as it is.
    """
    doing = Strategy(LEAVE, (), scenario.loans)
    stand = scenario.comparison.stand
    if way is not None and stand is not None and way in techniques_for(scenario, stand):
        with suppress(NoStart):
            doing = replace(one_way(scenario, way), loans=scenario.loans)
    return lay_out(as_held(scenario, doing.treatments), doing)


def late_in(layout: Layout, futures: Futures, prices: Sequence[float] = PRICES) -> BoolArray:
    """(P, n, T) whether an instalment is missed, at P shares of the expected price before deductions.

    Example (a future in which all is as expected):
        >>> from renovation.decide.risk import as_expected
        >>> from renovation.inputs import demo_scenario
        >>> late_in(layout_of(demo_scenario()), as_expected(25)).shape
        (4, 1, 300)
    """
    cash, stray, all_of_them = layout.cash, stray_of(layout, futures), slice(0, futures.number)
    late = np.empty((len(prices), futures.number, cash.balance.size), dtype=bool)
    for place, price in enumerate(prices):
        at_price = replace(futures, price=futures.price * price)
        flow = farm_cash(layout, at_price, stray, all_of_them)[0] + cash.other_income
        flow -= cash.money_out
        flow += cash.loan_payout - cash.loan_fee
        late[place] = missed(cash.debt_service, balance(cash.savings, flow, cash.savings_rate_per_year))
    return late


def book_each(
    batch: Batch, draws: Draws = Draws(), names: Mapping[str, str] | None = None, way: str | None = None
) -> dict[str, pd.DataFrame]:
    """The instalments of each farm of a batch, and the futures in which they are missed.

    names: of templates by digest. way: that each farm begins, as `layout_of` has it. Tables: "farms", a row a farm with
    instalments and how many of them are missed on average at each of `PRICES`; "dues", a row an instalment: `month`,
    whether crop ripens then, `due` in constant prices, and `late_1`, `late_0.9` … the futures in which it is missed, a
    bit each, in hexadecimal; blank for none.

    Errors: as `lay_out`; the engine then sets the farm aside.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farms = pd.DataFrame(index=pd.Index(["Farm 1"], name="farm"))
        >>> stands = pd.DataFrame({"farm": ["Farm 1"], "stand": ["Hill"], "stands.trees": [250]})
        >>> found = book_each(Batch(demo_scenario(), farms, stands))
        >>> int(found["farms"]["instalments"][0]) == len(found["dues"])
        True
    """
    tables: dict[str, list[dict[str, Any]]] = {"farms": [], "dues": []}
    for head in heads_of(batch, names or {}):
        farm = head[FARM]
        layout = layout_of(batch.scenario(farm), way)
        scenario, service = layout.scenario, layout.cash.debt_service
        due = np.flatnonzero(service > 0)
        late = np.zeros((len(PRICES), draws.number, due.size), dtype=bool)
        if due.size:
            futures = futures_of(farm, scenario.risk, scenario.appraisal.horizon_years, draws)
            late = late_in(layout, futures)[:, :, due]
        each = late.mean(axis=1).sum(axis=1)
        told = {f"missed_{price:g}": float(found) for price, found in zip(PRICES, each, strict=True)}
        tables["farms"].append({**head, "instalments": due.size, **told})
        labels = month_labels(scenario.appraisal.start, service.size)
        for place, month in enumerate(due):
            label = labels[month]
            facts = {"month": label, "in_harvest": scenario.market.season.shares[int(label[5:]) - 1] > 0}
            futures_late = {name: as_text(late[k, :, place]) for k, name in enumerate(LATE)}
            tables["dues"].append({**head, **facts, "due": float(service[month]), **futures_late})
    return {name: pd.DataFrame(rows, columns=COLUMNS[name]) for name, rows in tables.items()}


def as_text(happens: BoolArray) -> str:
    """Futures, a bit each, in hexadecimal; blank where it happens in none.

    Example:
        >>> as_text(np.arange(8) < 4), as_text(np.zeros(8, dtype=bool))
        ('f0', '')
    """
    return np.packbits(happens).tobytes().hex() if happens.any() else ""


def heads_of(batch: Batch, names: Mapping[str, str]) -> list[dict[str, Any]]:
    """Of each farm its name, template, village, and the way of most of its trees under way; blank for none."""
    village = batch.farms[VILLAGE] if VILLAGE in batch.farms else pd.Series(None, batch.farms.index, dtype=object)
    under_way = {key: f"under_way.{key}.trees" for key in batch.template.techniques}
    there = {key: path for key, path in under_way.items() if path in batch.stands}
    way = np.full(len(batch), "", dtype=object)
    if there:
        some = batch.stands.groupby(FARM)[list(there.values())].sum().reindex(batch.farms.index).to_numpy(dtype=float)
        way = np.where(some.max(axis=1) > 0, np.array(list(there), dtype=object)[some.argmax(axis=1)], "")
    template = names.get(batch.template.digest, "")
    columns = (batch.farms.index, village.fillna(""), way)
    return [
        {FARM: str(farm), TEMPLATE: template, VILLAGE: str(place), WAY: str(key)}
        for farm, place, key in zip(*columns, strict=True)
    ]


def borrows(batch: Batch) -> BoolArray:
    """(farms,) whether a farm has a loan."""
    amounts = [batch.of_farms(f"loans.{loan.name}.amount") > 0 for loan in batch.template.loans]
    return np.any(amounts, axis=0) if amounts else np.zeros(len(batch), dtype=bool)


# Of many farms some


@dataclass(frozen=True)
class Sample:
    """The farms that stand for all. farms: those worked out; strata: how many farms with a loan each stratum has.

    farms: None where all of them are. lending: farms with a loan, all: every farm.
    """

    farms: frozenset[str] | None
    strata: Mapping[str, int]
    lending: int
    all: int

    @property
    def worked(self) -> int:
        """How many farms are worked out."""
        return self.lending if self.farms is None else len(self.farms)


def stratum(head: Mapping[str, Any]) -> str:
    """Farms of one template, village and way are a stratum."""
    return "\n".join(str(head[name]) for name in (TEMPLATE, VILLAGE, WAY))


def sample_of(
    batches: Iterable[Batch], names: Mapping[str, str] | None = None, *, seed: int = 1, most: int = MOST
) -> Sample:
    """Choose about `most` of the farms with a loan where there are more: of each stratum its share, at least two.

    Within a stratum those whose names, digested with the seed, come first: neither batches nor the order of rows count.
    """
    members: dict[str, list[str]] = {}
    every = 0
    for batch in batches:
        every += len(batch)
        for head, lent in zip(heads_of(batch, names or {}), borrows(batch), strict=True):
            if lent:
                members.setdefault(stratum(head), []).append(head[FARM])
    strata = {name: len(members[name]) for name in sorted(members)}
    lending = sum(strata.values())
    if lending <= most:
        return Sample(None, strata, lending, every)
    chosen: set[str] = set()
    for farms in members.values():
        taken = min(len(farms), max(2, round(most * len(farms) / lending)))
        chosen |= set(sorted(farms, key=lambda farm: (seed_of(farm, seed), farm))[:taken])
    return Sample(frozenset(chosen), strata, lending, every)


def chosen_batches(batches: Iterable[Batch], sample: Sample, size: int = AT_ONCE) -> Iterator[Batch]:
    """The farms with a loan that are worked out, so many at a time."""
    for batch in batches:
        wanted = borrows(batch)
        if sample.farms is not None:
            wanted &= batch.farms.index.isin(sample.farms)
        farms = batch.farms[wanted]
        for first in range(0, len(farms), size):
            some = farms.iloc[first : first + size]
            stands = batch.stands[batch.stands[FARM].isin(some.index)].reset_index(drop=True)
            yield replace(batch, farms=some, stands=stands)
