"""Whether a plan takes the poorest trees of a walked stand first."""

from renovation.decide.plan.plan import Plan


def poorest_first(plan: Plan) -> dict[str, bool]:
    """Of each walked stand that a plan treats trees of: whether none is started while poorer ones wait.

    Poorer trees bear less today; those that may not be treated do not wait, nor those started in the same month.
    """
    scenario, found = plan.scenario, {}
    for whole, parts in scenario.wholes.items():
        open_to_it = [part for part in parts if not part.untouched and scenario.free_trees(part.name)]
        names = {part.name for part in open_to_it}
        on_trees = [start for start in plan.starts if scenario.techniques[start.technique].works_on == "trees"]
        starts = [start for start in on_trees if start.stand in names]
        if len(open_to_it) < 2 or not starts:
            continue
        crop = {part.name: part.kg_per_tree for part in open_to_it}
        waits = [
            (start, part)
            for start in starts
            for part in open_to_it
            if crop[part.name] < crop[start.stand]
            and sum(s.trees for s in starts if s.stand == part.name and s.project_month <= start.project_month)
            < scenario.free_trees(part.name)
        ]
        found[whole] = not waits
    return found
