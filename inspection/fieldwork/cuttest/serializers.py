"""Cut tests as the API takes and shows them."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.cuttest.models import CutTestRecord
from inspection.fieldwork.tested_serializers import (
    MOST_ROWS,
    NumberSent,
    TestSent,
    optional_number,
    shown_of,
    words_sent,
)
from inspection.standards.adhesion_cuts import SCALES


class CutSent(Strict):
    """One cut."""

    place = words_sent(required=True)
    rating = words_sent("As the scale writes it: 0 to 5, 5A to 0A or 5B to 0B", required=True)
    seen = words_sent("What came off")


class CutTestSent(TestSent):
    scale = serializers.ChoiceField(tuple(SCALES))
    edition = words_sent()
    cuts = serializers.ListField(child=CutSent(), min_length=1, max_length=MOST_ROWS)
    worst_rating = words_sent("By the contract, on the same scale; left out, nothing is judged")
    cuts_wanted = serializers.IntegerField(required=False, default=1, min_value=1, max_value=100_000)
    dry_film_um = NumberSent()
    spacing_mm = optional_number("Of a lattice")
    spacing_agreed = serializers.BooleanField(required=False, default=False)
    substrate = serializers.ChoiceField(("hard", "soft"), required=False, default="hard")
    textured = serializers.BooleanField(required=False, default=False)
    tool = words_sent()


SHOWN = shown_of(CutTestRecord, "scale", "worst", "reading_count")
