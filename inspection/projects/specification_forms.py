"""Forms of specifications, their revisions, and deviations."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings

from inspection.foundation.attachments import UploadedContent
from inspection.projects.forms import Because
from inspection.projects.models import DeviationAnswer, Specification


def _text(label: str, *, required: bool = True, **kwargs: Any) -> forms.CharField:
    return forms.CharField(
        label=label, required=required, max_length=4_000, widget=forms.Textarea(attrs={"rows": 3}), **kwargs
    )


def _day(label: str) -> forms.DateField:
    return forms.DateField(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


class AddSpecification(forms.Form):
    number = forms.CharField(label="Number", max_length=60, help_text="As it bears it")
    title = forms.CharField(label="Title", max_length=160)


class CorrectSpecification(Because, AddSpecification):
    field_order = ("number", "title", "reason")

    def __init__(self, *args: Any, specification: Specification, **kwargs: Any) -> None:
        initial = {"number": specification.number, "title": specification.title}
        super().__init__(*args, **kwargs | {"initial": initial})


class AddRevision(forms.Form):
    revision = forms.CharField(label="Revision", max_length=20, help_text="As it bears it, such as C2")
    dated = _day("Dated")
    clauses = _text("Clauses on coating and inspection", required=False)
    reviewer = forms.CharField(label="Reviewed by", max_length=120, required=False)
    note = _text("Note", required=False)
    file = forms.FileField(label="The paper", required=False, help_text="PDF, PNG or JPEG")

    def clean_file(self) -> UploadedContent | None:
        """What was sent; one byte more than may be is enough to see that it is too large."""
        file = self.cleaned_data["file"]
        return UploadedContent(file.name, file.read(settings.UPLOAD_MAX_BYTES + 1)) if file else None


class AskDeviation(forms.Form):
    clause = forms.CharField(label="Clause", max_length=60, required=False)
    asked = _text("What is asked for instead")
    asked_for = forms.CharField(label="Who asks", max_length=160, help_text="Name and organisation")
    asked_on = _day("Asked on")


class AnswerDeviation(forms.Form):
    outcome = forms.ChoiceField(label="Answer", choices=DeviationAnswer.Outcome.choices)
    answer = _text("In words")
    answered_by = forms.CharField(label="Who answered", max_length=160, help_text="Name and organisation")
    answered_on = _day("Answered on")
