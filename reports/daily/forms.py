"""Forms of the report pages."""

from __future__ import annotations

import hashlib
import re
from typing import Any

from django import forms
from django.conf import settings

from accounts.models import Person
from inspection.projects.models import Project
from reports.daily.models import Reporting


class BuildReport(forms.Form):
    project = forms.ModelChoiceField(Project.objects.none(), label="Project", empty_label="Choose a project")
    day = forms.DateField(
        label="Day", widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"invalid": "Give the day as 2026-03-04.", "required": "Choose the day."},
    )  # fmt: skip

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["project"]
        field.queryset = Project.objects.visible_to(person)


class DeclareReporting(forms.Form):
    one_a = forms.ChoiceField(label="Daily reports", choices=Reporting.OneA, widget=forms.RadioSelect)
    shift_names = forms.CharField(
        label="Names of the shifts", required=False, widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
    from_day = forms.DateField(
        label="From which day on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Reports of days before it stay as they are.",
        error_messages={"invalid": "Give the day as 2026-03-04.", "required": "Choose the day."},
    )  # fmt: skip
    reason = forms.CharField(
        label="Reason", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Where there is one to keep, such as the client’s wish",
    )  # fmt: skip

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        starts = ", ".join(f"{start:%H:%M}" for start in project.shift_times)
        self.fields[
            "shift_names"
        ].help_text = (
            f"For one paper a shift: one name a line, in the order of {starts}, when the project’s shifts begin"
        )

    def clean_shift_names(self) -> list[str]:
        return str(self.cleaned_data["shift_names"]).splitlines()


class IssueReport(forms.Form):
    # The facts that were on the page; what came in since must be looked at first.
    seen = forms.CharField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why there is a new revision",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="It is printed on the report and told to the client.",
    )

    not_reviewed = forms.CharField(
        label="Why it is issued without the review of another person", required=False, max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Nobody else here may review it. The paper tells so, with what you write.",
    )  # fmt: skip

    def __init__(self, *args: Any, last: int | None, alone: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not alone:
            del self.fields["not_reviewed"]
        if last is None:
            del self.fields["reason"]
        else:
            self.fields["reason"].error_messages["required"] = f"Say why revision {last} is replaced."


class Apart(forms.Form):
    """A form beside others on one page: its fields have ids of their own."""

    apart = ""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": f"{self.apart}_%s", **kwargs})


class ReviewReport(Apart):
    apart = "review"
    # The facts that were on the page; what came in since must be looked at first.
    seen = forms.CharField(widget=forms.HiddenInput)
    note = forms.CharField(
        label="Note on the review", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What was compared, if you want it kept",
    )  # fmt: skip


class WhyBack(Apart):
    apart = "back"
    reason = forms.CharField(
        label="Why it is taken back", max_length=2000, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="The journal keeps it.",
    )  # fmt: skip


class CommentReport(Apart):
    apart = "comment"
    text = forms.CharField(label="Comment", max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))


class SignReport(Apart):
    apart = "sign"
    text = forms.CharField(
        label="Remark with the signature", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )


class SetAside(forms.Form):
    # What had come up as the page showed it; anything else must be looked at first.
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    reason = forms.CharField(
        label="Reason", max_length=2000, widget=forms.Textarea(attrs={"rows": 3}), help_text="The journal keeps it."
    )


class CheckReport(forms.Form):
    file = forms.FileField(label="The PDF file", required=False)
    digest = forms.CharField(
        label="Or its SHA-256", required=False, max_length=120,
        help_text="64 characters from 0 to 9 and a to f: of the file, or the one at the foot of every page",
    )  # fmt: skip

    def clean_digest(self) -> str:
        text = re.sub(r"\s", "", self.cleaned_data["digest"]).lower()
        if text and not re.fullmatch(r"[0-9a-f]{64}", text):
            raise forms.ValidationError("This is no SHA-256; it has 64 characters, each from 0 to 9 or a to f.")
        return text

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        most = settings.UPLOAD_MAX_BYTES
        if file and file.size > most:
            raise forms.ValidationError(
                f"The file has {file.size / 2**20:.0f} MB; no report is larger than {most // 2**20} MB."
            )
        return file

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not self.errors and bool(values.get("file")) == bool(values.get("digest")):
            raise forms.ValidationError("Choose a file or type a SHA-256, one of them.")
        return values

    @property
    def wanted(self) -> str:
        """The SHA-256 to look for."""
        file = self.cleaned_data["file"]
        if not file:
            return str(self.cleaned_data["digest"])
        running = hashlib.sha256()
        for chunk in file.chunks():
            running.update(chunk)
        return running.hexdigest()
