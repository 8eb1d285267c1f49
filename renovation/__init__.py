"""What it costs a cacao family to renew its trees: crop, work, cash and return, by way and by month.

The public calls are the same that the command line and the dashboard make. A scenario is read, one tree is
profiled, the ways are compared on the same trees, and every measure also works on a bare array:

    >>> import renovation
    >>> scenario = renovation.demo_scenario()  # or renovation.load_scenario("my_farm.toml")

One tree, side-grafted in the sixth month: kg of dry beans from the old and the new crown, by month.

    >>> tree = renovation.profile(
    ...     scenario.techniques["side_graft"],
    ...     scenario.stands[0],
    ...     scenario.supplies,
    ...     renovation.setting_of(scenario),
    ...     starts=[5],
    ... )
    >>> tree.old_kg.shape == tree.new_kg.shape == (1, scenario.appraisal.months)
    True

Every way on the same trees, beside the farm as it is; tidy tables on demand.

    >>> comparison = renovation.compare(scenario, techniques=["side_graft", "rooted_cutting"])
    >>> outcome = comparison.outcomes["side_graft"]
    >>> sorted(comparison.as_dict())[:3]
    ['after_practice', 'against', 'best']
    >>> len(comparison.years_table()) == 2 * scenario.appraisal.horizon_years
    True

The whole farm with a plan and without it, and what the answer rests on.

    >>> flows = renovation.farm_flows(scenario, [outcome.treatment])
    >>> bool((flows.economic_change == outcome.flows.economic_change).all())
    True
    >>> [swing.driver for swing in renovation.ranges(comparison, "side_graft")][-1]
    'together'

Measures on a bare array, first value one period on (OpenFormula):

    >>> round(float(renovation.net_present_value([10, 20, 30], 0.0875)), 2)
    49.43
    >>> round(renovation.irr([-10000, 3500, 7600, 1000]).value, 4)
    0.1133
"""

from renovation.version import __version__

TYPE_CHECKING = False
if TYPE_CHECKING:
    from renovation.decide import compare, npv_per_tree, ranges, weigh
    from renovation.farm import by_year, farm_flows, setting_of, tree_flows
    from renovation.inputs import (
        Scenario,
        ScenarioError,
        default_supplies,
        default_techniques,
        demo_scenario,
        load_scenario,
        read_scenario,
        save_scenario,
        write_scenario,
    )
    from renovation.money import (
        appraise,
        appraise_many,
        discounted_payback,
        irr,
        irr_many,
        mirr,
        net_present_value,
        payback,
    )
    from renovation.tree import profile, untouched
    from renovation.words import Words


__all__ = [
    "Scenario",
    "ScenarioError",
    "Words",
    "__version__",
    "appraise",
    "appraise_many",
    "by_year",
    "compare",
    "default_supplies",
    "default_techniques",
    "demo_scenario",
    "discounted_payback",
    "farm_flows",
    "irr",
    "irr_many",
    "load_scenario",
    "mirr",
    "net_present_value",
    "npv_per_tree",
    "payback",
    "profile",
    "ranges",
    "read_scenario",
    "save_scenario",
    "setting_of",
    "tree_flows",
    "untouched",
    "weigh",
    "write_scenario",
]

_ROOMS = ("inputs", "words", "tree", "farm", "decide", "money")
"""Where a public name is looked for, in this order, the first time that it is used."""


def __getattr__(name: str) -> object:
    """Find a public name in its room on first use, so that importing the package costs nothing."""
    if name in __all__:
        from importlib import import_module

        for room in _ROOMS:
            module = import_module(f"renovation.{room}")
            if name in module.__all__:
                found: object = getattr(module, name)
                return found
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
