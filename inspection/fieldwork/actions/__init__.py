"""Every change of a field record, one function each. A record is stored whole or not at all, and never edited.

Kinds that are taken by a form have their action in their folder, and `KINDS` leads to it.
"""

from inspection.fieldwork.actions.grid import correct_cells
from inspection.fieldwork.actions.shapes import tell_shape
from inspection.fieldwork.actions.sheets import (
    abandon_sheet,
    finish_sheet,
    may_give_up,
    note_reading,
    open_sheet,
    put_reading_right,
    void_sheet_reading,
)
from inspection.fieldwork.actions.thickness import record_thickness
from inspection.fieldwork.actions.uploads import record_upload, stored_before_of
from inspection.fieldwork.climate.recording import record_climate
from inspection.fieldwork.judging import ReadingSent

__all__ = [
    "ReadingSent",
    "abandon_sheet",
    "correct_cells",
    "finish_sheet",
    "may_give_up",
    "note_reading",
    "open_sheet",
    "put_reading_right",
    "record_climate",
    "record_thickness",
    "record_upload",
    "stored_before_of",
    "tell_shape",
    "void_sheet_reading",
]
