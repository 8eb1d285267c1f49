"""Questions that what stands already cannot be asked yet: refused in one sentence, never answered wrongly."""

from renovation.inputs import Problem, Scenario, ScenarioError


def refuse_what_stands(scenario: Scenario, question: str) -> None:
    """Refuse a farm with trees under way or tools owned; `question` names the sentence: `standing.<question>`.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> refuse_what_stands(demo_scenario(), "plan")
    """
    for key in ("under_way", "tools_owned"):
        if getattr(scenario, key):
            raise ScenarioError([Problem("", key, f"standing.{question}")])
