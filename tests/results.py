"""Results of the demo farms by the program's own calls, each worked out once."""

import functools

from renovation.decide import compare
from renovation.decide.risk import win_map
from renovation.farm import farm_flows, household_cash
from renovation.inputs import demo_scenario
from renovation.screens.pages.map import PAIRS


def cash_of(scenario):
    return household_cash(scenario, farm_flows(scenario, scenario.plan))


@functools.cache
def compared(name):
    return compare(demo_scenario(name))


@functools.cache
def mapped(name, pair="price_take"):
    return win_map(compared(name), *PAIRS[pair])
