"""Recall: a certificate withdrawn or corrected with all that follows from it, as one step; and taking it back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from accounts import journal, post
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict
from inspection.foundation.text import on_one_line
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.models import HoldPoint
from inspection.instruments import actions as instruments
from inspection.instruments.models import Certificate
from inspection.instruments.queries import gauges_resting_on
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Membership
from inspection.projects.preconditions import in_sight
from inspection.recall.foreseen import (
    CORRECTED,
    IN_QUESTION,
    REINSTATED,
    RELIED_ON,
    WITHDRAWN,
    Touched,
    passing,
    points_on,
    relying_on,
    reports_on,
    standings_under,
    touched_by,
    turned_thin,
)
from inspection.recall.models import Recall
from inspection.standing.actions import hold_gauges
from inspection.trace.kinds import Ids
from inspection.trace.queries import versions

StandardValue = instruments.StandardValue


@transaction.atomic
def recall(by: Person, *, certificate: Certificate, reason: str, corrected: Sequence[StandardValue] = ()) -> Recall:
    """Withdraw the certificate or, with corrected values, replace it by a corrected version; all of it or nothing.

    The standings follow in the same transaction. Each area and coat whose release lost its ground gets a
    nonconformance, everybody concerned one letter. Values corrected back are undone as a reinstatement is: what earlier
    recalls raised is closed where its point stands again. Raises Conflict when somebody came first.
    """
    require(by, Role.QUALITY_MANAGER, to="recall a certificate")
    in_sight(by, certificate)
    if Certificate.objects.filter(replaces=certificate).exists():
        raise Conflict(f"Certificate {certificate} has been corrected meanwhile; look at its newest version.")
    checks, before = _held(certificate)
    touched = touched_by(certificate, by, corrected)
    told: set[UUID] = set()
    reason = reason.strip()
    way = CORRECTED if corrected else WITHDRAWN
    because = f"Certificate {certificate} was {way}: {reason}"
    if corrected:
        done = _correct(by, certificate, reason, corrected, told)
    else:
        done = instruments.withdraw_certificate(by, certificate=certificate, reason=reason, told=told)
    after = _After(_changed(before, standings_under(certificate, checks)), touched)
    lost = list(points_on(after.lost).select_related("project", "area__structure", "coat"))
    earlier = _raised_by_recalls_of(done)
    raised = holdpoints.raise_for_lost_ground(by, points=lost, because=because, already=earlier)
    moved_checks = [*touched.failing, *touched.again] if corrected else passing(checks)
    kept = after.kept(way, moved_checks, [*lost, *points_on(list(touched.regained))], raised)
    if corrected:
        # A correction may be of a correction, and give back what that took.
        places = {(point.area_id, point.coat_id) for point in lost if point.coat_id}
        closed = holdpoints.close_regained_ground(by, raised=earlier, because=because, but=places)
        kept["closed"] = [str(row.pk) for row in closed]
    return _completed(by, done, kept, reason, touched, because=because, told=told)


@transaction.atomic
def reinstate(by: Person, *, certificate: Certificate, reason: str) -> Recall:
    """Take a withdrawal back, as a step of its own; what it put in question stands again as the facts now say.

    Nonconformances it raised are closed where their point stands again and nobody has begun to repair; others stay
    open, for somebody to look at.
    """
    require(by, Role.QUALITY_MANAGER, to="reinstate a certificate")
    in_sight(by, certificate)
    checks, before = _held(certificate)
    told: set[UUID] = set()
    done = instruments.reinstate_certificate(by, certificate=certificate, reason=reason, told=told)
    # What a withdrawal would touch now is what this one has restored.
    touched = touched_by(done, by)
    after = _After(_changed(before, standings_under(certificate, checks)), touched)
    points = list(points_on(list(after.changes)))
    because = f"Certificate {done} was reinstated: {reason.strip()}"
    closed = holdpoints.close_regained_ground(by, raised=_raised_by_recalls_of(done), because=because)
    kept = after.kept(REINSTATED, passing(checks), points, [])
    kept["closed"] = [str(row.pk) for row in closed]
    return _completed(by, done, kept, reason.strip(), touched, because=because, told=told)


def _raised_by_recalls_of(certificate: Certificate) -> list[UUID]:
    """Of the certificate in any of its versions."""
    recalls = Recall.objects.filter(certificate__in=versions([certificate.pk]))
    kept = recalls.values_list("touched__nonconformances", flat=True)
    return [UUID(pk) for ids in kept for pk in ids or ()]


def _held(certificate: Certificate) -> tuple[list[UUID], dict[UUID, str]]:
    """The checks that rely on the certificate, and the standings on them; certificate and gauges are held."""
    list(Certificate.objects.filter(pk=certificate.pk).select_for_update(no_key=True).values_list("pk"))
    hold_gauges(gauges_resting_on({certificate.pk}))
    checks = list({next(iter(row.values())) for rows in relying_on(certificate) for row in rows})
    return checks, standings_under(certificate, checks)


@dataclass(frozen=True)
class _After:
    """What has changed once the step is taken."""

    changes: dict[UUID, tuple[str, str]]
    touched: Touched

    @property
    def lost(self) -> list[UUID]:
        """Records that lost their ground: in question now, or failing with the corrected value."""
        thin = turned_thin(self.touched.flips)
        return [pk for pk, (_, state) in self.changes.items() if state == IN_QUESTION or pk in thin] + [
            pk for pk in thin if pk not in self.changes
        ]

    def kept(
        self, way: str, checks: Sequence[UUID], points: Sequence[HoldPoint], raised: Sequence[Nonconformance]
    ) -> dict[str, Any]:
        """As the recall's row keeps it."""
        touched = self.touched
        moved = list({*self.changes, *turned_thin(touched.flips), *touched.regained})
        below: dict[str, Ids] = {**dict.fromkeys(RELIED_ON, moved), "verification": list(checks)}
        reports = {pk for rows in reports_on(below) for pk in rows}
        kept: dict[str, Any] = journal.plain(
            {
                "way": way,
                "verifications": list(checks),
                "records": self.changes,
                "readings": touched.readings,
                "flips": {flip.record.pk: [flip.was, flip.would_be] for flip in touched.flips},
                "points": [point.pk for point in points],
                "reports": sorted(reports),
                "nonconformances": [row.pk for row in raised],
                "people": [person.pk for person in touched.people],
            }
        )
        return kept


def _changed(before: dict[UUID, str], after: dict[UUID, str]) -> dict[UUID, tuple[str, str]]:
    return {pk: (before[pk], state) for pk, state in after.items() if before.get(pk, state) != state}


def _correct(
    by: Person, certificate: Certificate, reason: str, corrected: Sequence[StandardValue], told: set[UUID]
) -> Certificate:
    """The next version: as it was, but for the values named."""
    named = {value.standard.pk: value for value in corrected}
    gauges, values = [], []
    for row in certificate.values.select_related("gauge", "standard"):
        if row.gauge:
            gauges.append(row.gauge)
        elif row.standard:
            values.append(named.get(row.standard.pk, StandardValue.of(row)))
    return instruments.correct_certificate(
        by, certificate=certificate, reason=reason, number=on_one_line(certificate.number),
        laboratory=on_one_line(certificate.laboratory), accreditation=on_one_line(certificate.accreditation),
        issued=certificate.issued, expires=certificate.expires, coverage_factor=certificate.coverage_factor,
        traceable_to=on_one_line(certificate.traceable_to), parent=certificate.parent,
        gauges=gauges, values=values, told=told,
    )  # fmt: skip


def _completed(
    by: Person, certificate: Certificate, kept: dict[str, Any], reason: str, touched: Touched, *, because: str,
    told: set[UUID],
) -> Recall:  # fmt: skip
    recalled = Recall.objects.create(certificate=certificate, by=by, reason=reason, touched=kept)
    after = {name: len(value) for name, value in kept.items() if isinstance(value, list | dict)}
    journal.record(
        f"certificate.recall_{kept['way']}", certificate, by=by, after={"recall": recalled.pk, **after}, reason=reason
    )
    _write(recalled, touched, because=because, told=told)
    return recalled


def _write(recalled: Recall, touched: Touched, *, because: str, told: set[UUID]) -> None:
    """One letter to each person concerned; those who were just told that a point they released is in doubt know it."""
    at = {row.project.pk: row for row in touched.by_project}
    seen: dict[UUID, set[UUID]] = defaultdict(set)
    members = Membership.objects.in_force().filter(person__in=touched.people, project__in=list(at))
    for person_id, project_id in members.values_list("person", "project"):
        seen[person_id].add(project_id)
    for person in touched.people:
        if person.pk in told:
            continue
        rows = [row for pk, row in at.items() if person.sees_every_project or pk in seen[person.pk]]
        lines = [f"- {row.project}: {row.records} measurement{'' if row.records == 1 else 's'}" for row in rows] or [
            "- no measurement changes its standing"
        ]
        trace = reverse("trace_of", args=["certificate", recalled.certificate_id])
        page = trace if person.is_company else reverse("board")
        only = rows[0].project.pk if len(rows) == 1 else None
        post.write(
            "recall", str(recalled.pk), to=person, project=only, subject=because.split(":", maxsplit=1)[0],
            body="\n".join([because, "", "What changes its standing:", *lines, "", f"{settings.SITE_URL}{page}", ""]),
        )  # fmt: skip
