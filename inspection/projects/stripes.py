"""Stripe coats of a system: specified before or after a coat, changed, and taken away again."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, CoatingSystem, StripeCoat
from inspection.projects.preconditions import in_sight, row_faults, save_new, snapshot

MOST_STRIPES = 24
SCOPE = ("welds", "edges", "cut_outs", "bolts")


@transaction.atomic
def add_stripe(by: Person, *, coat: Coat, **said: Any) -> StripeCoat:
    """Specify a stripe coat beside a coat: side, name, product, method and what it covers, by the names of columns."""
    require(by, Role.QUALITY_MANAGER, to="specify a stripe coat")
    in_sight(by, coat)
    # Held, so that two at once do not pass the most together.
    system = CoatingSystem.objects.select_for_update(of=("self",)).select_related("project").get(pk=coat.system_id)
    goes_on(system.project)
    stripe = StripeCoat(coat=coat, **_stripped(said))
    faults = _faults(stripe)
    if StripeCoat.objects.filter(coat__system=system).count() >= MOST_STRIPES:
        faults.append(Fault(f"Give at most {MOST_STRIPES} stripe coats.", "name"))
    if faults:
        raise Refused(faults)
    save_new(stripe, already=_already(stripe), field="name")
    journal.record("stripe.added", stripe, by=by, project_id=system.project_id, after=snapshot(stripe))
    return stripe


@transaction.atomic
def change_stripe(by: Person, *, stripe: StripeCoat, coat: Coat, reason: str, **said: Any) -> StripeCoat:
    """Put right what was specified of a stripe coat, or beside which coat of its system it goes on."""
    locked = _locked(by, stripe, to="change a stripe coat")
    in_sight(by, coat)
    before = snapshot(locked)
    system = locked.coat.system_id
    locked.coat = coat
    for name, value in _stripped(said).items():
        setattr(locked, name, value)
    faults = [*_faults(locked), *reason_faults(reason)]
    if coat.system_id != system:
        faults.append(Fault("Choose a coat of the same system.", "coat"))
    if not faults and snapshot(locked) == before:
        faults.append(Fault("Nothing differs from what is stored."))
    if faults:
        raise Refused(faults)
    try:
        with transaction.atomic():
            locked.save()
    except IntegrityError:
        raise Conflict(Fault(_already(locked), "name")) from None
    journal.record(
        "stripe.changed", locked, by=by, project_id=coat.system.project_id, before=before, after=snapshot(locked),
        reason=reason.strip(),
    )  # fmt: skip
    return locked


@transaction.atomic
def remove_stripe(by: Person, *, stripe: StripeCoat, reason: str) -> None:
    """Take away a stripe coat that was specified by mistake; the journal keeps it."""
    locked = _locked(by, stripe, to="remove a stripe coat")
    if faults := reason_faults(reason):
        raise Refused(faults)
    journal.record(
        "stripe.removed", locked, by=by, project_id=locked.coat.system.project_id, before=snapshot(locked),
        reason=reason.strip(),
    )  # fmt: skip
    locked.delete()


def _locked(by: Person, stripe: StripeCoat, *, to: str) -> StripeCoat:
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, stripe)
    rows = StripeCoat.objects.select_for_update(of=("self",)).select_related("coat__system__project")
    locked: StripeCoat | None = rows.filter(pk=stripe.pk).first()
    if locked is None:
        raise Conflict("Somebody removed the stripe coat at the same moment.")
    goes_on(locked.coat.system.project)
    return locked


def _stripped(said: dict[str, Any]) -> dict[str, Any]:
    return {name: value.strip() if isinstance(value, str) else value for name, value in said.items()}


def _faults(stripe: StripeCoat) -> list[Fault]:
    faults = row_faults(stripe)
    if not any(getattr(stripe, name) for name in SCOPE):
        faults.append(Fault("Say what it covers: welds, edges, cut-outs or bolts.", "welds"))
    same = StripeCoat.objects.filter(coat=stripe.coat, side=stripe.side, name__iexact=stripe.name)
    if same.exclude(pk=stripe.pk).exists():
        faults.append(Fault(_already(stripe), "name"))
    return faults


def _already(stripe: StripeCoat) -> str:
    return f"There is already a stripe coat named {stripe.name} {stripe.side} {stripe.coat.name}."
