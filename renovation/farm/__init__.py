"""Many trees (floor 2): flows with and without the plan, labour, the household."""

from renovation.farm.flows import (
    FarmFlows,
    Flows,
    Treated,
    by_year,
    farm_flows,
    farm_left_alone,
    pieces_bought,
    tool_costs,
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
    reserve_needed,
)
from renovation.farm.labour import Labour, days_short, labour_by_month, month_labels
from renovation.farm.loans import flow_of_running_loans, loan_schedule, loan_terms, running_loans
from renovation.farm.prices import expected_price_path, net_prices
from renovation.farm.standing import Begun, trees_under_way
from renovation.farm.trees import by_project_month, setting_of

__all__ = [
    "Begun",
    "CashSide",
    "FarmFlows",
    "Flows",
    "HouseholdCash",
    "Labour",
    "Treated",
    "by_project_month",
    "by_year",
    "cash_gaps",
    "days_short",
    "deepest_month",
    "dips",
    "expected_price_path",
    "farm_flows",
    "farm_left_alone",
    "flow_of_running_loans",
    "household_cash",
    "labour_by_month",
    "loan_schedule",
    "loan_terms",
    "month_labels",
    "net_prices",
    "pieces_bought",
    "reserve_needed",
    "running_loans",
    "setting_of",
    "tool_costs",
    "tool_purchases",
    "treated_trees",
    "tree_flows",
    "trees_under_way",
]
