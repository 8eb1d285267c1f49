"""The season: next year's farm, its record as a table to fill in."""
