"""Pull-off tests as the API takes and shows them. Strengths in MPa or psi, shares of failure in %."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.pulloff.models import PullOffRecord
from inspection.fieldwork.tested_serializers import (
    MOST_ROWS,
    NumberSent,
    TestSent,
    optional_number,
    shown_of,
    words_sent,
)
from inspection.standards.pull_off_field import METHODS


class PullOffTestSent(Strict):
    """One dolly."""

    place = words_sent(required=True)
    strength_mpa = optional_number()
    strength_psi = optional_number("Instead of `strength_mpa`")
    failures_pct = serializers.DictField(
        child=NumberSent(), help_text="Share of each failure, adding to 100: A, B, C …, Y, Z, or A/B between two"
    )
    seconds = optional_number("From the first load to the break")


class PullOffSent(TestSent):
    method = serializers.ChoiceField(METHODS)
    tests = serializers.ListField(child=PullOffTestSent(), min_length=1, max_length=MOST_ROWS)
    tests_wanted = serializers.IntegerField(min_value=1, max_value=100_000, help_text="As the contract asks")
    minimum_mean_mpa = optional_number("By the contract; with neither limit nothing is judged")
    minimum_single_mpa = optional_number("By the contract")
    greatest_glue_share_pct = optional_number("Above which a low test is no result; asked where a test failed in glue")
    contract_instrument = words_sent("Kind and maker; asked by ISO 16276-1")
    used_instrument = words_sent("Kind and maker", required=True)
    dolly_mm = NumberSent()
    steel_mm = NumberSent()
    steel_stiffened = serializers.BooleanField(required=False, default=False)
    film_cut = serializers.BooleanField(required=False, default=False)
    glue = words_sent()
    glue_cured_h = optional_number()


SHOWN = shown_of(PullOffRecord, "method", "mean_kpa", "lowest_kpa", "reading_count")
