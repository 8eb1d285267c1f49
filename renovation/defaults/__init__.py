"""Default figures as data (floor 0): techniques, supplies, seasons, prices."""
