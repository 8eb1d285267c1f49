"""The printed report: one HTML file that a family takes to its lender and the lender files."""

from renovation.show.report.document import report, report_of

__all__ = ["report", "report_of"]
