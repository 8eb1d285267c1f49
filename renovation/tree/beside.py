"""What goes with a tree beside its crop and the work on it: upkeep, what grows between, payments (method §§3, 12)."""

import numpy as np

from renovation.inputs import Stand, Technique
from renovation.tree.crowns import Attempts
from renovation.types import FloatArray, IntArray


def upkeep(
    technique: Technique,
    stand: Stand,
    chance: FloatArray,
    crown: tuple[FloatArray, FloatArray],
    standing: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Upkeep by month, (S, T): the stand's figures while the old crown stands, the technique's by year of age.

    chance: (S, J) of each attempt to be the one that succeeds; crown: (S, J, T) days and inputs
    a year of the crown that each establishes, by month.
    """
    days = standing * stand.upkeep_days
    cost = standing * stand.upkeep_inputs
    if technique.mature_crop.value > 0:
        for total, each in zip((days, cost), crown, strict=True):
            total += (chance[:, :, None] * each).sum(axis=1)
    return days / 12, cost / 12


def crown_upkeep(age: IntArray, by_year: tuple[float, ...]) -> FloatArray:
    """A year's upkeep of a new crown at each age in months, the shape of `age`; 0 before it is there.

    Example:
        >>> crown_upkeep(np.array([-1, 0, 12, 40]), (2.0, 3.0)).tolist()
        [0.0, 2.0, 3.0, 3.0]
    """
    table = np.asarray(by_year)
    return np.asarray((age >= 0) * table[np.minimum(np.maximum(age, 0) // 12, table.size - 1)])


def grown_beside(technique: Technique, start: IntArray, month: IntArray) -> tuple[FloatArray, FloatArray]:
    """Income and person-days of what grows beside a tree, per tree place, (S, T) each.

    The temporary crop within its spans, 0 outside them; permanent shade by year after the start, a twelfth a month.
    """
    age = month - start[:, None]
    income = np.zeros(age.shape)
    days = np.zeros(age.shape)
    for span in technique.intercrop:
        inside = (age >= span.first_month) & (age <= span.last_month)
        income += inside * span.income.value
        days += inside * span.days.value
    if shade := technique.permanent_shade:
        year = np.maximum(age, 0) // 12
        for total, figure in ((income, shade.income), (days, shade.days)):
            table = np.asarray(figure.value)
            total += (age >= 0) * table[np.minimum(year, table.size - 1)] / 12
    return income, days


def payments(technique: Technique, tries: Attempts, months: int, standing: FloatArray | None) -> FloatArray:
    """Payments of a tree by month, (S, T): those at the start whole, those on establishment times its chance q_j.

    standing: (S, T) share of trees that still stand, for which yearly payments are made; None for all. What falls
    before month 0 has been received.
    """
    paid = np.zeros((len(tries.start), months))
    rows = np.arange(len(tries.start))[:, None]
    for payment in technique.payments:
        at, trees = tries.month, tries.succeeds
        if payment.anchor == "start":
            at, trees = tries.start[:, None], np.ones((len(tries.start), 1))
        last = payment.month if payment.until is None else payment.until
        for offset in range(payment.month, last + 1, 12):
            inside = (at + offset >= 0) & (at + offset < months) & (trees > 0)
            when = np.where(inside, at + offset, 0)
            alive = 1.0 if standing is None or payment.until is None else standing[rows, when]
            np.add.at(paid, (rows, when), np.where(inside, trees * alive * payment.amount.value, 0.0))
    return paid
