"""What a workbook cannot hold of a farm where something stands already: refused, not written wrongly."""

from renovation.inputs import Problem, Scenario, ScenarioError


def no_workbook_for(scenario: Scenario) -> Problem | None:
    """Why no workbook can be written: trees under way, tools owned or a running loan; None where one can.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> no_workbook_for(demo_scenario()) is None
        True
    """
    stands = {
        "under_way": scenario.under_way,
        "tools_owned": scenario.tools_owned,
        "running": any(loan.running for loan in scenario.loans),
    }
    return next((Problem("", key, "standing.workbook") for key, stated in stands.items() if stated), None)


def refuse_workbook(scenario: Scenario) -> None:
    """Raise ScenarioError where no workbook can be written."""
    if problem := no_workbook_for(scenario):
        raise ScenarioError([problem])
