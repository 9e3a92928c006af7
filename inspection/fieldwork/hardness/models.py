"""Hardness of a film where the contract or the maker's sheet asks for it."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import TestRecord
from inspection.foundation.of_record import of_record


@of_record
class HardnessRecord(TestRecord):
    """The hardness of one area after one coat, by one method."""

    KIND = "hardness"

    method = models.CharField(max_length=20)
    found = models.CharField(max_length=60, help_text="What was found, in a line")
