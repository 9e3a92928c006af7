"""Visual defects of a coat."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import TestRecord
from inspection.foundation.of_record import of_record


@of_record
class DefectsRecord(TestRecord):
    """What somebody saw of one area after one coat: each defect with its extent, acceptable or not."""

    KIND = "defects"

    defect_count = models.PositiveIntegerField()
    not_acceptable = models.PositiveIntegerField()

    @property
    def found(self) -> str:
        """What was found, in a line."""
        if not self.defect_count:
            return "nothing found"
        many = f"{self.defect_count} defect{'s' if self.defect_count > 1 else ''}"
        return f"{many}, {self.not_acceptable or 'none'} not acceptable"
