"""What the views of the field room share."""

from __future__ import annotations

from typing import Any, TypeVar
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.core.paginator import Page, Paginator
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.views.decorators.http import require_http_methods

from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.fieldwork.models import Record
from inspection.fieldwork.next_step import next_steps
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.projects.models import InspectionArea, Project

page = require_http_methods(["GET", "HEAD", "POST"])
PER_PAGE = 50
CHECKS_A_PAGE = 100
AnyRecord = TypeVar("AnyRecord", bound=Record)


def recorder(request: SignedIn, what: str = "record on site") -> None:
    """Raise NotAllowed unless the person records: pages for those who do not would only disappoint."""
    require(request.user, Role.INSPECTOR, Role.QUALITY_MANAGER, to=what)


def records(request: SignedIn) -> bool:
    return request.user.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER)


def project_or_404(request: SignedIn, pk: UUID) -> Project:
    return get_object_or_404(Project.objects.visible_to(request.user), pk=pk)


def asked_area(request: SignedIn, project: Project) -> InspectionArea | None:
    """The area the link named, if it is one of the project's."""
    try:
        wanted = UUID(request.GET.get("area", ""))
    except ValueError:
        return None
    return InspectionArea.objects.filter(structure__project=project, pk=wanted).select_related("structure").first()


def replaced_or_404(request: SignedIn, project: Project, model: type[AnyRecord]) -> AnyRecord | None:
    """The record that `?replaces=` says is to be corrected; None without it. Foreign or unknown is 404."""
    wanted = request.GET.get("replaces", "")
    if not wanted:
        return None
    try:
        pk = UUID(wanted)
    except ValueError:
        raise Http404 from None
    records: Any = model._default_manager
    found = records.visible_to(request.user).filter(project=project).select_related("area__structure", "coat", "gauge")
    record: AnyRecord = get_object_or_404(found, pk=pk)
    return record


def paged(request: SignedIn, items: Any, per_page: int = PER_PAGE, name: str = "page") -> Page[Any]:
    """The window that the address asks for by `name`; a page of two lists names each."""
    return Paginator(items, per_page).get_page(request.GET.get(name))


def query_without_page(request: SignedIn, name: str = "page") -> str:
    """The rest of the address, for the links to other pages of the list."""
    asked = request.GET.copy()
    asked.pop(name, None)
    return asked.urlencode()


def put_into(form: forms.Form, refusal: Refused, names: dict[str, str] | None = None) -> None:
    """Show what an action refused beside the fields it named. A lack of rights is no matter of the form."""
    if isinstance(refusal, NotAllowed):
        raise refusal
    for fault in refusal.faults:
        field = (names or {}).get(fault.field, fault.field)
        row = f"Row {fault.row}: " if fault.row else ""
        form.add_error(field if field in form.fields else None, f"{row}{fault.message}")


def tell_stored(request: SignedIn, words: str, record: Record) -> None:
    """Say what was stored, and lead on to the next sensible steps."""
    steps = [(step.address, step.words) for step in next_steps(record, timezone.now())]
    if not steps:
        messages.success(request, words)
        return
    links = format_html_join(" · ", '<a href="{}">{}</a>', steps)
    messages.success(request, format_html("{} Next: {}", words, links))


def standing_of(record: Record) -> Any:
    """The standing, kept by a room above this one; None until it is known."""
    try:
        return record.standing  # type: ignore[attr-defined]  # the row that points here
    except ObjectDoesNotExist:
        return None
