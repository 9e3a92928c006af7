"""Wet film readings as the API takes and shows them."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.tested_serializers import TestSent, optional_number, shown_of, words_sent
from inspection.fieldwork.wetfilm.models import WetFilmRecord
from inspection.fieldwork.wetfilm.recording import MOST_READINGS, MOST_UM


class CombReadingSent(Strict):
    """One reading."""

    place = words_sent("Where on the area")
    um = serializers.IntegerField(min_value=0, max_value=MOST_UM, help_text="The last tooth wetted, µm")


class WetFilmSent(TestSent):
    lot = serializers.UUIDField(required=False, allow_null=True, default=None, help_text="In which it was applied")
    thinner_pct = optional_number("By volume of the unthinned paint; left out: none")
    readings = serializers.ListField(child=CombReadingSent(), min_length=1, max_length=MOST_READINGS)


SHOWN = shown_of(WetFilmRecord, "lot", "lowest_um", "aim_um", "low_count")
