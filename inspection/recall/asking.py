"""Beginning a recall: at once where it is small; where it is large, asked of a worker: all of it or nothing."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from decimal import Decimal
from functools import partial
from uuid import UUID

from celery import current_app
from django.conf import settings
from django.db import IntegrityError, OperationalError, transaction
from django.urls import reverse
from django.utils import timezone

from accounts import journal, post
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Refused
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import Certificate, ReferenceStandard
from inspection.projects.preconditions import in_sight
from inspection.recall.actions import recall, reinstate
from inspection.recall.foreseen import resting_on
from inspection.recall.models import AskedRecall, Recall

log = logging.getLogger(__name__)
# Measurements that are judged again while somebody waits for the page; about a second of work.
AT_ONCE = 2_000
Way = AskedRecall.Way


def begin(
    by: Person, *, certificate: Certificate, way: str, reason: str, corrected: Sequence[StandardValue] = ()
) -> Recall | AskedRecall:
    """Do the recall, or ask a worker for it where more than AT_ONCE measurements rest on the certificate.

    Raises what `recall` and `reinstate` raise, and Conflict while a worker has another recall of the certificate to do.
    """
    require(by, Role.QUALITY_MANAGER, to="recall a certificate")
    in_sight(by, certificate)
    if AskedRecall.objects.filter(certificate=certificate, finished_at=None).exists():
        raise Conflict(f"A worker is about to recall certificate {certificate}; wait for what it finds.")
    if not reason.strip() or resting_on(certificate) <= AT_ONCE:
        return _carried_out(by, certificate, way, reason, corrected)
    return _ask(by, certificate, way, reason, corrected)


@transaction.atomic
def _ask(
    by: Person, certificate: Certificate, way: str, reason: str, corrected: Sequence[StandardValue]
) -> AskedRecall:
    values = [[str(v.standard.pk), v.value_nm, v.expanded_uncertainty_nm, *_of_solution(v)] for v in corrected]
    try:
        with transaction.atomic():
            asked = AskedRecall.objects.create(
                certificate=certificate, way=way, values=values, reason=reason.strip(), by=by
            )
    except IntegrityError as both:
        raise Conflict(f"Somebody else has just asked to recall certificate {certificate}.") from both
    journal.record("certificate.recall_asked", certificate, by=by, after={"way": way}, reason=asked.reason)
    transaction.on_commit(partial(ring, asked.pk))
    return asked


def _carried_out(
    by: Person, certificate: Certificate, way: str, reason: str, corrected: Sequence[StandardValue]
) -> Recall:
    if way == Way.REINSTATED:
        return reinstate(by, certificate=certificate, reason=reason)
    return recall(by, certificate=certificate, reason=reason, corrected=corrected)


def ring(asked_id: UUID) -> None:
    """Tell the workers. Where the broker is down the sweep tells them later."""
    try:
        current_app.send_task("reports.tasks.carry_out_recall", args=[str(asked_id)], retry=False)
    except Exception:
        log.warning("recall %s: the broker took no message; the sweep will send it", asked_id, exc_info=True)


def ring_for_waiting() -> None:
    """Ring for every recall still to be done: its message was lost, its worker was killed, or it is being done."""
    for asked_id in AskedRecall.objects.filter(finished_at=None).values_list("pk", flat=True):
        ring(asked_id)


def carry_out(asked_id: UUID) -> Recall | None:
    """Do what was asked, in one transaction; None where it is done already, in other hands, or could not be done.

    A worker that is killed leaves nothing, and the next one begins anew: letters are rows of the same transaction.
    What refuses it ends it, with the reason kept for whoever asked; a database out of reach leaves it waiting.
    """
    try:
        with transaction.atomic():
            waiting = AskedRecall.objects.select_for_update(skip_locked=True, of=("self",))
            asked = waiting.select_related("by", "certificate").filter(pk=asked_id, finished_at=None).first()
            if asked is None:
                return None
            done = _carried_out(asked.by, asked.certificate, asked.way, asked.reason, _values(asked))
            asked.done, asked.finished_at = done, timezone.now()
            asked.save(update_fields=["done", "finished_at"])
            return done
    except OperationalError:
        raise
    except Refused as refused:
        _failed(asked_id, "; ".join(fault.message for fault in refused.faults))
    except Exception as fault:
        log.exception("recall %s failed", asked_id)
        _failed(asked_id, f"{type(fault).__name__}: {fault}")
    return None


def _values(asked: AskedRecall) -> list[StandardValue]:
    standards = ReferenceStandard.objects.in_bulk([pk for pk, *_ in asked.values])
    return [
        StandardValue(standards[UUID(pk)], nm, uncertainty_nm, *(Decimal(figure) for figure in of_solution))
        for pk, nm, uncertainty_nm, *of_solution in asked.values
    ]


def _of_solution(value: StandardValue) -> list[str]:
    """What a worker is told of a standard solution beside the thicknesses; nothing of another standard."""
    return [] if value.value is None else [str(value.value), str(value.expanded_uncertainty)]


@transaction.atomic
def _failed(asked_id: UUID, words: str) -> None:
    now = timezone.now()
    if not AskedRecall.objects.filter(pk=asked_id, finished_at=None).update(finished_at=now, fault=words[:2000]):
        return
    asked = AskedRecall.objects.select_related("by", "certificate").get(pk=asked_id)
    page = f"{settings.SITE_URL}{reverse('recall', args=[asked.certificate_id])}"
    post.write(
        "recall-failed", str(asked_id), to=asked.by, subject=f"Certificate {asked.certificate} could not be recalled",
        body=f"Nothing has changed. {words}\n\n{page}\n",
    )  # fmt: skip
