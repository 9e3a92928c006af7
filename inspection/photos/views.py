"""The photos of a project, one photo, sending some, drawing over one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any
from uuid import UUID, uuid5

from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import answered, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.narrowing import keeping, narrowed, page_number
from inspection.photos import actions, forms, layers, queries, subjects
from inspection.photos.api import image
from inspection.photos.models import Photo, PhotoLayer
from inspection.photos.picture import PAGE
from inspection.photos.shown import Size, shown_of
from inspection.projects.models import Project

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 24


@require_safe
def photo_list(request: SignedIn) -> HttpResponse:
    narrow = narrowed(request, "which")
    project, which = narrow.get("project", ""), narrow.get("which", "")
    rows = queries.photos_seen(request.user)
    rows = rows.exclude(withdrawn_at=None) if which == "withdrawn" else rows.filter(withdrawn_at=None)
    if which == "shown":
        rows = rows.filter(shown=True)
    if project:
        rows = rows.filter(project_id=UUID(project))
    shown = Paginator(rows, A_PAGE).get_page(page_number(request))
    photos = list(shown.object_list)
    return render(
        request, "photos/list.html",
        {
            "page": shown, "rows": [{"photo": photo, "of": subjects.told(photo)} for photo in photos],
            "query": keeping(**narrow), "project": project, "which": which,
            "projects": Project.objects.visible_to(request.user), "kept": request.user.has_role(*queries.KEEPERS),
        },
    )  # fmt: skip


def _photo(request: SignedIn, pk: UUID) -> Photo:
    return get_object_or_404(queries.photos_seen(request.user), pk=pk)


@require_safe
def photo(request: SignedIn, pk: UUID) -> HttpResponse:
    return _show(request, _photo(request, pk))


def picture_of(found: Photo, shapes: list[dict[str, Any]], *, grid: bool = False) -> dict[str, Any]:
    """What `photos/picture.html` draws: the sides of the picture as shown, the shapes on it, the grid."""
    share = min(1, PAGE / max(found.width, found.height))
    width, height = round(found.width * share), round(found.height * share)
    unit = max(width, height) / 60
    return {
        "width": width, "height": height, "shapes": layers.drawn(shapes, width, height), "line": round(unit / 4, 1),
        "edge": round(unit / 2, 1), "small": round(unit * 2, 1), "words": layers.in_words(shapes),
        "columns": _grid(width, layers.LETTERS) if grid else [],
        "lines": _grid(height, range(1, layers.CELLS + 1)) if grid else [],
    }  # fmt: skip


def _grid(size: int, names: Iterable[Any]) -> list[dict[str, Any]]:
    """Where each column or row begins, where its name stands, and the name."""
    cell = size / layers.CELLS
    return [
        {"from": round(n * cell, 1), "at": round((n + 0.5) * cell, 1), "name": name} for n, name in enumerate(names)
    ]


def _show(request: SignedIn, found: Photo, form: forms.Caption | None = None, **more: Any) -> HttpResponse:
    person, drawn = request.user, list(found.layers.select_related("by").order_by("-number"))
    shapes = drawn[0].shapes if drawn else []
    keeps = person.has_role(*queries.KEEPERS)
    given = {"caption": found.caption, "shown": found.shown, "in_report": found.in_report}
    shown = {
        "photo": found, "project": found.project, "of": subjects.told(found), "address": subjects.address(found),
        "told": queries.told_of(person, found), "picture": picture_of(found, shapes), "layers": drawn,
        "may_keep": queries.may_keep(person, found),
        "form": form or (forms.Change if keeps else forms.Caption)(initial=given),
        "may_ask": person.has_role(Role.QUALITY_MANAGER),
        "layers_told": [(layer, layers.in_words(layer.shapes)) for layer in drawn], **more,
    }  # fmt: skip
    return render(request, "photos/photo.html", shown, status=status_of(form) if form else 200)


@require_POST
def photo_change(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _photo(request, pk)
    actions.refuse_strangers(request.user, found)
    keeps = request.user.has_role(*queries.KEEPERS)
    form = (forms.Change if keeps else forms.Caption)(request.POST)
    return answered(
        request, form, lambda v: actions.change_photo(request.user, photo=found, **v),
        told="It is entered.", then=redirect("photo", pk), again=lambda: _show(request, _photo(request, pk), form),
    )  # fmt: skip


def _image(request: SignedIn, pk: UUID, size: Size) -> HttpResponse:
    rows = Photo.objects.visible_to(request.user).select_related("file", "project")
    return image(shown_of(get_object_or_404(rows, pk=pk), size))


@require_safe
def photo_page(request: SignedIn, pk: UUID) -> HttpResponse:
    return _image(request, pk, "page")


@require_safe
def photo_small(request: SignedIn, pk: UUID) -> HttpResponse:
    return _image(request, pk, "small")


@page
def photo_new(request: SignedIn, subject: str, pk: UUID) -> HttpResponse:
    """Send photos of one thing, all of them or none. Sent again, each is there once."""
    thing = subjects.found(request.user, subject, pk)
    require(request.user, *queries.SENDERS, to="add a photo")
    kind = subjects.SUBJECTS[subject]
    camera = request.GET.get("from") != "files"
    form = forms.AddPhotos(sent(request), request.FILES or None, camera=camera, initial={"id": new_id()})

    @transaction.atomic
    def act(values: dict[str, Any]) -> None:
        begun = values["id"] or new_id()
        for row, file in enumerate(values["files"], start=1):
            actions.add_photo(
                request.user, id=uuid5(begun, f"{row} {file.name}"), of=thing, file=file, caption=values["caption"],
                at_once=values["at_once"], row=row,
            )  # fmt: skip

    shown = {
        "form": form, "of": kind.told(thing), "project": kind.project(thing), "submit": "Send them",
        "cancel": kind.address(thing), "camera": camera,
    }  # fmt: skip
    return answered(
        request, form, act, told="The photos are kept.", then=redirect(kind.address(thing)),
        again=lambda: render(request, "photos/new.html", shown, status=status_of(form)),
    )  # fmt: skip


@page
def photo_mark(request: SignedIn, pk: UUID) -> HttpResponse:
    """Draw over it: a form with a row for each shape, and the lettered grid over the picture."""
    found = _photo(request, pk)
    actions.refuse_strangers(request.user, found)
    last = queries.layer_of(found)
    shapes = last.shapes if last else []
    form = forms.DrawOver(sent(request), drawn=shapes, after=last.number if last else 0)
    shown = {"photo": found, "project": found.project, "form": form, "picture": picture_of(found, shapes, grid=True)}
    return answered(
        request, form,
        lambda v: actions.draw_over(request.user, photo=found, shapes=form.shapes(v), after=v["after"]),
        told="It is drawn; the original is untouched.", then=redirect("photo", pk),
        again=lambda: render(request, "photos/mark.html", shown, status=status_of(form)),
    )  # fmt: skip


@require_POST
def photo_layer_again(request: SignedIn, pk: UUID) -> HttpResponse:
    rows = PhotoLayer.objects.visible_to(request.user).select_related("photo__project")
    layer = get_object_or_404(rows, pk=pk)
    actions.refuse_strangers(request.user, layer.photo)
    actions.use_layer_again(request.user, layer=layer)
    return redirect("photo", layer.photo_id)


def _with_reason(
    request: SignedIn, pk: UUID, form: Any, act: Callable[..., Any], heading: str, submit: str, told: str
) -> HttpResponse:
    found = _photo(request, pk)
    actions.refuse_strangers(request.user, found)
    shown = {"photo": found, "project": found.project, "form": form, "heading": heading, "submit": submit}
    return answered(
        request, form, lambda v: act(request.user, photo=found, **v), told=told, then=redirect("photo", pk),
        again=lambda: render(request, "photos/reason.html", shown, status=status_of(form)),
    )  # fmt: skip


@page
def photo_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    form = forms.Withdraw(sent(request))
    words = ("Withdraw a photo", "Withdraw it", "It is withdrawn; it stays on file.")
    return _with_reason(request, pk, form, actions.withdraw_photo, *words)


@page
def photo_restore(request: SignedIn, pk: UUID) -> HttpResponse:
    words = ("Bring a photo back", "Bring it back", "It is back.")
    return _with_reason(request, pk, forms.Restore(sent(request)), actions.restore_photo, *words)


@require_POST
def photo_position(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _photo(request, pk)
    return _show(request, found, asked=True, position=actions.position_of(request.user, photo=found))


@require_POST
def photo_original(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _photo(request, pk)
    content = actions.original_of(request.user, photo=found)
    answer = HttpResponse(content, content_type=found.file.media_type)
    answer["Content-Disposition"] = f'attachment; filename="photo-{found.file_id[:12]}.{found.format}"'
    return answer
