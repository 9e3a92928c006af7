"""How the things of a trace are shown: a name, a line, a state, and the facts at the head of a thing's page."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from inspection.fieldwork.kind import RecordKind
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.foundation.units import in_unit
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Certificate, Gauge, ReferenceStandard, Verification
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import InspectionArea, Project
from inspection.trace.kinds import Row
from inspection.trace.sight import words_withheld
from inspection.works.models import Lot, Mix, PaintBatch
from inspection.works.paint.fitness import fitness


def _page(name: str, thing: Any) -> str:
    try:
        return reverse(name, args=[thing.pk])
    except NoReverseMatch:
        return ""


def _at(moment: datetime, project: Project) -> str:
    return f"{moment.astimezone(project.zone):%Y-%m-%d %H:%M}"


def _um(nm: int | None) -> str:
    return "–" if nm is None else f"{in_unit(nm, 'um')} µm"


def certificate(row: Certificate) -> Row:
    state, words = ("withdrawn", "Withdrawn") if row.withdrawn_at else ("", "")
    detail = f"{row.laboratory}, {row.issued:%Y-%m-%d} to {row.expires:%Y-%m-%d}"
    return Row(str(row), detail, state, words, _page("certificate", row))


def certificate_facts(row: Certificate) -> list[tuple[str, str]]:
    facts = [
        ("Laboratory", f"{row.laboratory} {row.accreditation}".strip()),
        ("Valid", f"{row.issued:%Y-%m-%d} to {row.expires:%Y-%m-%d}"),
        ("Coverage factor", f"{row.coverage_factor.normalize():f}"),
        ("Traceable to", row.traceable_to),
    ]
    if row.replacement_reason:
        facts.append(("Corrects the version before", row.replacement_reason))
    if row.withdrawn_at:
        facts.append(("Withdrawn", f"{row.withdrawn_at:%Y-%m-%d %H:%M} UTC: {row.withdrawal_reason}"))
    return facts


def _equipment(row: Any, detail: str, page: str) -> Row:
    return Row(str(row), detail, row.state, row.get_state_display(), _page(page, row))


def gauge(row: Gauge) -> Row:
    return _equipment(row, f"{row.get_kind_display()} {row.maker} {row.model} {row.serial}".strip(), "gauge")


def standard(row: ReferenceStandard) -> Row:
    return _equipment(row, f"{row.get_kind_display()}{f', nominal {row.sold_as}' if row.sold_as else ''}", "standard")


def verification(row: Verification) -> Row:
    """Without its project: a record may rest on a check that was made for another client's."""
    purpose, replaced = row.get_purpose_display().split(",")[0], getattr(row, "replaced_by", None) is not None
    return Row(
        f"{row.gauge} {_at(row.taken_at, row.project)}", f"{purpose} check by {row.by_name}",
        *(("replaced", "Replaced by a correction") if replaced else (row.verdict, row.get_verdict_display())),
        _page("verification", row),
        short=f"{row.gauge} {_at(row.taken_at, row.project)[5:]}",
    )  # fmt: skip


def verification_facts(row: Verification) -> list[tuple[str, str]]:
    newer, withheld = getattr(row, "replaced_by", None), words_withheld(row)
    why = "" if withheld or not row.replaces else f" {row.replacement_reason}"
    covered = "none" if row.verified_to_nm is None else f"{_um(row.verified_from_nm)} to {_um(row.verified_to_nm)}"
    return [
        ("Gauge", str(row.gauge)),
        ("Taken", f"{_at(row.taken_at, row.project)} by {row.by_name}"),
        ("Verdict as found then", row.get_verdict_display()),
        ("Range covered", covered),
        *([("Corrects", f"{row.replaces}:{why} By {row.corrector_name}")] if row.replaces else []),
        *([("Replaced by", str(newer) if withheld else f"{newer}: {newer.replacement_reason}")] if newer else []),
    ]


def thickness(row: ThicknessRecord) -> Row:
    standing = getattr(row, "standing", None)
    detail = f"{row.reading_count} readings, {row.get_verdict_display().lower()}, {row.project.code}"
    return Row(
        f"{row.area.label} after {row.coat.name}, {_at(row.taken_at, row.project)}", detail,
        standing.state if standing else "", standing.get_state_display() if standing else "", _page("thickness", row),
        short=f"{row.area.label} {_at(row.taken_at, row.project)[5:]}",
    )  # fmt: skip


def thickness_facts(row: ThicknessRecord) -> list[tuple[str, str]]:
    standing, unit = getattr(row, "standing", None), row.project.unit
    said = f"{standing.get_state_display()}. {' '.join(standing.reasons)}" if standing else "not yet judged"
    span = f"{_at(row.first_reading_at, row.project)} to {_at(row.last_reading_at, row.project)[11:]}"
    label = "µm" if unit == "um" else unit
    return [
        ("Project", str(row.project)),
        ("Measured", f"{span} by {row.by_name}"),
        ("Readings", f"{row.reading_count}, mean {in_unit(row.mean_nm or 0, unit)} {label}"),
        ("Verdict", f"{row.get_verdict_display()} under {row.coat.rule_name}"),
        ("Standing", said),
        ("Digest as sent", row.digest),
    ]


def record(row: Record, kind: RecordKind) -> Row:
    """A record of any kind; its state is its standing, or the verdict where it has none."""
    standing = getattr(row, "standing", None)
    title, page = f"{kind.place(row)}, {_at(row.taken_at, row.project)}", _page(kind.name, row)
    if standing is None:
        return Row(title, row.project.code, row.verdict, row.get_verdict_display(), page)
    detail = f"{row.get_verdict_display().lower()}, {row.project.code}"
    return Row(title, detail, standing.state, standing.get_state_display(), page)


def record_facts(row: Record, kind: RecordKind) -> list[tuple[str, str]]:
    standing = getattr(row, "standing", None)
    said = [("Standing", " ".join((f"{standing.get_state_display()}.", *standing.reasons)))] if standing else []
    return [
        ("Project", str(row.project)),
        ("Taken", f"{_at(row.taken_at, row.project)} by {row.by_name}"),
        *kind.facts(row),
        ("Verdict", row.get_verdict_display()),
        *said,
        ("Digest as sent", row.digest),
    ]


def area(row: InspectionArea) -> Row:
    project = row.structure.project
    return Row(
        f"{project.code} {row}",
        f"{row.lies_in}, {row.area_m2.normalize():f} m²{_part_told(row)}{', retired' if row.retired_at else ''}",
        address=_page("area", row),
        short=f"{project.code} {row.label}",
    )


def _part_told(row: InspectionArea) -> str:
    return ", a repaired part" if row.repair_of_id else ""


def holdpoint(row: HoldPoint) -> Row:
    detail = f"{row.get_kind_display()} {row.falls}, {row.project.code}"
    short = f"{row.area.label} {row.step}"
    in_doubt = row.state == HoldPoint.State.RELEASED and row.doubted_at is not None
    state, words = ("in_question", "In doubt") if in_doubt else (row.state, row.get_state_display())
    return Row(str(row), detail, state, words, _page("point", row), short=short)


def nonconformance(row: Nonconformance) -> Row:
    number = f"NC-{row.number:03d}"
    where = f"{row.area.label} after {row.coat.name}" if row.area and row.coat else row.place
    detail = f"{where}, raised {_at(row.raised_at, row.project)}"
    return Row(
        f"{row.project.code} {row}", detail, row.state, row.get_state_display(), _page("nonconformance", row),
        short=f"{row.project.code} {number}",
    )  # fmt: skip


def batch(row: PaintBatch) -> Row:
    stands = fitness(row, timezone.now())
    detail = f"{row.get_component_display()}, {row.amount} received {_at(row.received_at, row.project)}"
    return Row(f"{row.product}, batch {row.number}", detail, stands.mark, stands.words, _page("batch", row),
               short=row.number)  # fmt: skip


def mix(row: Mix) -> Row:
    state, words = ("withdrawn", "Withdrawn") if row.withdrawn_at else ("", "")
    if not state and row.gone_over:
        state, words = "open", "Stored with doubts"
    told = f"{row.coat}, " * bool(row.coat) + f"mixed {_at(row.mixed_at, row.project)}"
    return Row(f"{row.project.code} {row}", told, state, words, _page("mix", row), short=str(row))


def lot(row: Lot) -> Row:
    replaced = getattr(row, "replaced_by", None) is not None
    state, words = ("replaced", "Replaced by a correction") if replaced else (row.mark, row.state)
    if row.withdrawn_at:
        state = "withdrawn"
    detail = f"{row.of}, begun {_at(row.begun_at, row.project)} by {row.crew}"
    return Row(f"{row.project.code} {row}", detail, state, words, _page("lot", row), short=f"{row.project.code} {row}")


def lot_facts(row: Lot) -> list[tuple[str, str]]:
    ended = f" to {_at(row.ended_at, row.project)}" if row.ended_at else ", not ended"
    return [
        ("Project", str(row.project)),
        ("What was done", f"{row.of}, {row.get_method_display().lower()}"),
        ("Begun", f"{_at(row.begun_at, row.project)}{ended}, by {row.crew}"),
        ("At", "; ".join(str(place) for place in row.places.select_related("area"))),
        ("Digest as sent", row.digest),
    ]
