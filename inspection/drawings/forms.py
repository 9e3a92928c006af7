"""Forms of drawings; places are typed in per cent, or pointed at on the picture. The actions judge what they read."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q
from django.http import QueryDict

from accounts.models import Person
from inspection.drawings.actions import LONGEST, MOST_PAGES, Placed
from inspection.drawings.models import PARTS, Drawing, DrawingArea, DrawingNote, DrawingRevision
from inspection.drawings.noting import NoteSent
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.form_fields import Figure, InZone, LinesField, LocalMoment, Row, number, set_up
from inspection.foundation.typed_codes import TypedModel
from inspection.photos.picture import MOST_BYTES
from inspection.projects.forms import Because
from inspection.projects.models import InspectionArea, Project, Section
from inspection.works.entering import LONGEST_NOTE

# Where a browser names the place in a picture that was pressed, in pixels as the picture is shown.
PRESSED = ("at.x", "at.y")
# How wide the picture to press on may be shown, in pixels.
SIZES = {320: "small", 640: "middle", 1200: "large"}
WIDTHS = tuple(SIZES)
HUNDRED = Decimal(100)
A_PLACE = "write A1, or A1: 41.5, 33 with per cent from the left and from the top"


def percent(part: int | None) -> str:
    """Parts of 10,000 as per cent, as short as it goes; empty for none."""
    return "" if part is None else f"{Decimal(part) / HUNDRED:.2f}".rstrip("0").rstrip(".")


def pressed(data: QueryDict, revision: DrawingRevision, width: int) -> dict[str, Any] | None:
    """What the form holds after the picture was pressed, which was shown so wide; None where it was not pressed.

    Pressed by the keyboard a picture answers with its corner, which is no place meant.
    """
    if not revision.has_picture:
        return None
    try:
        x, y = (int(str(data[name])) for name in PRESSED)
    except (KeyError, ValueError):
        return None
    height = height_at(revision, width)
    kept = {name: value for name, value in data.dict().items() if name not in PRESSED}
    if (x, y) == (0, 0) or not (0 <= x <= width and 0 <= y <= height):
        return kept
    return {**kept, "left": percent(round(x * PARTS / width)), "top": percent(round(y * PARTS / height))}


def height_at(revision: DrawingRevision, width: int) -> int:
    """How high the picture is when it is shown so wide, in pixels."""
    return max(round(width * revision.height / revision.width), 1)


class FileField(forms.FileField):
    widget = forms.ClearableFileInput(attrs={"accept": ".pdf,image/*,.heic,.heif"})

    def clean(self, data: Any, initial: Any = None) -> UploadedContent:
        if not data:
            raise forms.ValidationError("Choose the file of the drawing.")
        return UploadedContent(data.name or "drawing", data.read(MOST_BYTES + 1))


def _file() -> FileField:
    return FileField(
        label="File",
        help_text=f"PDF, PNG, JPEG, WebP or HEIC, at most {MOST_BYTES // 2**20} MB. It is kept as it comes.",
    )


def _page() -> forms.IntegerField:
    return forms.IntegerField(
        label="Page",
        initial=1,
        min_value=1,
        max_value=MOST_PAGES,
        help_text="Of a PDF with several: which is the drawing",
    )


def _revision() -> forms.CharField:
    return forms.CharField(
        label="Revision", max_length=LONGEST["revision"], help_text="As it is written on the drawing"
    )


class _SectionField(forms.ModelChoiceField):
    def label_from_instance(self, section: Any) -> str:
        return str(section.name_path)


class _Head(forms.Form):
    number = forms.CharField(label="Number", max_length=LONGEST["number"], help_text="As it is written on the drawing")
    title = forms.CharField(label="Title", max_length=LONGEST["title"])
    revision = _revision()
    section = _SectionField(
        Section.objects.none(), label="Part of the structure", required=False, empty_label="None, or several"
    )

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        seen = Section.objects.visible_to(by).filter(structure__project=project)
        set_up(self, "section", queryset=seen.select_related("structure"))


class AddDrawing(_Head):
    id = forms.UUIDField(widget=forms.HiddenInput)
    file = _file()
    page = _page()


class CorrectDrawing(_Head, Because):
    field_order = ("number", "title", "revision", "section", "reason")


class Revise(forms.Form):
    id = forms.UUIDField(widget=forms.HiddenInput)
    revision = _revision()
    file = _file()
    page = _page()


def place_of(line: str) -> Row:
    """A line: the code of an area; after a colon where it is, in per cent from the left and from the top."""
    code, colon, where = (part.strip() for part in line.rpartition(":"))
    if not colon:
        return {"code": where}
    parts = [part for part in where.replace(";", " ").replace("%", " ").replace(", ", " ").split() if part]
    if len(parts) != 2:
        raise ValueError(f"“{where[:40]}” is no place; {A_PLACE}")
    x, y = (number(part, A_PLACE) for part in parts)
    if not (0 <= x <= 100 and 0 <= y <= 100):
        raise ValueError(f"a place lies within 0 and 100 per cent; {A_PLACE}")
    return {"code": code, "x": round(x * HUNDRED), "y": round(y * HUNDRED)}


def lines_of(rows: Iterable[DrawingArea]) -> str:
    """The areas as the lines that would be typed for them."""
    return "\n".join(
        each.area.code + ("" if each.x is None else f": {percent(each.x)}, {percent(each.y)}") for each in rows
    )


class Areas(forms.Form):
    """The areas that a drawing shows, a line for each."""

    seen = forms.CharField(widget=forms.HiddenInput, max_length=64)
    areas = LinesField(
        place_of, rows=8, required=False, label="Areas on this drawing, a line for each",
        help_text="The code; with its place, in per cent from the left and from the top: A1: 41.5, 33. "
        "Taking a line away says that the drawing does not show the area.",
    )  # fmt: skip

    def __init__(self, *args: Any, by: Person, drawing: Drawing, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by, self.drawing = by, drawing

    def clean_areas(self) -> list[Placed]:
        """Each row with its area. A code that several structures have is meant where the drawing shows it already."""
        rows: list[Row] = self.cleaned_data["areas"]
        codes = {row["code"].casefold() for row in rows}
        seen = InspectionArea.objects.visible_to(self.by).filter(structure__project=self.drawing.project_id)
        known: dict[str, list[InspectionArea]] = {}
        for area in seen.select_related("structure__project") if codes else []:
            known.setdefault(area.code.casefold(), []).append(area)
        shown = set(self.drawing.areas.filter(ended_at=None).values_list("area", flat=True))
        found, wrong = [], []
        for place, row in enumerate(rows, start=1):
            meant = known.get(row["code"].casefold(), [])
            meant = [each for each in meant if each.pk in shown] or meant
            if len(meant) == 1:
                found.append(Placed(meant[0], row.get("x"), row.get("y")))
            elif meant:
                wrong.append(
                    f"Row {place}: several structures have an area “{row['code'][:60]}”; place it from its page."
                )
            else:
                wrong.append(f"Row {place}: the project has no area “{row['code'][:60]}”.")
        if wrong:
            raise forms.ValidationError(wrong[:20])
        return found


class Place(forms.Form):
    """A place typed in per cent."""

    left = Figure(label="From the left, in %", example="41.5", required=False)
    top = Figure(label="From the top, in %", example="33", required=False)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        for name in ("left", "top"):
            part = values.get(name)
            if part is not None and not 0 <= part <= 100:
                self.add_error(name, "A place lies within 0 and 100 per cent.")
        given = [name for name in ("left", "top") if values.get(name) is not None]
        if len(given) == 1 and not self.errors:
            self.add_error("top" if given == ["left"] else "left", "Give both, from the left and from the top.")
        return values

    def x_y(self) -> tuple[int | None, int | None]:
        left, top = self.cleaned_data.get("left"), self.cleaned_data.get("top")
        return (None, None) if left is None or top is None else (round(left * HUNDRED), round(top * HUNDRED))

    def add_error(self, field: str | None, error: Any) -> None:
        """What an action says of a place stands at its fields."""
        super().add_error({"x": "left", "y": "top"}.get(field or "", field), error)


class AreaField(TypedModel):
    typed_by = ("code",)

    def label_from_instance(self, area: Any) -> str:
        return f"{area.label} {area.name}"


class WriteNote(InZone, Place):
    id = forms.UUIDField(widget=forms.HiddenInput)
    text = forms.CharField(label="Note", max_length=LONGEST_NOTE, widget=forms.Textarea(attrs={"rows": 3}))
    area = AreaField(
        InspectionArea.objects.none(), label="Area", required=False, empty_label="None",
        help_text="Those that the drawing shows stand first.",
    )  # fmt: skip
    at = LocalMoment(label="Seen")
    field_order = ("text", "area", "at", "left", "top", "reason")

    def __init__(self, *args: Any, by: Person, revision: DrawingRevision, **kwargs: Any) -> None:
        project = revision.drawing.project
        super().__init__(*args, zone=project.zone, **kwargs)
        shown = DrawingArea.objects.filter(drawing=revision.drawing_id, ended_at=None).order_by().values("area")
        areas = InspectionArea.objects.visible_to(by).filter(structure__project=project).select_related("structure")
        set_up(self, "area", queryset=areas.annotate(on_it=Q(pk__in=shown)).order_by("-on_it", "code"))
        for name in ("left", "top"):
            self.fields[name].needed_by = "or press on the picture"  # type: ignore[attr-defined]  # read by forms/field.html
            if not revision.has_picture:
                del self.fields[name]

    def note(self) -> NoteSent:
        x, y = self.x_y()
        values = self.cleaned_data
        return NoteSent(text=values["text"], at=values["at"], x=x, y=y, area=values["area"])


class CorrectNote(WriteNote):
    reason = forms.CharField(
        label="What was wrong", max_length=1_000, help_text="The version before stays readable with this."
    )


def note_as_written(note: DrawingNote) -> dict[str, Any]:
    return {"text": note.text, "area": note.area_id, "at": note.at, "left": percent(note.x), "top": percent(note.y)}
