"""One tree month by month in plain Python, a second program beside the arrays of `renovation.tree`."""

import itertools

import numpy as np

from renovation.tree import Setting

MONTHS = 48
FIRST_MONTH = 11
SEASON = np.resize(np.array([1, 0, 0, 2, 3, 0, 0, 0, 1, 2, 2, 1]) / 12, MONTHS)
SETTING = Setting(MONTHS, SEASON, 0.05, FIRST_MONTH)
ARRAYS = ("old_kg", "new_kg", "days", "materials_cost", "other_income")


def interpolate(points, age, before):
    """Piecewise linear by hand: `before` ahead of the first point, the last share after the last."""
    if not points:
        return before
    if age < points[0][0]:
        return before
    for (a, x), (b, y) in itertools.pairwise(points):
        if a <= age < b:
            return x + (y - x) * (age - a) / (b - a)
    return points[-1][1]


def add_operations(way, goods, start, success, made, days, cost):
    """Add the work and supplies of a tree that goes this way."""
    gap = way.gap_months.value
    tried = range(made if success is None else success + 1)
    born = None if success is None else start + success * gap
    for op in way.operations.values():
        anchors = {
            "start": [start],
            "attempt": [start + j * gap for j in tried],
            "established": [] if born is None else [born],
            "never": [start + (made - 1) * gap] if success is None else [],
        }[op.anchor]
        for anchor in anchors:
            t, count = anchor + op.month, 0
            while t < MONTHS and (op.times is None or count < op.times):
                days[t] += op.days.value
                for item, used in op.materials.items():
                    lost = used.loss_before_use.value if used.loss_before_use else 0.0
                    cost[t] += used.quantity.value / (1 - lost) * goods.items[item].unit_cost.value
                if op.every is None:
                    break
                t, count = t + op.every, count + 1


def chances(way, field, start, t):
    """Chance that a tree still stands in month t, month after month, and the share kept of what it bears."""
    own = way.tree_loss_per_year
    before = field.tree_loss_per_year if way.works_on == "trees" else 0.0
    after = field.tree_loss_per_year if own is None else own.value
    standing = 1.0
    for month in range(t):
        standing *= (1 - (before if month < start else after)) ** (1 / 12)
    if t < start:
        return standing, 1 - field.pods_lost
    lost = field.pods_lost if way.pods_lost is None else way.pods_lost.value
    return standing, (1 - lost) * (way.permanent_shade.crop_factor.value if way.permanent_shade else 1.0)


def one_tree(way, field, goods, start, success, made):
    """Simulate a tree whose attempt number `success` works (None: none of the `made` attempts does)."""
    kg_old, kg_new, days, cost, other = (np.zeros(MONTHS) for _ in range(5))
    born = None if success is None else start + success * way.gap_months.value
    for t in range(MONTHS):
        standing, kept = chances(way, field, start, t)
        if way.old_crown.anchor == "start":
            old = interpolate(way.old_crown.curve.value, t - start, 1.0)
        elif born is None or t < born:
            old = 1.0
        else:
            old = interpolate(way.old_crown.curve.value, t - born, 1.0)
        kg_old[t] = field.kg_per_tree * (1 - field.decline_per_year) ** (t / 12) * old * SEASON[t] * standing * kept
        days[t] += min(1, old) * field.upkeep_days / 12 * standing
        cost[t] += min(1, old) * field.upkeep_inputs / 12 * standing
        if born is not None and t >= born:
            share = interpolate(way.new_crown.value, t - born, 0.0) * standing * kept
            kg_new[t] = way.mature_crop.value * share * (1 - way.shade.value * min(1, old)) * SEASON[t]
            if way.mature_crop.value > 0:
                year = (t - born) // 12
                days[t] += way.upkeep_days.value[min(year, len(way.upkeep_days.value) - 1)] / 12 * standing
                cost[t] += way.upkeep_inputs.value[min(year, len(way.upkeep_inputs.value) - 1)] / 12 * standing
        days[t] += (kg_old[t] + kg_new[t]) * SETTING.harvest_days_per_kg
        for span in way.intercrop:
            if span.first_month <= t - start <= span.last_month:
                other[t] += span.income.value
                days[t] += span.days.value
        if way.permanent_shade and t >= start:
            year = (t - start) // 12
            for array, figure in ((other, way.permanent_shade.income), (days, way.permanent_shade.days)):
                array[t] += figure.value[min(year, len(figure.value) - 1)] / 12
        other[t] += sum(
            paid_in(payment, start if payment.anchor == "start" else born, t, standing) for payment in way.payments
        )
    add_operations(way, goods, start, success, made, days, cost)
    return kg_old, kg_new, days, cost, other


def paid_in(payment, anchor, t, standing):
    """What a payment brings in month t: once, or every 12 months to its end for the trees that stand."""
    if anchor is None or t < anchor + payment.month:
        return 0.0
    if payment.until is None:
        return payment.amount.value if t == anchor + payment.month else 0.0
    due = (t - anchor - payment.month) % 12 == 0 and t - anchor <= payment.until
    return payment.amount.value * standing if due else 0.0


def expected_tree(way, field, goods, start):
    """Weigh every way a tree can go by its chance."""
    gap = way.gap_months.value
    made = sum(start + j * gap < MONTHS for j in range(way.attempts.value))
    total = [np.zeros(MONTHS) for _ in ARRAYS]
    still_without = 1.0
    for j in range(made):
        year = (start + j * gap) // 12
        chance = way.take.value[min(year, len(way.take.value) - 1)]
        if way.attempt_factor and j < len(way.attempt_factor.value):
            chance *= way.attempt_factor.value[j]
        if way.take_by_month:
            chance *= way.take_by_month.value[(FIRST_MONTH - 1 + start + j * gap) % 12]
        for array, part in zip(total, one_tree(way, field, goods, start, j, made), strict=True):
            array += still_without * chance * part
        still_without *= 1 - chance
    for array, part in zip(total, one_tree(way, field, goods, start, None, made), strict=True):
        array += still_without * part
    return total
