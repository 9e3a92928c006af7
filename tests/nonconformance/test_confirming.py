"""What a measurement settles says by whom; where that is who entered the rework, another person confirms the closing.

Closed by another person than who put it right: common practice of quality plans, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from inspection.foundation.refusals import Conflict, Refused
from inspection.nonconformance import actions
from inspection.nonconformance.models import Nonconformance
from inspection.nonconformance.queries import awaiting_another
from reports.attention.needs import unconfirmed
from reports.handover.lacking import Scope, _nonconformances, _nonconformances_told
from tests.cast import Cast
from tests.holdpoints.scene import a_point, reworked
from tests.nonconformance.test_sayings import say
from tests.projects.test_pages import as_person, text_of
from tests.standing.scene import clock, measure, verify

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC)):
        yield


def settled(cast: Cast) -> Nonconformance:
    """Failed at nine, reworked at eleven, passed at two, all by the inspector."""
    verify(cast, "06:40")
    verify(cast, "17:30")
    measure(cast, "09:00", "09:40", verdict="fail")
    raised = Nonconformance.objects.get()
    reworked(cast, raised, "11:00")
    measure(cast, "14:00", "14:40")
    return Nonconformance.objects.get()


def test_who_reworked_and_measured_does_not_have_the_last_word_and_the_confirming_has_its_way_back(cast: Cast) -> None:
    raised = settled(cast)
    address = reverse("nonconformance", args=[raised.pk])
    assert raised.state == "closed"
    page = text_of(as_person(cast.quinn).get(address))
    assert ("Settled by measurement" in page, "waits for another person" in page) == (True, True)
    assert "Confirm the closing" not in text_of(as_person(cast.ines).get(address))
    with pytest.raises(Refused, match="Another person confirms"):
        say(cast.ines, raised, "confirmed")
    scope = Scope(cast.quinn, cast.site.project, None, clock("18:00"))
    lacks = [lack.what for lack in _nonconformances_told(scope, list(_nonconformances(scope)))]
    assert lacks == [f"{raised}, closing to be confirmed"]
    assert [need.what for need in unconfirmed(cast.quinn, clock("18:00")).rows] == [str(raised)]
    assert as_person(cast.quinn).get(f"/api/nonconformances/{raised.pk}/").json()["awaits_another"] is True
    sent = {"kind": "confirmed", "text": "Looked at the film and the readings"}
    assert as_person(cast.quinn).post(reverse("nonconformance_say", args=[raised.pk]), sent).status_code == 302
    assert "waits for another person" not in text_of(as_person(cast.quinn).get(address))
    assert not awaiting_another(Nonconformance.objects.all()).exists()
    with pytest.raises(Conflict, match="does not wait"):
        say(cast.quinn, raised, "confirmed")
    entry = raised.dispositions.get(kind="confirmed")
    actions.take_back(cast.quinn, disposition=entry, reason="another frame")
    assert list(awaiting_another(Nonconformance.objects.all())) == [raised]


def test_another_who_entered_the_rework_leaves_nothing_to_confirm_and_one_by_hand_has_none(cast: Cast) -> None:
    raised = settled(cast)
    entry = raised.dispositions.get(kind="rework")
    actions.take_back(cast.ines, disposition=entry, reason="the crew told the manager")
    actions.record_rework(
        cast.quinn, nonconformance=raised, what="Second coat", done_by="Crew 2", done_at=clock("11:00")
    )
    raised.refresh_from_db()
    assert raised.state == "closed"
    assert not awaiting_another(Nonconformance.objects.all()).exists()
    with pytest.raises(Conflict, match="does not wait"):
        say(cast.ines, raised, "confirmed")


def test_record_point_and_nonconformance_name_each_other_on_pages_and_in_the_api(cast: Cast) -> None:
    point, raised = a_point(cast), settled(cast)
    quinn, carl = as_person(cast.quinn), as_person(cast.carl)
    failed, passed = raised.record, raised.closing_record
    assert failed is not None
    assert passed is not None
    for page, words in (
        (reverse("thickness", args=[failed.pk]), "raised by it"),
        (reverse("thickness", args=[passed.pk]), "closed by it"),
        (reverse("point", args=[point.pk]), "Closed and drafted nonconformances"),
    ):
        shown = text_of(quinn.get(page))
        assert (str(raised) in shown, words in shown) == (True, True), page
    assert "Primer accepted" in text_of(quinn.get(reverse("nonconformance", args=[raised.pk])))

    def listed(client: Client, address: str) -> list[str]:
        return [row["id"] for row in client.get(address).json()["results"]]

    for record in (failed, passed):
        assert listed(quinn, f"/api/nonconformances/?record={record.pk}") == [str(raised.pk)]
    assert listed(quinn, f"/api/nonconformances/?area={cast.site.other_area.pk}") == []
    assert listed(quinn, f"/api/hold-points/?nonconformance={raised.pk}") == [str(point.pk)]
    assert listed(carl, f"/api/nonconformances/?record={failed.pk}") == []
    assert carl.get(f"/api/hold-points/?nonconformance={raised.pk}").status_code == 404
    assert quinn.get("/api/nonconformances/?record=none").status_code == 404
