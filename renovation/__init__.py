"""Renovation of a cacao farm: what it yields, costs and needs, by way, by month and by year."""
