"""Columns for what people type: no way of storing leads past what `text.py` beside it refuses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from inspection.foundation import text
from inspection.foundation.refusals import Fault, Refused


def plain_line(value: str) -> None:
    _hold(text.wrong_on_a_line, value)


def plain_note(value: str) -> None:
    _hold(text.wrong_in_a_note, value)


def _hold(rule: Callable[[str], str], value: str) -> None:
    if wrong := rule(value):
        raise ValidationError(wrong, code="unseen")


def _kept(rule: Callable[[str], str], value: Any, field: str) -> None:
    if isinstance(value, str) and (wrong := rule(value)):
        raise Refused(Fault(wrong, field))


class ShortText(models.CharField):
    """A short text. Raises Refused, naming the column, for what does not read on one line as it is stored."""

    default_validators = [plain_line]

    def get_db_prep_save(self, value: Any, connection: Any) -> Any:
        _kept(text.wrong_on_a_line, value, self.name)
        return super().get_db_prep_save(value, connection)

    def deconstruct(self) -> Any:
        name, _, args, kwargs = super().deconstruct()
        return name, "django.db.models.CharField", args, kwargs


class LongText(models.TextField):
    """A text of several lines. Raises Refused, naming the column, for control characters and turns of direction."""

    default_validators = [plain_note]

    def get_db_prep_save(self, value: Any, connection: Any) -> Any:
        _kept(text.wrong_in_a_note, value, self.name)
        return super().get_db_prep_save(value, connection)

    def deconstruct(self) -> Any:
        name, _, args, kwargs = super().deconstruct()
        return name, "django.db.models.TextField", args, kwargs
