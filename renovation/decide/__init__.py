"""Decisions (floor 3): compare ways, find break-even values."""
