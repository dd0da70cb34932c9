"""The report of a watch and the page behind one verdict: HTML that opens from disk, with no network and no script."""

from dialtrue.files.report.explain_page import explanation_page, write_explanation
from dialtrue.files.report.page import report_page, write_report

__all__ = ["explanation_page", "report_page", "write_explanation", "write_report"]
