"""Storing an upload exactly as it was previewed, with its source file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import transaction

from accounts import vault
from accounts.models import Person
from inspection.fieldwork.actions.thickness import record_thickness
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.refusals import Refused

if TYPE_CHECKING:
    # An upload is read back through the actions' own rules, so it is named here and not imported.
    from inspection.fieldwork.uploads import Upload


@transaction.atomic
def record_upload(by: Person, *, upload: Upload) -> tuple[ThicknessRecord, bool]:
    """Store as one record what the preview read and judged. Raises as `record_thickness`; Refused for its rows."""
    preview = upload.preview
    if preview.times is None or preview.judgement is None:
        raise Refused((*preview.faults, *preview.table.faults))
    sent = upload.held
    file = None
    if sent.name:
        file = vault.store(sent.content, name=sent.name, media_type=preview.table.media_type, by=by)
    return record_thickness(
        by, id=sent.id, project=upload.project, area=upload.area, coat=upload.coat, gauge=upload.gauge,
        profile_way=sent.profile_way, correction_nm=sent.correction_nm, profile_record=upload.profile_record,
        unit=preview.table.unit,
        readings=preview.table.readings, first_reading_at=preview.times[0], last_reading_at=preview.times[1],
        note=sent.note, source=ThicknessRecord.Source.FILE if file else ThicknessRecord.Source.PAGE, file=file,
        file_name=vault.name_of(sent.name) if file else "",
        replaces=upload.replaces, replacement_reason=sent.replacement_reason, known=preview.judgement.answer,
    )  # fmt: skip
