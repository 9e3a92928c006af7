"""Recording a check of a gauge on reference standards. Sending the same check again changes nothing."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Asked, Conflict, Fault, Refused
from inspection.foundation.units import Unit, in_unit
from inspection.instruments import losing, overdue, slips
from inspection.instruments.actions.check_points import MOST_POINTS, PointSent, out_of_use, point_faults
from inspection.instruments.actions.check_results import judge, store_points
from inspection.instruments.actions.equipment import A_SHIFT_AT_MOST
from inspection.instruments.models import (
    CertifiedValue,
    Equipment,
    Gauge,
    InstrumentRules,
    ReferenceStandard,
    Verification,
)
from inspection.instruments.queries import Reliance
from inspection.instruments.signals import evidence_changed
from inspection.instruments.site_checks import SITE_CHECKS, is_checked, kinds_told, lacking, site_check_of
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight, in_time, row_faults

LONGEST_REASON = 1_000
FOUND_IS_UNADJUSTED = (
    "Readings as found come before any adjusting, so no adjustment belongs to them. Choose none, or record the check "
    "as left."
)


@transaction.atomic
def record_verification(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - the sender's word for it
    gauge: Gauge,
    project: Project,
    purpose: str,
    adjustment: str = Verification.Adjustment.NONE,
    surface: str = Verification.Surface.SMOOTH,
    as_left: bool,
    taken_at: datetime,
    points: list[PointSent],
    note: str = "",
    sent_in: bool = False,
    confirmed: bool = False,
    replaces: Verification | None = None,
    replacement_reason: str = "",
) -> tuple[Verification, bool]:
    """Judge and store a check; answers with it and whether it is new.

    Asked where its readings look like a slip, or where it would put records in question by the way it was made, until
    it is sent as `confirmed`. With `replaces`, a corrected version of that check: it keeps who made it and how
    accuracies were combined then, and nothing that has run out keeps it out.

    Refused where the gauge or a standard cannot be relied on that day: each fault names the thing, its certificate
    and the point as the row. A certificate that has run out is relied on where the company only warns. So it is with
    a run-out qualification of the person, but for a check that is `sent_in`: that one was made already. Another
    content under a used id is a Conflict.
    """
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="record a verification")
    in_sight(by, project, gauge, *(standard for point in points for standard in point.standards))
    verification = Verification(
        id=id, gauge=gauge, project=project, purpose=purpose, adjustment=adjustment, surface=surface, as_left=as_left,
        taken_at=taken_at, taken_by=by, note=note.strip(), received_at=timezone.now(),
    )  # fmt: skip
    if replaces:
        _as_correction(by, verification, replaces, replacement_reason)
    verification.digest = check_digest(verification, points)
    known = Verification.objects.filter(pk=id).first()
    if known:
        return _same(known, verification), False
    return _stored(by, verification, points, sent_in=sent_in, confirmed=confirmed)


def _stored(
    by: Person, verification: Verification, points: list[PointSent], *, sent_in: bool, confirmed: bool
) -> tuple[Verification, bool]:
    """Judge a check that was not stored before, store it with its points, and let what rests on it follow."""
    faults = in_time(_local(verification.taken_at, verification.project), "taken_at") or _faults(verification, points)
    _refuse_for([*faults, *_correction_faults(verification)])
    rules, replaces = InstrumentRules.now(), verification.replaces
    certified, warnings = _relied_on(verification, points, rules, sent_in=sent_in)
    judge(verification, points, certified, str(replaces.combination if replaces else rules.combination))
    of_thickness = SITE_CHECKS[verification.gauge.kind].of_thickness
    asked = slips.of_check(verification, points, certified) if of_thickness else []
    verification.confirmed = [fault.message for fault in asked]
    _refuse_for(row_faults(verification))
    if not _inserted(verification):
        return _already(verification), False
    store_points(verification, points, certified)
    resting = losing.resting_near(verification)
    _announce(by, verification, warnings)
    _ask(by, verification, [*asked, *losing.by_the_way_it_was_made(verification, resting, by)], confirmed=confirmed)
    return verification, True


def _as_correction(by: Person, verification: Verification, replaces: Verification, reason: str) -> None:
    """Make it a version of an earlier check: who made that stays, and who corrects it stands beside."""
    in_sight(by, replaces)
    verification.taken_by, verification.corrected_by = replaces.taken_by, by
    verification.replaces, verification.replacement_reason = replaces, reason.strip()


def _refuse_for(faults: list[Fault]) -> None:
    if faults:
        raise Refused(faults)


def _relied_on(
    verification: Verification, points: list[PointSent], rules: InstrumentRules, *, sent_in: bool
) -> tuple[dict[UUID, CertifiedValue], list[str]]:
    """The certified value of each thing, and what had run out that day; Refused where that keeps the check out."""
    corrects, day = verification.replaces is not None, verification.project.day_of(verification.taken_at)
    certified, warnings, faults = _certified(verification, points, day, warns=rules.warns or corrects)
    of_person = overdue.of_person(verification.taken_by, day, verification.project)
    if not (rules.warns or sent_in or corrects):
        faults += [Fault(words) for words in of_person]
    _refuse_for(faults)
    _refuse_for(_range_faults(verification.gauge, points, certified))
    return certified, [*warnings, *of_person]


def _inserted(verification: Verification) -> bool:
    """Whether the row could be added; it could not where another came first with its id, or with what it corrects."""
    try:
        with transaction.atomic():
            verification.save(force_insert=True)
    except IntegrityError:
        return False
    return True


def _ask(by: Person, verification: Verification, doubts: list[Fault], *, confirmed: bool) -> None:
    """Raise Asked for what is doubtful, so that nothing stays of the check; journal it where it was confirmed."""
    if doubts and not confirmed:
        raise Asked(doubts)
    if doubts:
        journal.record(
            "verification.confirmed", verification, by=by, project_id=verification.project_id,
            after={"confirmed": [fault.message for fault in doubts]},
        )  # fmt: skip


def _correction_faults(verification: Verification) -> list[Fault]:
    """What keeps a corrected version from being stored; raises Conflict where another came first."""
    old = verification.replaces
    if old is None:
        return []
    newer = Verification.objects.filter(replaces=old).select_related("corrected_by").first()
    if newer:
        raise Conflict(_corrected_before(newer))
    faults = []
    if old.project_id != verification.project_id:
        faults.append(Fault("A correction stays in the project of the check it replaces.", "project"))
    if not verification.replacement_reason:
        faults.append(Fault("Say why the check is corrected; both versions stay readable.", "replacement_reason"))
    elif len(verification.replacement_reason) > LONGEST_REASON:
        words = f"Give at most {LONGEST_REASON} characters; these are {len(verification.replacement_reason)}."
        faults.append(Fault(words, "replacement_reason"))
    return faults


def _corrected_before(newer: Verification) -> Fault:
    at = newer.received_at.astimezone(newer.project.zone)
    words = f"{newer.corrector_name} corrected this check already, at {at:%Y-%m-%d %H:%M}. Look at that version first."
    return Fault(words, "replaces")


def _already(sent: Verification) -> Verification:
    """What a parallel sender stored: the same check, or another correction of the same one."""
    known = Verification.objects.filter(pk=sent.pk).first()
    if known:
        return _same(known, sent)
    newer = Verification.objects.select_related("corrected_by", "project").get(replaces=sent.replaces)
    raise Conflict(_corrected_before(newer))


def _local(at: datetime, project: Project) -> datetime:
    """The moment as clocks show it where the work is done, for what is said of it; without a zone, as it came."""
    return at if timezone.is_naive(at) else at.astimezone(project.zone)


def check_digest(verification: Verification, points: list[PointSent]) -> str:
    """SHA-256 of what the sender sent of a check."""
    return journal.digest_of(
        {
            "gauge": verification.gauge_id,
            "project": verification.project_id,
            "purpose": verification.purpose,
            "adjustment": verification.adjustment,
            "surface": verification.surface,
            "as_left": verification.as_left,
            "taken_at": verification.taken_at.timestamp(),
            "taken_by": verification.taken_by_id,
            "note": verification.note,
            "points": [_digested_point(point) for point in points],
            **_digested(verification),
        }
    )


def _digested(verification: Verification) -> dict[str, object]:
    """What a correction adds; a check that corrects nothing is digested as ever."""
    if not verification.replaces_id:
        return {}
    return {"replaces": verification.replaces_id, "reason": verification.replacement_reason}


def _digested_point(point: PointSent) -> list[Any]:
    named = [standard.pk for standard in point.standards]
    if not point.readings:
        return [named, list(point.readings_nm)]
    reference = None if point.reference is None else float(point.reference)
    return [named, reference, [float(reading) for reading in point.readings]]


def _same(known: Verification, sent: Verification) -> Verification:
    if known.digest != sent.digest:
        raise Conflict("Another check was already stored under this id; send this one under an id of its own.")
    return known


def _faults(verification: Verification, points: list[PointSent]) -> list[Fault]:
    gauge, at = verification.gauge, _local(verification.taken_at, verification.project)
    faults = []
    if not verification.as_left and verification.adjustment != Verification.Adjustment.NONE:
        faults.append(Fault(FOUND_IS_UNADJUSTED, "adjustment"))
    check = site_check_of(gauge)
    if check is None:
        words = f"{gauge} is a {gauge.get_kind_display().lower()}, which nothing on site can check; it has no check."
        return [Fault(words, "gauge")]
    if missing := lacking(gauge):
        faults.append(Fault(f"{gauge}: {missing}.", "gauge"))
    if out_of_use(gauge, at) and not (
        gauge.state == Equipment.State.QUARANTINED and verification.purpose == Verification.Purpose.SUSPICION
    ):
        faults.append(Fault(out_of_use(gauge, at), "gauge"))
    if not 1 <= len(points) <= MOST_POINTS:
        faults.append(Fault(f"Give readings on 1 to {MOST_POINTS} points.", "points"))
    for row, point in enumerate(points, start=1):
        faults += [Fault(message, "points", row) for message in point_faults(point, check, at)]
    used = {standard.kind for point in points for standard in point.standards}
    if points and not faults and (unread := [kind for kind in check.wants if kind not in used]):
        words = f"A check of {gauge} wants a point on a {kinds_told(unread)} too: {check.source}."
        faults.append(Fault(words, "points"))
    return faults


def _certified(
    verification: Verification, points: list[PointSent], day: date, *, warns: bool
) -> tuple[dict[UUID, CertifiedValue], list[str], list[Fault]]:
    """The certified value of every standard on the day, what of it has run out, and a fault for each without one."""
    standards = {standard for point in points for standard in point.standards}
    # One that the phone sends later was made while nobody there had heard of a withdrawal: evidence is kept, and its
    # standing says what became of the certificate, as of a check that was stored before.
    reliance = Reliance.on(day, gauges=[verification.gauge], standards=standards, warns=warns, at=verification.taken_at)
    faults = []
    if why := reliance.why_not(verification.gauge):
        faults.append(Fault(f"{verification.gauge}: {why}.", "gauge"))
    for row, point in enumerate(points, start=1):
        for standard in point.standards:
            if why := reliance.why_not(standard):
                faults.append(Fault(f"{standard}: {why}.", "points", row))
    certified = {standard.pk: value for standard in standards if (value := reliance.value(standard))}
    things: list[Gauge | ReferenceStandard] = [verification.gauge, *sorted(standards, key=str)]
    against = [(thing, why) for thing in things for why in (reliance.overdue(thing), reliance.since(thing)) if why]
    return certified, [f"{thing}: {why}." for thing, why in against], faults


def _range_faults(gauge: Gauge, points: list[PointSent], certified: dict[UUID, CertifiedValue]) -> list[Fault]:
    faults: list[Fault] = []
    if not SITE_CHECKS[gauge.kind].of_thickness:
        return faults
    for row, point in enumerate(points, start=1):
        thickness = sum(certified[standard.pk].value_nm or 0 for standard in point.standards)
        if gauge.range_to_nm is not None and thickness > gauge.range_to_nm:
            words = f"{in_unit(thickness, Unit.UM)} µm lies beyond the range of {gauge}, which ends at "
            faults.append(Fault(f"{words}{in_unit(gauge.range_to_nm, Unit.UM)} µm.", "points", row))
    return faults


def _announce(by: Person, verification: Verification, warnings: list[str]) -> None:
    old = verification.replaces
    journal.record(
        "verification.corrected" if old else "verification.recorded", verification, by=by,
        project_id=verification.project_id, reason=verification.replacement_reason,
        before={"verification": old.pk, "gauge": old.gauge.identity, "verdict": old.verdict, "digest": old.digest}
        if old else None,
        after={
            "gauge": verification.gauge.identity, "purpose": verification.purpose, "taken_at": verification.taken_at,
            "verdict": verification.verdict, "digest": verification.digest,
            **_judged_by(verification), **({"run_out": warnings} if warnings else {}),
        },
    )  # fmt: skip
    versions = [verification, *([old] if old else [])]
    evidence_changed.send(
        sender=Verification,
        by=by,
        gauges=sorted({check.gauge_id for check in versions}),
        since=_since(versions),
        because=f"{verification}{' was corrected' if old else ''}: {verification.get_verdict_display().lower()}",
    )


def _judged_by(verification: Verification) -> dict[str, Any]:
    """By what the check was judged, as the journal tells it."""
    return {
        name: verification.inputs[name]
        for name in ("combination", "tolerance_pct", "tolerance")
        if name in verification.inputs
    }


def _since(versions: list[Verification]) -> datetime | None:
    """From when on the standing of records may differ: a shift back, or since the check before where none is asked."""
    first = min(check.taken_at for check in versions)
    if all(is_checked(check.gauge, check.taken_at) for check in versions):
        return first - A_SHIFT_AT_MOST
    gauges = {check.gauge_id for check in versions}
    before = Verification.objects.current().filter(gauge__in=gauges, taken_at__lt=first).order_by("-taken_at").first()
    return before.taken_at - A_SHIFT_AT_MOST if before else None
