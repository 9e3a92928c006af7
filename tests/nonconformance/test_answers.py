"""A painting contractor answers what was found on its areas: an entry beside the others, which closes nothing."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Letter, Person
from inspection.foundation.refusals import Conflict, NotAllowed
from inspection.nonconformance import actions
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.projects import parties
from inspection.projects.models import InspectionArea
from tests.cast import MORNING, PASSWORD, Cast
from tests.holdpoints.scene import looked_at
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_party_ways import painters

pytestmark = pytest.mark.django_db


def runs(cast: Cast, area: InspectionArea | None = None) -> Nonconformance:
    return actions.raise_nonconformance(
        cast.ines, area=area or cast.site.area, coat=cast.site.coats[0], title="Runs at the edge", description="300 mm"
    )


def test_an_answer_is_asked_for_given_once_told_and_taken_back_and_leaves_it_open(cast: Cast) -> None:
    _, pia = painters(cast)
    raised, client = runs(cast), as_person(pia)
    home = client.get("/")
    assert home.url == reverse("asked_of_us")
    assert "Waits for your answer" in text_of(client.get(home.url))
    address = reverse("nonconformance_answer", args=[raised.pk])
    assert "This field is required" in text_of(client.post(address, {"text": " "}))
    for _ in range(2):
        assert client.post(address, {"text": "Sanded and recoated by Friday"}).status_code == 302
    entry = raised.dispositions.get()
    assert (entry.kind, entry.signed_as) == ("answer", "Pia Painter, Painters of Pia")
    raised.refresh_from_db()
    assert (raised.state, raised.repair) == ("open", "")
    letter = Letter.objects.get(kind="answer")
    assert (letter.person, "Sanded and recoated by Friday" in letter.body) == (cast.quinn, True)
    assert "Waits for your answer" not in text_of(client.get(home.url))
    assert "Sanded and recoated by Friday" in text_of(
        as_person(cast.clara).get(reverse("nonconformance", args=[raised.pk]))
    )
    client.post(reverse("disposition_take_back", args=[entry.pk]), {"reason": "not before Monday"})
    assert "Waits for your answer" in text_of(client.get(home.url))
    raised.refresh_from_db()
    assert raised.state == "open"


def test_an_answer_beside_rework_lets_it_be_closed_by_hand_as_before(cast: Cast) -> None:
    _, pia = painters(cast)
    raised = runs(cast)
    actions.answer(pia, nonconformance=raised, text="On Friday")
    actions.record_rework(cast.ines, nonconformance=raised, what="Sanded", done_by="Crew 2", done_at=MORNING)
    raised.refresh_from_db()
    assert (raised.state, raised.repair) == ("open", "Sanded")
    looked_at(cast, raised)
    actions.close_nonconformance(cast.quinn, nonconformance=raised)
    raised.refresh_from_db()
    assert raised.state == "closed"
    with pytest.raises(Conflict, match="closed it already"):
        actions.answer(pia, nonconformance=raised, text="Too late")


def test_a_contractor_may_answer_and_nothing_else(cast: Cast) -> None:
    _, pia = painters(cast)
    raised = runs(cast)
    words = text_of(as_person(pia).get(reverse("nonconformance", args=[raised.pk])))
    assert "Answer it" in words
    for deed in ("Record a rework", "Sign the concession", "Close it now"):
        assert deed not in words
    for act in (
        lambda: actions.record_rework(pia, nonconformance=raised, what="x", done_by="y", done_at=MORNING),
        lambda: actions.concede(pia, nonconformance=raised, reason="x", password=PASSWORD),
        lambda: actions.close_nonconformance(pia, nonconformance=raised),
        lambda: actions.answer(cast.ines, nonconformance=raised, text="x"),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_outside_its_scope_a_contractor_finds_nothing_and_answers_of_another_are_not_told(cast: Cast) -> None:
    party, pia = painters(cast)
    _, otto = painters(cast, "Otto")
    mine, other = runs(cast), runs(cast, cast.site.other_area)
    parties.give_scope(cast.quinn, party=party, place=cast.site.area)
    actions.answer(otto, nonconformance=mine, text="Not ours")
    client = as_person(pia)
    assert client.get(reverse("nonconformance", args=[other.pk])).status_code == 404
    assert client.post(f"/api/nonconformances/{other.pk}/answer/", {"text": "x"}, "application/json").status_code == 404
    listed = client.get(reverse("api_nonconformance_list")).json()["results"]
    assert [(row["id"], row["dispositions"]) for row in listed] == [(str(mine.pk), [])]
    assert "Not ours" not in text_of(client.get(reverse("nonconformance", args=[mine.pk])))
    entry = Disposition.objects.get()
    assert client.get(reverse("disposition_take_back", args=[entry.pk])).status_code == 404
    answer = client.post(f"/api/nonconformances/{mine.pk}/answer/", {"text": "By Friday"}, "application/json")
    assert (answer.status_code, answer.json()["kind"], answer.json()["admitted"]) == (201, "answer", None)


def test_the_pages_of_a_contractor_cost_the_same_for_two_areas_and_twenty(cast: Cast) -> None:
    party, pia = painters(cast)
    parties.give_scope(cast.quinn, party=party, place=cast.site.area)

    def cost(address: str) -> int:
        client = as_person(Person.objects.get(pk=pia.pk))
        with CaptureQueriesContext(connection) as caught:
            assert client.get(address).status_code == 200
        return len(caught)

    runs(cast)
    addresses = [reverse("asked_of_us"), reverse("areas_of_ours", args=[cast.site.project.pk])]
    before = [cost(address) for address in addresses]
    for number in range(20):
        area = InspectionArea.objects.create(
            structure=cast.site.structure, system=cast.site.system, code=f"B{number}", name="Strake", area_m2=5
        )
        parties.give_scope(cast.quinn, party=party, place=area)
        runs(cast, area)
    assert [cost(address) for address in addresses] == before
