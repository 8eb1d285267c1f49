"""The first years month by month in tables: the household's balance, the work, the months without enough hands."""

from collections.abc import Mapping, Sequence
from typing import Any

from renovation.farm import HouseholdCash, Labour
from renovation.show.grid import Table, columns, digits_of, month_cell, number_cell
from renovation.show.voice import Voice
from renovation.words import Words

FIRST_YEARS = 3
"""Years that are shown month by month."""


def cash_months(cash: HouseholdCash, words: Words, years: int = FIRST_YEARS) -> Table:
    """The balance month by month in the first years: its parts with the plan, and the balance without it."""
    voice = Voice.about(cash, words)
    side = cash.with_plan
    months = min(12 * years, side.balance.size)
    always = ("farm_cash", "balance", "balance_without")
    series = {
        "farm_cash": side.farm_cash,
        "other_income": side.other_income,
        "living_costs": side.living_costs,
        "debt_service": side.debt_service,
        "loan_payout": side.loan_payout - side.loan_fee,
        "savings_interest": side.savings_interest,
        "balance": side.balance,
        "balance_without": cash.without.balance,
    }
    shown = {key: values[:months] for key, values in series.items() if key in always or values[:months].any()}
    sign = voice.sign
    headed = columns("report.column", ("month", *shown), words, shown, currency=sign)
    return Table(words("report.table.months"), headed, _monthly(cash.months[:months], shown, words))


def labour_months(labour: Labour, words: Words, years: int = FIRST_YEARS) -> Table:
    """The work month by month in the first years: in all, by the family, hired and its cost, days too few."""
    voice = Voice.about(labour, words)
    months = min(12 * years, labour.days.size)
    series = {
        "days": labour.days,
        "family_days": labour.family_days,
        "hired_days": labour.hired_days,
        "hired_cost": labour.hired_cost,
        "short_days": labour.short_days,
    }
    shown = {key: values[:months] for key, values in series.items() if key != "short_days" or values[:months].any()}
    sign = voice.sign
    headed = columns("report.column", ("month", *shown), words, shown, currency=sign)
    return Table(words("report.table.labour_months"), headed, _monthly(labour.months[:months], shown, words))


def short_months(labour: Labour, words: Words) -> Table:
    """Every month in which there are not enough hands: the work, the family, the most to be hired, what is missing."""
    chosen = list(labour.short_months)
    limit = labour.hired_days - labour.short_days
    series = {
        "days": labour.days,
        "family_days": labour.family_days,
        "hired_limit": limit,
        "short_days": labour.short_days,
    }
    headed = columns("report.column", ("month", *series), words, series)
    rows = _monthly([labour.months[m] for m in chosen], {key: values[chosen] for key, values in series.items()}, words)
    return Table(words("report.table.short_months"), headed, rows)


def _monthly(months: Sequence[str], series: Mapping[str, Any], words: Words) -> tuple[tuple[str, ...], ...]:
    """One row per month: its name and the figures; days to a tenth, money with the decimals that its column needs."""
    cells = [
        [number_cell(float(v), 1 if key in DAYS else digits_of(values, 1), words) for v in values]
        for key, values in series.items()
    ]
    return tuple((month_cell(month, words), *figures) for month, *figures in zip(months, *cells, strict=True))


DAYS = ("days", "family_days", "hired_days", "hired_limit", "short_days")
