"""What one tree, or one empty place, is worth under each way, stand by stand."""

from renovation.decide.appraise import worth_of_change
from renovation.decide.held import as_each_begins
from renovation.decide.starts import NoStart, earliest_start, number_of_trees, one_treatment, techniques_for
from renovation.farm import setting_of, tree_flows
from renovation.inputs import Scenario
from renovation.tree import profile, untouched


def npv_per_tree(scenario: Scenario) -> dict[str, dict[str, float | None]]:
    """NPV of one tree or empty place, without tools, by stand and technique; None where no month of the horizon suits.

    Techniques that a stand does not allow, or has no place for, are absent from its row. Takes are those of as many
    trees as are compared.
    """
    setting = setting_of(scenario)
    table: dict[str, dict[str, float | None]] = {}
    for plot in scenario.plots:
        without = tree_flows(scenario, untouched(plot.stand, setting)).economic
        row = table.setdefault(plot.name, {})
        for key in techniques_for(scenario, plot.name, plot.works_on):
            try:
                start = earliest_start(scenario, scenario.techniques[key])
            except NoStart:
                row[key] = None
                continue
            trees = number_of_trees(scenario, plot.name, None, plot.works_on)
            begun = one_treatment(scenario, plot.name, trees, key, start)
            technique = as_each_begins(scenario, [begun]).techniques[key]
            tree = profile(technique, plot.stand, scenario.supplies, setting, [start])
            treated = tree_flows(scenario, tree, technique.material).economic
            row[key] = float(worth_of_change(scenario, treated, without))
    return table
