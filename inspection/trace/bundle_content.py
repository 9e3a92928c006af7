"""What an evidence bundle holds of each kind of thing: every recorded column, and the rows that belong to it."""

from __future__ import annotations

from typing import Any

from django.db.models import JSONField, Model, QuerySet

from accounts.journal import plain
from accounts.models import StoredFile
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Certificate, Verification
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Coat, InspectionArea
from inspection.trace.sight import words_withheld
from inspection.works.models import Lot, Mix, PaintBatch


def columns(thing: Model) -> dict[str, Any]:
    """The columns of the row by name. What is stored as JSON is given as it is: some of it is very long."""
    values = {field: field.value_from_object(thing) for field in thing._meta.concrete_fields}
    return {field.attname: value if isinstance(field, JSONField) else plain(value) for field, value in values.items()}


def whole(rows: QuerySet[Any], *, joined: tuple[str, ...] = (), fetched: tuple[str, ...] = ()) -> QuerySet[Any]:
    found: QuerySet[Any] = rows.defer(None).select_related(*joined).prefetch_related(*fetched)
    return found


def whole_certificates(rows: QuerySet[Any]) -> QuerySet[Any]:
    return whole(rows, joined=("file", "recorded_by"), fetched=("values__standard", "values__gauge"))


def certificate(row: Certificate) -> dict[str, Any]:
    values = [
        {
            "of": str(value.gauge or value.standard),
            "value_nm": value.value_nm,
            "expanded_uncertainty_nm": value.expanded_uncertainty_nm,
            **(
                {}
                if value.value is None
                else plain({"value": value.value, "expanded_uncertainty": value.expanded_uncertainty})
            ),
        }
        for value in row.values.all()
    ]
    return {**columns(row), "recorded_by": row.recorded_by.name_at(row.recorded_at), "values": values}


def certificate_file(row: Certificate) -> StoredFile | None:
    return row.file


POINTS = ("points__uses__certified_value__standard", "points__uses__certified_value__certificate")


def whole_verifications(rows: QuerySet[Any]) -> QuerySet[Any]:
    return whole(
        rows,
        joined=("gauge", "project", "taken_by", "corrected_by", "replaced_by", "replaces__gauge", "replaces__taken_by"),
        fetched=(*POINTS, *(f"replaces__{path}" for path in POINTS)),
    )


def verification(row: Verification) -> dict[str, Any]:
    """With the version that it corrects, whole, and the id of the one that corrects it."""
    newer = getattr(row, "replaced_by", None)
    withheld = words_withheld(row)
    return {
        **_check(row, withheld),
        "corrected_by": row.corrector_name,
        "replaced_by_id": str(newer.pk) if newer else None,
        "replaces": _check(row.replaces, withheld) if row.replaces else None,
        "made_for_another_project": withheld,
    }


# What a check made for another project stands without.
WRITTEN = {"project_id": None, "note": None, "confirmed": None, "replacement_reason": None}


def _check(row: Verification, withheld: bool) -> dict[str, Any]:
    points = [
        {
            **columns(point),
            "standards": [
                {"standard": str(use.certified_value.standard), "certificate": str(use.certified_value.certificate)}
                for use in point.uses.all()
            ],
        }
        for point in row.points.all()
    ]
    told = columns(row) | (WRITTEN if withheld else {})
    return {**told, "gauge": str(row.gauge), "taken_by": row.by_name, "points": points}


def whole_thickness(rows: QuerySet[Any]) -> QuerySet[Any]:
    return whole(
        rows, joined=("project", "area", "coat__system", "gauge", "taken_by", "standing", "file"), fetched=("readings",)
    )


def thickness(row: ThicknessRecord) -> dict[str, Any]:
    readings = [
        [reading.spot, reading.order, reading.value_nm, plain(reading.taken_at), reading.void_reason]
        for reading in row.readings.all()
    ]
    return {
        **record(row),
        "readings_columns": ["spot", "order", "value_nm", "taken_at", "void_reason"],
        "readings": readings,
    }


def thickness_file(row: ThicknessRecord) -> StoredFile | None:
    return row.file


def whole_record(rows: QuerySet[Any]) -> QuerySet[Any]:
    return whole(rows, joined=("project", "area", "coat__system", "gauge", "taken_by", "standing"))


def record(row: Record) -> dict[str, Any]:
    """A record of any kind, with the names of what it is of and its standing, where it has one."""
    standing = getattr(row, "standing", None)
    named = {"project": row.project, "area": row.area, "coat": _coat(row.coat), "gauge": row.gauge}
    return {
        **columns(row),
        **{name: str(thing) for name, thing in named.items() if thing},
        "taken_by": row.by_name,
        "standing": columns(standing) if standing else None,
    }


def _coat(coat: Coat | None) -> str:
    """With the revision of its system, where it is of one."""
    return f"{coat.order}. {coat.told}" if coat else ""


def area(row: InspectionArea) -> dict[str, Any]:
    return {**columns(row), "structure": str(row.structure), "project": str(row.structure.project)}


def whole_points(rows: QuerySet[Any]) -> QuerySet[Any]:
    return whole(rows, joined=("project", "area", "coat__system"), fetched=("decisions",))


def holdpoint(row: HoldPoint) -> dict[str, Any]:
    decisions = [columns(decision) for decision in row.decisions.all()]
    return {**columns(row), "area": str(row.area), "coat": _coat(row.coat) or row.step, "decisions": decisions}


def whole_nonconformances(rows: QuerySet[Any]) -> QuerySet[Any]:
    fetched = ("dispositions", "extent_spots", "repaired_parts__part", "repaired_parts__remainders")
    return whole(rows, joined=("project", "area", "coat__system", "lot", "batch", "gauge"), fetched=fetched)


def nonconformance(row: Nonconformance) -> dict[str, Any]:
    """With what was done and decided about it, oldest first, and how each who signed was admitted."""
    entries = [columns(entry) for entry in row.dispositions.all()]
    area = str(row.area) if row.area else None
    named = {"project": str(row.project), "place": row.place, "area": area, "coat": _coat(row.coat)}
    spots = [columns(spot) for spot in row.extent_spots.all()]
    parts = [
        {**columns(part), "area": str(part.part), "remainders": [columns(rest) for rest in part.remainders.all()]}
        for part in row.repaired_parts.all()
    ]
    found = {"extent_spots": spots, "repaired_parts": parts}
    return {**columns(row), **named, "dispositions": entries, **{name: told for name, told in found.items() if told}}


def whole_batches(rows: QuerySet[Any]) -> QuerySet[Any]:
    return whole(rows, joined=("project", "file"), fetched=("steps",))


def batch(row: PaintBatch) -> dict[str, Any]:
    return {**columns(row), "project": str(row.project), "steps": [columns(step) for step in row.steps.all()]}


def whole_mixes(rows: QuerySet[Any]) -> QuerySet[Any]:
    return whole(rows, joined=("project", "coat__system"), fetched=("parts__batch",))


def mix(row: Mix) -> dict[str, Any]:
    parts = [{**columns(part), "batch": str(part.batch)} for part in row.parts.all()]
    return {**columns(row), "project": str(row.project), "coat": _coat(row.coat), "parts": parts}


def whole_lots(rows: QuerySet[Any]) -> QuerySet[Any]:
    joined = ("project", "coat__system", "stripe", "crew", "replaced_by")
    return whole(rows, joined=joined, fetched=("places__area", "mixes__mix", "parents__parent"))


def lot(row: Lot) -> dict[str, Any]:
    """With its places, the mixes it took of, and the lots it follows."""
    return {
        **columns(row), "project": str(row.project), "coat": _coat(row.coat), "crew": str(row.crew),
        "places": [{**columns(place), "area": str(place.area)} for place in row.places.all()],
        "mixes": [{**columns(each), "mix": str(each.mix)} for each in row.mixes.all()],
        "follows": [{"lot_id": str(each.parent_id), "lot": str(each.parent)} for each in row.parents.all()],
    }  # fmt: skip
