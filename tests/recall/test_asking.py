"""A recall that touches too much for a page: a worker does all of it or nothing, and tells everybody once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry, RoleGrant
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments.actions import StandardValue
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Project
from inspection.recall import asking
from inspection.recall.models import AskedRecall, Recall
from tests import cast as casting
from tests.cast import Cast
from tests.recall.test_recall import a_day, states
from tests.reports.test_together import somebody_waits_for_us
from tests.reports.test_worker import until
from tests.trace.scene import written

LATER = datetime(2026, 3, 9, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _everything_is_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asking, "AT_ONCE", 0)


@pytest.fixture
def _days_later() -> Iterator[None]:
    with time_machine.travel(LATER, tick=False):
        yield


def ask(cast: Cast, **more: Any) -> AskedRecall:
    asked = asking.begin(
        cast.quinn, **{"certificate": cast.shim_certificate, "way": "withdrawn", "reason": "oven at fault", **more}
    )
    assert isinstance(asked, AskedRecall)
    return asked


def left_behind() -> list[int]:
    return [found.count() for found in (written(), Recall.objects, Nonconformance.objects)]


@pytest.mark.usefixtures("_days_later")
def test_the_page_says_that_a_worker_does_it_and_then_what_it_touched(cast: Cast, client: Client) -> None:
    a_day(cast)
    before = states()
    client.force_login(cast.quinn)
    recall = reverse("recall", args=[cast.shim_certificate.pk])
    answer = client.post(recall, {"reason": "oven at fault"})
    page = client.get(answer["Location"]).content.decode()
    assert "until it ends nothing has changed" in page
    assert "Look again" in page
    assert (states(), left_behind()) == (before, [0, 0, 0])
    # Whoever opens the recall meanwhile is told, and asking again is refused.
    assert "a worker is about to do it" in client.get(recall).content.decode()
    assert "Waiting for a worker" in client.get(reverse("trace")).content.decode()
    assert client.post(recall, {"reason": "once more"}).status_code == 422
    asking.carry_out(AskedRecall.objects.get().pk)
    done = client.get(answer["Location"], follow=True)
    assert "sound → in question" in done.content.decode()
    assert JournalEntry.objects.filter(verb="certificate.recall_asked").count() == 1
    call_command("standing", "--check")


@pytest.mark.usefixtures("_days_later")
def test_corrected_values_and_taking_it_back_reach_the_worker_as_they_were_asked(cast: Cast) -> None:
    a_day(cast)
    asked = ask(cast, way="corrected", corrected=[StandardValue(cast.shims[50], 58_200, 1_000)])
    done = asking.carry_out(asked.pk)
    assert done is not None
    assert done.certificate.version == 2
    assert done.certificate.values.get(standard=cast.shims[50]).value_nm == 58_200
    before = states()
    withdrawn = asking.carry_out(ask(cast, certificate=done.certificate).pk)
    assert withdrawn is not None
    assert asking.carry_out(ask(cast, certificate=withdrawn.certificate, way="reinstated").pk)
    assert states() == before


@pytest.mark.usefixtures("_days_later")
def test_what_cannot_be_done_changes_nothing_and_is_told_to_whoever_asked(cast: Cast, client: Client) -> None:
    a_day(cast)
    before = states()
    asked = ask(cast)
    RoleGrant.objects.filter(person=cast.quinn).update(ended_at=LATER)
    assert asking.carry_out(asked.pk) is None
    assert asking.carry_out(asked.pk) is None
    assert states() == before
    assert [(letter.recipient, letter.kind) for letter in written()] == [("quinn@example.com", "recall-failed")]
    RoleGrant.objects.filter(person=cast.quinn).update(ended_at=None)
    client.force_login(cast.quinn)
    assert "Nothing has changed." in client.get(reverse("recall_asked", args=[asked.pk])).content.decode()
    # It may be asked again.
    assert asking.carry_out(ask(cast).pk) is not None


@pytest.mark.usefixtures("_days_later")
def test_a_small_recall_is_done_at_once_and_refusals_are_said_at_once(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_day(cast)
    with pytest.raises(Refused, match="Say why"):
        ask(cast, reason=" ")
    with pytest.raises(NotAllowed):
        asking.begin(cast.ines, certificate=cast.shim_certificate, way="withdrawn", reason="oven at fault")
    ask(cast)
    with pytest.raises(Conflict, match="A worker is about to recall"):
        ask(cast)
    AskedRecall.objects.all().delete()
    monkeypatch.setattr(asking, "AT_ONCE", 3)
    with pytest.raises(AssertionError):
        ask(cast)
    assert Recall.objects.count() == 1


@pytest.mark.postgresql
@pytest.mark.worker
@pytest.mark.django_db(transaction=True)
def test_a_worker_killed_in_the_middle_leaves_nothing_and_the_next_one_does_it_and_writes_to_each_once(
    transactional_db: None, celery_worker_process: Any
) -> None:
    """The test holds the row from which nonconformances take their numbers, and kills the worker that waits for it."""
    cast = casting.cast()
    a_day(cast)
    before = states()
    asked = ask(cast)
    with transaction.atomic():
        Project.objects.select_for_update().get(pk=cast.site.project.pk)
        worker = celery_worker_process()
        until(somebody_waits_for_us, "the worker has changed the standings and waits for the number")
        worker.kill()
        worker.wait()
        transaction.set_rollback(True)
    asked.refresh_from_db()
    assert asked.finished_at is None
    assert (states(), left_behind()) == (before, [0, 0, 0])
    celery_worker_process(beat=True, SWEEP_SECONDS="1")
    until(lambda: AskedRecall.objects.filter(pk=asked.pk).exclude(done=None).exists(), "the next worker did it")
    told = sorted(written().values_list("recipient", flat=True))
    assert told == ["clara@example.com", "ines@example.com", "quinn@example.com"]
    assert (Recall.objects.count(), Nonconformance.objects.count()) == (1, 1)
    call_command("standing", "--check")
