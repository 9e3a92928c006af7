"""Correcting a thickness record in the API by the readings that change, and no others."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import Strict
from inspection.fieldwork import actions, queries
from inspection.fieldwork.actions.thickness import MOST_PLACE
from inspection.fieldwork.api import recorder_of, stored_answer
from inspection.fieldwork.grid import MOST_CHANGES, Cell, Place, by_place
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.serializers import READINGS_A_WINDOW, ThicknessAnswer, ThicknessSentField
from inspection.fieldwork.storing import LONGEST_NOTE, LONGEST_REASON
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import Unit


class ChangeSent(Strict):
    """One reading as it shall be; what is left out of it stays as it is stored."""

    spot = serializers.IntegerField(min_value=1, max_value=MOST_PLACE)
    reading = serializers.IntegerField(
        min_value=1, max_value=MOST_PLACE, help_text="Its number in the spot; one that is not there yet is added"
    )
    value_um = ThicknessSentField(Unit.UM, required=False, help_text="As the gauge showed it")
    value_mil = ThicknessSentField(Unit.MIL, required=False, help_text="Instead of `value_um`")
    void_reason = serializers.CharField(
        required=False, allow_blank=True, max_length=LONGEST_REASON, help_text="Empty takes a void back"
    )
    left_out = serializers.BooleanField(required=False, default=False, help_text="It was never taken there")


class CellsSent(Strict):
    id = serializers.UUIDField(help_text="Of the new version, made by the sender; sending it again is safe")
    replacement_reason = serializers.CharField(max_length=LONGEST_NOTE)
    changes = ChangeSent(many=True, allow_empty=False, help_text=f"At most {MOST_CHANGES}")
    confirmed = serializers.BooleanField(required=False, default=False, help_text="What was asked about is right")


class ThicknessCorrect(GenericAPIView):
    """Correct a thickness record by the readings that change; the rest is taken along from it."""

    serializer_class = CellsSent
    queryset = ThicknessRecord.objects.none()

    @extend_schema(request=CellsSent, responses={201: ThicknessAnswer, 200: ThicknessAnswer})
    def post(self, request: Request, pk: UUID) -> Response:
        """201 when it is new, 200 when it was stored by an earlier sending; 428 where something is doubtful.

        409 where the record was corrected meanwhile.
        """
        person = recorder_of(request, "record thickness")
        rows = queries.thickness_records(person).defer(None).select_related("profile_record")
        record: ThicknessRecord = get_object_or_404(rows, pk=pk)
        taken = CellsSent(data=request.data)
        taken.is_valid(raise_exception=True)
        sent = dict(taken.validated_data)
        stored, new = actions.correct_cells(
            person, id=sent["id"], record=record, changes=_cells(record, sent["changes"]),
            reason=sent["replacement_reason"], source=ThicknessRecord.Source.API, ask=not sent["confirmed"],
        )  # fmt: skip
        large = ("inputs", "result") if stored.reading_count > READINGS_A_WINDOW else ("inputs",)
        shown = queries.thickness_records(person).defer(None).defer(*large).get(pk=stored.pk)
        return stored_answer(ThicknessAnswer(shown).data, new=new)


def _cells(record: ThicknessRecord, changes: list[dict[str, Any]]) -> dict[Place, Cell]:
    """What each place shall hold. Raises Refused naming `changes[i].field`."""
    stored = by_place(queries.readings_of(record))
    found: dict[Place, Cell] = {}
    faults: list[Fault] = []
    for row, sent in enumerate(changes):
        place = (sent["spot"], sent["reading"])
        given = [name for name in ("value_um", "value_mil") if name in sent]
        before = stored.get(place)
        if place in found:
            faults.append(Fault("This reading is given twice.", f"changes[{row}].reading"))
        elif len(given) > 1 or (given and sent["left_out"]):
            faults.append(Fault("Give one: value_um, value_mil or left_out.", f"changes[{row}].{given[-1]}"))
        elif before is None and (sent["left_out"] or not given):
            faults.append(
                Fault(
                    f"Spot {place[0]} has no reading {place[1]}; to add it give its value.", f"changes[{row}].reading"
                )
            )
        elif sent["left_out"]:
            found[place] = Cell(None)
        else:
            value = sent[given[0]] if given else before.value_nm if before else None
            found[place] = Cell(value, sent.get("void_reason", before.void_reason if before else ""))
    if faults:
        raise Refused(faults)
    return found
