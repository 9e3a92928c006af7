"""Cure tests as the API takes and shows them."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.cure.models import CureRecord
from inspection.fieldwork.cure.recording import METHODS
from inspection.fieldwork.tested_serializers import (
    MOST_ROWS,
    NumberSent,
    TestSent,
    optional_number,
    shown_of,
    words_sent,
)
from inspection.standards.cure_tests import PENCILS


class CurePlaceSent(Strict):
    """One place, with what its method asks: one of rating, as_agreed, pencil and readings."""

    place = words_sent(required=True)
    rating = serializers.IntegerField(required=False, allow_null=True, default=None, help_text="ASTM D4752: 5 to 0")
    as_agreed = serializers.BooleanField(required=False, allow_null=True, default=None, help_text="ASTM D5402")
    pencil = serializers.ChoiceField(PENCILS, required=False, allow_null=True, default=None, help_text="ASTM D3363")
    readings = serializers.ListField(
        child=NumberSent(), required=False, default=list, max_length=100, help_text="Barcol and Shore"
    )


class CureSent(TestSent):
    method = serializers.ChoiceField(
        METHODS, help_text="Pencil, Barcol and Shore only to correct a record of before; a new one is a hardness test"
    )
    places = serializers.ListField(child=CurePlaceSent(), min_length=1, max_length=MOST_ROWS)
    least = optional_number("Least rating or mean, by the contract")
    least_pencil = serializers.ChoiceField(PENCILS, required=False, allow_null=True, default=None)
    solvent = words_sent("ASTM D5402 fixes none")
    double_rubs = serializers.IntegerField(required=False, allow_null=True, default=None, min_value=1, max_value=1000)
    agreed_double_rubs = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=1, max_value=1000
    )
    agreed_result = words_sent("In words, such as no colour on the cloth")
    dry_film_before_um = optional_number()
    dry_film_after_um = optional_number()
    cured_h = optional_number()
    steel_c = optional_number()

    def validate(self, attrs: dict[str, object]) -> dict[str, object]:
        pencil = attrs.pop("least_pencil")
        return attrs | ({"least": pencil} if pencil else {})


SHOWN = shown_of(CureRecord, "method", "found", "reading_count")
