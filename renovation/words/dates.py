"""Dates, whatever the machine's zone is called: Babel looks it up when it is loaded, and no date here has one."""

import os

_zone = os.environ.pop("TZ", None)
try:
    from babel.dates import format_date, format_skeleton, get_month_names
finally:
    if _zone is not None:
        os.environ["TZ"] = _zone

__all__ = ["format_date", "format_skeleton", "get_month_names"]
