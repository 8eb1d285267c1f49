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

Any of these farms is an ordinary scenario too, with all that is asked of one; and every household as it stands:

    >>> batch = next(checked.batches())
    >>> batch.scenario("Farm 1").about.name
    'Farm 1'
    >>> cash = farms.cash_many(batch)
    >>> list(cash["farm"]), bool((cash["missed_instalments"] <= cash["instalments"]).all())
    (['Farm 1', 'Farm 2', 'Farm 3'], True)

What all of them come to, those who gain most first (`farms.group_of` reads the same from a finished folder):

    >>> group = farms.grouped(rows)
    >>> group.farms, group.first["gain"].is_monotonic_decreasing
    (3, True)

A table too large for that is worked through in a folder, by the processes of this machine or by `farms.Machines` at a
scheduler, and gone on with after whatever ended it. A script that does so guards its work by
`if __name__ == "__main__":`, for every process loads it. So do plans (`farms.plan_each`) and a lender's book
(`farms.book_each`), of which `farms.plans_of` and `farms.book_of` tell what is in the folder:

    farms.run_batches(farms.compare_many, checked.batches(), "out", farms.Asked("compare"), farms=checked.farms)
"""

from renovation.farms.batch import Batch
from renovation.on_demand import on_demand

__all__ = ["Batch"]

__getattr__ = on_demand(
    __name__,
    table=("check", "open_tables"),
    arrays=("compare_many",),
    months=("cash_many",),
    invent=("invented_file",),
    engine=("Processes", "SchedulerLost", "TooManyAside"),
    machines=("Machines",),
    run=("Asked", "NoRoom", "NotEmpty", "NotTheSame", "read_note", "run_batches"),
    plan=("plan_each",),
    book=("Draws", "book_each", "chosen_batches", "sample_of"),
    booked=("book_of",),
    group=("group_of", "grouped"),
    planned=("plans_of",),
)
