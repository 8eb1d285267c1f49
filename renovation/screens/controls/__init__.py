"""Controls: what is typed, chosen and shown alike on every page."""
