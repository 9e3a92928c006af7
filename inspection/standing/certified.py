"""The standing of records without checks before and after: by the certificate of their instrument, or by who looked.

Which of them rest on checks all the same follows from their instrument, as it is declared in `site_checks`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from typing import cast
from uuid import UUID

from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import names
from inspection.fieldwork.models import Record, RecordQuerySet
from inspection.instruments.models import CertifiedValue, Gauge, Verification
from inspection.instruments.site_checks import measured_between_checks
from inspection.standing.judgement import IN_QUESTION, SOUND, Judgement
from inspection.standing.papers import Papers

SEEN = frozenset(names(Reliance.SEEN))


def between_checks() -> RecordQuerySet:
    """The records of such kinds that rest on checks all the same: their instrument was to be checked on site."""
    return _of_kinds().filter(measured_between_checks())


def of_certified_kinds() -> RecordQuerySet:
    return _of_kinds().exclude(pk__in=between_checks().values("pk"))


def _of_kinds() -> RecordQuerySet:
    return cast("RecordQuerySet", Record.objects.filter(kind__in=names(Reliance.CERTIFIED, Reliance.SEEN)))


def resting_on(certificates: Collection[UUID]) -> list[UUID]:
    """The records of such kinds that were taken with an instrument that one of the certificates names."""
    gauges = CertifiedValue.objects.filter(certificate__in=certificates).exclude(gauge=None).values("gauge")
    return list(of_certified_kinds().filter(gauge__in=gauges).order_by("pk").values_list("pk", flat=True))


def judged(record_ids: Sequence[UUID], lost: Collection[UUID] = ()) -> dict[UUID, Judgement]:
    """Those of the records that are of such a kind: sound while a certificate of the instrument covers their day.

    What somebody saw, with no instrument, is sound: it rests on who looked.

    Seen with what is known now: one withdrawn or corrected since counts as it is today; and as if those `lost` could
    not be relied on. Nothing is awaited, so the standing falls due with the record.
    """
    rows = of_certified_kinds().filter(pk__in=record_ids)
    records = list(rows.select_related("project", "gauge").order_by("taken_at", "pk"))
    if not records:
        return {}
    against = against_gauges(
        ((record.pk, record.gauge) for record in records if record.gauge or record.kind not in SEEN),
        {record.pk: record for record in records}, lost,
    )  # fmt: skip
    failed = _failed_nearby(records)
    found = {}
    for record in records:
        why = tuple(words for words in (against.get(record.pk, ""), failed.get(record.pk, "")) if words)
        found[record.pk] = Judgement(IN_QUESTION if why else SOUND, why, None, None, record.ended_at)
    return found


def _failed_nearby(records: Sequence[Record]) -> dict[UUID, str]:
    """By record, that the last comparison of its instrument before it failed, or the first one after it.

    Nothing asks for either; but where one was made and failed, what was measured since the last passing one is suspect.
    """
    checks: dict[UUID, list[Verification]] = defaultdict(list)
    gauges = {record.gauge_id for record in records if record.gauge_id}
    rows = Verification.objects.current().filter(gauge__in=gauges).select_related("project")
    for check in rows.only("gauge", "taken_at", "verdict", "project").order_by("taken_at", "pk"):
        checks[check.gauge_id].append(check)
    found = {}
    for record in records:
        of_gauge = checks[record.gauge_id] if record.gauge_id else []
        before = [check for check in of_gauge if check.taken_at <= record.taken_at][-1:]
        after = [check for check in of_gauge if check.taken_at >= record.ended_at][:1]
        for check, when in (*((check, "before") for check in before), *((check, "after") for check in after)):
            if check.verdict == Verification.Verdict.FAIL:
                at = check.taken_at.astimezone(record.project.zone)
                words = (
                    f"The check of {record.gauge} {when} it, on {at:%Y-%m-%d} at {at:%H:%M}, failed: what was measured"
                )
                found[record.pk] = f"{words} since the last passing one is suspect (common practice, no source)."
    return found


def against_gauges(
    taken_with: Iterable[tuple[UUID, Gauge | None]], records: Mapping[UUID, Record], lost: Collection[UUID] = ()
) -> dict[UUID, str]:
    """By record, why the instrument it was taken with could not be relied on that day; nothing of one that could."""
    taken_with = list(taken_with)
    named: dict[UUID, set[UUID]] = defaultdict(set)
    values = CertifiedValue.objects.filter(gauge__in={gauge.pk for _, gauge in taken_with if gauge})
    for named_gauge, paper in values.values_list("gauge", "certificate"):
        if named_gauge and paper not in lost:
            named[named_gauge].add(paper)
    papers = Papers({paper for found in named.values() for paper in found})
    found = {}
    for pk, gauge in taken_with:
        on = records[pk].project.day_of(records[pk].taken_at)
        if why := _against(gauge, named[gauge.pk] if gauge else set(), papers, on):
            found[pk] = why
    return found


def _against(gauge: Gauge | None, certificates: set[UUID], papers: Papers, on: date) -> str:
    """Why the instrument could not be relied on that day, as a sentence; empty when it could."""
    if gauge is None:
        return "It is not said with which instrument on record it was measured."
    newest_last = sorted({papers.current(pk) for pk in certificates}, key=lambda paper: (paper.issued, paper.pk))
    doubts = [papers.doubt(paper.pk, on) for paper in newest_last]
    if not doubts:
        return f"{gauge} has no certificate."
    return f"{gauge}: {doubts[-1]}." if all(doubts) else ""
