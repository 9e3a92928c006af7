"""Pull-off tests of a film: dollies glued on and pulled, each a hole to mend."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import TestRecord
from inspection.foundation.of_record import of_record


@of_record
class PullOffRecord(TestRecord):
    """The pull-off tests of one area after one coat. Strengths in kPa, of the tests that count, if any does."""

    KIND = "pulloff"

    method = models.CharField(max_length=12)
    mean_kpa = models.PositiveIntegerField(null=True)
    lowest_kpa = models.PositiveIntegerField(null=True)

    @property
    def found(self) -> str:
        """What was found, in a line."""
        if self.mean_kpa is None or self.lowest_kpa is None:
            return f"{self.reading_count} tests, none with a result" if self.reading_count > 1 else "1 test, no result"
        tests = f"{self.reading_count} test{'s' if self.reading_count > 1 else ''}"
        return f"{tests}, mean {self.mean_kpa / 1000:.1f} MPa, lowest {self.lowest_kpa / 1000:.1f} MPa"
