"""Many farms told: sentences, tables, four pictures, one A4 page."""
