"""A plausible certificate on paper for the demo's invented laboratory."""

from __future__ import annotations

from datetime import date
from io import BytesIO

from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from inspection.foundation.units import in_unit


def certificate_pdf(
    number: str, *, issued: date, expires: date, gauges: list[str], values: list[tuple[str, int, int]]
) -> bytes:
    """One page: what was calibrated, the certified values in µm with their expanded uncertainty at k = 2."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1)
    lines = [
        ("Helvetica-Bold", 16, "Ravnsborg Length Laboratory"),
        ("Helvetica", 12, f"Certificate of calibration {number}"),
        ("Helvetica", 10, f"Issued {issued:%Y-%m-%d}, valid to {expires:%Y-%m-%d}"),
        ("Helvetica", 10, "Invented for a demonstration; certifies nothing."),
        *(("Helvetica", 11, f"Gauge {identity}: calibrated over its range") for identity in gauges),
        *(
            ("Helvetica", 11, f"{identity}: {in_unit(value, 'um')} µm, U = {in_unit(u, 'um')} µm (k = 2)")
            for identity, value, u in values
        ),
    ]
    height = 780
    for font, size, words in lines:
        canvas.setFont(font, size)
        canvas.drawString(60, height, words)
        height -= size + 12
    canvas.showPage()
    canvas.save()
    return out.getvalue()
