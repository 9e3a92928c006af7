"""What the API takes and shows of tests: numbers, rows, and a record in a list, alone and as answered."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from rest_framework import serializers

from inspection.fieldwork.models import TestRecord
from inspection.fieldwork.serializers import (
    COMMON,
    AfterCoatSent,
    ObservedSent,
    RecordShown,
    StandingOfRecord,
    WithWarnings,
)
from inspection.fieldwork.storing import LONGEST_REASON

MOST_ROWS = 500


class NumberSent(serializers.FloatField):
    """A finite JSON number."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool | str) or not isinstance(data, int | float) or not math.isfinite(data):
            raise serializers.ValidationError("Give a JSON number, such as 18.5, without quotation marks.")
        return data


def optional_number(help_text: str = "") -> NumberSent:
    return NumberSent(required=False, allow_null=True, default=None, help_text=help_text)


def words_sent(help_text: str = "", *, required: bool = False) -> serializers.CharField:
    """A short text on one line; the action says what is wrong with one."""
    more: dict[str, Any] = {} if required else {"required": False, "allow_blank": True, "default": ""}
    return serializers.CharField(max_length=LONGEST_REASON, help_text=help_text, **more)


class TestSent(ObservedSent, AfterCoatSent):
    """Of a test of the film after a coat."""

    __test__ = False


class ShownTest(NamedTuple):
    """How a kind of test is shown in a list, alone, and to its sender."""

    shown: type[serializers.BaseSerializer]
    detail: type[serializers.BaseSerializer]
    answer: type[serializers.BaseSerializer]


def shown_of(model: type[TestRecord], *columns: str) -> ShownTest:
    """The serializers of a kind of test, with the columns it has beside those of all."""
    listed = (*COMMON, "gauge", *columns, "standing")
    whole = (*listed, "observed", "calculation", "inputs", "result")

    def made(name: str, fields: tuple[str, ...], *bases: type) -> Any:
        meta = type("Meta", (), {"model": model, "fields": fields, "read_only_fields": fields})
        return type(f"{model.__name__.removesuffix('Record')}{name}", bases, {"Meta": meta, "__module__": __name__})

    bases = (StandingOfRecord, RecordShown)
    return ShownTest(
        made("Serializer", listed, *bases), made("DetailSerializer", whole, *bases),
        made("Answer", (*whole, "warnings"), WithWarnings, *bases),
    )  # fmt: skip
