"""The household's cash, drawn: sentences, tables, charts."""
