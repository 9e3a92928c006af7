"""Pages of loggers: a file looked at before it is stored, a file, and a time of a station's log with its charts."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from accounts import vault
from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from inspection.fieldwork.climate import log_forms, logger_files, station_forms
from inspection.fieldwork.climate.log_shown import Shown, chart_of, shown
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.samples import NAMES, READ_AS
from inspection.fieldwork.climate.station_views import station_or_404
from inspection.fieldwork.views.common import page, put_into, recorder, records
from inspection.foundation import charts
from inspection.foundation.clocks import day_of
from inspection.foundation.refusals import Fault, Refused
from inspection.projects.how_read import ASK, question, read_as_told
from inspection.projects.models import Coat, Station
from inspection.works.models import Shift

STORE = "store a logger's file"
MOST_SHIFTS = 12
MOST_DAYS = 14


@page
def logger_new(request: SignedIn, pk: UUID) -> HttpResponse:
    """Choose a file; it is read, asked about where it does not say how, and looked at before anything is stored."""
    recorder(request, STORE)
    station = station_or_404(request, pk)
    form = log_forms.LoggerUpload(request.POST or None, request.FILES or None, station=station)
    if form.is_bound and form.is_valid():
        file, note = form.cleaned_data["file"], form.cleaned_data["note"]
        content = file.read()
        try:
            asked = question(request.user, READ_AS, content, None)
            plain = asked.is_plain and ASK not in request.POST
            digest = logger_files.hold(
                request.user, station=station, content=content, name=file.name, gap_min=form.gap, note=note,
                shape=asked.looked.shape if plain else None, is_read=plain,
            )  # fmt: skip
        except Refused as refusal:
            put_into(form, refusal)
        else:
            if asked.known and plain:
                messages.info(request, read_as_told(asked.known.kept))
            return redirect("logger_preview" if plain else "logger_columns", station.pk, digest)
    context = {"form": form, "station": station, "project": station.project,
               "cancel": reverse("station", args=[station.pk])}  # fmt: skip
    return render(request, "fieldwork/logger_new.html", context, status=status_of(form))


@page
def logger_columns(request: SignedIn, pk: UUID, digest: str) -> HttpResponse:
    """The first rows, and for each column what it is. A POST reads the file so and leads to its preview."""
    recorder(request, STORE)
    station = station_or_404(request, pk)
    held = logger_files.held(request.user, station, digest)
    if held is None:
        return _gone(request, station)
    answers = request.POST if request.method == "POST" else None
    try:
        asked = question(request.user, READ_AS, held.content, answers, held.shape)
    except Refused as refusal:
        messages.error(request, str(refusal))
        return redirect("logger_columns" if answers else "logger_new", *([station.pk, digest][: 1 + bool(answers)]))
    if shape := asked.told:
        told = held.told
        try:
            read = logger_files.hold(
                request.user, station=station, content=held.content, name=told["name"], gap_min=told["gap_min"],
                note=told["note"], shape=shape,
            )  # fmt: skip
        except Refused as refusal:
            put_into(asked.form, refusal)
        else:
            asked.keep(request.user, shape)
            return redirect("logger_preview", station.pk, read)
    context = {
        **asked.shown, "of": f"a logger, {held.told['name']}, for station {station}", "station": station,
        "project": station.project, "back": reverse("logger_new", args=[station.pk]),
    }  # fmt: skip
    return render(request, "projects/how_read.html", context, status=status_of(asked.form))


def _gone(request: SignedIn, station: Station) -> HttpResponse:
    return render(request, "fieldwork/logger_gone.html", {"station": station, "project": station.project}, status=404)


@page
def logger_preview(request: SignedIn, pk: UUID, digest: str) -> HttpResponse:
    """What each column was taken for, the first rows, gaps and what cannot be read. A POST stores exactly this."""
    recorder(request, STORE)
    station = station_or_404(request, pk)
    held = logger_files.held(request.user, station, digest)
    if held is None:
        return _gone(request, station)
    if not held.is_read:
        return redirect("logger_columns", station.pk, digest)
    faults = [Fault(*fault) for fault in held.told["faults"]]
    before, alike = logger_files.stored_before(request.user, held), logger_files.alike(request.user, held)
    if request.method == "POST" and held.storable:
        try:
            row, new = logger_files.store_held(request.user, station=station, held=held)
        except Refused as refusal:
            faults = list(refusal.faults)
        else:
            words = f"{row.file_name} is stored with {row.rows:,} samples."
            for files, of in ((before, "file"), (alike, "samples")):
                if new and files:
                    codes = ", ".join(sorted({one.station.code for one in files}))
                    words = f"{words} The same {of} had been stored before, at {codes}."
            messages.success(request, words if new else "This file was stored here before.")
            return redirect("logger_file", row.pk)
    told = held.told
    context = {
        "station": station, "project": station.project, "told": told, "faults": faults, "held": held,
        "before": before, "alike": alike,
        "fault_head": _fault_head(told["many_faults"] or len(faults)),
        "columns": [(words, told["columns"][name], told["empty"].get(name, 0), name in told["fahrenheit"])
                    for name, words in NAMES.items() if name in told["columns"]],
        "bounds": [datetime.fromtimestamp(bound, UTC) for bound in told["bounds"] or ()],
        "gaps": [tuple(datetime.fromtimestamp(bound, UTC) for bound in gap) for gap in told["gaps"]],
    }  # fmt: skip
    return render(request, "fieldwork/logger_preview.html", context, status=422 if faults else 200)


def _fault_head(many: int) -> str:
    told = "1 fault; nothing is stored until it is" if many == 1 else f"{many} faults; nothing is stored until they are"
    return f"{told} put right"


def _file_or_404(request: SignedIn, pk: UUID) -> LoggerFile:
    return get_object_or_404(logger_files.files_seen(request.user), pk=pk)


@require_safe
def logger_file(request: SignedIn, pk: UUID) -> HttpResponse:
    """A file: what was read from it, and the whole of it against the usual margin."""
    found = _file_or_404(request, pk)
    station = found.station
    window = logger_files.window_of(station, found.first_at, found.last_at, file=found)
    context = {
        "file": found, "station": station, "project": station.project, "may_keep": records(request),
        "columns": [(words, found.columns[name]) for name, words in NAMES.items() if name in found.columns],
        "log": shown(window, station) if window else None,
        "days": _days(found), "may_open": not request.user.is_contractors,
        **_drawn(station, found.first_at, found.last_at),
    }  # fmt: skip
    return render(request, "fieldwork/logger_file.html", context)


def _drawn(station: Station, begins: datetime, ends: datetime) -> dict[str, str]:
    """Where the charts of a time of the station's log are, and what they are asked."""
    times = {
        name: f"{at.astimezone(station.project.zone):%Y-%m-%dT%H:%M}"
        for name, at in (("begins", begins), ("ends", ends + timedelta(minutes=1 if ends.second else 0)))
    }
    return {"chart": reverse("station_log", args=[station.pk]), "asked": urlencode(times)}


def _days(file: LoggerFile) -> list[date]:
    """The project's days that the file reaches into, the last ones."""
    project = file.station.project
    first, last = project.day_of(file.first_at), project.day_of(file.last_at)
    return [last - timedelta(days=back) for back in range(min((last - first).days + 1, MOST_DAYS))]


@require_safe
def logger_download(request: SignedIn, pk: UUID) -> HttpResponse:
    """The file as it came."""
    found = _file_or_404(request, pk)
    answer = HttpResponse(vault.content_of(found.file), content_type="application/octet-stream")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=found.file_name) or ""
    return answer


@page
def logger_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    """Withdraw a file, or take that back."""
    recorder(request, STORE)
    found = _file_or_404(request, pk)
    form = station_forms.Why(request.POST or None)
    withdraws = deed == "withdraw"
    act = logger_files.withdraw_file if withdraws else logger_files.restore_file
    heading = "Withdraw the file" if withdraws else "Take the withdrawal back"
    if carried_out(form, lambda values: act(request.user, file=found, **values)):
        messages.success(request, f"{heading}: done. The journal keeps why.")
        return redirect("logger_file", found.pk)
    question = "It counts no more in any share of time. It stays readable, and it can be taken back."
    context = {
        "form": form, "station": found.station, "project": found.station.project, "heading": heading,
        "submit": heading, "question": f"{found.file_name}. {question if withdraws else ''}",
        "cancel": reverse("logger_file", args=[found.pk]),
    }  # fmt: skip
    return render(request, "fieldwork/station_form.html", context, status=status_of(form))


@require_safe
def station_log(request: SignedIn, pk: UUID) -> HttpResponse:
    """A time of the station's log: a day or a shift by its link, or a coat's application and cure."""
    station = station_or_404(request, pk)
    form, log = _asked(request, station)
    begins = form.cleaned_data.get("begins") if form.is_valid() else None
    day = station.project.day_of(begins or timezone.now())
    context = {
        "station": station, "project": station.project, "form": form, "log": log,
        "chart": reverse("station_log", args=[station.pk]), "asked": _sent(form),
        "times": _times(request, station, day), "day": day, "has_asked": form.is_valid(),
    }  # fmt: skip
    return render(request, "fieldwork/station_log.html", context, status=status_of(form))


@require_safe
def station_chart(request: SignedIn, pk: UUID, which: str) -> HttpResponse:
    """One chart of that time as SVG; ?narrow draws it for a phone."""
    station = station_or_404(request, pk)
    _, log = _asked(request, station)
    if log is None:
        return HttpResponse(status=404)
    drawing = chart_of(log, which, narrow="narrow" in request.GET)
    return HttpResponse(charts.as_svg(drawing), content_type="image/svg+xml")


def _asked(request: SignedIn, station: Station) -> tuple[log_forms.Asked, Shown | None]:
    project = station.project
    sent: Any = request.GET.copy()
    if "begins" not in sent:
        begins, ends = project.day_bounds(_day(request.GET.get("day", "")) or _last_day(station))
        for name, at in (("begins", begins), ("ends", ends)):
            sent[name] = f"{at.astimezone(project.zone):%Y-%m-%dT%H:%M}"
    coats = Coat.objects.visible_to(request.user).filter(system__project=project).select_related("system")
    form = log_forms.Asked(sent, station=station, coats=coats.order_by("system__name", "order"))
    if not form.is_valid():
        return form, None
    asked = form.cleaned_data
    window = logger_files.window_of(station, asked["begins"], asked["ends"], coat=asked["coat"])
    return form, shown(window, station, asked["coat"]) if window else None


def _sent(form: log_forms.Asked) -> str:
    data: Any = form.data
    return str(data.urlencode())


def _day(text: str) -> date | None:
    try:
        return day_of(text)
    except ValueError:
        return None


def _last_day(station: Station) -> date:
    """The project's day of the last sample; today where there is none."""
    last = logger_files.files_of(station).that_count().order_by("-last_at").values_list("last_at", flat=True).first()  # type: ignore[attr-defined]  # rows of OfStation
    return station.project.day_of(last or timezone.now())


def _times(request: SignedIn, station: Station, day: date) -> list[tuple[str, str]]:
    """Links to the day, its shifts by the project's clock, and those of its crews, with what was asked about coats."""
    project, address = station.project, reverse("station_log", args=[station.pk])
    begins, ends = project.day_bounds(day)
    times: list[tuple[str, datetime, datetime]] = [(f"Day of {day:%Y-%m-%d}", begins, ends)]
    for step, word in ((-1, "Day before"), (1, "Day after")):
        times.append((word, *project.day_bounds(day + timedelta(days=step))))
    starts = [project.moment_on(day, clock) for clock in project.shift_times]
    if len(starts) > 1:
        for start in starts:
            times.append((f"Shift from {start.astimezone(project.zone):%H:%M}", *project.shift_of(start)))
    rows = Shift.objects.visible_to(request.user).filter(crew__project=project, begins_at__lt=ends, ends_at__gt=begins)
    for shift in rows.filter(called_off_at=None).select_related("crew")[:MOST_SHIFTS]:
        times.append((f"Shift of {shift.crew.name}", shift.begins_at, shift.ends_at))
    kept = {name: request.GET[name] for name in ("coat",) if request.GET.get(name)}
    return [
        (
            words,
            f"{address}?" + urlencode({
                "begins": f"{begin.astimezone(project.zone):%Y-%m-%dT%H:%M}",
                "ends": f"{end.astimezone(project.zone):%Y-%m-%dT%H:%M}", **kept,
            }),
        )
        for words, begin, end in times
    ]  # fmt: skip
