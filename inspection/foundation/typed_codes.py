"""A short code typed, or read off a label by a scanner, in place of choosing from a long list."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar
from urllib.parse import unquote
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils.html import format_html
from django.utils.safestring import SafeString

# A list of so many is still chosen from at a glance; our own measure.
LONG = 7
LONGEST = 200
MOST_CODES = 40


def code_of(typed: str) -> str:
    """The code itself: of an address, as a label's square holds it, the last part."""
    typed = typed.strip()
    if "://" not in typed:
        # A code may have strokes of its own.
        return typed
    return unquote(typed.rstrip("/").rsplit("/", 1)[-1]).strip()


def is_id(value: object) -> bool:
    try:
        UUID(str(value))
    except ValueError:
        return False
    return True


class SelectOrType(forms.Select):
    """A list to choose from and, where it is long, a field beside it for the code; what is typed goes before."""

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> Any:
        typed = str(data.get(f"{name}_typed", "")).strip()[:LONGEST]
        return code_of(typed) or super().value_from_datadict(data, files, name)

    def render(self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None) -> SafeString:
        context: Any = self.get_context(name, value, attrs)
        chosen: SafeString = self._render(self.template_name, context, renderer)  # type: ignore[attr-defined]  # of every widget, as its own render calls it
        many = sum(len(group) for _, group, _ in context["widget"]["optgroups"])
        typed = "" if value in (None, "") or is_id(value) else str(value)
        if many <= LONG and not typed:
            return chosen
        of = context["widget"]["attrs"].get("id", f"id_{name}")
        return format_html(
            '{}<span class="typed"><label for="{}_typed">or type its code</label> <input type="text" name="{}_typed" '
            'id="{}_typed" value="{}" maxlength="{}" autocomplete="off" autocapitalize="characters" spellcheck="false">'
            "</span>",
            chosen, of, name, of, typed, LONGEST,
        )  # fmt: skip


def not_found(code: str) -> ValidationError:
    return ValidationError(f"Nothing in this list bears the code “{code[:60]}”; look at the label again, or choose.")


def found_often(code: str, names: Sequence[str]) -> ValidationError:
    all_names = "; ".join(sorted(names))
    return ValidationError(f"“{code[:60]}” is borne by more than one: {all_names}. Choose from the list.")


class TypedModel(forms.ModelChoiceField):
    """One of many things, chosen from the list or named by what stands on its label."""

    widget = SelectOrType
    # The columns that hold its code, compared without regard to capitals.
    typed_by: ClassVar[tuple[str, ...]]

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str) and value and not is_id(value):
            meant = Q()
            for column in self.typed_by:
                meant |= Q(**{f"{column}__iexact": value})
            rows = list(self.queryset.filter(meant)[:3]) if self.queryset is not None else []
            if not rows:
                raise not_found(value)
            if rows[1:]:
                raise found_often(value, [self.label_from_instance(row) for row in rows])
            value = rows[0].pk
        return super().to_python(value)


class TypedChoice(forms.ChoiceField):
    """The same for a list that is made by hand: `codes` leads from each code to the value it means."""

    widget = SelectOrType

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.codes: list[tuple[str, str]] = []

    def to_python(self, value: Any) -> str:
        text = str(super().to_python(value))
        if text and not self.valid_value(text):
            meant = sorted({known for code, known in self.codes if code.casefold() == text.casefold()})
            if not meant:
                raise not_found(text)
            if meant[1:]:
                named: dict[Any, Any] = dict(self.choices)  # type: ignore[arg-type]  # pairs, as this list is given
                raise found_often(text, [str(named[known]) for known in meant])
            return meant[0]
        return text


def meant_by(typed: str, known: Iterable[tuple[str, str]]) -> list[str]:
    """The values of several codes with commas, semicolons or line breaks between. Raises ValidationError naming one."""
    codes = [code_of(part) for part in re.split(r"[,;\n]+", typed) if part.strip()]
    if len(codes) > MOST_CODES:
        raise ValidationError(f"Type at most {MOST_CODES} codes.")
    values = {code.casefold(): value for code, value in known}
    for code in codes:
        if code.casefold() not in values:
            raise not_found(code)
    return [values[code.casefold()] for code in codes]
