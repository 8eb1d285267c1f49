"""The farm files that tests read: the demo farms, and files with mistakes under the sentences that refuse them."""

from pathlib import Path

from renovation.decide.held import as_held
from renovation.inputs import Scenario, default_techniques, demo_names, demo_scenario, scenario_folder
from renovation.words import Words

TESTS = Path(__file__).parent
FARMS = sorted(scenario_folder().glob("*.toml"))
MOST = [name for name in demo_names() if name != "third_year"]
"""The demo farms that heavier checks walk in every run; the last one with the long checks."""


def stated(name: str) -> Scenario:
    """A demo farm that states, in place of its records and its learning, what is held of takes and days by them."""
    farm = demo_scenario(name)
    if not farm.planning.records:
        return farm
    planning = farm.planning.model_copy(update={"records": (), "learning": None})
    return as_held(farm, farm.plan).model_copy(update={"planning": planning})


BAD = sorted((TESTS / "inputs" / "bad").glob("*.toml"))
GRAFTED = """
[[under_way]]
stand = "Lower field"
technique = "side_graft"
trees = 40
start = "2026-04"
taken = [10, 8]
"""
SMALL = """
consider = ["side_graft", "rooted_cutting"]
[about]
name = "A small farm"
[appraisal]
start = "2027-01"
horizon_years = 20
currency = "USD"
[household]
family_days = 20
wage_per_day = 10
[market]
price_per_kg = 4
season = { window = "Ghana" }
[[stands]]
name = "Lower field"
trees = 100
crop_per_tree = 0.4
decline_per_year = 0.04
upkeep_days = 0.02
"""
"""A farm file with no more than has to stand in it."""

MARK = "#! "
WAYS = "{ways}"
"""In the head of a bad file: the name of every way that ships, so that a new one is a file and no change here."""


def expected_of(path: Path) -> list[str]:
    """The sentences that a bad file says of itself, in its head."""
    ways = Words("en").listing(sorted(default_techniques()))
    lines = path.read_text("utf-8").replace(WAYS, ways).splitlines()
    return [line.removeprefix(MARK) for line in lines if line.startswith(MARK)]
