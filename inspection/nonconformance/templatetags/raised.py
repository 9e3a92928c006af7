"""Nonconformances on the pages of what they belong to: of a record, and of an area after a coat."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django import template
from django.db.models import Q
from django.urls import reverse

from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.instruments.models import Gauge
from inspection.nonconformance.actions import RAISERS
from inspection.nonconformance.models import Nonconformance, RepairedPart
from inspection.nonconformance.queries import of_record
from inspection.nonconformance.repaired import newest_on, repaired_parts, rest_of
from inspection.projects.models import Coat, InspectionArea, Project

register = template.Library()
MOST_SHOWN = 20
# An instrument was used in so many projects that are told beside it; raise it from the list of another.
MOST_PROJECTS = 5
State = Nonconformance.State


@register.inclusion_tag("nonconformance/raised_of.html")
def nonconformances_of_record(user: Person, record: Record) -> dict[str, Any]:
    """Those it raised or closed, in this version or another, and those open on its area after its coat."""
    rows = Nonconformance.objects.visible_to(user)
    own = list(of_record(rows, record.pk).order_by("number")[:MOST_SHOWN])
    shown = [(row, "closed by it" if row.closing_record_id == record.pk else "raised by it") for row in own]
    if record.coat_id:
        there = rows.filter(area=record.area_id, coat=record.coat_id, state=State.OPEN)
        others = there.exclude(pk__in=[row.pk for row in own]).order_by("number")[:MOST_SHOWN]
        shown += [(row, "open on its area and coat") for row in others]
    return {"rows": shown, "title": "Nonconformances", "parts": _parts_told(user, record)}


def _parts_told(user: Person, record: Record) -> list[tuple[RepairedPart, str, Any]]:
    """Repaired parts that the record speaks of: measured on one, or the failing one whose rest is judged without it."""
    if not record.coat_id:
        return []
    rows = repaired_parts(user).filter(nonconformance__coat=record.coat_id)
    on_it = [(row, "was measured, the repaired part of the area", None) for row in rows.filter(part=record.area_id)]
    told = []
    for row in rows.filter(remainders__record=record.pk).distinct():
        rest = next((each for each in row.remainders.all() if each.record_id == record.pk), None)
        told.append((row, "was repaired since; without it the rest of the area", rest))
    return on_it + told


@register.inclusion_tag("nonconformance/repaired_of_area.html")
def repaired_of_area(user: Person, area: InspectionArea) -> dict[str, Any]:
    """The repaired parts of an area with what speaks for each; or of which area it is a part itself."""
    rows = list(repaired_parts(user).filter(Q(nonconformance__area=area) | Q(part=area)).order_by("made_at"))
    newest = newest_on(rows)
    told = [(row, rest_of(row), newest.get(row.pk)) for row in rows]
    return {
        "parts": [each for each in told if each[0].part_id != area.pk],
        "of": next((each for each in told if each[0].part_id == area.pk), None),
        "area": area,
    }


@register.inclusion_tag("nonconformance/raised_of.html")
def nonconformances_not_open(user: Person, area: InspectionArea, coat: Coat | None) -> dict[str, Any]:
    """Those of an area after a coat that hold nothing back: closed, and drafts."""
    rows = Nonconformance.objects.visible_to(user).filter(area=area, coat=coat).exclude(state=State.OPEN)
    shown = [(row, "") for row in rows.order_by("-number")[:MOST_SHOWN]] if coat else []
    return {"rows": shown, "title": "Closed and drafted nonconformances"}


@register.inclusion_tag("nonconformance/raise_link.html")
def raise_against(user: Person, project: Project, which: str, thing: Any) -> dict[str, Any]:
    """The way to raise one against an area, a lot or a batch (`which`), for who may."""
    links = [("", _address(project, which, which, thing))] if user.has_role(*RAISERS) else []
    return {"links": links}


@register.inclusion_tag("nonconformance/raise_link.html")
def raise_against_gauge(user: Person, gauge: Gauge) -> dict[str, Any]:
    """The same against an instrument, in each project that it measured for and the person sees."""
    if user.is_contractors or not user.has_role(*RAISERS):
        return {"links": []}
    used = Project.objects.visible_to(user).filter(closed_at=None, records__gauge=gauge).distinct().order_by("code")
    against = Nonconformance.Against.INSTRUMENT
    links = [(project.code, _address(project, against, "gauge", gauge)) for project in used[:MOST_PROJECTS]]
    return {"links": [("", address) for _, address in links] if len(links) == 1 else links}


def _address(project: Project, against: str, which: str, thing: Any) -> str:
    asked = urlencode({"against": against, which: thing.pk})
    return f"{reverse('nonconformance_new', args=[project.pk])}?{asked}"
