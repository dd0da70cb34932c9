"""The report of a watch: one HTML file that opens from disk, with no network and no script."""

from dialtrue.files.report.page import report_page, write_report

__all__ = ["report_page", "write_report"]
