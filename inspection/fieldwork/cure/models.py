"""Cure tests of a film: solvent rubs and hardness."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import TestRecord
from inspection.foundation.of_record import of_record


@of_record
class CureRecord(TestRecord):
    """The cure or hardness of one area after one coat, by one method."""

    KIND = "cure"

    method = models.CharField(max_length=12)
    found = models.CharField(max_length=60, help_text="What was found, in a line")
