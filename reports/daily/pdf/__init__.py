"""The daily report as a PDF."""

from reports.daily.pdf.document import draw

__all__ = ["draw"]
