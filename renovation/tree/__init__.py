"""One tree (floor 1): crown curves, attempts, work and its profile by month."""
