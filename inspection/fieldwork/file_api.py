"""Files of readings in the API: looked at with how they are read, and stored as they were looked at."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.conf import settings
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Person
from inspection.fieldwork import actions, queries, serializers, told_shapes, uploads
from inspection.fieldwork.api import named_rows, recorder_of, stored_answer
from inspection.fieldwork.file_serializers import FileLookedAt, ThicknessFileSent
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.reading_shape import MEANINGS, completed, proposed
from inspection.fieldwork.reading_table import read_table, sheets_of
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shaping import Shape, Unsure, told

FIRST_LINES = 12
MOST_FAULTS = 100


class FileTaken(GenericAPIView):
    """What both addresses take."""

    serializer_class = ThicknessFileSent
    queryset = ThicknessRecord.objects.none()
    most_bytes = settings.DATA_UPLOAD_MAX_MEMORY_SIZE

    def upload(self, request: Request) -> tuple[Person, dict[str, Any], uploads.Upload]:
        person = recorder_of(request, "record thickness")
        taken = ThicknessFileSent(data=request.data)
        taken.is_valid(raise_exception=True)
        sent = dict(taken.validated_data)
        named = named_rows(person, sent, ThicknessRecord)
        shape = told(dict(sent["shape"]), MEANINGS).plain if sent["shape"] else None
        part = sent["of_area"]
        held = uploads.HeldUpload(
            id=sent["id"], project=named["project"].pk, area=named["area"].pk, coat=named["coat"].pk,
            gauge=named["gauge"].pk, profile_way=sent["profile_way"],
            correction_nm=sent.get("correction_um") or sent.get("correction_mil") or 0,
            profile_record=sent["profile_record"], first_reading_at=sent["first_reading_at"],
            last_reading_at=sent["last_reading_at"], note=sent["note"], replaces=sent["replaces"],
            replacement_reason=sent["replacement_reason"], content=sent["bytes"], name=sent["name"], shape=shape,
            parts={part: [str(sent["area"]), str(sent["id"])]} if part else {},
        )  # fmt: skip
        return person, sent, uploads.Upload(held=held, **named, part=part)


class ThicknessFileLook(FileTaken):
    """See how a file would be read and what storing it would give; nothing is stored."""

    @extend_schema(responses={200: FileLookedAt})
    def post(self, request: Request) -> Response:
        person, _, upload = self.upload(request)
        shape, told_before, asked = _shape_of(upload)
        sheets, _ = sheets_of(upload.held.content, shape.separator)
        found: dict[str, Any] = {
            "shape": shape.plain, "told_before": told_before, "asked": asked,
            "first_lines": [cells for _, cells in sheets[shape.sheet].lines[:FIRST_LINES]],
            "not_read": [], "notes": [], "areas": [], "readings": 0, "faults": [], "verdict": None, "stored_before": [],
        }  # fmt: skip
        if not asked:
            read = replace(upload, held=replace(upload.held, shape=shape.plain))
            found |= _seen(person, read)
        return Response(FileLookedAt(found).data)


class ThicknessFileList(FileTaken):
    """Store a file of readings as a record, whole or not at all."""

    @extend_schema(responses={201: serializers.ThicknessAnswer, 200: serializers.ThicknessAnswer})
    def post(self, request: Request) -> Response:
        """201 when it is new, 200 when it was stored by an earlier sending; 428 where the same was stored before."""
        person, sent, upload = self.upload(request)
        if faults := _area_faults(upload):
            raise Refused(faults)
        already = actions.stored_before_of(person, upload)
        record, new = actions.record_upload(person, upload=upload, again=sent["confirmed"])
        if sent["remember"] and upload.held.shape:
            shape = told(upload.held.shape, MEANINGS)
            sheets, _ = sheets_of(upload.held.content, shape.separator)
            actions.tell_shape(person, gauge=upload.gauge, sheet=sheets[shape.sheet], shape=shape)
        stored = queries.thickness_records(person).defer(None).defer("inputs").get(pk=record.pk)
        return stored_answer(serializers.ThicknessAnswer(stored, context={"already": already}).data, new=new)


def _shape_of(upload: uploads.Upload) -> tuple[Shape, bool, tuple[Fault, ...]]:
    """How it is read: as it was told, as the gauge's files were, or as it says; and what must be told."""
    content = upload.held.content
    if upload.held.shape is None and (known := told_shapes.offered(upload.gauge, content)):
        sheets, _ = sheets_of(content, known.shape.separator)
        return known.shape, True, completed(sheets[known.shape.sheet], known.shape).asked
    zone = upload.project.zone
    try:
        first = upload.held.first_reading_at
        given = told(upload.held.shape, MEANINGS) if upload.held.shape else None
        read_table(content, zone=zone, shape=given, day=first.astimezone(zone).date() if first else None)
    except Unsure as unsure:
        return unsure.proposal.shape, False, unsure.proposal.asked
    return given or proposed(sheets_of(content)[0]).shape, False, ()


def _area_faults(upload: uploads.Upload) -> list[Fault]:
    named = upload.whole.areas
    if upload.part and upload.part not in named:
        return [Fault(f"The file names the areas {_listed(named) or 'of none'}.", "of_area")]
    if len(named) > 1 and not upload.part:
        return [Fault(f"The file names the areas {_listed(named)}; say which is meant, and send each.", "of_area")]
    return []


def _listed(names: list[str]) -> str:
    return ", ".join(name[:40] for name in names[:20])


def _seen(person: Person, upload: uploads.Upload) -> dict[str, Any]:
    faults = _area_faults(upload)
    table = upload.whole
    found = {"not_read": table.not_read, "notes": table.notes, "areas": table.areas, "readings": len(table.readings)}
    if faults:
        return found | {"faults": faults}
    preview = upload.preview
    faults = [*preview.faults, *preview.table.faults][:MOST_FAULTS]
    return found | {
        "faults": faults, "readings": len(upload.table.readings),
        "verdict": preview.judgement.verdict if preview.judgement else None,
        "stored_before": [one.words for one in actions.stored_before_of(person, upload)],
    }  # fmt: skip
