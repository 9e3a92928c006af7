"""The daily report as a PDF."""

from reports.pdf.document import draw

__all__ = ["draw"]
