"""The form of a look at a coat: a line for each defect."""

from __future__ import annotations

from inspection.fieldwork.defects.models import DefectsRecord
from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.tested_forms import FilmTest
from inspection.foundation.form_fields import LinesField, Row
from inspection.standards.visual_defects import KINDS

EXAMPLE = "runs; 3; frame 12, lower edge; not accepted"
WORDS = {"accepted": True, "acceptable": True, "yes": True, "not accepted": False, "not acceptable": False, "no": False}


def defect_of(line: str) -> Row:
    """`kind; extent; place; accepted or not` as a row. Raises ValueError saying what is wrong."""
    parts = [part.strip() for part in line.split(";")]
    if len(parts) != 4 or parts[3].lower() not in WORDS:
        raise ValueError(f"write kind, extent, place, and accepted or not accepted, such as {EXAMPLE}")
    return {"kind": parts[0].lower(), "extent": parts[1], "place": parts[2], "acceptable": WORDS[parts[3].lower()]}


def line_of(defect: Row) -> str:
    said = "accepted" if defect["acceptable"] else "not accepted"
    return f"{defect['kind']}; {defect['extent']}; {defect['place']}; {said}"


class Defects(FilmTest):
    model = DefectsRecord
    instrument = None
    figures = ("defects",)
    field_order = ("area", "coat", "id", "taken_at", "defects", "note")

    defects = LinesField(
        defect_of, rows=5, required=False, label="Defects, a line for each",
        help_text=f"Kind; extent; place; accepted or not accepted: {EXAMPLE}. Extent as a number of pieces, 2 %, 0.4 "
            "m², "
        f"or on an aged film a rating of ISO 4628: 2(S3), Ri 3. Kinds: {', '.join(KINDS)}. Empty where the whole area "
        "was "
        "looked at and nothing found.",
    )  # fmt: skip


class DefectsCorrection(Defects, Corrected):
    pass
