"""Many trees (floor 2): flows with and without the plan, labour, the household."""
