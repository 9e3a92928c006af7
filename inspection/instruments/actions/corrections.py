"""What was registered wrongly of a gauge or a standard, put right with its reason; checks stay as they were found."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.instruments.actions.equipment import (
    check_faults,
    identity_faults,
    nominal_faults,
    nominal_of,
    range_faults,
)
from inspection.instruments.models import Gauge, ReferenceStandard
from inspection.instruments.signals import evidence_changed
from inspection.projects.preconditions import in_sight, row_faults, snapshot

# What the platform computes with; the rest only describes the thing.
COMPUTED_WITH = {"range_from_nm", "range_to_nm", "accuracy_pct", "accuracy_nm", "nominal_nm", "nominal"}


@transaction.atomic
def correct_equipment(
    by: Person, *, thing: Gauge | ReferenceStandard, reason: str, **data: Any
) -> Gauge | ReferenceStandard:
    """Store other data of the thing: identity, maker, model, serial; range and accuracy, or nominal thickness (nm, %).

    A verification keeps the verdict it was found with; the standing of what rests on the gauge is computed again.
    """
    require(by, Role.QUALITY_MANAGER, to="correct what is registered of equipment")
    in_sight(by, thing)
    locked: Any = type(thing)._default_manager.select_for_update(of=("self",)).get(pk=thing.pk)
    before = snapshot(locked)
    for name, value in data.items():
        setattr(locked, name, value.strip() if isinstance(value, str) else value)
    if isinstance(locked, ReferenceStandard):
        locked.nominal_nm = nominal_of(locked.kind, locked.nominal_nm)
    reason = line(reason, field="reason", most=1_000)
    after = snapshot(locked)
    changed = {column for column in after if after[column] != before[column]}
    faults = identity_faults(locked.identity, but=locked)
    faults += (
        range_faults(locked) + check_faults(locked)
        if isinstance(locked, Gauge)
        else nominal_faults(locked.kind, locked.nominal_nm, locked.nominal)
    )
    faults += row_faults(locked)
    if not faults and not changed:
        faults.append(Fault("Nothing differs from what is stored."))
    if faults:
        raise Refused(faults)
    try:
        with transaction.atomic():
            locked.save(update_fields=list(changed))
    except IntegrityError:
        raise Conflict(Fault(f"{locked.identity} is already registered; give it its own number.", "identity")) from None
    journal.record(
        "equipment.corrected", locked, by=by, before={each: before[each] for each in changed},
        after={each: after[each] for each in changed}, reason=reason,
    )  # fmt: skip
    if changed & COMPUTED_WITH:
        _judge_again(by, locked, f"What is registered of {locked} was corrected.")
    return locked  # type: ignore[no-any-return]  # the thing that came in, locked


def _judge_again(by: Person, thing: Gauge | ReferenceStandard, because: str) -> None:
    gauges = [thing.pk]
    if isinstance(thing, ReferenceStandard):
        used = Gauge.objects.filter(verifications__points__uses__certified_value__standard=thing)
        gauges = list(used.order_by().values_list("pk", flat=True).distinct())
    if gauges:
        evidence_changed.send(sender=type(thing), by=by, gauges=gauges, because=because)
