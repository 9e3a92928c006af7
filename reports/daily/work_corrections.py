"""What a report tells of corrections to lots, mixes and batches, and of their withdrawals: each once.

A lot is corrected by a new version; of a mix or a batch the journal keeps what stood before. They are told in the part
in which the lot was begun, the mix mixed, the batch received, whenever they were entered; what is of another day is
told in the part in which it was entered, too, as corrections of records are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Model, Q

from accounts.models import JournalEntry
from inspection.fieldwork.kind import Discipline
from inspection.projects.models import Coat, Project
from inspection.works.models import BatchStep, Lot, Mix, PaintBatch
from inspection.works.paint.models import Component, Unit
from reports.daily.facts import Correction
from reports.daily.parts import Part

Told = Callable[[Any], str]
LABELS_OF_LOT = {
    "method": "method", "crew_id": "crew", "pump_ratio": "pump", "tip": "tip", "pressure_bar": "pressure",
    "applicators": "applied by", "thinner_pct": "thinner", "drawn_l": "litres drawn", "returned_l": "litres returned",
    "note": "note",
}  # fmt: skip
LABELS_OF_MIX = {
    "parts": "made of", "coat_id": "coat", "mixed_at": "mixed at", "used_from": "used from", "used_until": "used until",
    "stirred": "stirred", "paint_c": "paint °C", "thinner_pct": "thinner %", "ratio_mixed": "ratio", "note": "note",
    "reason": "reason",
}  # fmt: skip
LABELS_OF_BATCH = {
    "product": "product", "component": "component", "number": "number", "made_on": "made on",
    "expires_on": "expires on", "received": "received", "unit": "unit", "containers": "containers",
    "storage_min_c": "stored from °C", "storage_max_c": "stored to °C", "received_at": "received at",
    "received_by": "received by", "place": "place",
    "note": "note", "file_name": "file",
}  # fmt: skip
MOMENTS = {"mixed_at", "used_from", "used_until", "received_at"}
CHOICES: dict[str, dict[str, Any]] = {
    "stirred": dict(Mix.Stirred.choices), "component": dict(Component.choices), "unit": dict(Unit.choices),
}  # fmt: skip
WITHDRAWN = {"withdrawn": "withdrawn, it counts for nothing", "restored": "its withdrawal taken back"}


def of_discipline(of: Part) -> Q:
    """The lots of the part's discipline: those of a coat are coating, those of the bare steel its preparation."""
    if of.discipline is None:
        return Q()
    # Those of inspection: there are none.
    return {Discipline.COATING: Q(coat__isnull=False), Discipline.PREPARATION: Q(coat=None)}.get(
        of.discipline, Q(pk__in=[])
    )


def work_corrections(project: Project, of: Part) -> Iterator[Correction]:
    """In a number of reads that does not grow with them."""
    yield from _of_lots(project, of)
    if of.tells(Discipline.COATING):
        yield from _of_paint(project, of)


# --- lots -------------------------------------------------------------------------------------------------------------


def _which(of: Part, when: str, entered: str) -> Q:
    """What is of the part by `when`, and what was entered in it that is of another day."""
    of_part = Q(**{f"{when}__gte": of.begins, f"{when}__lt": of.ends})
    then = Q(**{f"{entered}__gte": of.begins, f"{entered}__lt": of.ends})
    return of_part | (then & ~Q(**{f"{when}__gte": of.day_begins, f"{when}__lt": of.day_ends}))


def _of_lots(project: Project, of: Part) -> Iterator[Correction]:
    rows = Lot.objects.filter(
        _which(of, "begun_at", "entered_at"), of_discipline(of), project=project, replaces__isnull=False
    ).select_related("coat__system", "stripe", "replaces__coat__system", "replaces__stripe", "replaces__crew",
                     "crew", "entered_by")  # fmt: skip
    rows = rows.prefetch_related("places__area", "replaces__places__area").order_by("number", "version")
    for lot in rows:
        if lot.replaces:
            yield Correction(
                what=f"{lot}: {lot.of}", change=_changed_lot(lot.replaces, lot, project.zone), reason=lot.why,
                by=lot.entered_by.name_at(lot.entered_at), at=lot.entered_at,
            )  # fmt: skip
    lots = Lot.objects.filter(of_discipline(of), project=project).select_related("coat__system", "stripe")
    yield from _journalled(project, of, lots, "begun_at", "lot", lambda lot: f"{lot}: {lot.of}")


def _changed_lot(former: Lot, lot: Lot, zone: ZoneInfo) -> str:
    was, now = (_briefly(each, zone) for each in (former, lot))
    differ = [
        f"{label} {_shown_of_lot(former, name)} became {_shown_of_lot(lot, name)}"
        for name, label in LABELS_OF_LOT.items()
        if getattr(former, name) != getattr(lot, name)
    ]
    return "; ".join([*([f"{was}, became {now}"] if was != now or not differ else []), *differ])


def _shown_of_lot(lot: Lot, name: str) -> str:
    if name == "crew_id":
        return str(lot.crew)
    if name == "method":
        return str(lot.get_method_display())
    return _shown(getattr(lot, name))


def _briefly(lot: Lot, zone: ZoneInfo) -> str:
    places: Sequence[Any] = sorted(lot.places.all(), key=lambda place: place.area.code)
    until = f"–{lot.ended_at.astimezone(zone):%H:%M}" if lot.ended_at else ""
    where = ", ".join(f"{place.area.label} {_figure(place.m2)} m²" for place in places)
    return f"{where or 'no area'}, {lot.begun_at.astimezone(zone):%H:%M}{until}"


# --- mixes and batches ------------------------------------------------------------------------------------------------


def _of_paint(project: Project, of: Part) -> Iterator[Correction]:
    mixes = Mix.objects.filter(project=project).select_related("coat__system")
    yield from _journalled(
        project, of, mixes, "mixed_at", "mix", lambda mix: f"{mix}{f' for {mix.coat.told}' if mix.coat else ''}",
        LABELS_OF_MIX,
    )  # fmt: skip
    batches = PaintBatch.objects.filter(project=project)
    yield from _journalled(project, of, batches, "received_at", "batch", str, LABELS_OF_BATCH)


def _journalled(
    project: Project, of: Part, rows: Any, when: str, word: str, told: Told, labels: dict[str, str] | None = None
) -> Iterator[Correction]:
    """The corrections, withdrawals and restorings of the rows that the journal tells of, in its order; three reads."""
    verbs = [f"{word}.{each}" for each in (*WITHDRAWN, "step_withdrawn", *(("corrected",) if labels else ()))]
    then = Q(**{f"{when}__gte": of.begins, f"{when}__lt": of.ends})
    of_part = [str(pk) for pk in rows.filter(then).order_by().values_list("pk", flat=True)]
    entries = list(
        JournalEntry.objects.filter(
            Q(object_id__in=of_part) | Q(at__gte=of.begins, at__lt=of.ends), project_id=project.pk, verb__in=verbs,
            object_type=rows.model._meta.label_lower,
        ).select_related("actor").order_by("pk")
    )  # fmt: skip
    about: dict[str, Model] = {str(row.pk): row for row in rows.filter(pk__in={each.object_id for each in entries})}
    named = _coats_of(entries)
    for entry in entries:
        row = about.get(entry.object_id)
        # What is of another part of the same day is told there.
        elsewhere = row and of.day_begins <= getattr(row, when) < of.day_ends and entry.object_id not in of_part
        if row is None or elsewhere:
            continue
        yield Correction(
            what=told(row), change=_change(entry, labels or {}, named, project.zone), reason=entry.reason,
            by=entry.actor.name_at(entry.at) if entry.actor else "the platform", at=entry.at,
        )  # fmt: skip


def _coats_of(entries: Sequence[JournalEntry]) -> dict[str, str]:
    sides = [side for entry in entries for side in (entry.before, entry.after) if side]
    ids = {str(side["coat_id"]) for side in sides if side.get("coat_id")}
    coats = Coat.objects.filter(pk__in=ids).select_related("system") if ids else ()
    return {str(coat.pk): coat.told for coat in coats}


def _change(entry: JournalEntry, labels: dict[str, str], coats: dict[str, str], zone: ZoneInfo) -> str:
    done = entry.verb.partition(".")[2]
    if done in WITHDRAWN:
        return WITHDRAWN[done]
    before, after = entry.before or {}, entry.after or {}
    if done == "step_withdrawn":
        return f"taken back: {BatchStep.What(before['what']).label.lower()}"

    def shown(side: dict[str, Any], name: str) -> str:
        value = side.get(name)
        if name == "coat_id":
            return coats.get(str(value), "none")
        if value and name in MOMENTS:
            return f"{datetime.fromisoformat(value).astimezone(zone):%Y-%m-%d %H:%M}"
        return str(CHOICES[name].get(value, value)).lower() if value and name in CHOICES else _shown(value)

    differ = [
        f"{label} {shown(before, name)} became {shown(after, name)}" for name, label in labels.items() if name in after
    ]
    return "; ".join(differ) or "what follows from it was reckoned anew"


def days_corrected(project: Project, since: datetime, until: datetime) -> set[date]:
    """The days to which lots, mixes and batches belong that were corrected or withdrawn in the time given."""
    days = set()
    for model, word, when in ((Lot, "lot", "begun_at"), (Mix, "mix", "mixed_at"), (PaintBatch, "batch", "received_at")):
        verbs = [f"{word}.{each}" for each in (*WITHDRAWN, "step_withdrawn", "corrected")]
        told = JournalEntry.objects.filter(project_id=project.pk, at__range=(since, until), verb__in=verbs)
        rows: Any = model._default_manager.filter(pk__in=[UUID(pk) for pk in told.values_list("object_id", flat=True)])
        days |= {project.day_of(at) for at in rows.order_by().values_list(when, flat=True)}
    return days


# --- what they share --------------------------------------------------------------------------------------------------


def _shown(value: Any) -> str:
    if value in (None, "", []):
        return "none"
    if isinstance(value, Decimal):
        return _figure(value)
    if isinstance(value, list):
        # Of what a mix is made of, each part as how much of which batch.
        return " and ".join(" of ".join(reversed(each)) if isinstance(each, list) else str(each) for each in value)
    return f"“{value}”" if isinstance(value, str) and " " in value else str(value)


def _figure(value: Decimal | None) -> str:
    return "" if value is None else f"{value.normalize():f}"
