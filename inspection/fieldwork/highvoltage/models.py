"""Holiday tests at high voltage."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.wetsponge.models import HolidayTest
from inspection.foundation.of_record import of_record


@of_record
class HighVoltageRecord(HolidayTest):
    """One high-voltage test of an area after a coat, with the confirmation of its cautions that stood before it."""

    KIND = "highvoltage"

    cautions_confirmed_at = models.DateTimeField(
        null=True, help_text="When whoever tested confirmed the cautions on that day, if they did"
    )
