"""Many farms: a table in, farms in batches, parts out (method §13).

    >>> from renovation import farms
    >>> from renovation.farms.invent import invent
    >>> from renovation.inputs import demo_scenario
    >>> template = demo_scenario()
    >>> table = invent(3, 1, template)
    >>> checked = farms.check(template, table)
    >>> checked.farms, checked.refused_farms
    (3, 0)

Every way on every stand, all farms at once; the numbers of `renovation.compare` for each.

    >>> rows = [farms.compare_many(batch) for batch in checked.batches()]
    >>> sorted({farm for some in rows for farm in some["farm"]}) == sorted(set(table["farm"]))
    True

A table too large for that is worked through in a folder, by the processes of this machine or by `farms.Machines` at a
scheduler, and gone on with after whatever ended it:

    farms.run_batches(farms.compare_many, checked.batches(), "out", farms.Asked("compare"), farms=checked.farms)
"""

from renovation.farms.batch import Batch
from renovation.on_demand import on_demand

__all__ = ["Batch"]

__getattr__ = on_demand(
    __name__,
    table=("check", "open_tables"),
    arrays=("compare_many",),
    invent=("invented_file",),
    engine=("Processes",),
    machines=("Machines",),
    run=("Asked", "run_batches"),
    plan=("plan_each",),
    book=("book_each", "sample_of"),
    booked=("book_of",),
    group=("group_of",),
    planned=("plans_of",),
)
