"""The checks of whole columns of numbers, a pandera schema made from what the models declare of each field."""

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
import pandera.pandas as pandera
from pandera.errors import SchemaErrors

from renovation.farms.cells import holds
from renovation.farms.columns import Column
from renovation.types import BoolArray, IndexArray

CODES = ("not_finite", "not_whole", "out_of_bounds")
"""Mistakes of a number, in the order in which one is told."""


@lru_cache(maxsize=256)
def schema_of(columns: tuple[Column, ...]) -> pandera.DataFrameSchema:
    """The schema of a table with these columns of numbers: finite, whole where counted, within the model's bounds."""
    return pandera.DataFrameSchema({column.path: _checked(column) for column in columns})


def _checked(column: Column) -> pandera.Column:
    checks = [_check("not_finite", lambda values: ~np.isinf(values))]
    if column.kind == "whole":
        checks.append(_check("not_whole", lambda values: np.isnan(values) | (values == np.floor(values))))
    checks.append(_check("out_of_bounds", lambda values: holds(column, values)))
    return pandera.Column(float, checks=checks, nullable=True)


def _check(name: str, accepts: Callable[[Any], BoolArray]) -> pandera.Check:
    """A check of a whole column, in which a blank is no mistake."""
    return pandera.Check(lambda cells: pd.Series(accepts(cells.to_numpy()), cells.index), name=name, ignore_na=False)


def mistakes(numbers: pd.DataFrame, columns: Iterable[Column]) -> Iterator[tuple[str, str, IndexArray]]:
    """The cells that a model would refuse: path, code and (cells,) rows; of each cell the first of its mistakes.

    numbers: (rows, columns) floats by path, NaN where a cell is blank, rows counted from 0.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> from renovation.farms.columns import columns_of
        >>> trees = columns_of(demo_scenario())["stands.trees"]
        >>> numbers = pd.DataFrame({trees.path: [3, 0.5, np.inf, 0]})
        >>> [(code, rows.tolist()) for _, code, rows in mistakes(numbers, [trees])]
        [('not_finite', [2]), ('not_whole', [1]), ('out_of_bounds', [3])]
    """
    try:
        schema_of(tuple(columns)).validate(numbers, lazy=True)
    except SchemaErrors as error:
        cases: Any = error.failure_cases
        cases = cases.assign(rank=cases["check"].map(CODES.index)).sort_values("rank", kind="stable")
        cases = cases.drop_duplicates(["column", "index"])
        for (path, rank), group in cases.groupby(["column", "rank"], sort=False):
            yield str(path), CODES[int(rank)], np.sort(group["index"].to_numpy(dtype=np.intp))
