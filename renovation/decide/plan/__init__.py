"""How many trees this year: the plan, found, explained and laid out for the family (method §8)."""
