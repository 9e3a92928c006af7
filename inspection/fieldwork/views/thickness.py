"""Thickness records: the list, one record with its verdict and everything it stands on, its chart and its file."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from accounts import vault
from accounts.middleware import SignedIn
from inspection.fieldwork import exports, queries
from inspection.fieldwork.conformance import conformance_of
from inspection.fieldwork.conformance_shown import conformance_shown
from inspection.fieldwork.judging import Plan, plan_of, spots_of, still_wanted
from inspection.fieldwork.models import Reading, ThicknessRecord
from inspection.fieldwork.thickness.kind import KIND
from inspection.fieldwork.verdicts_shown import Places, checks_shown, in_pages, spots_shown
from inspection.fieldwork.views.common import (
    CHECKS_A_PAGE,
    paged,
    project_or_404,
    query_without_page,
    records,
    standing_of,
)
from inspection.foundation import charts
from inspection.foundation.text import on_one_line
from inspection.projects.models import Coat, Project
from inspection.projects.steps import film_on

# Sizes at which the words of a chart can be read where it is shown.
DESK, PHONE = {"width": 640, "height": 260}, {"width": 330, "height": 240}


@require_safe
def thickness(request: SignedIn, pk: UUID) -> HttpResponse:
    record = get_object_or_404(
        queries.thickness_records(request.user).defer(None).select_related("file", "profile_record"), pk=pk
    )
    readings = queries.readings_of(record)
    spots = spots_shown(readings, record.correction_nm, record.result, record.project.unit)
    shown = checks_shown(record.result, record.project.unit, Places(readings))
    plan = _plan_as_judged(record)
    probable = conformance_of(record, readings)
    context = {
        "kind": KIND,
        "record": record,
        "project": record.project,
        "standing": standing_of(record),
        "judged_under": record.coat.system,
        "limits": dict(zip(("minimum", "nominal", "maximum"), _limits(record), strict=True)),
        "checks": paged(request, shown, CHECKS_A_PAGE, name="checks"),
        "notes": record.result.get("notes", ()),
        "conformance": conformance_shown(probable, record.project.unit) if probable else None,
        "plan": plan,
        "still_wanted": still_wanted(plan, spots_of(readings, record.correction_nm)),
        "repeats_missing": [str(one.spot.number) for one in spots if one.spot.repeat_missing],
        "asked_checks": query_without_page(request, "checks"),
        "asked_spots": query_without_page(request),
        "spots": paged(request, in_pages(spots), 1),
        "classes": _classes(readings, record),
        "slips": queries.slips_of(record.pk),
        "versions": queries.versions_of(record),
        "others": queries.others_of_same_place(request.user, record),
        "may_correct": records(request) and not hasattr(record, "replaced_by"),
    }
    return render(request, "fieldwork/thickness.html", context)


@require_safe
def thickness_chart(request: SignedIn, pk: UUID) -> HttpResponse:
    """The histogram against the limits, as SVG; ?narrow draws it for a phone."""
    record = get_object_or_404(queries.thickness_records(request.user).defer(None), pk=pk)
    minimum, nominal, maximum = _limits(record)
    counted = [r.value_nm - record.correction_nm for r in queries.readings_of(record) if not r.void_reason]
    drawing = charts.histogram(
        counted, unit=record.project.unit, minimum_nm=minimum, nominal_nm=nominal, maximum_nm=maximum,
        title=f"{record.area.label} after {record.coat.name}", **(PHONE if "narrow" in request.GET else DESK),
    )  # fmt: skip
    return HttpResponse(charts.as_svg(drawing), content_type="image/svg+xml")


@require_safe
def thickness_readings(request: SignedIn, pk: UUID) -> StreamingHttpResponse:
    """Every reading of one record as CSV."""
    record = get_object_or_404(queries.thickness_records(request.user), pk=pk)
    return _as_csv(queries.readings_of_records([record.pk]), record.project, f"{record.area.code} {record.pk}")


@require_safe
def project_readings(request: SignedIn, project: UUID) -> StreamingHttpResponse:
    """Every reading of the records of one project that stand, as CSV; replaced versions are left out."""
    site = project_or_404(request, project)
    standing = queries.thickness_records(request.user).filter(project=site).current()
    return _as_csv(queries.readings_of_records(standing.values("pk")), site, f"{site.code} readings")


def _as_csv(readings: QuerySet[Reading], site: Project, name: str) -> StreamingHttpResponse:
    answer = StreamingHttpResponse(exports.readings_as_csv(readings, site), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=f"{name}.csv") or ""
    return answer


@require_safe
def thickness_file(request: SignedIn, pk: UUID) -> HttpResponse | FileResponse:
    """The file the readings came in, byte for byte."""
    record = get_object_or_404(queries.thickness_records(request.user).select_related("file"), pk=pk)
    if record.file is None:
        raise Http404
    answer = HttpResponse(vault.content_of(record.file), content_type=record.file.media_type)
    name = on_one_line(record.file_name)
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or ""
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _plan_as_judged(record: ThicknessRecord) -> Plan:
    """What was wanted when the record was judged: the area may have been measured out anew since."""
    plan = plan_of(record.coat, record.area)
    if plan.by_spots:
        return Plan(readings=record.readings_wanted, areas=record.readings_wanted // 15)
    return Plan(readings=record.readings_wanted, repeats_allowed=plan.repeats_allowed)


def _limits(record: ThicknessRecord) -> tuple[int | None, int | None, int | None]:
    """Minimum, nominal and maximum in nm as the record was judged by, as far as its rule asks for them."""
    low, middle, high = film_on(record.area, record.coat).through
    if record.calculation == Coat.Rule.DECLARED:
        # What such a rule is given are shares of these.
        return low, middle, high
    given = record.inputs
    return (
        _nm(given, "minimum_um", low),
        _nm(given, "nominal_um", middle),
        _nm(given, "maximum_um", high),
    )


def _nm(given: dict[str, Any], name: str, otherwise: int | None) -> int | None:
    return round(given[name] * 1000) if name in given else otherwise


def _classes(readings: list[Any], record: ThicknessRecord) -> list[tuple[str, int]]:
    """The chart in numbers: how many readings lie in each stretch between the limits."""
    low, middle, high = _limits(record)
    values = [reading.value_nm - record.correction_nm for reading in readings if not reading.void_reason]
    counted = []
    if low is not None:
        counted.append(("below the minimum", sum(value < low for value in values)))
    if middle is not None:
        words = "below nominal" if low is None else "from the minimum to below nominal"
        counted.append((words, sum((low or 0) <= value < middle for value in values)))
    floor, top = middle or low or 0, float("inf") if high is None else high
    least = "nominal" if middle is not None else "the minimum"
    words = f"from {least} to the maximum" if floor else "up to the maximum"
    counted.append((words, sum(floor <= value <= top for value in values)))
    if high is not None:
        counted.append(("above the maximum", sum(value > high for value in values)))
    return counted
