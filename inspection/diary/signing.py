"""A person's signature under their own day: set with the password, withdrawn with a reason."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from accounts import journal
from accounts.guessing import confirm_password
from accounts.models import Person
from accounts.rights import require
from inspection.diary import work
from inspection.diary.actions import WRITERS
from inspection.diary.checks import day_faults
from inspection.diary.models import DaySignature, SignedThing
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight

SIGNED = "You have signed just this already."
CHANGED = "Your day has changed since you looked; read it again before you sign."


def sign_day(
    by: Person, *, id: UUID, project: Project, day: date, digest: str, password: str,  # noqa: A002 - the signature's own name for it, as in the API
) -> tuple[DaySignature, bool]:  # fmt: skip
    """Sign all that the person recorded and wrote on the day, as it was shown to them (`digest`). True when new.

    Raises Conflict where the day changed since it was shown or is signed so already, Refused for a wrong password.
    """
    require(by, *WRITERS, to="sign their day")
    in_sight(by, project)
    if faults := day_faults(project, day):
        raise Refused(faults)
    confirm_password(by, password, to=f"sign {day} of {project.code}", so="nothing was signed", project_id=project.pk)
    with transaction.atomic():
        # Of two signatures at once the second finds the first.
        Person.objects.select_for_update(of=("self",), no_key=True).get(pk=by.pk)
        stored = DaySignature.objects.filter(pk=id).first()
        if stored:
            if (stored.by_id, stored.project_id, stored.day, stored.digest) != (by.pk, project.pk, day, digest):
                raise Conflict(Fault("This id is used already. Nothing was signed: send it under another.", "id"))
            return stored, False
        lines = work.work_of(project, day, {by.pk})[by.pk]
        if not lines:
            raise Refused("You recorded and wrote nothing on this day; there is nothing to sign.")
        if work.digest_of(project, day, by, lines) != digest:
            raise Conflict(Fault(CHANGED, "digest"))
        of_day = DaySignature.objects.filter(project=project, day=day, by=by)
        last = of_day.that_stand().order_by("-number").first()
        if last and last.digest == digest:
            raise Conflict(SIGNED)
        number = (of_day.aggregate(last=Max("number"))["last"] or 0) + 1
        signature = DaySignature.objects.create(
            id=id, project=project, day=day, by=by, number=number, signed_as=f"{by.name}, {by.organisation}",
            content=lines, digest=digest,
        )  # fmt: skip
        SignedThing.objects.bulk_create(
            SignedThing(signature=signature, kind=kind, thing=thing) for kind, thing in sorted(work.traced(lines))
        )
        told = {"day": day, "number": number, "things": work.in_words(lines), "digest": digest}
        journal.record("day.signed", signature, by=by, project_id=project.pk, after=told)
    return signature, True


@transaction.atomic
def withdraw_signature(by: Person, *, signature: DaySignature, reason: str) -> DaySignature:
    """Take one's own signature back, with a reason; it stays readable, and the day can be signed again."""
    refuse_strangers(by, signature)
    if faults := reason_faults(reason):
        raise Refused(faults)
    held = DaySignature.objects.select_for_update(of=("self",)).select_related("project").get(pk=signature.pk)
    if held.withdrawn_at:
        raise Conflict("The signature is withdrawn already.")
    held.withdrawn_at, held.withdrawn_by, held.withdrawn_why = timezone.now(), by, reason.strip()
    held.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    journal.record("day.signature_withdrawn", held, by=by, project_id=held.project_id, reason=reason.strip())
    return held


def refuse_strangers(by: Person, signature: DaySignature) -> None:
    in_sight(by, signature)
    if signature.by_id != by.pk:
        raise NotAllowed("Only whoever signed may withdraw a signature.")
