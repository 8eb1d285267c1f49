"""The dashboard: `streamlit run app.py`."""

from renovation.screens.entry import run

run()
