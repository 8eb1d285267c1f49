"""The plan, drawn: sentences, tables, charts."""
