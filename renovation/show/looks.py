"""How a way is drawn: its colour, dashes and marker, the same on every page and chart, whatever stands beside it."""

from collections.abc import Sequence
from dataclasses import dataclass

from renovation.inputs import Scenario, default_techniques

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#9A7B00", "#C2255C", "#2E8FB5", "#8B5E3C")
"""Each is three times as light or as dark as the ground of the page, light and dark."""
DASHES: tuple[list[int], ...] = (
    [1, 0],
    [9, 4],
    [3, 3],
    [12, 4, 3, 4],
    [16, 3],
    [6, 3, 2, 3],
    [2, 6],
    [12, 3, 3, 3, 3, 3],
)
SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross", "triangle-right", "triangle-left")
FIRST = ("side_graft", "rooted_cutting", "basal_shoot_graft", "grafted_seedling", "bud_graft", "air_layer")
"""The turn of the ways that are weighed most; those that came later, and then a farm's own, follow them."""
MOST = 4
"""Ways that are drawn in one chart."""


@dataclass(frozen=True)
class Style:
    """How one series is drawn: colour, dash pattern, marker shape."""

    colour: str
    dash: list[int]
    shape: str


PLANS = (
    Style("#8A63D2", DASHES[0], SHAPES[0]),
    Style("#5B7FDB", DASHES[1], SHAPES[1]),
    Style("#4F8A3C", DASHES[2], SHAPES[2]),
)
"""The farm's plan, the bolder one and the careful one, which are no ways."""
LEFT_ALONE = Style("#757575", [2, 3], "circle")
"""The farm as it is, or as it would be without the plan."""
SIDES = {"with_plan": PLANS[0], "without": LEFT_ALONE, "as_it_is": LEFT_ALONE}
"""The balance with the plan and without it."""


def look(scenario: Scenario, way: str) -> Style:
    """How a way is drawn: by its place among all that come with the program, a farm's own after them.

    The first eight ways have colours, dashes and markers of their own. Of those that follow none has all three from
    another: 64 in all.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> look(demo_scenario(), "rooted_cutting").colour
        '#D55E00'
    """
    shipped = default_techniques()
    turn = dict.fromkeys([*FIRST, *shipped, *(key for key in scenario.techniques if key not in shipped)])
    round_, place = divmod(list(turn).index(way), len(COLOURS))
    if round_:
        place = len(COLOURS) - 1 - place  # those of the second round stand beside the first of the first
    dash, shape = ((place + step * round_) % len(COLOURS) for step in (3, 5))
    return Style(COLOURS[place], DASHES[dash], SHAPES[shape])


def styles(scenario: Scenario, shown: Sequence[str]) -> dict[str, Style]:
    """How each of the ways in one chart is drawn.

    At most four can be told apart: ValueError for more.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> [style.shape for style in styles(demo_scenario(), ["bud_graft", "side_graft"]).values()]
        ['triangle-down', 'circle']
    """
    if len(shown) > MOST:
        raise ValueError(f"len(shown) = {len(shown)} > {MOST}")
    return {key: look(scenario, key) for key in shown}
