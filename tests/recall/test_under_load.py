"""A recall while others go on recording, and one whose connection dies in the middle. Real parallel transactions."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from threading import Event
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from accounts.models import Letter
from inspection.instruments.models import Certificate, CertifiedValue, Gauge, ReferenceStandard
from inspection.nonconformance.models import Nonconformance
from inspection.recall import actions
from inspection.recall.models import Recall
from inspection.standing.models import Standing
from tests import cast as casting
from tests.cast import Cast
from tests.recall.test_recall import a_day, states
from tests.standing.scene import measure, verify

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    return casting.cast()


@dataclass
class Paused:
    """A recall that has done all but its letters, and waits."""

    backend: int
    recall: Future[Recall]
    go_on: Event


@contextmanager
def paused_recall(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Iterator[Paused]:
    reached, go_on, backend = Event(), Event(), []
    write = actions._write

    def wait_then_write(*args: Any, **more: Any) -> None:
        backend.append(connection.connection.info.backend_pid)
        reached.set()
        assert go_on.wait(30)
        write(*args, **more)

    def run() -> Recall:
        try:
            return actions.recall(cast.quinn, certificate=cast.shim_certificate, reason="oven at fault")
        finally:
            connection.close()

    monkeypatch.setattr(actions, "_write", wait_then_write)
    with ThreadPoolExecutor(1) as pool:
        future = pool.submit(run)
        assert reached.wait(30)
        try:
            yield Paused(backend[0], future, go_on)
        finally:
            go_on.set()
    monkeypatch.setattr(actions, "_write", write)


def recorded(cast: Cast, gauge: Gauge, shims: tuple[int, int]) -> Any:
    """A check and a record on a connection of its own, as another inspector's phone sends them."""
    try:
        with transaction.atomic():
            check = verify(cast, "12:00", gauge=gauge, shims=shims)
            record = measure(cast, "13:00", "13:30", gauge=gauge, area=cast.site.other_area, coat=1)
        return check, record
    finally:
        connection.close()


def a_second_set(cast: Cast) -> Gauge:
    """Another gauge, with shims of another certificate."""
    gauge = Gauge.objects.create(
        identity="G-02", range_from_nm=0, range_to_nm=1_500_000, accuracy_pct=1, accuracy_nm=1_000
    )
    CertifiedValue.objects.create(certificate=cast.gauge_certificate, gauge=gauge)
    paper = Certificate.objects.create(
        number="CS-2", laboratory="Example Laboratory", issued=date(2025, 9, 1), expires=date(2027, 9, 1),
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    for nominal in (60, 260):
        cast.shims[nominal] = ReferenceStandard.objects.create(identity=f"T-{nominal}", nominal_nm=nominal * 1000)
        CertifiedValue.objects.create(
            certificate=paper, standard=cast.shims[nominal], value_nm=nominal * 1000, expanded_uncertainty_nm=1_000
        )
    return gauge


def test_recording_goes_on_beside_a_recall_and_ends_in_the_standing_of_both(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_day(cast)
    other = a_second_set(cast)
    with ThreadPoolExecutor(2) as pool, paused_recall(cast, monkeypatch) as paused:
        # Who works with other shims does not notice; who checks on the very shims that are recalled waits for the end.
        pool.submit(recorded, cast, other, (60, 260)).result(timeout=10)
        waiting = pool.submit(recorded, cast, other, (50, 250))
        assert Standing.objects.filter(state="in_question").exists()
        assert not waiting.done()
        paused.go_on.set()
        paused.recall.result(timeout=30)
        _, record = waiting.result(timeout=10)
    assert "certificate CS-1 was withdrawn" in Standing.objects.get(record=record).reasons[0]
    call_command("standing", "--check")


def test_a_recall_whose_connection_dies_leaves_nothing_and_done_again_writes_each_letter_once(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_day(cast)
    Letter.objects.filter(kind="decision").delete()  # of the release within that day
    before = states()
    with paused_recall(cast, monkeypatch) as paused:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_terminate_backend(%s)", [paused.backend])
        paused.go_on.set()
        assert isinstance(paused.recall.exception(timeout=30), DatabaseError)
    cast.shim_certificate.refresh_from_db()
    assert cast.shim_certificate.withdrawn_at is None
    assert states() == before
    assert [model.objects.count() for model in (Letter, Recall, Nonconformance)] == [0, 0, 0]
    actions.recall(cast.quinn, certificate=cast.shim_certificate, reason="oven at fault")
    assert Recall.objects.count() == 1
    assert sorted(Letter.objects.values_list("recipient", flat=True)) == [
        "clara@example.com", "ines@example.com", "quinn@example.com",
    ]  # fmt: skip
