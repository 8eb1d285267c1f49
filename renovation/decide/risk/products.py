"""Matrix products that stay on one thread of the linear-algebra library."""

import numpy as np

from renovation.types import FloatArray

ONE_THREAD = 262_144
"""Multiplications below which OpenBLAS keeps a product on one thread."""


def product(left: FloatArray, right: FloatArray) -> FloatArray:
    """left (n, m) @ right (m, k), a few rows at a time.

    The library's threads wait for each other, which on a machine with other work takes several times as long as the
    product itself.

    Example:
        >>> product(np.ones((5, 2)), np.eye(2)).shape
        (5, 2)
    """
    rows = max(1, min(len(left), ONE_THREAD // max(1, right.size)))
    rows = 1 << (rows.bit_length() - 1)
    whole = len(left) // rows * rows
    many = (left[:whole].reshape(-1, rows, left.shape[1]) @ right).reshape(whole, right.shape[1])
    return many if whole == len(left) else np.concatenate([many, left[whole:] @ right])
