"""Comparison of the ways, drawn: sentences, tables, charts."""
