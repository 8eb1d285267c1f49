"""Many farms: a table in, farms in batches, parts out (method §13)."""

from renovation.farms.batch import Batch
from renovation.on_demand import on_demand

__all__ = ["Batch"]

__getattr__ = on_demand(__name__, invent=("invent", "invented_file"), table=("check", "open_tables"))
