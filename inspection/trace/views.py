"""The trace: one thing with all it rests on and all that rests on it, drawn and listed."""

from __future__ import annotations

from functools import partial
from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.models.people import TRACERS
from accounts.rights import require
from accounts.stepping import step_up
from inspection.foundation.narrowing import page_number
from inspection.instruments.models import Certificate
from inspection.trace import queries
from inspection.trace.bundle import bundle
from inspection.trace.drawing import drawn
from inspection.trace.kinds import Kind, kind_named
from inspection.trace.weighing import weighed
from inspection.works.models import PaintBatch

A_PAGE = 100


def reader(request: SignedIn) -> None:
    require(request.user, *TRACERS, to="follow the trace")


def _found(request: SignedIn, kind: str, pk: UUID) -> tuple[Kind, Any]:
    reader(request)
    found = queries.find(kind, pk, request.user)
    if found is None:
        raise Http404
    return found


@require_safe
def trace_of(request: SignedIn, kind: str, pk: UUID) -> HttpResponse:
    """The permanent address of a thing's trace."""
    found, thing = _found(request, kind, pk)
    shown = {
        "node": queries.node_of(found, thing),
        "facts": found.facts(thing),
        "below": queries.rests_on(thing, found, request.user),
        "above": queries.rests_on_it(thing, found, request.user),
        "bundle": weighed(thing, found, request.user),
        "recall": _recall_of(thing) if request.user.has_role(Role.QUALITY_MANAGER) else None,
    }
    return render(request, "trace/trace_of.html", shown)


def _recall_of(thing: Any) -> tuple[str, str] | None:
    """What can be done about a certificate or a batch of paint from its trace, in a word, and the page's name.

    About a version of a certificate that was corrected it is nothing any more.
    """
    if not isinstance(thing, Certificate | PaintBatch) or hasattr(thing, "replaced_by"):
        return None
    page = "recall_batch" if isinstance(thing, PaintBatch) else "recall"
    return ("Reinstate" if thing.withdrawn_at else "Recall"), page


@require_safe
def trace_drawing(request: SignedIn, kind: str, pk: UUID) -> HttpResponse:
    found, thing = _found(request, kind, pk)
    svg = drawn(
        queries.node_of(found, thing),
        queries.rests_on(thing, found, request.user),
        queries.rests_on_it(thing, found, request.user),
        tall="tall" in request.GET,
    )
    return HttpResponse(svg, content_type="image/svg+xml")


@require_safe
@partial(step_up, to_look=True)
def trace_bundle(request: SignedIn, kind: str, pk: UUID) -> HttpResponse:
    """The thing and all it rests on as one signed ZIP."""
    found, thing = _found(request, kind, pk)
    packed = bundle(thing, found, request.user, timezone.now())
    answer = HttpResponse(packed, content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="evidence-{kind}-{pk}.zip"'
    return answer


@require_safe
def trace_all(request: SignedIn, kind: str, pk: UUID, direction: str, other: str) -> HttpResponse:
    """Everything of one kind on one side of a trace."""
    found, thing = _found(request, kind, pk)
    wanted = kind_named(other)
    if wanted is None or direction not in (queries.UP, queries.DOWN):
        raise Http404

    def asked(number: int) -> tuple[list[queries.Node], int]:
        first = (number - 1) * A_PAGE
        return queries.all_of(thing, found, wanted, direction, request.user, first=first, many=A_PAGE)

    number = page_number(request)
    nodes, total = asked(number)
    if not nodes and number > 1:
        number = 1
        nodes, total = asked(number)
    shown = {
        "node": queries.node_of(found, thing),
        "kind": wanted,
        "direction": direction,
        "page": Paginator(range(total), A_PAGE).get_page(number),
        "nodes": nodes,
    }
    return render(request, "trace/trace_all.html", shown)
