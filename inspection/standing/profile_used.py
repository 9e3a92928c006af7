"""Thickness that took its correction from a surface profile record: in question with what that rests on.

A correction of ISO 19840 rests on the instrument that measured the profile, a base metal reading on the thickness gauge
that took it: each while a certificate covers its day, as the standing of certified kinds has it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple
from uuid import UUID

from django.db.models import Q

from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.profile.correction import correction_of
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.foundation.refusals import Refused
from inspection.foundation.units import with_unit
from inspection.instruments.models import CertifiedValue
from inspection.standing import certified
from inspection.standing.judgement import IN_QUESTION
from inspection.standing.models import Standing

BY_BASE_METAL = ThicknessRecord.ProfileWay.BASE_METAL


class Taken(NamedTuple):
    """A correction that was taken from a surface profile record."""

    thickness: UUID
    way: str
    nm: int
    profile: UUID


def taken_by(record_ids: Iterable[UUID]) -> list[Taken]:
    """Those of the thickness records that took their correction from a record."""
    found = ThicknessRecord.objects.filter(pk__in=list(record_ids)).exclude(profile_record=None)
    return [Taken(*row) for row in found.values_list("pk", "profile_way", "correction_nm", "profile_record")]


def resting_on(*, records: Collection[UUID] = (), gauges: Collection[UUID] = ()) -> list[UUID]:
    """The thickness records that took their correction from one of the records, or by one of the gauges."""
    from_records = Q(pk__in=_with_what_they_correct(records))
    by_gauges = Q(gauge__in=gauges) | Q(base_metal_gauge__in=gauges)
    profiles = list(ProfileRecord.objects.filter(from_records | by_gauges).order_by().values_list("pk", flat=True))
    if not profiles:
        return []
    found = ThicknessRecord.objects.filter(profile_record__in=profiles).order_by("gauge", "taken_at")
    return list(found.values_list("pk", flat=True))


def _with_what_they_correct(records: Collection[UUID]) -> set[UUID]:
    """The records and the versions before them: a correction is news for whoever took an earlier one."""
    found, last = set(records), set(records)
    while last:
        before = ProfileRecord.objects.filter(pk__in=last).exclude(replaces=None)
        last = {pk for pk in before.values_list("replaces", flat=True) if pk} - found
        found |= last
    return found


def _newest_versions(profiles: Collection[UUID]) -> dict[UUID, ProfileRecord]:
    """By profile record that was corrected, the version that stands now."""
    found: dict[UUID, ProfileRecord] = {}
    last = {pk: pk for pk in profiles}
    while last:
        newer = ProfileRecord.objects.select_related("project").filter(replaces__in=list(last))
        step = {row.pk: (last[row.replaces_id], row) for row in newer if row.replaces_id}
        found |= dict(step.values())
        last = {pk: first for pk, (first, _) in step.items()}
    return found


def resting_on_certificates(certificates: Collection[UUID]) -> list[UUID]:
    """Those that took it by a gauge that one of the certificates names."""
    named = CertifiedValue.objects.filter(certificate__in=certificates).exclude(gauge=None)
    gauges = list(named.values_list("gauge", flat=True).distinct())
    return resting_on(gauges=gauges) if gauges else []


def doubts(taken: Sequence[Taken], lost: Collection[UUID] = ()) -> Mapping[UUID, tuple[str, ...]]:
    """By thickness record, what stands against the profile record its correction was taken from; as if those
    certificates that are `lost` could not be relied on."""
    if not taken:
        return {}
    named = ProfileRecord.objects.select_related("project", "gauge", "base_metal_gauge")
    profiles = named.in_bulk({each.profile for each in taken})
    newer = _newest_versions(profiles)
    by_profile = certified.against_gauges(((each.pk, each.gauge) for each in profiles.values()), profiles, lost)
    by_base = certified.against_gauges(((each.pk, each.base_metal_gauge) for each in profiles.values()), profiles, lost)
    by_profile = _by_their_checks(profiles) | by_profile
    found = {}
    for each in taken:
        against = (by_base if each.way == BY_BASE_METAL else by_profile).get(each.profile, "")
        told = [_in_question(profiles[each.profile], against)] if against else []
        told += _corrected_since(newer.get(each.profile), each.way, each.nm)
        if told:
            found[each.thickness] = tuple(told)
    return found


def _by_their_checks(profiles: Collection[UUID]) -> dict[UUID, str]:
    """By profile record that rests on checks of its instrument, the first that stands against it; as it is stored."""
    checked = certified.between_checks().filter(pk__in=profiles)
    standings = Standing.objects.filter(record__in=checked.values("pk"), state=IN_QUESTION)
    return {pk: str(reasons[0]) for pk, reasons in standings.values_list("record", "reasons")}


def _in_question(profile: ProfileRecord, against: str) -> str:
    return f"The correction was taken from the surface profile of {_when(profile)}, which is in question: {against}"


def _corrected_since(newer: ProfileRecord | None, way: str, nm: int) -> Iterable[str]:
    """That the profile record was corrected, where it would give another value now."""
    if newer is None:
        return
    try:
        now = correction_of(newer, way).nm
    except Refused:
        now = 0
    if now != nm:
        unit = newer.project.unit
        gives = f"gives {with_unit(now, unit)}" if now else "gives none"
        yield f"The surface profile that its correction of {with_unit(nm, unit)} came from was corrected, and {gives}."


def _when(profile: ProfileRecord) -> str:
    return f"{profile.taken_at.astimezone(profile.project.zone):%Y-%m-%d %H:%M}"
