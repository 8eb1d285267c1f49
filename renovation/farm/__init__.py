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

__all__ = [
    "FarmFlows",
    "Flows",
    "by_project_month",
    "by_year",
    "farm_flows",
    "net_prices",
    "setting_of",
    "tool_purchases",
    "treated_trees",
    "tree_flows",
]
