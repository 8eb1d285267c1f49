"""Results of the demo farms by the program's own calls, each worked out once."""

import functools
from dataclasses import fields, replace
from types import MappingProxyType

from renovation.decide import compare
from renovation.decide.dossier import Dossier
from renovation.decide.risk import win_map
from renovation.inputs import demo_scenario
from renovation.screens.pages.map import PAIRS


def cash_of(scenario):
    return Dossier(scenario).cash


def stated(result, **answers):
    """A copy of a frozen result with fields replaced, and with answers stated that it works out when asked."""
    own = {field.name for field in fields(result)}
    copied = replace(result, **{name: value for name, value in answers.items() if name in own})
    vars(copied).update({name: value for name, value in (vars(result) | answers).items() if name not in own})
    return copied


def with_measures(comparison, **by_way):
    """The comparison with some measures of some ways replaced by hand-made ones, and nothing else worked out yet."""
    outcomes = dict(comparison.outcomes)
    for way, changes in by_way.items():
        now = outcomes[way]
        outcomes[way] = stated(now, npv=changes.get("npv", now.npv), measures=replace(now.measures, **changes))
    return replace(comparison, outcomes=MappingProxyType(outcomes))


@functools.cache
def compared(name):
    return compare(demo_scenario(name))


@functools.cache
def mapped(name, pair="price_take"):
    return win_map(compared(name), *PAIRS[pair])
