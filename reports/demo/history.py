"""A long invented history at the speed of COPY, to measure the platform against: readings by the million.

Rows are laid down directly, as a restore would lay them, because ten million readings through the actions would take a
day. What is derived is derived truly: verdicts by the standards core, standing by its own action where it is not plain.
Each set of shims serves ten gauges on two projects and, once N is large enough, carries one million readings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID

import numpy as np
from django.db import transaction
from django.utils import timezone

from accounts import journal, vault
from accounts.models import Organisation, Person, Role, StoredFile
from inspection.fieldwork.models import Latest, Reading, Record, ThicknessRecord
from inspection.foundation.copying import bulk_rows
from inspection.foundation.units import um
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.models import (
    Certificate,
    CertifiedValue,
    Gauge,
    ReferenceStandard,
    StandardUse,
    Verification,
    VerificationPoint,
)
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Membership, Project, Structure
from inspection.standards import calculate
from inspection.standing import actions as standing
from inspection.standing.models import Standing
from reports.daily.models import Basis, DailyReport, ReportIssue

READINGS_A_RECORD = 50
RECORDS_A_SHIFT = 20
GAUGES_A_SET = 10
SHIFTS_A_SET = 1_000
COATS = 4
# Of each coat alone.
NOMINAL_NM, MAXIMUM_NM = 100_000, 200_000
# One closing check in this many finds the gauge out of tolerance.
FAILS_ONE_IN = 100
# Before work a gauge is zeroed and then checked, after work it is checked as it was found: method, surface, as left.
HOW = {"opening": ("zero", "smooth", True), "closing": ("none", "smooth", False)}
SHIMS_NM = (50_000, 250_000, 500_000, 1_000_000)
UNCERTAINTY_NM = 1_000


@dataclass
class Batch:
    """Rows waiting to be copied, table by table, in the order of their foreign keys."""

    rows: dict[type[Any], list[tuple[Any, ...]]] = field(default_factory=dict)

    def add(self, model: type[Any], *values: Any) -> None:
        self.rows.setdefault(model, []).append(values)

    def flush(self) -> None:
        for model, columns in COLUMNS.items():
            if rows := self.rows.pop(model, []):
                bulk_rows(model, columns, rows)


COLUMNS: dict[type[Any], tuple[str, ...]] = {
    Verification: (
        "id", "gauge_id", "project_id", "purpose", "adjustment", "surface", "as_left", "taken_at", "received_at",
        "taken_by_id", "note", "inputs", "result", "verdict", "verified_from_nm", "verified_to_nm", "digest",
        "confirmed", "replacement_reason",
    ),
    Record: (
        "id", "kind", "project_id", "area_id", "coat_id", "purpose", "taken_by_id", "taken_at", "ended_at",
        "received_at", "source", "digest", "replacement_reason", "note", "gauge_id", "verdict", "reading_count",
    ),
    ThicknessRecord: (
        "record_ptr_id", "profile_way", "correction_nm", "unit", "calculation", "inputs", "result", "readings_wanted",
        "mean_nm", "lowest_nm", "highest_nm", "file_name",
    ),
    Latest: ("area_id", "coat_id", "kind", "record_id"),
    Reading: ("record_id", "spot", "order", "value_nm", "void_reason"),
    Standing: ("record_id", "state", "reasons", "opening_id", "closing_id", "due_at", "computed_at"),
    HoldPoint: ("id", "project_id", "area_id", "coat_id", "kind", "title", "state", "further", "lies", "measured",
        "chain_broken", "planned_at"),
    Decision: (
        "id", "point_id", "number", "outcome", "reason", "person_id", "signed_as", "at", "record_id", "evidence",
        "evidence_digest",
    ),
    DailyReport: ("id", "project_id", "day", "part", "order", "draft_id", "built_at", "facts_digest"),
    ReportIssue: (
        "id", "report_id", "revision", "file_id", "facts_digest", "issued_by_id", "issued_at", "reason",
    ),
    Basis: ("issue_id", "kind", "thing"),
}  # fmt: skip


def generate(readings: int, seed: int, *, say: Callable[[str], None] = lambda _: None) -> dict[str, int]:
    """Add at least so many readings with everything under and over them. Returns how many rows of each kind."""
    shifts = max(1, -(-readings // (READINGS_A_RECORD * RECORDS_A_SHIFT)))
    history = History(seed)
    for start in range(0, shifts, SHIFTS_A_SET):
        with transaction.atomic():
            history.add_set(min(SHIFTS_A_SET, shifts - start))
        say(f"{history.counts['readings']:,} readings")
    return history.counts


class History:
    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.seed = seed
        self.counts = dict.fromkeys(("readings", "records", "verifications", "points", "reports"), 0)
        self.sets = 0
        self.now = timezone.now()
        self.batch = Batch()

    def new_id(self, at: datetime) -> UUID:
        """A time-ordered id (RFC 9562, version 7) from the seed, so that the same seed gives the same history."""
        millis = int(at.timestamp() * 1000)
        high, low = (int(value) for value in self.rng.integers(0, 1 << 62, 2))
        return UUID(int=millis << 80 | 7 << 76 | (high & 0xFFF) << 64 | 2 << 62 | low)

    def add_set(self, shifts: int) -> None:
        crew = Crew.of(self, f"{self.seed}-{self.sets}")
        self.sets += 1
        gauges = min(GAUGES_A_SET, shifts)
        days = -(-shifts // gauges)
        doubtful: list[UUID] = []
        worked: dict[tuple[UUID, date], list[UUID]] = {}
        for number in range(shifts):
            site, gauge = crew.sites[number % gauges % 2], crew.gauges[number % gauges]
            day = (self.now - timedelta(days=days - number // gauges)).date()
            records, failed = self.add_shift(crew, site, gauge, datetime(day.year, day.month, day.day, 8, tzinfo=UTC))
            doubtful += records if failed else []
            worked.setdefault((site.project.pk, day), []).extend(records)
            if number % 200 == 199:
                self.flush(crew)
        for (project, day), records in worked.items():
            self.add_report(crew, project, day, records)
        self.flush(crew)
        standing.refresh(records=doubtful, at=self.now)
        journal.record(
            "history.generated", crew.certificate, by=crew.manager, after={"seed": self.seed, "shifts": shifts}
        )

    def flush(self, crew: Crew) -> None:
        self.batch.flush()
        checks, crew.checks = crew.checks, []
        bulk_rows(
            VerificationPoint,
            ("verification_id", "order", "certified_nm", "expanded_uncertainty_nm", "readings_nm"),
            [
                (check, order, certified, UNCERTAINTY_NM, readings)
                for check, points in checks
                for order, (certified, readings) in enumerate(zip(SHIMS_NM, points, strict=True), 1)
            ],
        )
        points = VerificationPoint.objects.filter(verification__in=[check for check, _ in checks])
        bulk_rows(
            StandardUse,
            ("point_id", "certified_value_id"),
            [(pk, crew.values[order - 1].pk) for pk, order in points.values_list("pk", "order")],
        )

    def add_shift(self, crew: Crew, site: Site, gauge: Gauge, opened: datetime) -> tuple[list[UUID], bool]:
        """One gauge's shift between two checks. Returns its records, and whether the closing check failed."""
        failed = bool(self.rng.integers(FAILS_ONE_IN) == 0)
        opening = self.add_check(crew, site, gauge, opened, "opening", 0.0)
        closing = self.add_check(crew, site, gauge, opened + timedelta(hours=7), "closing", 9.0 if failed else 0.0)
        end = site.project.shift_of(opened)[1]
        records = []
        for number in range(RECORDS_A_SHIFT):
            area, coat = site.next_place()
            at = opened + timedelta(minutes=20 + 18 * number)
            record = self.add_record(crew, site, gauge, area, coat, at)
            records.append(record)
            if not failed:
                self.batch.add(Standing, record, "sound", [], opening, closing, end, self.now)
            if coat.order == COATS:
                self.add_release(crew, site, area, coat, record, end)
        return records, failed

    def add_check(self, crew: Crew, site: Site, gauge: Gauge, at: datetime, purpose: str, off_um: float) -> UUID:
        shown_nm = [
            (np.round((certified + off_um * 1000 + self.rng.normal(0, 500, 3)) / 100) * 100).astype(int).tolist()
            for certified in SHIMS_NM
        ]
        points = [
            {
                "certified_um": um(certified),
                "expanded_uncertainty_um": um(UNCERTAINTY_NM),
                "readings_um": [um(nm) for nm in readings],
            }
            for certified, readings in zip(SHIMS_NM, shown_nm, strict=True)
        ]
        inputs = {"points": points, "accuracy_pct": 1, "accuracy_um": 1, "combination": "root-sum-square"}
        result = calculate("verify-gauge", inputs)
        check = self.new_id(at)
        self.batch.add(
            Verification, check, gauge.pk, site.project.pk, purpose, *HOW[purpose], at, at,
            crew.inspector.pk, "", inputs, result, result["verdict"],
            crew.values[0].value_nm, crew.values[-1].value_nm,
            journal.digest_of(inputs), [], "",
        )  # fmt: skip
        crew.checks.append((check, shown_nm))
        self.counts["verifications"] += 1
        return check

    def add_record(self, crew: Crew, site: Site, gauge: Gauge, area: InspectionArea, coat: Coat, at: datetime) -> UUID:
        nominal, maximum = site.limits[coat.order]
        values = (self.rng.normal(nominal * 1.15, nominal * 0.05, READINGS_A_RECORD).round(-2)).astype(np.int64)
        inputs = {
            "nominal_um": um(nominal),
            "maximum_um": um(maximum),
            "readings_um": [um(int(value)) for value in values],
        }
        result = calculate("dft-imo-pspc", inputs)
        record = self.new_id(at)
        ended = at + timedelta(minutes=15)
        self.batch.add(
            Record, record, ThicknessRecord.KIND, site.project.pk, area.pk, coat.pk, Record.Purpose.ACCEPTANCE.value,
            crew.inspector.pk, at, ended, ended, Record.Source.API.value, journal.digest_of(inputs), "", "", gauge.pk,
            result["verdict"], READINGS_A_RECORD,
        )  # fmt: skip
        self.batch.add(
            ThicknessRecord, record, "adjusted", 0, "um", "dft-imo-pspc", inputs, result, READINGS_A_RECORD,
            int(values.sum()) // READINGS_A_RECORD, int(values.min()), int(values.max()), "",
        )  # fmt: skip
        # Each place is measured once.
        self.batch.add(Latest, area.pk, coat.pk, ThicknessRecord.KIND, record)
        self.batch.rows.setdefault(Reading, []).extend(
            (record, spot, 1, value, "") for spot, value in enumerate(values.tolist(), 1)
        )
        self.counts["records"] += 1
        self.counts["readings"] += READINGS_A_RECORD
        return record

    def add_release(self, crew: Crew, site: Site, area: InspectionArea, coat: Coat, record: UUID, at: datetime) -> None:
        point = self.new_id(at)
        evidence = {"record": str(record)}
        self.batch.add(
            HoldPoint,
            point,
            site.project.pk,
            area.pk,
            coat.pk,
            "hold",
            "Finish accepted",
            "released",
            "met",
            HoldPoint.Lies.RELEASED.value,
            True,
            False,
            at,
        )
        self.batch.add(
            Decision, self.new_id(at), point, 1, "released", "", crew.client.pk, crew.client.name, at, record,
            evidence, journal.digest_of(evidence),
        )  # fmt: skip
        self.counts["points"] += 1

    def add_report(self, crew: Crew, project: UUID, day: date, records: list[UUID]) -> None:
        at = datetime(day.year, day.month, day.day, 20, tzinfo=UTC)
        report, issue = self.new_id(at), self.new_id(at)
        self.batch.add(DailyReport, report, project, day, "", 0, crew.paper.digest, at, "")
        self.batch.add(
            ReportIssue, issue, report, 1, crew.paper.digest, journal.digest_of(records), crew.manager.pk, at, "",
        )  # fmt: skip
        self.batch.rows.setdefault(Basis, []).extend((issue, ThicknessRecord.KIND, record) for record in records)
        self.counts["reports"] += 1


@dataclass
class Site:
    """A project with its areas, handed out one coat after another."""

    project: Project
    # Nominal and maximum through each coat, in nm.
    limits: dict[int, tuple[int, int]]
    places: Iterator[tuple[InspectionArea, Coat]]

    def next_place(self) -> tuple[InspectionArea, Coat]:
        return next(self.places)

    @classmethod
    def of(cls, client: Organisation, name: str) -> Site:
        project = Project.objects.create(code=f"H{name}"[:20], name=f"History {name}", client=client)
        structure = Structure.objects.create(project=project, name="Structure")
        system = CoatingSystem.objects.create(project=project, name="System", preparation_grade="Sa 2½")
        coats = [
            Coat.objects.create(
                system=system, order=order, name=f"Coat {order}", product="Paint", minimum_nm=80_000,
                nominal_nm=NOMINAL_NM, maximum_nm=MAXIMUM_NM, volume_solids_pct=60, rule=Coat.Rule.IMO_PSPC,
            )
            for order in range(1, COATS + 1)
        ]  # fmt: skip

        def places() -> Iterator[tuple[InspectionArea, Coat]]:
            number = 0
            while True:
                number += 1
                area = InspectionArea.objects.create(
                    structure=structure, system=system, code=f"A{number}", name=f"Area {number}", area_m2=240
                )
                yield from ((area, coat) for coat in coats)

        return cls(project, {at: (at * NOMINAL_NM, at * MAXIMUM_NM) for at in range(1, COATS + 1)}, places())


@dataclass
class Crew:
    """Whoever and whatever one set of shims brings together, and the checks whose points are still to be copied."""

    manager: Person
    inspector: Person
    client: Person
    sites: list[Site]
    gauges: list[Gauge]
    certificate: Certificate
    values: list[CertifiedValue]
    paper: StoredFile
    checks: list[tuple[UUID, list[list[int]]]] = field(default_factory=list)

    @classmethod
    def of(cls, history: History, name: str) -> Crew:
        owner = Organisation.objects.create(name=f"History client {name}", kind=Organisation.Kind.CLIENT)
        company = company_here()
        manager = _person(f"manager-{name}", company, Role.QUALITY_MANAGER)
        inspector = _person(f"inspector-{name}", company, Role.INSPECTOR)
        client = _person(f"client-{name}", owner, Role.CLIENT)
        sites = [Site.of(owner, f"{name}-{number}") for number in (1, 2)]
        for site in sites:
            for member, role in ((inspector, Role.INSPECTOR), (client, Role.CLIENT)):
                Membership.objects.create(
                    project=site.project, person=member, organisation=member.organisation, role=role
                )
        paper = {
            "laboratory": "History laboratory", "traceable_to": "National institute", "recorded_by": manager,
            "issued": (history.now - timedelta(days=300)).date(), "expires": (history.now + timedelta(days=400)).date(),
        }  # fmt: skip
        gauges = [
            Gauge.objects.create(
                identity=f"H{name}-G{number}", range_from_nm=0, range_to_nm=2_000_000, accuracy_pct=1, accuracy_nm=1_000
            )
            for number in range(GAUGES_A_SET)
        ]
        calibration = Certificate.objects.create(number=f"HG-{name}", **paper)
        CertifiedValue.objects.bulk_create(CertifiedValue(certificate=calibration, gauge=gauge) for gauge in gauges)
        certificate = Certificate.objects.create(number=f"HS-{name}", **paper)
        values = [
            CertifiedValue.objects.create(
                certificate=certificate, value_nm=nominal, expanded_uncertainty_nm=UNCERTAINTY_NM,
                standard=ReferenceStandard.objects.create(identity=f"H{name}-S{nominal // 1000}", nominal_nm=nominal),
            )
            for nominal in SHIMS_NM
        ]  # fmt: skip
        file = vault.store(b"%PDF-1.4 invented history", name="history.pdf", media_type="application/pdf", by=manager)
        return cls(manager, inspector, client, sites, gauges, certificate, values, file)


def company_here() -> Organisation:
    """The one that the site is for, or an invented one where there is none yet."""
    here = Organisation.objects.filter(kind=Organisation.Kind.COMPANY).first()
    return here or Organisation.objects.create(name="History company", kind=Organisation.Kind.COMPANY)


def _person(name: str, organisation: Organisation, role: Role) -> Person:
    someone = Person(
        name=f"History {name}", email=f"history-{name}@example.com", organisation=organisation,
        confirmed_at=timezone.now(), admission="invented with the history",
    )  # fmt: skip
    someone.set_unusable_password()
    someone.save()
    someone.grants.create(role=role)
    return someone
