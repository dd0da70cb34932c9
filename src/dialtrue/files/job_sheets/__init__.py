"""Job sheets and labels on paper and on a page."""

from dialtrue.files.job_sheets.html import sheets_html
from dialtrue.files.job_sheets.label_pdf import SetLabels, labels_pdf
from dialtrue.files.job_sheets.pdf import SetSheets, sheets_pdf, sheets_volumes

__all__ = ["SetLabels", "SetSheets", "labels_pdf", "sheets_html", "sheets_pdf", "sheets_volumes"]
