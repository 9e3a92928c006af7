"""A look at a coat as the API takes and shows it."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.defects.models import DefectsRecord
from inspection.fieldwork.tested_serializers import MOST_ROWS, TestSent, shown_of, words_sent
from inspection.standards.visual_defects import KINDS


class DefectSent(Strict):
    """One defect."""

    kind = serializers.ChoiceField(KINDS)
    extent = words_sent("A number of pieces, 2 %, 0.4 m², or on an aged film a rating: 2(S3), Ri 3", required=True)
    place = words_sent(required=True)
    acceptable = serializers.BooleanField(help_text="To whoever looked")


class DefectsSent(TestSent):
    defects = serializers.ListField(
        child=DefectSent(), required=False, default=list, max_length=MOST_ROWS,
        help_text="None where the whole area was looked at and nothing found",
    )  # fmt: skip


SHOWN = shown_of(DefectsRecord, "defect_count", "not_acceptable")
