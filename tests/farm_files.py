"""The farm files that tests read: the demo farms, and files with mistakes under the sentences that refuse them."""

from pathlib import Path

from renovation.inputs import scenario_folder

TESTS = Path(__file__).parent
FARMS = sorted(scenario_folder().glob("*.toml"))
BAD = sorted((TESTS / "inputs" / "bad").glob("*.toml"))
