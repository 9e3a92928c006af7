"""Wet film readings of a coat while it is applied."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import TestRecord
from inspection.foundation.of_record import of_record
from inspection.works.models import Lot


@of_record
class WetFilmRecord(TestRecord):
    """What a comb showed of one coat on one area, while it was wet. Readings and films in µm."""

    KIND = "wetfilm"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="wet_films")
    lowest_um = models.PositiveIntegerField()
    aim_um = models.FloatField(null=True, help_text="The wet film to aim at; null where nothing says it")
    low_count = models.PositiveIntegerField()

    @property
    def found(self) -> str:
        """What was found, in a line."""
        many = len(self.observed["readings"])
        read = f"{many} reading{'s' if many > 1 else ''}, lowest {self.lowest_um} µm"
        if self.aim_um is None:
            return read
        return f"{read}, to aim at {self.aim_um:.0f} µm, {self.low_count or 'none'} below"

    def __str__(self) -> str:
        return f"Wet film of {self.coat.name} on {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
