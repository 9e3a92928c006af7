"""Hardness tests as the API takes and shows them."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.hardness.models import HardnessRecord
from inspection.fieldwork.hardness.recording import METHODS
from inspection.fieldwork.tested_serializers import (
    MOST_ROWS,
    NumberSent,
    TestSent,
    optional_number,
    shown_of,
    words_sent,
)
from inspection.standards.cure_tests import PENCILS

MOST_OF_A_PLACE = 100


class HardnessPlaceSent(Strict):
    """One place, with what its method asks: one of pencils, lengths_mm and readings."""

    place = words_sent(required=True)
    pencils = serializers.ListField(
        child=serializers.ChoiceField(PENCILS), required=False, default=list, max_length=MOST_OF_A_PLACE,
        help_text="ASTM D3363: of each trial the hardest that does not gouge, or not scratch",
    )  # fmt: skip
    lengths_mm = serializers.ListField(
        child=NumberSent(), required=False, default=list, max_length=MOST_OF_A_PLACE, help_text="ISO 2815"
    )
    readings = serializers.ListField(
        child=NumberSent(), required=False, default=list, max_length=MOST_OF_A_PLACE, help_text="Barcol and Shore"
    )


class HardnessSent(TestSent):
    method = serializers.ChoiceField(METHODS)
    places = serializers.ListField(child=HardnessPlaceSent(), min_length=1, max_length=MOST_ROWS)
    least = optional_number("Least mean or resistance, by the contract")
    least_pencil = serializers.ChoiceField(PENCILS, required=False, allow_null=True, default=None)
    dry_film_um = optional_number()
    least_film_um = optional_number("By the annex of ISO 2815 for the length found")
    cured_h = optional_number()
    steel_c = optional_number()
    pencil_set = words_sent("Its number or batch")

    def validate(self, attrs: dict[str, object]) -> dict[str, object]:
        pencil = attrs.pop("least_pencil")
        return attrs | ({"least": pencil} if pencil else {})


SHOWN = shown_of(HardnessRecord, "method", "found", "reading_count")
