"""Form fields of the house: figures with point or decimal comma, thicknesses in the project's unit, local moments."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from inspection.foundation.clocks import Unclear, comes_twice, day_of, moment_of, with_offset
from inspection.foundation.refusals import Refused
from inspection.foundation.units import Unit, in_unit, to_nm

MOST_CHARACTERS = 40
MOST_IN_LINES = 20_000
Row = dict[str, Any]


class Figure(forms.Field):
    """A number typed with a point or a decimal comma, as a Decimal."""

    widget = forms.TextInput

    def __init__(self, *, example: str = "12.5", **kwargs: Any) -> None:
        self.example = example
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("inputmode", "decimal")
        self.widget.attrs.setdefault("autocomplete", "off")

    def to_python(self, value: Any) -> Decimal | None:
        text = str(value or "").strip().replace("−", "-")
        if not text:
            return None
        if text.count(",") == 1 and "." not in text:
            text = text.replace(",", ".")
        try:
            number = Decimal(text)
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite() or len(text) > MOST_CHARACTERS:
            raise ValidationError(f"“{str(value)[:MOST_CHARACTERS]}” is not a number; write it as {self.example}.")
        return number


class WholeFigure(Figure):
    """A whole number, as an int."""

    def to_python(self, value: Any) -> Any:
        number = super().to_python(value)
        if number is None:
            return None
        if number != number.to_integral_value() or abs(number) > 10**9:
            raise ValidationError(
                f"“{str(value)[:MOST_CHARACTERS]}” is not a whole number; write it as {self.example}."
            )
        return int(number)


class Thickness(forms.Field):
    """A thickness typed in the project's unit, as nanometres."""

    widget = forms.TextInput

    def __init__(self, *, unit: str = Unit.UM, **kwargs: Any) -> None:
        self.unit = unit
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("inputmode", "decimal")
        self.widget.attrs.setdefault("autocomplete", "off")

    def to_python(self, value: Any) -> int | None:
        if isinstance(value, int):
            return value
        if not str(value or "").strip():
            return None
        try:
            return to_nm(value, self.unit)
        except Refused as refusal:
            raise ValidationError([fault.message for fault in refusal.faults]) from None

    def prepare_value(self, value: Any) -> Any:
        """What stands in the box: what was typed, or the thickness shortened to the digits it needs."""
        if not isinstance(value, int):
            return value
        digits = 3 if self.unit == Unit.UM else 2
        return in_unit(value, self.unit, digits).rstrip("0").rstrip(".")


class Uncertainty(Thickness):
    """As a laboratory writes it, with or without ± before it."""

    def to_python(self, value: Any) -> int | None:
        return super().to_python(value.strip().removeprefix("±") if isinstance(value, str) else value)


class LocalMoment(forms.Field):
    """Date and time of day where the work is done, as a moment in UTC."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    def __init__(self, *, zone: ZoneInfo | None = None, **kwargs: Any) -> None:
        self.zone = zone or ZoneInfo("UTC")
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> datetime | None:
        text = str(value or "").strip()
        if not text:
            return None
        try:
            local = datetime.fromisoformat(text)
        except ValueError:
            raise ValidationError(
                f"“{text[:MOST_CHARACTERS]}” is not a date and time; write it as 2026-03-04 14:05."
            ) from None
        try:
            return moment_of(local, self.zone)
        except Unclear as unclear:
            self._take_offsets()
            raise ValidationError(str(unclear)) from None
        except OverflowError:
            raise ValidationError(f"“{text[:MOST_CHARACTERS]}” is no date at which work was done.") from None

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, datetime):
            return value
        if comes_twice(value, self.zone):
            self._take_offsets()
            return with_offset(value.astimezone(self.zone))
        return value.astimezone(self.zone).replace(tzinfo=None)

    def _take_offsets(self) -> None:
        # A browser's box for local times has no room for an offset; a plain one has.
        self.widget.input_type = "text"


class Day(forms.DateField):
    """A date typed as 2026-03-04, with the browser's own calendar where there is one."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d"], **kwargs)
        self.error_messages["invalid"] = "Write the date as 2026-03-04 or 04.03.2026."

    def strptime(self, value: str, format: str) -> date:  # noqa: A002 - Django's own name
        return day_of(value)


def set_up(form: forms.Form, name: str, **kept: Any) -> None:
    """Give a field of a form what is known only once the form is made: its queryset, choices, unit, zone."""
    for attribute, value in kept.items():
        setattr(form.fields[name], attribute, value)


class InZone(forms.Form):
    """Times are typed as the clocks of the project show them."""

    def __init__(self, *args: Any, zone: ZoneInfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, LocalMoment):
                field.zone = zone


class LinesField(forms.CharField):
    """A table typed as lines, one a row; `read` makes a row of a line and raises ValueError with what is wrong."""

    def __init__(self, read: Callable[[str], Row], *, rows: int = 4, **kwargs: Any) -> None:
        super().__init__(max_length=MOST_IN_LINES, widget=forms.Textarea({"rows": rows, "class": "code"}), **kwargs)
        self.read = read

    def to_python(self, value: Any) -> Any:
        found, wrong = [], []
        for number, line in enumerate((super().to_python(value) or "").splitlines(), start=1):
            if not line.strip():
                continue
            try:
                found.append(self.read(line.strip()))
            except ValueError as fault:
                wrong.append(f"Row {number}: {fault}")
        if wrong:
            raise forms.ValidationError(wrong[:20])
        return found


def number(text: str, what: str) -> Decimal:
    """A figure with a point or a decimal comma. Raises ValueError saying what was wanted."""
    try:
        value = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise ValueError(f"“{text.strip()[:40]}” is no number; {what}")
    return value


def placed(line: str, what: str) -> tuple[str, str]:
    """The place before the first colon of a line, and what was found there. Raises ValueError without a place."""
    place, colon, found = line.partition(":")
    if not colon or not place.strip():
        raise ValueError(f"begin with the place and a colon, such as {what}")
    return place.strip(), found.strip()
