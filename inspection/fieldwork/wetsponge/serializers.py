"""Holiday tests as the API takes and shows them."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.tested_serializers import (
    NumberSent,
    TestSent,
    optional_number,
    shown_of,
    words_sent,
)
from inspection.fieldwork.wetsponge.models import WetSpongeRecord
from inspection.fieldwork.wetsponge.recording import MOST_HOLIDAYS
from inspection.standards.holiday_sponge import DOCUMENTS


class HolidaySent(Strict):
    """One holiday."""

    place = words_sent("Where it is, so that it is found again", required=True)
    seen = words_sent("What was seen there")


class HolidayTestSent(TestSent):
    """What both ways of looking for holidays take."""

    dry_film_um = NumberSent()
    tested_m2 = NumberSent()
    holidays = serializers.ListField(
        child=HolidaySent(),
        required=False,
        default=list,
        max_length=MOST_HOLIDAYS,
        help_text="None where none is found",
    )
    most_per_m2 = optional_number("By the contract; left out: none")
    speed_m_per_s = optional_number()
    earth_proven = serializers.BooleanField(required=False, default=False)


class WetSpongeSent(HolidayTestSent):
    standard = serializers.ChoiceField(tuple(DOCUMENTS))
    voltage_v = NumberSent()
    as_specified = serializers.BooleanField(
        required=False, default=False, help_text="The specification or your own copy names this voltage for this film"
    )
    wetting_agent = serializers.BooleanField(required=False, default=False)


SHOWN = shown_of(WetSpongeRecord, "tested_m2", "holidays")
