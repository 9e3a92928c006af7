"""Cut tests of a film: cross-cut and X-cut."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import TestRecord
from inspection.foundation.of_record import of_record


@of_record
class CutTestRecord(TestRecord):
    """The cut tests of one area after one coat, all rated on one scale; a rating is never shown without its scale."""

    KIND = "cuttest"

    scale = models.CharField(max_length=20)
    worst = models.CharField(max_length=2, help_text="Worst rating found, on the scale")

    @property
    def found(self) -> str:
        """What was found, in a line."""
        cuts = f"{self.reading_count} cut{'s' if self.reading_count > 1 else ''}"
        return f"{self.scale}, {cuts}, worst rating {self.worst}"
