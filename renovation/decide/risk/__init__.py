"""Risk: futures, what they say of a strategy, stress tests, sensitivity, and the map of which way wins (method §9)."""
