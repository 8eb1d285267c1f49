"""Many trees (floor 2): flows with and without the plan, labour, the household."""

from renovation.farm.flows import (
    FarmFlows,
    Flows,
    by_project_month,
    by_year,
    farm_flows,
    net_prices,
    setting_of,
    tool_purchases,
    treated_trees,
    tree_flows,
)
from renovation.farm.household import (
    CashSide,
    HouseholdCash,
    cash_gaps,
    deepest_month,
    dips,
    household_cash,
    loan_schedule,
    loan_terms,
    reserve_needed,
)
from renovation.farm.labour import Labour, days_short, labour_by_month, month_labels

__all__ = [
    "CashSide",
    "FarmFlows",
    "Flows",
    "HouseholdCash",
    "Labour",
    "by_project_month",
    "by_year",
    "cash_gaps",
    "days_short",
    "deepest_month",
    "dips",
    "farm_flows",
    "household_cash",
    "labour_by_month",
    "loan_schedule",
    "loan_terms",
    "month_labels",
    "net_prices",
    "reserve_needed",
    "setting_of",
    "tool_purchases",
    "treated_trees",
    "tree_flows",
]
