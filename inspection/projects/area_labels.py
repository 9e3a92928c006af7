"""Labels for inspection areas: a square that leads to the area's page, and its code to read and to type."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.forms import status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.form_fields import WholeFigure
from inspection.foundation.labels import SHEETS, Label, sheets_pdf
from inspection.foundation.typed_codes import LONGEST, meant_by
from inspection.projects.models import InspectionArea, Project, Section

MOST_LABELS = 520


class SectionField(forms.ModelChoiceField):
    def label_from_instance(self, section: Any) -> str:
        return str(section.name_path)


class ChooseAreas(forms.Form):
    """Which areas get a label: those of a section, or those named; on what sheets, and where a begun sheet goes on."""

    section = SectionField(Section.objects.none(), label="Areas of", required=False, empty_label="The whole project")
    codes = forms.CharField(
        label="Or only these", required=False, max_length=LONGEST, help_text="Their codes, with commas between."
    )
    sheet = forms.ChoiceField(label="Sheets", choices=[(name, sheet.label) for name, sheet in SHEETS.items()])
    start = WholeFigure(
        label="Begin at label", example="1", initial="1",
        help_text="Counted from the top left, row by row; 1 for a new sheet",
    )  # fmt: skip

    def __init__(self, *args: Any, areas: Any, sections: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.areas, field = areas, self.fields["section"]
        field.queryset = sections  # type: ignore[attr-defined]  # the field is a SectionField

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        sheet = SHEETS.get(values.get("sheet", ""))
        if sheet and values.get("start") is not None and not 1 <= values["start"] <= sheet.count:
            self.add_error("start", f"A sheet has labels 1 to {sheet.count}.")
        if not self.errors:
            values["chosen"] = self._chosen(values)
        return values

    def _chosen(self, values: dict[str, Any]) -> list[InspectionArea]:
        areas = self.areas.within(values["section"]) if values["section"] else self.areas
        if values["codes"].strip():
            known = list(areas.values_list("code", "pk"))
            try:
                named = set(meant_by(values["codes"], known))
            except ValidationError as wrong:
                self.add_error("codes", wrong)
                return []
            # An area of the same code on another structure is meant as well.
            areas = areas.filter(code__in={code for code, pk in known if pk in named})
        found = list(areas[: MOST_LABELS + 1])
        if not found:
            self.add_error("section", "There is no area in use.")
        elif found[MOST_LABELS:]:
            self.add_error("section", f"At most {MOST_LABELS} labels are made at once; choose a section.")
        return found


@require_safe
def area_labels(request: SignedIn, pk: UUID) -> HttpResponse:
    """Choose areas; once chosen, the sheets as PDF. Printing changes nothing, so all of it is in the address."""
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, Role.INSPECTOR, to="print labels")
    areas = InspectionArea.objects.visible_to(request.user).in_use().filter(structure__project=project)
    sections = Section.objects.visible_to(request.user).filter(structure__project=project)
    form = ChooseAreas(
        request.GET if "sheet" in request.GET else None,
        areas=areas.select_related("structure", "section").order_by("structure__name", "code"),
        sections=sections.select_related("structure").order_by("structure__name", "path"),
    )
    if form.is_bound and form.is_valid():
        labels = [_label(area, project) for area in form.cleaned_data["chosen"]]
        sheet, start = SHEETS[form.cleaned_data["sheet"]], form.cleaned_data["start"]
        headers = {"Content-Disposition": 'attachment; filename="labels.pdf"'}
        content = sheets_pdf(labels, sheet=sheet, start=start)
        return HttpResponse(content, content_type="application/pdf", headers=headers)
    shown = {"form": form, "project": project}
    return render(request, "projects/area_labels.html", shown, status=status_of(form))


def _label(area: InspectionArea, project: Project) -> Label:
    """What does not change of the area; how it stands is told by the page that its square leads to."""
    address = f"{settings.SITE_URL}{reverse('area', args=[area.pk])}"
    return Label(address, area.code, (area.name, area.lies_in, project.code))
