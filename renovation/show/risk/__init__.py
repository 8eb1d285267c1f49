"""Risk, drawn: answers, sentences, tables, charts."""
