"""Pages of drawings: those of a project, one of them, its revisions, the areas that it shows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import vault
from accounts.forms import answered, carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.drawings import actions, forms, noting, queries
from inspection.drawings.marks import picture_of
from inspection.drawings.models import Drawing, DrawingArea, DrawingRevision
from inspection.drawings.shown import shown_of
from inspection.foundation.ids import new_id
from inspection.foundation.narrowing import page_number
from inspection.photos.api import image
from inspection.projects.forms import Because
from inspection.projects.models import Project

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 50
MOST_NAMED = 60


@require_safe
def drawing_list(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    shown = Paginator(queries.drawings_seen(request.user).filter(project=project), A_PAGE).get_page(
        page_number(request)
    )
    keeps = request.user.has_role(*actions.KEEPERS)
    without = list(queries.areas_on_no_drawing(request.user, project)[: MOST_NAMED + 1]) if keeps else []
    return render(
        request, "drawings/list.html",
        {"project": project, "page": shown, "rows": [(each, queries.standing(each)) for each in shown.object_list],
         "may_keep": keeps and not project.closed_at, "without": without[:MOST_NAMED],
         "more": len(without) > MOST_NAMED},
    )  # fmt: skip


def _drawing(request: SignedIn, pk: UUID) -> Drawing:
    return get_object_or_404(queries.drawings_seen(request.user), pk=pk)


def _revision(request: SignedIn, pk: UUID) -> DrawingRevision:
    return get_object_or_404(queries.revisions_seen(request.user), pk=pk)


@require_safe
def drawing(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _drawing(request, pk)
    revision = queries.standing(found) or list(found.revisions.all())[-1]
    return _show(request, found, revision)


@require_safe
def drawing_revision(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = _revision(request, pk)
    return _show(request, _drawing(request, revision.drawing_id), revision)


def _show(request: SignedIn, found: Drawing, revision: DrawingRevision) -> HttpResponse:
    person, stands = request.user, queries.standing(found)
    notes = queries.notes_of(person, found)
    here = [each for each in notes if each.revision_id == revision.pk]
    # Where an area is was said of the picture that stands.
    areas = list(found.areas.all())
    keeps = person.has_role(*actions.KEEPERS)
    shown = {
        "drawing": found, "project": found.project, "revision": revision, "stands": stands, "notes": here,
        "notes_elsewhere": [each for each in notes if each.revision_id != revision.pk], "areas": areas,
        "is_current": stands is not None and stands.pk == revision.pk, "may_keep": keeps,
        "picture": picture_of(revision, here, areas if stands and stands.pk == revision.pk else ()),
        "placed_before": len(actions.placed_before(areas, stands)),
        "revisions": list(found.revisions.all())[::-1], "may_write": person.has_role(*noting.WRITERS),
    }  # fmt: skip
    return render(request, "drawings/drawing.html", shown)


@require_safe
def drawing_picture(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = _revision(request, pk)
    if not revision.has_picture:
        raise Http404
    return image(shown_of(revision, "page"))


@require_safe
def drawing_file(request: SignedIn, pk: UUID) -> HttpResponse:
    """The file as it came, to be kept: it is the project's own paper, for whoever sees the drawing."""
    revision = _revision(request, pk)
    answer = HttpResponse(vault.content_of(revision.file), content_type=revision.file.media_type)
    answer["Content-Disposition"] = f'attachment; filename="drawing-{revision.file_id[:12]}.{revision.format}"'
    return answer


@page
def drawing_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, *actions.KEEPERS, to="keep a drawing")
    form = forms.AddDrawing(
        sent(request), request.FILES or None, by=request.user, project=project, initial={"id": new_id()}
    )
    kept: list[DrawingRevision] = []
    if carried_out(form, lambda v: kept.append(actions.add_drawing(request.user, project=project, **v)[0])):
        messages.success(request, "The drawing is kept. Say now which areas it shows.")
        return redirect("drawing_areas", kept[0].drawing_id)
    return _form(request, project, form, "Add a drawing", "Keep it", "drawing_list", project.pk)


@page
def drawing_revise(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _drawing(request, pk)
    require(request.user, *actions.KEEPERS, to="revise a drawing")
    form = forms.Revise(sent(request), request.FILES or None, initial={"id": new_id()})
    return answered(
        request, form, lambda v: actions.revise_drawing(request.user, drawing=found, **v),
        told="The new revision stands. Look whether the places of areas still fit.", then=redirect("drawing", pk),
        again=lambda: _form(request, found.project, form, f"New revision of {found.number}", "Keep it", "drawing", pk),
    )  # fmt: skip


@page
def drawing_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _drawing(request, pk)
    require(request.user, *actions.KEEPERS, to="correct a drawing")
    now = queries.standing(found)
    had = {"number": found.number, "title": found.title, "revision": now.revision if now else "",
           "section": found.section_id}  # fmt: skip
    form = forms.CorrectDrawing(sent(request), by=request.user, project=found.project, initial=had)
    return answered(
        request, form, lambda v: actions.correct_drawing(request.user, drawing=found, **v),
        told="It is corrected.", then=redirect("drawing", pk),
        again=lambda: _form(request, found.project, form, f"Correct {found.number}", "Correct it", "drawing", pk),
    )  # fmt: skip


@page
def drawing_areas(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _drawing(request, pk)
    require(request.user, *actions.KEEPERS, to="say what a drawing shows")
    shown = list(found.areas.all())
    had = {"areas": forms.lines_of(shown), "seen": actions.areas_digest(shown)}
    form = forms.Areas(sent(request), by=request.user, drawing=found, initial=had)
    return answered(
        request, form, lambda v: actions.set_areas(request.user, drawing=found, **v),
        told="It is entered which areas the drawing shows.", then=redirect("drawing", pk),
        again=lambda: _form(request, found.project, form, f"Areas on {found.number}", "Save", "drawing", pk),
    )  # fmt: skip


@require_POST
def drawing_places_fit(request: SignedIn, pk: UUID) -> HttpResponse:
    actions.confirm_places(request.user, drawing=_drawing(request, pk))
    messages.success(request, "It is entered that the places still fit.")
    return redirect("drawing", pk)


@page
def drawing_area_place(request: SignedIn, pk: UUID, area: UUID) -> HttpResponse:
    """Where an area is, typed or pointed at on the picture; sent without a place: it is shown, without one."""
    found = _drawing(request, pk)
    require(request.user, *actions.KEEPERS, to="say what a drawing shows")
    of, revision = queries.area_named(request.user, found.project_id, area), queries.standing(found)
    if of is None or revision is None or not revision.has_picture:
        raise Http404
    had: DrawingArea | None = next((each for each in found.areas.all() if each.area_id == of.pk), None)
    initial = {"left": forms.percent(had.x), "top": forms.percent(had.y)} if had else {}
    width, pointed = width_of(request), None
    if request.method == "POST":
        pointed = forms.pressed(request.POST, revision, width)
    form = forms.Place(initial=pointed) if pointed else forms.Place(sent(request), initial=initial)
    heading = f"Where {of.label} is on {found.number}"

    def act(values: dict[str, Any]) -> None:
        x, y = form.x_y()
        actions.place_area(request.user, drawing=found, area=of, x=x, y=y)

    return answered(
        request, form, act, told=f"{of.label} is placed.", then=redirect("drawing", pk),
        again=lambda: place_form(request, revision, form, heading, "Place it", reverse("drawing", args=[pk]), width),
    )  # fmt: skip


def width_of(request: SignedIn) -> int:
    """How wide the picture to point at is shown, as the address says."""
    asked = request.GET.get("width", "")
    return int(asked) if asked in {str(width) for width in forms.WIDTHS} else forms.WIDTHS[1]


def place_form(
    request: SignedIn, revision: DrawingRevision, form: Any, heading: str, submit: str, cancel: str, width: int
) -> HttpResponse:
    """A form with the picture to point at, where there is one."""
    drawn = None
    if revision.has_picture:
        height = forms.height_at(revision, width)
        drawn = {"width": width, "height": height, "sizes": forms.SIZES, "cross": _cross(form, width, height)}
    shown = {
        "form": form, "project": revision.drawing.project, "drawing": revision.drawing, "revision": revision,
        "heading": heading, "submit": submit, "cancel": cancel, "drawn": drawn,
    }  # fmt: skip
    return render(request, "drawings/place_form.html", shown, status=status_of(form))


def _cross(form: Any, width: int, height: int) -> tuple[float, float] | None:
    """Where the place that the form holds is on the picture, in its pixels."""
    try:
        left, top = (float(str(form[name].value()).replace(",", ".")) for name in ("left", "top"))
    except ValueError:
        return None
    inside = 0 <= left <= 100 and 0 <= top <= 100
    return (round(left * width / 100, 1), round(top * height / 100, 1)) if inside else None


@page
def revision_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    words = ("Withdraw revision", "Withdraw it", "It is withdrawn; it stays readable and can be brought back.")
    return _with_reason(request, pk, actions.withdraw_revision, *words)


@page
def revision_restore(request: SignedIn, pk: UUID) -> HttpResponse:
    words = ("Bring back revision", "Bring it back", "The revision is back.")
    return _with_reason(request, pk, actions.restore_revision, *words)


def _with_reason(
    request: SignedIn, pk: UUID, act: Callable[..., Any], heading: str, submit: str, told: str
) -> HttpResponse:
    revision = _revision(request, pk)
    require(request.user, *actions.KEEPERS, to="withdraw a revision")
    form, of = Because(sent(request)), revision.drawing
    heading = f"{heading} {revision.revision} of {of.number}"
    return answered(
        request, form, lambda v: act(request.user, revision=revision, **v), told=told, then=redirect("drawing", of.pk),
        again=lambda: _form(request, of.project, form, heading, submit, "drawing_revision", pk),
    )  # fmt: skip


def _form(
    request: SignedIn, project: Project, form: Any, heading: str, submit: str, back: str, pk: UUID
) -> HttpResponse:
    shown = {
        "project": project, "form": form, "heading": heading, "submit": submit, "cancel": reverse(back, args=[pk]),
    }  # fmt: skip
    return render(request, "drawings/form.html", shown, status=status_of(form))
