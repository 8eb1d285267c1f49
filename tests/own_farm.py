"""An invented family's notebook: what it answers to the ten questions, as the program holds it."""

ROWS = {
    "place": [{"country": "Ghana"}],
    "fields": [{"trees": 200}, {"trees": 180}, {"trees": 140}],
    "crop": [{"sacks": 2.5, "kg_per_sack": 64.0}],
    "hands": [{"people": 2, "days_each": 8.0}],
    "price": [{"price_per_kg": 30.0}],
    "wage": [{"wage_per_day": 60.0}],
    "money": [{"savings": 900.0}],
    "needs": [{"living_costs": 700.0, "other_income": 500.0}],
    "grafts": [{"made": 20, "taken": 5}],
}
