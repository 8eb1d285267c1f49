"""The dashboard (floor 5): read inputs, one call, show. The only room that knows Streamlit."""
