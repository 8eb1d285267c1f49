"""The sheet for the wall: one A4 page a season."""

from renovation.show.sheet.page import wall_sheet

__all__ = ["wall_sheet"]
