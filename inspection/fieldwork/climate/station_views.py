"""Pages of climate stations: the project's, one with its readings and files, and what is changed about them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from inspection.fieldwork.climate import logger_files, station_forms, station_queries, stations
from inspection.fieldwork.views.common import page, paged, project_or_404, put_into, recorder, records, tell_stored
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.projects.models import Station

KEEP = "keep climate stations"
AREAS_NAMED = 60


@require_safe
def station_list(request: SignedIn, pk: UUID) -> HttpResponse:
    project = project_or_404(request, pk)
    shown = {
        "project": project, "stations": station_queries.stations_of(request.user, project, timezone.now()),
        "may_keep": records(request) and not project.closed_at,
    }  # fmt: skip
    return render(request, "fieldwork/station_list.html", shown)


@page
def station_new(request: SignedIn, pk: UUID) -> HttpResponse:
    recorder(request, KEEP)
    project = project_or_404(request, pk)
    form = station_forms.Declare(request.POST or None, project=project)
    declared: list[Station] = []

    def act(values: dict[str, Any]) -> None:
        declared.append(stations.declare_station(request.user, project=project, **values)[0])

    if carried_out(form, act):
        messages.success(request, f"Station {declared[0].code} is declared. Next, the first reading.")
        return redirect("station", declared[0].pk)
    shown = {"form": form, "project": project, "heading": "Declare a climate station", "submit": "Declare it"}
    cancel = reverse("station_list", args=[project.pk])
    return render(request, "fieldwork/station_form.html", {**shown, "cancel": cancel}, status=status_of(form))


def station_or_404(request: SignedIn, pk: UUID) -> Station:
    return get_object_or_404(station_queries.stations_seen(request.user), pk=pk)


@require_safe
def station(request: SignedIn, pk: UUID) -> HttpResponse:
    found, now = station_or_404(request, pk), timezone.now()
    [shown] = station_queries.shown(request.user, [found], now)
    listed = paged(request, station_queries.readings_listed(found))
    served = station_queries.areas_served(request.user, found)
    context = {
        "station": found, "project": found.project, "shown": shown, "page": listed,
        "unread": station_queries.unread((row.taken_at for row in listed), found.holds_for),
        "areas": list(served[:AREAS_NAMED]), "many_more": max(shown.areas - AREAS_NAMED, 0),
        "files": logger_files.files_of(found), "may_keep": records(request) and not found.project.closed_at,
        "links_records": not request.user.is_contractors,
    }  # fmt: skip
    return render(request, "fieldwork/station.html", context)


@page
def station_read(request: SignedIn, pk: UUID) -> HttpResponse:
    """One reading, judged against each coat chosen; what is doubtful is asked about before it is stored."""
    recorder(request, "record climate")
    found = station_or_404(request, pk)
    with timezone.override(found.project.zone):
        form = station_forms.Read(request.POST or None, by=request.user, station=found, initial={"id": new_id()})
        asking: tuple[Fault, ...] = ()
        if form.is_bound and form.is_valid():
            asked = dict(form.cleaned_data)
            try:
                stored, _ = stations.record_at_station(
                    request.user, station=found, ask=not form.is_confirmed, **{**asked, "id": asked["id"] or new_id()}
                )
            except Asked as question:
                asking = question.faults
            except Refused as refusal:
                put_into(form, refusal, {"coat": "coats", **dict.fromkeys(MARGIN_OF, "coats")})
            else:
                tell_stored(request, _told(found, stored), stored[0])
                return redirect("station", found.pk)
        context = {"form": form, "station": found, "project": found.project, "asking": asking,
                   "cancel": reverse("station", args=[found.pk])}  # fmt: skip
        return render(request, "fieldwork/station_read.html", context, status=422 if asking else status_of(form))


# What the rule calls a limit is no field of the form; its fault belongs to the coats.
MARGIN_OF = ("minimum_margin_c", "maximum_air_c", "maximum_surface_c")


def _told(found: Station, stored: list[Any]) -> str:
    failed = [row.coat.name if row.coat else "the margin" for row in stored if row.verdict == "fail"]
    if failed:
        return f"The reading at {found.code} is stored. Outside the limits of {', '.join(failed)}."
    return f"The reading at {found.code} is stored. Within the limits."


@dataclass(frozen=True)
class Deed:
    """One change: its form and action, and the words of its page."""

    form: Callable[..., django_forms.Form]
    act: Callable[..., Any]
    heading: str
    submit: str
    question: str = ""


DEEDS = {
    "change": Deed(
        station_forms.Change, stations.change_station, "Change station {code}", "Store it",
        "How long a reading counts holds for the readings already taken too; points that rest on them follow.",
    ),
    "areas": Deed(
        station_forms.Serve, stations.serve_areas, "What station {code} serves", "Let it serve these",
        "From the moment you give, it serves these areas and no others; readings taken since then follow.",
    ),
    "end": Deed(
        station_forms.Why, stations.end_station, "End station {code}", "End it",
        "Nothing more is read there. What was read stays. It can be taken back.",
    ),
    "restore": Deed(station_forms.Why, stations.restore_station, "Take back the end of station {code}", "Take it back"),
}  # fmt: skip


@page
def station_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    recorder(request, KEEP)
    found, asked = station_or_404(request, pk), DEEDS[deed]
    form = asked.form(request.POST or None, station=found)
    if carried_out(form, lambda values: asked.act(request.user, station=found, **values)):
        messages.success(request, f"{asked.heading.format(code=found.code)}: done. The journal keeps why.")
        return redirect("station", found.pk)
    shown = {
        "form": form, "station": found, "project": found.project, "heading": asked.heading.format(code=found.code),
        "submit": asked.submit, "question": asked.question, "cancel": reverse("station", args=[found.pk]),
    }  # fmt: skip
    return render(request, "fieldwork/station_form.html", shown, status=status_of(form))
