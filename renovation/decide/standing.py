"""Questions that what stands already cannot be asked yet: refused in one sentence, never answered wrongly."""

from renovation.inputs import Problem, Scenario, ScenarioError


def refuse_what_stands(scenario: Scenario, question: str) -> None:
    """Refuse a farm with trees under way, tools owned or a running loan; the sentence is `standing.<question>`.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> refuse_what_stands(demo_scenario(), "plan")
    """
    stands = {
        "under_way": scenario.under_way,
        "tools_owned": scenario.tools_owned,
        "running": any(loan.running for loan in scenario.loans),
    }
    for key, stated in stands.items():
        if stated:
            raise ScenarioError([Problem("", key, f"standing.{question}")])
