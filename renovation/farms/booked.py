"""The book of a lender in a table: what is missed by month, village, way and template (methods §§9, 13).

Futures are counted, farms added up future by future: with w the farms that each farm stands for, the count of a future
is c_n = Σ w · missed_n. Told are its mean, P90 and the mean of the worst tenth of futures. Where the farms are a
stratified sample, the mean has the error (Cochran 1977, theorem 5.3), half-width of a 95 % interval,

    1.96 · √( Σ_h N_h² · (1 − n_h/N_h) · s_h² / n_h )

N_h, n_h farms of stratum h, in all and worked out, s_h the spread of what they miss on average.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from renovation.decide.risk.answers import half_width, worst_tenth
from renovation.decide.risk.futures import REPLICATES
from renovation.farms.batch import FARM
from renovation.farms.book import LATE, PRICES, WAY, stratum
from renovation.farms.columns import TEMPLATE, VILLAGE
from renovation.farms.group import farms_whole
from renovation.types import FloatArray

ALL, MONTH = "all", "month"
KINDS = (ALL, MONTH, VILLAGE, WAY, TEMPLATE)
WIDTH_95 = 1.96
COLUMNS = (
    "price",
    "by",
    "name",
    "farms",
    "instalments",
    "missed",
    "missed_p90",
    "missed_worst_tenth",
    "share_missed",
    "error_of_sample",
    "error_of_futures",
    "due",
    "share_outside_harvest",
)
AT_ONCE = 1 << 21
"""Instalments times futures that are unpacked at once."""


@dataclass(frozen=True)
class Book:
    """The book. table: `COLUMNS`, a row a price and group; `by` says what groups them, "all", "month" and so on.

    farms, instalments, due (money, constant prices): of the group. missed: instalments, on average of the futures;
    error_of_sample: of it, 0 where all farms are worked out; error_of_futures: of it, from so many futures only, as
    `renovation.decide.risk.answers` has it. share_outside_harvest: of the money due, in months in
    which no crop ripens. farms: with a loan, `worked` of them worked out.
    """

    table: pd.DataFrame
    farms: int
    worked: int
    futures: int

    def of(self, by: str, price: float = 1.0) -> pd.DataFrame:
        """The rows of one grouping at a share of the expected price."""
        some = self.table[(self.table["by"] == by) & (self.table["price"] == price)]
        return some.reset_index(drop=True)

    @property
    def whole(self) -> dict[str, float]:
        """What all farms come to at the expected price; empty where nothing is due."""
        some = self.of(ALL)[list(COLUMNS[3:])]
        return {} if some.empty else {str(key): float(value) for key, value in some.iloc[0].items()}

    def as_dict(self) -> dict[str, Any]:
        """Plain data, without the farms' names."""
        rows = self.table.to_dict("records")
        return {"farms": self.farms, "worked": self.worked, "futures": self.futures, "book": rows}


def book_of(folder: "Path | str", strata: Mapping[str, int], futures: int) -> Book:
    """The book in a finished folder. strata: farms with a loan by stratum; futures: how many were drawn."""
    place = Path(folder)
    farms = pd.concat([pd.DataFrame(columns=[FARM]), *farms_whole(place / "farms.parquet", None)], ignore_index=True)
    return added_up(farms, farms_whole(place / "dues.parquet", None), strata, futures)


def added_up(farms: pd.DataFrame, dues: Iterable[pd.DataFrame], strata: Mapping[str, int], futures: int) -> Book:
    """The tables of `book_each` added up. dues: in pieces, rows sorted by farm; strata as `Sample`'s.

    Example:
        >>> head = {"farm": ["A"], "template": [""], "village": [""], "way": [""]}
        >>> farms = pd.DataFrame({**head, "instalments": [1], **{f"missed_{price:g}": [0.5] for price in PRICES}})
        >>> due = {"month": ["2027-04"], "in_harvest": [False], "due": [9.0], **dict.fromkeys(LATE, ["f0"])}
        >>> added_up(farms, [pd.DataFrame({**head, **due})], {chr(10) * 2: 1}, 8).whole["missed_p90"]
        1.0
    """
    if farms.empty:
        return Book(pd.DataFrame(columns=list(COLUMNS)), sum(strata.values()), 0, futures)
    of = pd.Series([stratum(head) for head in _heads(farms)], index=farms[FARM])
    counts = of.value_counts()
    weights = of.map({name: strata[str(name)] / worked for name, worked in counts.items()})
    sums, rows = _Sums(weights, of, futures), AT_ONCE // futures
    for piece in dues:
        for first in range(0, len(piece), rows):
            sums.add(piece.iloc[first : first + rows])
    table = pd.DataFrame(list(sums.rows(_Sampled(of, strata))), columns=list(COLUMNS))
    return Book(table, sum(strata.values()), len(farms), futures)


def _heads(farms: pd.DataFrame) -> list[dict[str, str]]:
    names = (TEMPLATE, VILLAGE, WAY)
    return [dict(zip(names, row, strict=True)) for row in zip(*(farms[name] for name in names), strict=True)]


@dataclass(frozen=True, eq=False)
class _Sampled:
    """Errors of totals. of: the stratum of each farm; strata: how many farms each has."""

    of: "pd.Series[str]"
    strata: Mapping[str, int]

    def error(self, missed: "pd.Series[float]") -> float:
        """Of the total of what farms miss; farms that are not named miss nothing."""
        values = missed.reindex(self.of.index, fill_value=0.0).groupby(self.of)
        worked, spread = values.size(), values.var(ddof=1).fillna(0.0)
        every = worked.index.map(self.strata).to_numpy(dtype=float)
        return float(WIDTH_95 * np.sqrt((every * (every - worked) * spread / worked).sum()))


class _Sums:
    """What instalments add up to, group by group, in the order they come."""

    def __init__(self, weights: "pd.Series[float]", of: "pd.Series[str]", futures: int) -> None:
        self.weights, self.of, self.futures = weights, of, futures
        self.late: dict[tuple[str, str, float], FloatArray] = {}
        self.figures: dict[tuple[str, str], FloatArray] = {}
        self.missed: list[pd.DataFrame] = []

    def add(self, dues: pd.DataFrame) -> None:
        """Take in some instalments."""
        weight = self.weights.loc[dues[FARM]].to_numpy()
        due = weight * dues["due"].to_numpy()
        figures = np.stack([weight, due, due * ~dues["in_harvest"].to_numpy(dtype=bool)], axis=1)
        groups = {by: pd.factorize(dues[by] if by != ALL else pd.Series("", dues.index), sort=True) for by in KINDS}
        mean = {}
        bits = [unpacked(dues[name], self.futures) for name in LATE]
        for price, some in zip(PRICES, bits, strict=True):
            mean[f"{price:g}"] = some.mean(axis=1)
        self.missed.append(dues[[FARM, MONTH, VILLAGE, WAY, TEMPLATE]].assign(**{ALL: ""}, **mean))
        for by, (code, names) in groups.items():
            if by != ALL and not any(names):
                continue
            chosen = csr_array((weight, (code, np.arange(len(dues)))), shape=(len(names), len(dues)))
            plain = csr_array((np.ones(len(dues)), (code, np.arange(len(dues)))), shape=chosen.shape)
            for name, row in zip(names, plain @ figures, strict=True):
                self.figures[by, name] = self.figures.get((by, name), 0.0) + row
            for price, some in zip(PRICES, bits, strict=True):
                for name, row in zip(names, chosen @ some, strict=True):
                    self.late[by, name, price] = self.late.get((by, name, price), 0.0) + row

    def rows(self, sampled: _Sampled) -> Iterator[dict[str, Any]]:
        """A row a price and group, as `COLUMNS`."""
        if not self.missed:
            return
        missed = pd.concat(self.missed, ignore_index=True)
        samples = min(REPLICATES, self.futures)
        for price in PRICES:
            for by, name in sorted(self.figures, key=lambda key: (KINDS.index(key[0]), key[1])):
                late = self.late[by, name, price]
                instalments, due, outside = self.figures[by, name]
                some = missed[missed[by] == name]
                of_farms = some.groupby(FARM)[f"{price:g}"].sum()
                yield {
                    "price": price,
                    "by": by,
                    "name": name,
                    "farms": float(self.weights.loc[of_farms.index].sum()),
                    "instalments": float(instalments),
                    "missed": float(late.mean()),
                    "missed_p90": float(np.quantile(late, 0.9)),
                    "missed_worst_tenth": -worst_tenth(-late),
                    "share_missed": float(late.mean() / instalments),
                    "error_of_sample": sampled.error(of_farms),
                    "error_of_futures": half_width(late.reshape(samples, -1).mean(axis=1)),
                    "due": float(due),
                    "share_outside_harvest": float(outside / due),
                }


def unpacked(texts: "pd.Series[str]", futures: int) -> FloatArray:
    """(R, n) 1 where something happens in a future, from its text as `as_text` writes it; blank is nowhere.

    Example:
        >>> unpacked(pd.Series(["f0", ""]), 8)[:, :5].tolist()
        [[1.0, 1.0, 1.0, 1.0, 0.0], [0.0, 0.0, 0.0, 0.0, 0.0]]
    """
    found = np.zeros((len(texts), futures))
    told = np.flatnonzero(texts.to_numpy(dtype=object) != "")
    if told.size:
        packed = np.frombuffer(bytes.fromhex("".join(texts.iloc[told])), dtype=np.uint8)
        found[told] = np.unpackbits(packed.reshape(told.size, -1), axis=1, count=futures)
    return found
