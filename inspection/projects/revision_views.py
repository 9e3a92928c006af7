"""Pages of a coating system with its revisions: what each says, where it stands, issuing one and taking it back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from accounts.forms import carried_out, status_of
from accounts.journal import digest_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rehearsal import rehearse
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.projects import coating_forms, film_told, forms, queries, revised_areas, revisions
from inspection.projects.models import CoatingSystem
from inspection.projects.revision_forms import RevisedRow, ReviseSystem, revised_rows

page = require_http_methods(["GET", "HEAD", "POST"])


def _system(request: SignedIn, pk: UUID, to: str = "") -> CoatingSystem:
    systems = queries.systems_seen_by(request.user).select_related("project", "revises", "specification_revision")
    found: CoatingSystem = get_object_or_404(systems, pk=pk)
    if to:
        require(request.user, Role.QUALITY_MANAGER, to=to)
    return found


@require_safe
def system(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _system(request, pk)
    line = queries.revisions_of(found)
    context = {
        "project": found.project, "shown": film_told.shown([found])[0], "system": found, "line": line,
        "row": next(row for row in line if row.pk == found.pk),
        "coats": queries.coats_where(found),
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER) and not found.project.closed_at,
    }  # fmt: skip
    return render(request, "projects/system_page.html", context)


@page
def system_revise(request: SignedIn, pk: UUID) -> HttpResponse:
    """All coats as they are, to be changed; what issuing it does to areas and points is shown before it is stored."""
    found = _system(request, pk, "revise a coating system")
    data = request.POST or None
    asked = request.POST.get("coats") or request.GET.get("coats")
    count = coating_forms.coat_count(asked) if asked else max(found.coats.count(), 1)
    today = found.project.day_of(timezone.now())
    form = ReviseSystem(data, system=found, initial={"id": new_id(), "applies_from": today})
    rows = revised_rows(found, count, data)
    told: list[str] = []
    confirmed = ""
    if data is not None and all([form.is_valid(), *(row.is_valid() for row in rows)]):
        try:
            told, confirmed = _issued(request, found, form, rows)
        except NotAllowed:
            raise
        except Refused as refusal:
            forms.show_refusal(refusal, form, rows)
        else:
            if not told:
                messages.success(request, "The revision is issued; the journal keeps why.")
                return redirect("system", form.cleaned_data["id"])
    wrong = any(each.errors for each in [form, *rows])
    context = {
        "project": found.project, "system": found, "form": form, "rows": rows, "count": count, "counts": range(1, 7),
        "wrong": wrong, "forms": [form, *rows], "touched": told, "confirmed": confirmed,
    }  # fmt: skip
    return render(request, "projects/system_revise.html", context, status=422 if wrong else 200)


def _issued(
    request: SignedIn, found: CoatingSystem, form: ReviseSystem, rows: list[RevisedRow]
) -> tuple[list[str], str]:
    """Issue it, unless what it does was not shown yet: then that, with its digest, and nothing is stored."""
    typed = [dict(row.cleaned_data) for row in rows]
    asked, coats = form.asked(), [row.revised() for row in rows]

    def act() -> Any:
        return revisions.issue_revision(request.user, system=found, coats=coats, **asked)

    if CoatingSystem.objects.filter(pk=asked["id"]).exists():
        act()
        return [], ""
    told = revised_areas.told_of(
        request.user, found, applies_from=asked["applies_from"], begun_stay=asked["begun_stay"]
    )  # fmt: skip
    plain = {name: str(value) for name, value in form.cleaned_data.items()}
    digest = digest_of({"values": plain, "coats": [{name: str(each) for name, each in row.items()} for row in typed],
                        "told": told})  # fmt: skip
    if told and request.POST.get("confirmed") != digest:
        rehearse(act, but="")
        return told, digest
    act()
    return [], ""


@page
def system_take_back(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _system(request, pk, "take a revision of a coating system back")
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: revised_areas.take_back(request.user, system=found, **values)):
        messages.success(request, f"{found} is taken back; areas and points stand as before.")
        return redirect("system", found.revises_id or found.pk)
    shown = {
        "project": found.project, "form": form, "heading": f"Take {found} back", "submit": "Take it back",
        "question": "Areas and points return to the former revision. It can be done while nothing is recorded or "
        "decided under this one; the journal keeps both.",
        "cancel": reverse("system", args=[found.pk]),
    }  # fmt: skip
    return render(request, "projects/ask.html", shown, status=status_of(form))
