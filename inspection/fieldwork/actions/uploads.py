"""Storing an upload exactly as it was previewed, with its source file."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

from django.db import transaction

from accounts import journal, vault
from accounts.models import Person
from inspection.fieldwork.actions.thickness import record_thickness
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.queries import StoredAlready, stored_already
from inspection.foundation.refusals import Asked, Fault, Refused

if TYPE_CHECKING:
    # An upload is read back through the actions' own rules, so it is named here and not imported.
    from inspection.fieldwork.uploads import Upload


@transaction.atomic
def record_upload(by: Person, *, upload: Upload, again: bool = False) -> tuple[ThicknessRecord, bool]:
    """Store as one record what the preview read and judged. Raises as `record_thickness`; Refused for its rows.

    The same file or readings stored before are asked about: Asked, unless `again` says that they are meant.
    """
    preview = upload.preview
    if preview.times is None or preview.judgement is None:
        raise Refused((*preview.faults, *preview.table.faults))
    sent = upload.held
    if not again and (already := stored_before_of(by, upload)):
        raise Asked([Fault(one.words, "confirmed") for one in already])
    file = None
    if sent.name:
        file = vault.store(sent.content, name=sent.name, media_type=preview.table.media_type, by=by)
    record, new = record_thickness(
        by, id=upload.id, project=upload.project, area=upload.area, coat=upload.coat, gauge=upload.gauge,
        profile_way=sent.profile_way, correction_nm=sent.correction_nm, profile_record=upload.profile_record,
        unit=preview.table.unit,
        readings=preview.table.readings, first_reading_at=preview.times[0], last_reading_at=preview.times[1],
        note=sent.note, source=ThicknessRecord.Source.FILE if file else ThicknessRecord.Source.PAGE, file=file,
        file_name=vault.name_of(sent.name) if file else "",
        replaces=upload.replaces, replacement_reason=sent.replacement_reason, known=preview.judgement.answer,
    )  # fmt: skip
    if new and sent.shape is not None:
        after = {"shape": sent.shape, "part": upload.part, "content": sent.content_digest}
        journal.record("thickness.file_read_as", record, by=by, project_id=record.project_id, after=after)
    return record, new


def stored_before_of(by: Person, upload: Upload) -> list[StoredAlready]:
    """What the person may see of the same file or readings in others, but for those of the same sending."""
    found = stored_already(
        by, project=upload.project, area=upload.area, coat=upload.coat, readings=upload.table.readings,
        file_digest=upload.held.content_digest if upload.held.name else "", corrects=upload.replaces,
        apart_from=upload.id,
    )  # fmt: skip
    neighbours = {UUID(record) for _, record in upload.held.parts.values()}
    return [one for one in found if one.record.pk not in neighbours]
