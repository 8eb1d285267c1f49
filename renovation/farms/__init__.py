"""Many farms: a table in, farms in batches, parts out (method §13)."""

from renovation.farms.batch import Batch

__all__ = ["Batch"]
