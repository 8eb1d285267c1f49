"""Results for people (floor 4): tables, charts, sentences, report, workbook; no Streamlit."""
