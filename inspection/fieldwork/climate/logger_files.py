"""A logger's file at a station: held for its preview, stored whole or not at all, withdrawn and brought back."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from accounts import journal, vault
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.recording import LIMITS
from inspection.fieldwork.climate.samples import NAMES, READ_AS, Samples, joined, packed, read_samples, unpacked
from inspection.fieldwork.models import KeptUpload
from inspection.fieldwork.storing import LONGEST_NOTE, words
from inspection.fieldwork.uploads import HELD_FOR
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.shaping import Shape
from inspection.foundation.shaping import told as shape_told
from inspection.instruments.signals import evidence_changed
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, Station, StationArea
from inspection.projects.preconditions import AHEAD, FIRST_MOMENT, in_sight
from inspection.standards.climate import USUAL_MARGIN_C
from inspection.standards.logged_climate import Judged, Limit, Log, judge_log

LONGEST_GAP_MIN = 24 * 60
LONGEST_CURE_H = 24 * 60
LAST_YEAR = 2200
# So many faults and gaps of a file are shown; the rest are counted.
MOST_SHOWN = 100
MARK = "logger"


@dataclass(frozen=True)
class Held:
    """A file that its sender has looked at and not stored: how it was read, and the bytes."""

    digest: str
    told: dict[str, Any]
    content: bytes
    log: bytes | None

    @property
    def storable(self) -> bool:
        return self.log is not None

    @property
    def is_read(self) -> bool:
        """Whether it was told, or is plain, how it is read."""
        return "rows" in self.told

    @property
    def shape(self) -> Shape | None:
        kept = self.told.get("shape")
        return shape_told(kept, READ_AS.meanings) if kept else None


def read_file(
    station: Station, content: bytes, *, gap_min: float, named: Mapping[str, str] | None = None,
    shape: Shape | None = None,
) -> Samples:  # fmt: skip
    """The samples of a file for a station. Raises Refused for what is no table of samples, and for a wrong gap."""
    _gap_that_can_be(gap_min)
    return read_samples(content, zone=station.project.zone, named=named, shape=shape)


def _gap_that_can_be(gap_min: float) -> None:
    if not 0 < gap_min <= LONGEST_GAP_MIN:
        raise Refused(f"Give minutes above 0 and at most {LONGEST_GAP_MIN}.", field="gap_min")


def faults_of(samples: Samples) -> list[Fault]:
    """Why a file cannot be stored: rows that cannot be read, no length, or samples of a time to come."""
    faults = list(samples.faults)
    if faults:
        return faults
    if samples.rows < 2:
        return [Fault("A log needs at least two rows.", "file")]
    if samples.ends_s > (timezone.now() + AHEAD).timestamp():
        return [Fault("The last row lies in the future; look at the logger's clock and the time zone.", "file")]
    if samples.begins_s < FIRST_MOMENT.timestamp():
        return [Fault("The first row is too long ago; look at the logger's clock.", "file")]
    return []


@transaction.atomic
def hold(
    by: Person, *, station: Station, content: bytes, name: str, gap_min: float, note: str, shape: Shape | None = None,
    is_read: bool = True,
) -> str:  # fmt: skip
    """Keep a file as it was read for its sender until it is stored; gives the digest it is found by.

    Where it must be asked first how it is read, it is kept without (`is_read`).
    """
    _may(by, station)
    _gap_that_can_be(gap_min)
    told = {MARK: str(station.pk), "zone": station.project.time_zone, "name": vault.name_of(name), "gap_min": gap_min,
            "note": note, "shape": shape.plain if shape else None}  # fmt: skip
    log = None
    if is_read:
        seen = looked_at(station, content=content, name=name, gap_min=gap_min, note=note, shape=shape)
        told, log = told | seen.told, seen.log
    digest = journal.digest_of({**told, "content": hashlib.sha256(content).hexdigest()})
    kept = {"content": content, "what": told, "kept_until": timezone.now() + HELD_FOR, "read": log}
    KeptUpload.objects.filter(kept_until__lt=timezone.now()).delete()
    KeptUpload.objects.update_or_create(person=by, digest=digest, defaults=kept)
    return digest


def held(by: Person, station: Station, digest: str) -> Held | None:
    row = KeptUpload.objects.filter(person=by, digest=digest, kept_until__gte=timezone.now()).first()
    if row is None or row.what.get(MARK) != str(station.pk) or row.what["zone"] != station.project.time_zone:
        return None
    return Held(digest, row.what, bytes(row.content), bytes(row.read) if row.read else None)


def _told(samples: Samples, name: str, gap_min: float, note: str, shape: Shape | None) -> dict[str, Any]:
    """What the preview shows, and what is kept of the file beside its samples."""
    faults = faults_of(samples)
    gaps: list[tuple[float, float]] = []
    if not faults:
        gaps = list(judge_log(samples.log, samples.begins_s, samples.ends_s, [], gap_min * 60).gaps)
    return {
        "name": vault.name_of(name), "gap_min": gap_min, "note": note, "rows": samples.rows,
        "shape": shape.plain if shape else None, "notes": list(samples.notes),
        "columns": samples.columns, "not_read": list(samples.not_read), "heads": list(samples.heads),
        "first_rows": [[number, list(cells)] for number, cells in samples.first_rows],
        "faults": [[fault.message, fault.field, fault.row] for fault in faults[:MOST_SHOWN]],
        "many_faults": len(faults) + samples.more_faults, "empty": samples.empty,
        "fahrenheit": list(samples.in_fahrenheit), "media_type": samples.media_type,
        "gaps": gaps[:MOST_SHOWN], "many_gaps": len(gaps),
        "bounds": [samples.begins_s, samples.ends_s] if not faults else None,
    }  # fmt: skip


def store_held(by: Person, *, station: Station, held: Held) -> tuple[LoggerFile, bool]:
    """Store what was shown. Raises Refused where rows could not be read."""
    if held.log is None:
        raise Refused([Fault(*fault) for fault in held.told["faults"]])
    return _store(by, station, held.content, held.told, held.log)


def looked_at(
    station: Station, *, content: bytes, name: str, gap_min: float, named: Mapping[str, str] | None = None,
    note: str = "", shape: Shape | None = None,
) -> Held:  # fmt: skip
    """A file as storing it would read it; nothing is kept of it."""
    samples = read_file(station, content, gap_min=gap_min, named=named, shape=shape)
    told = _told(samples, name, gap_min, note, shape)
    return Held("", told, content, None if told["faults"] else packed(samples.log))


def store_file(by: Person, *, station: Station, **sent: Any) -> tuple[LoggerFile, bool]:
    """Read a file, as `looked_at` takes it, and store it, whole or not at all; False where this station has it."""
    _may(by, station)
    return store_held(by, station=station, held=looked_at(station, **sent))


@transaction.atomic
def _store(
    by: Person, station: Station, content: bytes, told: Mapping[str, Any], log: bytes
) -> tuple[LoggerFile, bool]:
    _may(by, station)
    if faults := words(note=(told["note"], LONGEST_NOTE)):
        raise Refused(faults)
    goes_on(station.project)
    digest = hashlib.sha256(content).hexdigest()
    if (there := _stored(station, digest)) is not None:
        return there, False
    file = vault.store(content, name=told["name"], media_type=told["media_type"], by=by)
    first, last = (datetime.fromtimestamp(bound, UTC) for bound in told["bounds"])
    row = LoggerFile(
        station=station, file=file, file_name=told["name"], columns=told["columns"], shape=told["shape"],
        longest_gap=timedelta(minutes=float(told["gap_min"])), time_zone=station.project.time_zone,
        rows=told["rows"], first_at=first, last_at=last, samples=log, received_by=by, note=told["note"],
    )  # fmt: skip
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        # The same file came in parallel.
        if (there := _stored(station, digest)) is None:
            raise
        return there, False
    _announce(by, row, f"A logger's file of {station.code} was stored: {row.file_name}.")
    journal.record(
        "loggerfile.stored", row, by=by, project_id=station.project_id,
        after={"station": station.code, "file": row.file_name, "digest": digest, "rows": row.rows, "first": first,
               "last": last, "columns": row.columns, "shape": row.shape, "samples": hashlib.sha256(log).hexdigest()},
    )  # fmt: skip
    return row, True


def _stored(station: Station, digest: str) -> LoggerFile | None:
    found = LoggerFile.objects.defer("samples").filter(station=station, file=digest).first()
    if found is not None and found.withdrawn_at:
        raise Conflict(Fault("This file was stored here and withdrawn; take its withdrawal back on its page.", "file"))
    return found


@transaction.atomic
def withdraw_file(by: Person, *, file: LoggerFile, reason: str, at: datetime | None = None) -> LoggerFile:
    """Say that the file counts no more: of another station, or a logger that was wrong. It stays readable."""
    return _set_withdrawn(by, file, reason, at or timezone.now())


@transaction.atomic
def restore_file(by: Person, *, file: LoggerFile, reason: str) -> LoggerFile:
    """Take its withdrawal back."""
    return _set_withdrawn(by, file, reason, None)


def _set_withdrawn(by: Person, file: LoggerFile, reason: str, at: datetime | None) -> LoggerFile:
    _may(by, file.station)
    if faults := reason_faults(reason):
        raise Refused(faults)
    rows = LoggerFile.objects.filter(pk=file.pk, withdrawn_at__isnull=at is not None)
    if not rows.update(withdrawn_at=at, withdrawn_why=reason.strip() if at else ""):
        raise Conflict("It was withdrawn already." if at else "It is not withdrawn.")
    before = {"withdrawn_at": file.withdrawn_at, "why": file.withdrawn_why}
    file.refresh_from_db(fields=["withdrawn_at", "withdrawn_why"])
    moved = "was withdrawn" if at else "counts again"
    _announce(by, file, f"The logger's file {file} {moved}: {reason.strip()}")
    journal.record(
        "loggerfile.withdrawn" if at else "loggerfile.restored", file, by=by, project_id=file.station.project_id,
        before=before, after={"withdrawn_at": at}, reason=reason.strip(),
    )  # fmt: skip
    return file


def _announce(by: Person, file: LoggerFile, because: str) -> None:
    """Let the points follow that lie on what its station served: what it noted says whether coats went on within."""
    served = StationArea.objects.filter(station=file.station_id, begun_at__lt=file.last_at)
    areas = set(served.exclude(ended_at__lte=file.first_at).values_list("area", flat=True))
    if areas:
        evidence_changed.send(sender=LoggerFile, by=by, areas=areas, because=because)


def _may(by: Person, station: Station) -> None:
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="store a logger's file")
    in_sight(by, station)


# --- reads ------------------------------------------------------------------------------------------------------------
def files_of(station: Station) -> QuerySet[LoggerFile]:
    return LoggerFile.objects.filter(station=station).select_related("received_by").defer("samples")


def files_seen(person: Person) -> QuerySet[LoggerFile]:
    rows = LoggerFile.objects.visible_to(person).select_related("station__project", "received_by", "file")
    return rows.defer("samples")


def stored_before(person: Person, held: Held) -> list[LoggerFile]:
    """The same file as it is stored already, at whichever station, as far as the person sees it."""
    digest = hashlib.sha256(held.content).hexdigest()
    return list(files_seen(person).filter(file=digest).order_by("received_at", "pk")[:MOST_SHOWN])


def alike(person: Person, held: Held) -> list[LoggerFile]:
    """Files of other bytes that gave the same samples, as far as the person sees them."""
    if held.log is None:
        return []
    first, last = (datetime.fromtimestamp(bound, UTC) for bound in held.told["bounds"])
    rows = files_seen(person).filter(first_at=first, last_at=last, rows=held.told["rows"], samples=held.log)
    digest = hashlib.sha256(held.content).hexdigest()
    return list(rows.exclude(file=digest).order_by("received_at", "pk")[:MOST_SHOWN])


def said_before(person: Person, station: Station, held: Held) -> list[str]:
    """That the same file is stored elsewhere, or the same samples from another file, in sentences."""
    files = [("file", row) for row in stored_before(person, held) if row.station_id != station.pk]
    files += [("samples", row) for row in alike(person, held)]
    be = {"file": "is", "samples": "are"}
    told = (f"The same {what} {be[what]} stored already at {row.station.code}" for what, row in files)
    return [f"{words}, from {row.file_name}." for words, (_, row) in zip(told, files, strict=True)]


@dataclass(frozen=True)
class Window:
    """A time of a station's log, judged; `gap` is the smallest of the files', the most careful."""

    begins: datetime
    ends: datetime
    log: Log
    gap: timedelta
    limits: tuple[Limit, ...]
    judged: Judged
    files: tuple[LoggerFile, ...]


def end_of(begins: datetime, ends: datetime, cure_h: float) -> datetime:
    """The end of a time asked about, with the hours of cure after it. Raises Refused for what is no such time."""
    if not 0 <= cure_h <= LONGEST_CURE_H:
        raise Refused(f"Give hours from 0 to {LONGEST_CURE_H}.", field="cure_h")
    for name, at in (("begins", begins), ("ends", ends)):
        if not FIRST_MOMENT.year <= at.year < LAST_YEAR:
            raise Refused(f"Give a year from {FIRST_MOMENT.year} to {LAST_YEAR - 1}.", field=name)
    ends += timedelta(hours=float(cure_h))
    if ends <= begins:
        raise Refused("This is not after the beginning.", field="ends")
    return ends


def window_of(
    station: Station, begins: datetime, ends: datetime, *, coat: Coat | None = None, file: LoggerFile | None = None
) -> Window | None:  # fmt: skip
    """The log of a station in [begins, ends], of all files or one, against a coat's limits; None without samples."""
    if file is None:
        rows = LoggerFile.objects.filter(station=station, first_at__lt=ends, last_at__gt=begins).that_count()
        return judged(tuple(rows.order_by("received_at", "pk")), begins, ends, coat)
    return judged(tuple(LoggerFile.objects.filter(pk=file.pk)), begins, ends, coat)


def judged(files: tuple[LoggerFile, ...], begins: datetime, ends: datetime, coat: Coat | None) -> Window | None:
    """Files of one station, in the order in which they came, as one log judged over [begins, ends]."""
    if not files:
        return None
    log = joined([unpacked(row.samples) for row in files])
    gap = min(row.longest_gap for row in files)
    limits = limits_of(coat)
    found = judge_log(log, begins.timestamp(), ends.timestamp(), limits, gap.total_seconds())
    return Window(begins, ends, log, gap, limits, found, files)


QUANTITY_OF = {
    "air_c": "air_c",
    "surface_c": "surface_c",
    "relative_humidity_pct": "humidity_pct",
    "margin_c": "margin_c",
}


def limits_of(coat: Coat | None) -> tuple[Limit, ...]:
    """The limits of a coat as limits of logged quantities; without one the usual margin.

    Limits of quantities that were never logged stay: their time is unknown, and told so.
    """
    if coat is None:
        return (Limit("margin_c", float(USUAL_MARGIN_C), is_least=True),)
    found = []
    for name, column in LIMITS.items():
        bound, _, what = name.partition("_")
        value = getattr(coat, column)
        if value is not None:
            found.append(Limit(QUANTITY_OF[what], float(value), is_least=bound == "minimum"))
    return tuple(found)


SAID = {**NAMES, "margin_c": "Steel above the dew point, °C"}


def said(limit: Limit) -> str:
    """A limit in words: Relative humidity, %: at most 85."""
    return f"{SAID[limit.quantity]}: {'at least' if limit.is_least else 'at most'} {limit.value:g}"
