"""The things of a field pack: instruments with their papers and checks, stations, paint, lots, crews, rework."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any, cast

from accounts.models import Person, Role
from inspection.fieldapp.told_fields import Told
from inspection.fieldwork.climate.station_queries import stations_of
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.profile.correction import correction_of
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.queries import MOST_PROFILES, last_checks, seen_of_kind
from inspection.foundation.refusals import Refused
from inspection.foundation.units import um
from inspection.instruments import registers
from inspection.instruments.models import Equipment, InstrumentRules, Verification
from inspection.instruments.site_checks import lacking, site_check_of, tolerance_of
from inspection.nonconformance.models import ReworkItemQuerySet
from inspection.nonconformance.rework import rework_items
from inspection.notices.queries import notices_seen, of_tab, what_of
from inspection.projects.models import Project
from inspection.projects.queries import parties_shown
from inspection.works.lots.queries import lots_listed, shifts_for
from inspection.works.paint.queries import batches_listed, batches_now, running
from inspection.works.queries import crews_of

# A pack knows of checks and lots so far back, and of shifts so far ahead: what the next days can ask for.
LOOKS_BACK = timedelta(days=14)
LOTS_BACK, SHIFTS_NEAR = timedelta(days=3), timedelta(days=2)
MOST = 1_000


def things(person: Person, project: Project, at: datetime) -> Told:
    """In a number of reads that depends on the kinds of records there are, and on nothing that grows."""
    open_rework = cast("ReworkItemQuerySet", rework_items(person, project=project.pk)).still_open()
    return {
        **_instruments(person, project, at), **_works(person, project, at),
        "stations": [
            {"id": each.station.pk, "code": each.station.code, "name": each.station.name,
             "where": each.station.where, "holds_h": each.station.holds_h, "areas": each.areas,
             "last_read_at": each.newest[0].taken_at if each.newest else None}
            for each in stations_of(person, project, at) if each.station.ended_at is None
        ],
        "profiles": list(_profiles(person, project)),
        "rework": [
            {"id": item.pk, "area": item.area_id, "coat": item.coat_id, "what": item.what, "place": item.place,
             "state": item.state, "opened_at": item.opened_at}
            for item in open_rework.order_by("opened_at", "pk")[:MOST]
        ],
        "notices": _notices(person, project, at),
        "last": _last_told(person, project),
    }  # fmt: skip


# --- instruments ------------------------------------------------------------------------------------------------------
def _instruments(person: Person, project: Project, at: datetime) -> Told:
    day = project.day_of(at)
    gauges = list(registers.gauges_for(person, day).exclude(state=Equipment.State.RETIRED))
    standards = list(registers.standards_for(person, day).exclude(state=Equipment.State.RETIRED))
    checks = last_checks(gauges, at - LOOKS_BACK, at, ending=True)
    seen = registers.verifications_for(person).filter(pk__in=[check.pk for check in checks.values()])
    by_gauge = {check.gauge_id: check for check in registers.with_points(seen.defer("inputs", "result"))}
    unconfirmed = registers.to_confirm(person)
    return {
        # By what checks are judged; nothing to who sees no gauge.
        "combination": str(InstrumentRules.now().combination) if gauges else None,
        "gauges": [
            _gauge(gauge, person, by_gauge.get(gauge.pk)) | {"to_confirm": gauge.pk in unconfirmed} for gauge in gauges
        ],
        "standards": [
            _standard(standard, person) | {"to_confirm": standard.pk in unconfirmed} for standard in standards
        ],
        "people": _receivers(person),
    }


def _equipment(thing: Any, person: Person) -> Told:
    paper = {"number": thing.paper_number, "expires": thing.paper_expires} if thing.paper_id else None
    return {
        "id": thing.pk, "identity": thing.identity, "kind": thing.kind, "maker": thing.maker, "model": thing.model,
        "serial": thing.serial, "state": thing.state, "mine": thing.holder_id == person.pk,
        "holder": thing.holder.name if thing.holder and person.is_company else None, "certificate": paper,
    }  # fmt: skip


def _gauge(gauge: Any, person: Person, check: Verification | None) -> Told:
    asked = site_check_of(gauge)
    told = _equipment(gauge, person) | {
        "range_from_nm": gauge.range_from_nm, "range_to_nm": gauge.range_to_nm, "accuracy_nm": gauge.accuracy_nm,
        "accuracy_pct": gauge.accuracy_pct, "check_tolerance_pct": gauge.check_tolerance_pct,
        "check_tolerance": gauge.check_tolerance, "checked_since": gauge.checked_since,
        "check_it_first": {"at": gauge.reported_at, "what": gauge.reported_what} if gauge.reported_at else None,
        "site_check": None, "last_check": None,
    }  # fmt: skip
    if asked:
        pct, fixed = tolerance_of(gauge)
        told["site_check"] = {
            "on": list(asked.on), "wants": list(asked.wants), "unit": asked.unit, "readings": asked.readings,
            "each_shift": asked.each_shift, "by_reference_read": asked.by_reference_read,
            "tolerance_pct": pct, "tolerance": fixed, "lacking": lacking(gauge), "handling": list(asked.handling),
            "caution": asked.caution,
        }  # fmt: skip
    if check:
        told["last_check"] = {
            "id": check.pk, "taken_at": check.taken_at, "verdict": check.verdict, "purpose": check.purpose,
            "surface": check.surface, "adjustment": check.adjustment, "verified_from_nm": check.verified_from_nm,
            "verified_to_nm": check.verified_to_nm,
            "points": [
                {"standards": [use.certified_value.standard_id for use in point.uses.all()],
                 "readings": len(point.readings_nm or point.readings or [])}
                for point in check.points.all()
            ],
        }  # fmt: skip
    return told


def _standard(standard: Any, person: Person) -> Told:
    return _equipment(standard, person) | {
        "nominal_nm": standard.nominal_nm, "certified_nm": standard.certified_nm,
        "expanded_uncertainty_nm": standard.uncertainty_nm, "coverage_factor": standard.coverage_factor,
        "nominal": standard.nominal,
        "certified": standard.certified_value, "expanded_uncertainty": standard.uncertainty_value,
    }  # fmt: skip


def _receivers(person: Person) -> list[Told]:
    """Who may be handed an instrument; the company's own business."""
    if not (person.is_company and person.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER)):
        return []
    return [{"id": each.pk, "name": each.name} for each in registers.holders()]


# --- paint, lots, crews -----------------------------------------------------------------------------------------------
def _works(person: Person, project: Project, at: datetime) -> Told:
    batches = batches_now(list(batches_listed(person, project).filter(withdrawn_at=None)[:MOST]), at)
    shifts = shifts_for(person, project).filter(ends_at__gt=at - SHIFTS_NEAR, begins_at__lt=at + SHIFTS_NEAR)
    return {
        "parties": [
            {"id": party.pk, "organisation": party.organisation.name, "kind": party.kind}
            for party in parties_shown(person).filter(project=project, ended_at=None)
        ],
        "crews": [
            {"id": each.crew.pk, "name": each.crew.name, "party": each.crew.party_id,
             "shift": each.shift.pk if each.shift else None, "may_tap": each.may_tap,
             "people": [{"id": part.person_id, "name": part.person.name} for part in each.people]}
            for each in crews_of(person, project, at) if each.crew.ended_at is None
        ],
        "shifts": [
            {"id": shift.pk, "crew": shift.crew_id, "begins_at": shift.begins_at, "ends_at": shift.ends_at,
             "begun_at": shift.begun_at, "ended_at": shift.ended_at}
            for shift in shifts
        ],
        "batches": [
            {"id": each.batch.pk, "product": each.batch.product, "component": each.batch.component,
             "number": each.batch.number, "unit": each.batch.unit, "left": float(each.left), "fit": each.fitness.words,
             "doubts": list(each.fitness.doubts), "party": each.batch.party_id}
            for each in batches
        ],
        "mixes": [
            {"id": each.mix.pk, "number": each.mix.number, "coat": each.mix.coat_id, "mixed_at": each.mix.mixed_at,
             "usable_from": each.mix.usable_from, "usable_until": each.mix.usable_until,
             "used_from": each.mix.used_from, "products": sorted({part.batch.product for part in each.parts})}
            for each in running(person, [project.pk], at).get(project.pk, ())
        ],
        "lots": list(_lots(person, project, at)),
    }  # fmt: skip


def _lots(person: Person, project: Project, at: datetime) -> Iterable[Told]:
    """Those under way, and those that ended lately."""
    rows = lots_listed(person, project).filter(withdrawn_at=None)
    recent = rows.exclude(ended_at__lt=at - LOTS_BACK)
    for lot in recent[:MOST]:
        yield {
            "id": lot.pk, "number": lot.number, "of": lot.of, "activity": lot.activity, "coat": lot.coat_id,
            "crew": lot.crew_id, "begun_at": lot.begun_at, "ended_at": lot.ended_at,
            "areas": [place.area_id for place in lot.places.all()], "mixes": [used.mix_id for used in lot.mixes.all()],
        }  # fmt: skip


# --- what a form starts from ------------------------------------------------------------------------------------------
def _profiles(person: Person, project: Project) -> Iterable[Told]:
    """The newest surface profiles that a thickness record can take its correction from, with what each gives."""
    rows: Any = seen_of_kind(person, ProfileRecord).current().filter(project=project).newest_first()
    for record in rows[:MOST_PROFILES]:
        gives: dict[str, Told] = {}
        for way in (ThicknessRecord.ProfileWay.CORRECTION, ThicknessRecord.ProfileWay.BASE_METAL):
            try:
                given = correction_of(record, way)
            except Refused:
                continue
            gives[str(way.value)] = {"nm": given.nm, "words": given.words}
        yield {"id": record.pk, "area": record.area_id, "taken_at": record.taken_at, "mean_um": um(record.mean_nm),
               "gives": gives}  # fmt: skip


def _last_told(person: Person, project: Project) -> Told:
    """By kind of test, what the contract said in the newest record of the project and stays from test to test."""
    found: Told = {}
    for kind, taken in TAKEN_BY_FORM:
        stay = getattr(taken.form, "stay", ())
        if not stay:
            continue
        rows: Any = seen_of_kind(person, kind.model, light=False)
        last = rows.filter(project=project).newest_first().first()
        if last:
            found[kind.name] = {name: last.observed[name] for name in stay if name in last.observed}
    return found


def _notices(person: Person, project: Project, at: datetime) -> list[Told]:
    rows = list(notices_seen(person).filter(of_tab(at)["ahead"], project=project).order_by("begins_at", "pk")[:MOST])
    what = what_of(notice.pk for notice in rows)
    return [
        {"id": notice.pk, "number": f"N-{notice.number:03d}", "begins_at": notice.begins_at, "ends_at": notice.ends_at,
         "meeting_place": notice.meeting_place, "sequence": notice.sequence,
         "what": [{"title": each.title, "areas": each.areas, "codes": list(each.first)} for each in what[notice.pk]]}
        for notice in rows
    ]  # fmt: skip
