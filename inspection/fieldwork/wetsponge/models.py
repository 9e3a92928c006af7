"""Holiday tests with a wet sponge at low voltage."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import TestRecord
from inspection.foundation.of_record import of_record


class HolidayTest(TestRecord):
    """What both ways of looking for holidays count."""

    __test__ = False

    tested_m2 = models.DecimalField(max_digits=10, decimal_places=2)
    holidays = models.PositiveIntegerField()

    class Meta(TestRecord.Meta):
        abstract = True

    @property
    def found(self) -> str:
        """What was found, in a line."""
        many = f"{self.holidays} holiday{'' if self.holidays == 1 else 's'}" if self.holidays else "no holiday"
        per_m2 = f", {self.holidays / float(self.tested_m2):.2g}/m²" if self.holidays else ""
        return f"{many} on {float(self.tested_m2):g} m²{per_m2}"


@of_record
class WetSpongeRecord(HolidayTest):
    """One wet-sponge test of an area after a coat: each holiday with its place."""

    KIND = "wetsponge"
