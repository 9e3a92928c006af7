"""The kinds of the rooms below and what rests on what: certificates, standards, gauges, checks, records, points."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from django.db.models import F, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from inspection.fieldwork.abrasive.models import AbrasiveRecord
from inspection.fieldwork.air.models import AirRecord
from inspection.fieldwork.kind import RecordKind, Reliance
from inspection.fieldwork.kinds import BY_NAME, KINDS
from inspection.fieldwork.models import ClimateRecord, Record, ThicknessRecord
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.foundation.statement import over_tables
from inspection.holdpoints.actions.points import REQUIRABLE
from inspection.holdpoints.ground import required
from inspection.holdpoints.models import DecidedOn, Decision, HoldPoint
from inspection.instruments.models import CertifiedValue, StandardUse, Verification
from inspection.nonconformance.models import Nonconformance
from inspection.nonconformance.queries import PLACE
from inspection.projects.models import InspectionArea
from inspection.standing.models import Standing
from inspection.trace import bundle_content, figures, sight, things_shown
from inspection.trace.kinds import RECORDS, Kind, Link, register
from inspection.works.models import Lot, LotMix, LotPlace, Mix, MixPart, PaintBatch


def register_evidence() -> None:
    register(CERTIFICATE)
    register(STANDARD, links=[Link("standard", "certificate", lambda: _certified("standard"), near=True)])
    register(GAUGE, links=[Link("gauge", "certificate", lambda: _certified("gauge"), near=True)])
    register(
        VERIFICATION,
        links=[
            Link("verification", "gauge", lambda: pairs(Verification.objects.all(), "pk", "gauge")),
            Link("verification", "standard", lambda: _used("certified_value__standard")),
            Link("verification", "certificate", lambda: _used("certified_value__certificate")),
            Link("verification", "certificate", lambda: _covered("verifications")),
        ],
    )
    for kind in KINDS:
        register(THICKNESS if kind.model is ThicknessRecord else record_kind(kind), links=_under_records(kind))
    register(BATCH)
    register(MIX, links=[Link("mix", "batch", lambda: pairs(MixPart.objects.that_count(), "mix", "batch"))])
    register(LOT, links=[Link("lot", "mix", lambda: pairs(LotMix.objects.filter(_lots_that_count()), "lot", "mix"))])
    register(
        AREA,
        links=[
            *(_of_area(kind) for kind in KINDS),
            Link("area", "lot", lambda: pairs(LotPlace.objects.filter(_lots_that_count()), "area", "lot")),
        ],
    )
    register(
        HOLDPOINT,
        links=[
            Link("holdpoint", "lot", points_over_lots),
            Link("holdpoint", "thickness", _decided_on),
            Link("holdpoint", "thickness", _waiting_with, carried=WAITING_WITH),
            *(_rested_on(kind) for kind in KINDS),
            *(_required(kind) for kind in KINDS if kind.name in REQUIRABLE),
        ],
    )
    register(
        NONCONFORMANCE,
        links=[
            Link("nonconformance", "thickness", lambda: _found_by("record")),
            Link("nonconformance", "thickness", lambda: _found_by("closing_record")),
            Link("nonconformance", "batch", lambda: _found_by("batch")),
            Link("nonconformance", "gauge", lambda: _found_by("gauge")),
        ],
    )


def pairs(rows: QuerySet[Any], above: str, below: str) -> QuerySet[Any]:
    """The rows as a link wants them: the thing in column `above` rests on the thing in column `below`."""
    linked: QuerySet[Any] = rows.annotate(above=F(above), below=F(below))
    return linked


def _of(kind: RecordKind) -> QuerySet[Any]:
    """The records of one kind, by the row that all kinds have."""
    return Record.objects.filter(kind=kind.name)


def _under_records(kind: RecordKind) -> list[Link]:
    """What records of the kind rest on: their instrument, and the checks or the certificate their standing needs."""
    links = [Link(kind.name, "gauge", lambda: pairs(_of(kind).exclude(gauge=None), "pk", "gauge"))]
    if kind.model is ThicknessRecord:
        corrected = ThicknessRecord.objects.exclude(profile_record=None)
        links.append(Link(kind.name, ProfileRecord.KIND, lambda: pairs(corrected, "pk", "profile_record")))
    if kind.model is ProfileRecord:
        base_metal = ProfileRecord.objects.exclude(base_metal_gauge=None)
        links.append(Link(kind.name, "gauge", lambda: pairs(base_metal, "pk", "base_metal_gauge")))
    if kind.model not in BESIDE_THE_WORK:
        links.append(Link(kind.name, "lot", lambda: records_over_lots(kind)))
    # Of other kinds than thickness only where the instrument was to be checked; without such a check no row is found.
    if kind.reliance in (Reliance.CHECKED, Reliance.CERTIFIED):
        links += [
            Link(kind.name, "verification", lambda end=end: _bracketed(end), together="bracketed")  # type: ignore[misc]  # a default binds the name of this turn
            for end in ("opening", "closing")
        ]
    if kind.reliance is Reliance.CERTIFIED:
        links.append(Link(kind.name, "certificate", lambda: _covered("records", gauge__records__kind=kind.name)))
    return links


def _lots_that_count() -> Q:
    """Of what belongs to a lot: only to those that no correction has replaced and nobody withdrew."""
    return Q(lot__in=Lot.objects.that_count().order_by().values("pk"))


def lots_under(above: str, **of: Any) -> QuerySet[Any]:
    """Lots with what lies over them at the same area: of their coat, or of a later one; the bare steel lies under all.

    `above` is the way from the area to what lies over; `of` narrows it.
    """
    over, under = (Coalesce(f"{way}coat__order", Value(0)) for way in (f"area__{above}__", "lot__"))
    rows: QuerySet[Any] = LotPlace.objects.filter(
        _lots_that_count(), **{f"area__{above}__{k}": v for k, v in of.items()}
    )
    return pairs(rows.annotate(over=over, under=under).filter(under__lte=F("over")), f"area__{above}", "lot")


def records_over_lots(*kinds: RecordKind) -> QuerySet[Any]:
    """Records with the lots under what they found: begun by then, at the same area, of the same coat or below it."""
    named = [kind.name for kind in kinds or KINDS if kind.model not in BESIDE_THE_WORK]
    return lots_under("records", kind__in=named, taken_at__gte=F("lot__begun_at"))


def points_over_lots() -> QuerySet[Any]:
    """Points with the lots of their coat at their area, or of one below it."""
    return lots_under("holdpoints", pk__isnull=False)


def _of_area(kind: RecordKind) -> Link:
    carried = AREAS_OF_THICKNESS if kind.model is ThicknessRecord else ""
    return Link("area", kind.name, lambda: pairs(_of(kind), "area", "pk"), carried=carried)


def _certified(what: str) -> QuerySet[Any]:
    return pairs(CertifiedValue.objects.exclude(**{what: None}), what, "certificate")


def _used(what: str) -> QuerySet[Any]:
    return pairs(StandardUse.objects.all(), "point__verification", what)


def _covered(what: str, **of: str) -> QuerySet[Any]:
    """Gauge certificates that were valid on the day of what was done with the gauge, by the day in UTC."""
    valid = {
        f"gauge__{what}__taken_at__date__gte": F("certificate__issued"),
        f"gauge__{what}__taken_at__date__lte": F("certificate__expires"),
    }
    return pairs(CertifiedValue.objects.filter(**valid, **of), f"gauge__{what}", "certificate")


def _bracketed(end: str) -> QuerySet[Any]:
    return pairs(Standing.objects.exclude(**{end: None}), "record", end)


def _decided_on() -> QuerySet[Any]:
    return pairs(Decision.objects.exclude(record=None), "point", "record")


def _rested_on(kind: RecordKind) -> Link:
    """Points with the further records that were decided on: those required, and those their chains named then."""
    decided = DecidedOn.objects.filter(record__kind=kind.name)
    return Link("holdpoint", kind.name, lambda: pairs(decided, "decision__point", "record"))


def _required(kind: RecordKind) -> Link:
    """Points nobody has decided yet with the further records that stand for what they require."""
    waiting = required().filter(kind=kind.name, point__decisions=None)
    return Link("holdpoint", kind.name, lambda: pairs(waiting.exclude(stands=None), "point", "stands"))


def _found_by(which: str) -> QuerySet[Any]:
    """Nonconformances with the measurement that raised or closed them, or the one thing that they are against."""
    return pairs(Nonconformance.objects.exclude(**{which: None}), "pk", which)


def _nonconformance_named(words: str) -> Q:
    """By its number, alone or after its project's code, such as NC-003 or T-22 NC-3; else by words of its title."""
    numbered = NUMBERED.fullmatch(words)
    if not numbered:
        return Q(title__icontains=words) | Q(area__code__iexact=words)
    code, number = numbered.groups()
    found = Q(number=int(number))
    return found & Q(project__code__iexact=code) if code else found


def _waiting_with() -> QuerySet[Any]:
    """Points nobody has decided yet, with every measurement of their area after their coat."""
    rows = HoldPoint.objects.filter(
        decisions=None, area__records__coat=F("coat"), area__records__kind=ThicknessRecord.KIND
    )
    return pairs(rows, "pk", "area__records")


def _lot_named(words: str) -> Q:
    """By its number, such as Lot 3; else by the code of one of its areas."""
    if numbered := LOT_NUMBERED.fullmatch(words):
        return Q(number=int(numbered[1]))
    return Q(pk__in=LotPlace.objects.filter(area__code__iexact=words).order_by().values("lot"))


# What is looked at while the work goes on, or of what it is done with: it stands on no lot.
BESIDE_THE_WORK = (ClimateRecord, AirRecord, AbrasiveRecord)
LOT_NUMBERED = re.compile(r"lot\s*(\d{1,9})", re.IGNORECASE)
NUMBERED = re.compile(r"(?:(\S.*?)[\s,]+)?NC[-\s]?(\d{1,9})", re.IGNORECASE)
AREAS_OF_THICKNESS = over_tables("SELECT DISTINCT {record.area} FROM set_thickness", record=Record)
WAITING_WITH = over_tables(
    """
    SELECT point.{point.pk} FROM set_thickness thickness JOIN {point} point
        ON point.{point.area} = thickness.{record.area} AND point.{point.coat} = thickness.{record.coat}
    WHERE NOT EXISTS (SELECT 1 FROM {decision} decision WHERE decision.{decision.point} = point.{point.pk})
    """,
    record=Record, point=HoldPoint, decision=Decision,
)  # fmt: skip
CERTIFICATE = Kind(
    name="certificate", one="Certificate", many="Certificates", layer=1, seen=sight.certificates_seen,
    describe=things_shown.certificate, facts=things_shown.certificate_facts, newest="-issued",
    search=lambda words: Q(number__icontains=words) | Q(laboratory__icontains=words),
    whole=bundle_content.whole_certificates, content=bundle_content.certificate, figures=figures.certificate,
    file=bundle_content.certificate_file, stored="file",
)  # fmt: skip
STANDARD = Kind(
    name="standard", one="Reference standard", many="Shims and reference standards", layer=2,
    seen=sight.standards_seen, describe=things_shown.standard, newest="identity",
    search=lambda words: Q(identity__icontains=words) | Q(serial__icontains=words),
    content=bundle_content.columns,
)  # fmt: skip
GAUGE = Kind(
    name="gauge", one="Gauge", many="Gauges", layer=3, seen=sight.gauges_seen, describe=things_shown.gauge,
    newest="identity", search=lambda words: Q(identity__icontains=words) | Q(serial__icontains=words),
    content=bundle_content.columns,
)  # fmt: skip
VERIFICATION = Kind(
    name="verification", one="Verification", many="Verifications", layer=4,
    seen=lambda person: sight.verifications_seen(person)
    .select_related("gauge", "project", "taken_by", "replaced_by").defer("inputs", "result"),
    describe=things_shown.verification, facts=things_shown.verification_facts, newest="-taken_at",
    search=lambda words: Q(gauge__identity__icontains=words),
    whole=bundle_content.whole_verifications, content=bundle_content.verification, figures=figures.verification,
)  # fmt: skip


def record_kind(kind: RecordKind) -> Kind:
    """A kind of record as the trace shows it."""
    manager: Any = kind.model._default_manager
    named = ("project", "area", "coat", "taken_by", "standing")
    return Kind(
        name=kind.name, one=kind.one.capitalize(), many=kind.many.capitalize(),
        layer=RECORDS_LAYER if kind.reliance is Reliance.CHECKED else RECORDS_LAYER - 1,
        seen=lambda person: manager.visible_to(person).select_related(*named).defer("inputs", "result"),
        describe=lambda row: things_shown.record(row, kind), facts=lambda row: things_shown.record_facts(row, kind),
        newest="-taken_at", search=lambda words: Q(area__code__iexact=words),
        whole=bundle_content.whole_record, content=bundle_content.record, figures=lambda row: figures.record(row, kind),
    )  # fmt: skip


RECORDS_LAYER = 5
THICKNESS = replace(
    record_kind(BY_NAME[ThicknessRecord.KIND]), describe=things_shown.thickness, facts=things_shown.thickness_facts,
    carried=RECORDS, whole=bundle_content.whole_thickness, content=bundle_content.thickness,
    figures=figures.thickness, file=bundle_content.thickness_file, stored="file", readings="reading_count",
)  # fmt: skip
BATCH = Kind(
    name="batch", one="Batch of paint", many="Batches of paint", layer=1,
    seen=lambda person: PaintBatch.objects.visible_to(person).select_related("project").prefetch_related("steps"),
    describe=things_shown.batch, newest="-received_at",
    search=lambda words: Q(number__icontains=words) | Q(product__icontains=words),
    whole=bundle_content.whole_batches, content=bundle_content.batch, figures=figures.batch,
    file=lambda row: row.file, stored="file",
)  # fmt: skip
MIX = Kind(
    name="mix", one="Mix of paint", many="Mixes of paint", layer=2,
    seen=lambda person: Mix.objects.visible_to(person).select_related("project", "coat"),
    describe=things_shown.mix, newest="-mixed_at",
    search=lambda words: Q(parts__batch__number__iexact=words, parts__taken_out_at=None),
    whole=bundle_content.whole_mixes, content=bundle_content.mix, figures=figures.mix,
)  # fmt: skip
LOT = Kind(
    name="lot", one="Lot", many="Lots", layer=3,
    seen=lambda person: Lot.objects.visible_to(person).select_related(
        "project", "coat__system", "stripe", "crew", "replaced_by"
    ),
    describe=things_shown.lot, facts=things_shown.lot_facts, newest="-begun_at", search=_lot_named,
    whole=bundle_content.whole_lots, content=bundle_content.lot, figures=figures.lot,
)  # fmt: skip
AREA = Kind(
    name="area", one="Inspection area", many="Inspection areas", layer=6,
    seen=lambda person: InspectionArea.objects.visible_to(person).select_related("structure__project", "section"),
    describe=things_shown.area, newest="code", search=lambda words: Q(code__icontains=words) | Q(name__icontains=words),
    content=bundle_content.area,
)  # fmt: skip
HOLDPOINT = Kind(
    name="holdpoint", one="Hold point", many="Hold points", layer=7,
    seen=lambda person: HoldPoint.objects.visible_to(person).select_related("project", "area", "coat"),
    describe=things_shown.holdpoint,
    search=lambda words: Q(title__icontains=words) | Q(area__code__iexact=words),
    whole=bundle_content.whole_points, content=bundle_content.holdpoint, figures=figures.holdpoint,
)  # fmt: skip
NONCONFORMANCE = Kind(
    name="nonconformance", one="Nonconformance", many="Nonconformances", layer=8,
    seen=lambda person: Nonconformance.objects.visible_to(person).select_related(*PLACE),
    describe=things_shown.nonconformance, newest="-raised_at", search=_nonconformance_named,
    whole=bundle_content.whole_nonconformances, content=bundle_content.nonconformance,
    figures=figures.nonconformance,
)  # fmt: skip
