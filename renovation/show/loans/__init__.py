"""Loans, drawn."""
