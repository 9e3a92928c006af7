"""Forms of the heads of papers."""

from __future__ import annotations

from django import forms

from inspection.foundation.attachments import UploadedContent
from reports.papers.actions import LOGO_MOST_BYTES


def _lines(label: str, hint: str) -> forms.CharField:
    return forms.CharField(label=label, required=False, widget=forms.Textarea(attrs={"rows": 4}), help_text=hint)


class CompanyHeadForm(forms.Form):
    address = _lines("Address", "As it is printed under the company’s name, at most six lines")
    logo = forms.FileField(label="Logo", required=False, help_text="PNG or JPEG; empty leaves the one there is")
    without_logo = forms.BooleanField(label="Print no logo any more", required=False)

    def clean_logo(self) -> UploadedContent | None:
        """What was sent; one byte more than may be is enough to see that it is too large."""
        file = self.cleaned_data["logo"]
        return UploadedContent(file.name, file.read(LOGO_MOST_BYTES + 1)) if file else None


class ProjectHeadForm(forms.Form):
    order_number = forms.CharField(label="Order number", required=False, max_length=80)
    references = _lines("References", "Contract, specification, inspection plan and the like, one a line")
    distribution = _lines("Distribution list", "Who is sent the papers, one a line; the names are printed on them")
