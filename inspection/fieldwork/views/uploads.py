"""A file of readings in two steps: choose and preview, then store exactly what was shown."""

from __future__ import annotations

from dataclasses import replace
from itertools import zip_longest
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.forms import status_of
from accounts.middleware import SignedIn
from inspection.fieldwork import actions, forms, queries, reading_table, told_shapes, uploads
from inspection.fieldwork.grid import against
from inspection.fieldwork.judging import Plan, plan_of
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.verdicts_shown import Places, checks_shown
from inspection.fieldwork.views.common import (
    CHECKS_A_PAGE,
    asked_area,
    page,
    paged,
    project_or_404,
    put_into,
    query_without_page,
    recorder,
    replaced_or_404,
    tell_stored,
)
from inspection.fieldwork.views.grid import changes_shown
from inspection.fieldwork.views.sheets import as_recorded
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.foundation.shaping import Proposal, Unsure
from inspection.foundation.tables import ROWS_A_PAGE
from inspection.foundation.units import Unit, in_unit
from inspection.instruments.models import Gauge
from inspection.projects.models import Coat, InspectionArea, Project


@page
def thickness_upload(request: SignedIn, project: UUID) -> HttpResponse:
    """Choose a file or paste its rows.

    With `?replaces=` the rows of a record stand there to be put right, with `?held=` what was sent before its preview.
    """
    recorder(request)
    site = project_or_404(request, project)
    asked_again = "held" in request.GET and request.method != "POST"
    again = held_upload(request, site, request.GET["held"]) if asked_again else None
    if asked_again and again is None:
        return gone(request, site)
    corrected = replaced_or_404(request, site, ThicknessRecord)
    area = corrected.area if corrected else asked_area(request, site)
    kind: type[forms.Upload] = forms.UploadCorrection if corrected else forms.Upload
    with timezone.override(site.zone):
        initial = {"area": area, "coat": request.GET.get("coat", "")} | as_recorded(corrected)
        if corrected and request.method != "POST":
            initial |= _rows_as_recorded(corrected)
        if again:
            initial |= _as_sent(again, site)
        form = kind(
            request.POST or None, request.FILES or None, by=request.user, project=site, area=area, initial=initial
        )
        if form.is_bound and form.is_valid():
            sent = _sent(site, form.cleaned_data, corrected)
            upload = found_upload(request, sent, site)
            try:
                held = _as_told_before(request, upload) or upload.to_hold()
            except Unsure:
                return redirect("thickness_columns", project=site.pk, digest=uploads.hold(request.user, sent))
            except Refused as refusal:
                put_into(form, Refused(_in_file(refusal, pasted=not sent.name)))
            else:
                return redirect("thickness_preview", project=site.pk, digest=uploads.hold(request.user, held))
        context = {"form": form, "project": site, "corrected": corrected, "area": area, "again": again}
        return render(request, "fieldwork/thickness_upload.html", context, status=status_of(form))


def _as_told_before(request: SignedIn, upload: uploads.Upload) -> uploads.HeldUpload | None:
    """Read as an earlier file of the gauge was told to be. Raises Unsure where this one leaves more to ask."""
    known = told_shapes.offered(upload.gauge, upload.held.content)
    if known is None:
        return None
    # The time of the first reading, given on the form, says the day.
    asked = tuple(fault for fault in known.asked if fault.field != "day" or upload.held.first_reading_at is None)
    if asked:
        raise Unsure(Proposal(known.shape, asked))
    try:
        held = replace(upload, held=replace(upload.held, shape=known.shape.plain)).to_hold()
    except Refused as refusal:
        raise Unsure(Proposal(known.shape, refusal.faults)) from None
    who = known.kept.told_by.name
    messages.info(request, f"Read as {who} told it for gauge {upload.gauge}; below, the columns can be read otherwise.")
    return held


def _in_file(refusal: Refused, *, pasted: bool) -> list[Fault]:
    """Faults of the file as a whole belong beside the field it came by."""
    field = "rows" if pasted else "file"
    return [Fault(fault.message if fault.field in ("", "file") else str(fault), field) for fault in refusal.faults]


def _rows_as_recorded(record: ThicknessRecord) -> dict[str, Any]:
    readings = queries.readings_of(record)
    typed = {"rows": reading_table.as_rows(readings, Unit(record.unit), record.project.zone), "note": record.note}
    if all(reading.taken_at for reading in readings):
        return typed
    return typed | {"first_reading_at": record.first_reading_at, "last_reading_at": record.last_reading_at}


def _sent(site: Project, asked: dict[str, Any], corrected: ThicknessRecord | None) -> uploads.HeldUpload:
    file = asked["file"]
    return uploads.HeldUpload(
        id=new_id(), project=site.pk, area=asked["area"].pk, coat=asked["coat"].pk, gauge=asked["gauge"].pk,
        profile_way=asked["profile_way"], correction_nm=asked["correction_nm"],
        profile_record=asked["profile_record"].pk if asked["profile_record"] else None, note=asked["note"],
        first_reading_at=asked["first_reading_at"], last_reading_at=asked["last_reading_at"],
        replaces=corrected.pk if corrected else None, replacement_reason=asked.get("replacement_reason", ""),
        content=file.read() if file else asked["rows"].encode(), name=file.name if file else "",
    )  # fmt: skip


def _as_sent(sent: uploads.HeldUpload, site: Project) -> dict[str, Any]:
    """All that was typed before the preview, as the form wants it; only a file has to be chosen again."""
    correction = in_unit(sent.correction_nm, site.unit, 3).rstrip("0").rstrip(".") if sent.correction_nm else ""
    return {
        "area": sent.area, "coat": sent.coat, "gauge": sent.gauge, "profile_way": sent.profile_way,
        "correction": correction, "profile_record": sent.profile_record, "first_reading_at": sent.first_reading_at,
        "last_reading_at": sent.last_reading_at,
        "note": sent.note, "replacement_reason": sent.replacement_reason, "rows": sent.pasted or "",
    }  # fmt: skip


def held_upload(request: SignedIn, site: Project, digest: str) -> uploads.HeldUpload | None:
    sent = uploads.held(request.user, digest)
    return sent if sent and sent.project == site.pk else None


def gone(request: SignedIn, site: Project) -> HttpResponse:
    return render(request, "fieldwork/preview_gone.html", {"project": site}, status=404)


@page
def thickness_preview(request: SignedIn, project: UUID, digest: str) -> HttpResponse:
    """Every row as it was read, every fault, and the verdict the rows would give. A POST stores exactly this."""
    recorder(request)
    site = project_or_404(request, project)
    sent = held_upload(request, site, digest)
    if sent is None:
        return gone(request, site)
    try:
        upload = found_upload(request, sent, site)
        preview = upload.preview
    except Unsure:
        return redirect("thickness_columns", project=site.pk, digest=digest)
    refused, asked = preview.faults + _of_no_area(upload, site), False
    if request.method == "POST" and preview.storable and not refused:
        try:
            record, _ = actions.record_upload(request.user, upload=upload, again="again" in request.POST)
        except Asked:
            # The page tells of them and asks again.
            asked = True
        except Refused as refusal:
            refused = refusal.faults
        else:
            tell_stored(request, f"The record is stored with {len(preview.table.readings)} readings.", record)
            return _after_part(upload, digest) or redirect("thickness", pk=record.pk)
    rows = preview.table.rows
    faults = [*refused, *preview.table.faults]
    judged, shown = preview.judgement, paged(request, rows, ROWS_A_PAGE)
    named = preview.table.columns
    shown.object_list = [
        {"number": row.number, "faults": row.faults, "named": zip_longest(named, row.cells, fillvalue="")}
        for row in shown.object_list
    ]
    checks = checks_shown(judged.result, site.unit, Places(preview.table.readings)) if judged else []
    context = {
        "upload": upload, "project": site, "sent": sent, "preview": preview, "digest": digest,
        "already": actions.stored_before_of(request.user, upload), "asked_again": asked,
        "parts": _parts(upload), "elsewhere": _elsewhere(upload),
        "run_out": _run_out(request, upload, preview), "back": back_to_form(site, sent, digest),
        "rows": shown, "faults": faults,
        "fault_head": _fault_head(len(faults), sum(bool(row.faults) for row in rows)),
        "file_digest": sent.content_digest,
        "checks": paged(request, checks, CHECKS_A_PAGE, name="checks"),
        "asked_checks": query_without_page(request, "checks"), "asked_rows": query_without_page(request),
        **(_corrected(request, upload, preview) if upload.replaces and judged else {}),
    }  # fmt: skip
    return render(request, "fieldwork/thickness_preview.html", context, status=422 if faults else 428 if asked else 200)


def _corrected(request: SignedIn, upload: uploads.Upload, preview: uploads.Preview) -> dict[str, Any]:
    """What the rows change of the record that they correct, and what else is another."""
    record, unit = upload.replaces, preview.table.unit
    found = against(queries.readings_of(record), preview.table.readings)  # type: ignore[arg-type]  # asked of a correction
    named = [(name, str(getattr(record, name)), str(getattr(upload, name))) for name in ("area", "coat", "gauge")]
    return {
        "corrected": record, "found": changes_shown(request, found, unit, name="changes"), "unit": unit,
        "asked_changes": query_without_page(request, "changes"),
        "others": [(name.capitalize(), before, after) for name, before, after in named if before != after],
    }  # fmt: skip


def _fault_head(faults: int, rows: int) -> str:
    of_rows = f" in {rows} row{'s' * (rows > 1)}" if rows else ""
    return f"{faults} fault{'s' * (faults > 1)}{of_rows}; nothing can be stored until they are put right"


def back_to_form(site: Project, sent: uploads.HeldUpload, digest: str) -> str:
    """The address of the form as it was sent."""
    asked = {"held": digest} | ({"replaces": str(sent.replaces)} if sent.replaces else {})
    return f"{reverse('thickness_upload', args=[site.pk])}?{urlencode(asked)}"


def _run_out(request: SignedIn, upload: uploads.Upload, preview: uploads.Preview) -> queries.RunOut:
    """What had run out when it was measured; told, and never a reason to refuse what was measured."""
    day = upload.project.day_of(preview.times[0] if preview.times else timezone.now())
    return queries.run_out(request.user, [upload.gauge], day, upload.project)


def _parts(upload: uploads.Upload) -> list[dict[str, Any]]:
    """Of a file of several areas: each, whether it is in the project, and whether it is stored."""
    ids = [pk for _, pk in upload.held.parts.values()]
    stored = set(ThicknessRecord.objects.filter(pk__in=ids).values_list("pk", flat=True))
    return [
        {"name": name, "here": name == upload.part, "known": bool(area),
         "record": UUID(pk) if UUID(pk) in stored else None, "readings": len(upload.whole.of_area(name).readings)}
        for name, (area, pk) in upload.held.parts.items()
    ]  # fmt: skip


def _after_part(upload: uploads.Upload, digest: str) -> HttpResponse | None:
    """To the next area of the file that is not stored; None after the last."""
    waiting = [part["name"] for part in _parts(upload) if part["known"] and not part["record"]]
    if not waiting or upload.replaces:
        return None
    address = reverse("thickness_preview", args=[upload.project.pk, digest])
    return redirect(f"{address}?{urlencode({'part': waiting[0]})}")


def _of_no_area(upload: uploads.Upload, site: Project) -> tuple[Fault, ...]:
    if upload.part and upload.replaces and upload.area.pk != upload.replaces.area_id:
        return (Fault("These rows are of another area than the record that is corrected.", "area"),)
    if not upload.part or upload.held.parts[upload.part][0]:
        return ()
    told = f"“{upload.part[:60]}” is no inspection area of {site}; its rows can be stored once it is added there."
    return (Fault(told, "area"),)


def _elsewhere(upload: uploads.Upload) -> str:
    """The one area that the file names, where it is another than the one chosen."""
    named = upload.whole.areas
    alike = {upload.area.code.casefold(), upload.area.label.casefold(), upload.area.name.casefold()}
    return named[0] if len(named) == 1 and named[0].casefold() not in alike else ""


def _profile(request: SignedIn, sent: uploads.HeldUpload) -> ProfileRecord | None:
    seen: Any = ProfileRecord.objects.visible_to(request.user)
    found: ProfileRecord | None = seen.get(pk=sent.profile_record) if sent.profile_record else None
    return found


def found_upload(request: SignedIn, sent: uploads.HeldUpload, site: Project) -> uploads.Upload:
    """The rows the upload names, looked up again: sight may have ended since the first step."""
    asked = request.GET.get("part", "")
    part = asked if asked in sent.parts else next(iter(sent.parts), "")
    area = UUID(sent.parts[part][0]) if part and sent.parts[part][0] else sent.area
    try:
        return uploads.Upload(
            held=sent,
            project=site,
            area=InspectionArea.objects.select_related("structure").get(structure__project=site, pk=area),
            coat=Coat.objects.select_related("system").get(system__project=site, pk=sent.coat),
            gauge=Gauge.objects.visible_to(request.user).get(pk=sent.gauge),
            replaces=ThicknessRecord.objects.visible_to(request.user).get(pk=sent.replaces) if sent.replaces else None,
            profile_record=_profile(request, sent),
            part=part,
        )
    except ObjectDoesNotExist:
        raise Http404 from None


@require_safe
def thickness_template(request: SignedIn, project: UUID) -> HttpResponse:
    """A CSV file to fill in, with a row for each reading the plan of the area asks for."""
    recorder(request)
    site = project_or_404(request, project)
    area, coat = asked_area(request, site), _asked_coat(request, site)
    plan = plan_of(coat, area) if area and coat else Plan(readings=15, areas=1)
    rows = reading_table.template(range(1, plan.spots + 1), plan.readings_a_spot, site.unit)
    answer = HttpResponse(rows, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="thickness.csv"'
    return answer


def _asked_coat(request: SignedIn, site: Project) -> Coat | None:
    try:
        wanted = UUID(request.GET.get("coat", ""))
    except ValueError:
        return None
    return Coat.objects.filter(system__project=site, pk=wanted).first()
