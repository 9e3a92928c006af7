"""Choosing that an instrument is checked on site before and after work, from a moment on; and taking it back."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.instruments.actions.equipment import A_SHIFT_AT_MOST, check_faults
from inspection.instruments.models import Gauge
from inspection.instruments.signals import evidence_changed
from inspection.instruments.site_checks import CHOSEN_KINDS
from inspection.projects.preconditions import in_sight, in_time


@transaction.atomic
def ask_for_checks(by: Person, *, gauge: Gauge, since: datetime | None, reason: str) -> Gauge:
    """Let what is measured with the instrument from `since` on rest on checks before and after; None: never.

    What was measured before rests on its certificate alone, as it did. Taken back, all of it does.
    """
    require(by, Role.QUALITY_MANAGER, to="choose how instruments are checked")
    in_sight(by, gauge)
    locked = Gauge.objects.select_for_update().get(pk=gauge.pk)
    reason = line(reason, field="reason", most=1_000)
    before = locked.checked_since
    locked.checked_since = since
    faults = in_time(since, "since") if since else []
    if gauge.kind not in CHOSEN_KINDS:
        told = "always is" if gauge.kind == Gauge.Kind.THICKNESS else "is not"
        words = f"{gauge}, a {gauge.get_kind_display().lower()}, {told} checked before and after work."
        faults.append(Fault(words, "since"))
    faults += [fault for fault in check_faults(locked) if fault.field != "checked_on_site"]
    if faults:
        raise Refused(faults)
    if before == since:
        raise Conflict(f"So it is already with {gauge}.")
    locked.save(update_fields=["checked_since"])
    journal.record(
        "gauge.checks_asked" if since else "gauge.checks_not_asked", locked, by=by,
        before={"checked_since": before}, after={"checked_since": since}, reason=reason,
    )  # fmt: skip
    first = min(moment for moment in (before, since) if moment)
    told = f"from {since:%Y-%m-%d %H:%M} UTC on" if since else "no longer"
    evidence_changed.send(
        sender=Gauge, by=by, gauges=[gauge.pk], since=first - A_SHIFT_AT_MOST,
        because=f"{gauge} is {told} checked before and after work.",
    )  # fmt: skip
    return locked
