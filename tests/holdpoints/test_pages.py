"""The board and the point as people meet them: sight, order, counts, forms that lose nothing, constant queries."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Letter
from inspection.holdpoints import actions
from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.ground import with_ground, wrongly_marked
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import InspectionArea
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point, board, climate_at, looked_at, reworked, signed, sound_record
from tests.standing.scene import fall, measure


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def read(client: Client, name: str, *args: Any, **query: Any) -> str:
    answer = client.get(reverse(name, args=args), query)
    assert answer.status_code == 200
    return answer.content.decode()


def test_what_waits_for_somebody_stands_first(cast: Cast) -> None:
    released, unmeasured, refused = (a_point(cast, coat=number) for number in range(3))
    ready = a_point(cast, area=cast.site.other_area)
    sound_record(cast)
    measure(cast, "10:00", "10:30", area=cast.site.other_area)
    actions.release(cast.clara, **signed(released))
    actions.refuse(cast.clara, **signed(refused, reason="Sags"))
    counts, rows = board(cast.clara)
    assert [(row.pk, HoldPoint.Lies(row.lies).name.lower()) for row in rows] == [
        (ready.pk, "ready"),
        (unmeasured.pk, "unready"),
        (refused.pk, "refused"),
        (released.pk, "released"),
    ]
    assert counts == {"ready": 1, "unready": 1, "refused": 1, "released": 1}
    fall(cast, "09:20")
    assert board(cast.clara)[0] == {"doubt": 1, "unready": 2, "refused": 1}


def test_each_person_sees_the_points_of_their_projects_only(cast: Cast, client: Client) -> None:
    own, foreign = a_point(cast), a_point(cast, site=cast.foreign)
    for who, seen in ((cast.clara, {own}), (cast.carl, {foreign}), (cast.quinn, {own, foreign}), (cast.audrey, {own})):
        assert {row.pk for row in board(who)[1]} == {point.pk for point in seen}
        client.force_login(who)
        page = read(client, "board")
        for point in (own, foreign):
            assert (str(point.pk) in page) == (point in seen)
    client.force_login(cast.carl)
    assert client.get(reverse("point", args=[own.pk])).status_code == 404
    assert client.post(reverse("point_release", args=[own.pk])).status_code == 404


def test_the_client_releases_from_the_page(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    page = read(client, "point", point.pk)
    digest = evidence_of(point).digest
    assert f'name="evidence" value="{digest}"' in page
    assert "Sign and release" in page
    assert "CS-1 for S-50, S-250" in page
    answer = client.post(reverse("point_release", args=[point.pk]), {"evidence": digest, "password": PASSWORD})
    assert (answer.status_code, answer["Location"]) == (302, reverse("board"))
    assert "Clara Client, Owner One" in read(client, "point", point.pk)
    assert "Sign and release" not in read(client, "point", point.pk)


def test_a_wrong_password_keeps_the_reason_that_was_typed(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    sent = {"evidence": evidence_of(point).digest, "password": "guess", "reason": "Runs on the lower edge"}
    answer = client.post(reverse("point_refuse", args=[point.pk]), sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Runs on the lower edge</textarea>" in page
    assert "That is not your password; nothing was decided." in page
    assert "guess" not in page
    assert not Decision.objects.exists()


def test_evidence_that_changed_is_shown_afresh_and_the_next_signature_counts(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    old = evidence_of(point).digest
    measure(cast, "10:00", "10:30")
    answer = client.post(reverse("point_release", args=[point.pk]), {"evidence": old, "password": PASSWORD})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "The evidence has changed since you looked" in page
    new = evidence_of(point).digest
    assert f'name="evidence" value="{new}"' in page
    answer = client.post(reverse("point_release", args=[point.pk]), {"evidence": new, "password": PASSWORD})
    assert answer.status_code == 302


def test_a_failed_climate_stands_above_the_release_and_asks_why_it_is_accepted(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    assert "Climate while the coat went on: not recorded." in read(client, "point", point.pk)
    climate_at(cast, "08:00", wet="19.7", steel="19.1")
    page = read(client, "point", point.pk)
    assert page.index("Climate failed at this area and coat.") < page.index("Sign and release")
    assert "humidity 97 %, steel −0.5 °C from the dew point" in page
    assert "(optional)" not in page[page.index("Why the coat is accepted") : page.index("Sign and release")]
    digest, address = evidence_of(point).digest, reverse("point_release", args=[point.pk])
    sent = {"evidence": digest, "password": PASSWORD}
    answer = client.post(address, sent)
    assert answer.status_code == 422
    assert "A climate record failed; say why the coat is accepted." in answer.content.decode()
    # A program is asked the same.
    programs = {"password": PASSWORD, "evidence_digest": digest}
    answer = client.post(reverse("api_point_release", args=[point.pk]), programs, content_type="application/json")
    assert (answer.status_code, answer.json()["errors"][0]["field"]) == (422, "acceptance")
    shown = client.get(reverse("api_point", args=[point.pk])).json()["evidence"]
    assert (shown["climate_verdict"], len(shown["to_accept"])) == ("fail", 1)
    assert client.post(address, {**sent, "acceptance": "Applied at 11:00"}).status_code == 302
    assert "Applied at 11:00" in read(client, "point", point.pk)
    with time_machine.travel(datetime(2026, 3, 9, 13, 0, tzinfo=UTC), tick=False):
        late = climate_at(cast, "08:30", wet="19.7", steel="19.1")
    assert "A climate record that failed arrived since the release." in read(client, "point", point.pk)
    # It is in doubt as after any other loss of evidence: told to who released, on the board and among the decisions.
    letter = Letter.objects.get(kind="released-in-doubt")
    assert (letter.person, "The climate record of A1" in letter.body) == (cast.clara, True)
    assert "In doubt" in read(client, "board")
    assert [point.get_lies_display() for point in board(cast.clara)[1]] == ["In doubt"]
    client.force_login(cast.quinn)
    assert "Clara Client, Owner One; a climate record that failed has arrived since" in read(client, "decisions")
    assert not wrongly_marked().exists()
    # Released once more with a reason it is accepted; corrected, it would be as if it had never come.
    client.force_login(cast.clara)
    with time_machine.travel(datetime(2026, 3, 9, 14, 0, tzinfo=UTC), tick=False):
        again = {"evidence": evidence_of(point).digest, "password": PASSWORD}
        assert client.post(address, again).status_code == 422
        assert client.post(address, {**again, "acceptance": "Heaters were on by then"}).status_code == 302
        assert "In doubt" not in read(client, "point", point.pk)
        assert client.post(address, again | {"evidence": evidence_of(point).digest}).status_code == 422
    with time_machine.travel(datetime(2026, 3, 9, 15, 0, tzinfo=UTC), tick=False):
        newer = climate_at(cast, "08:40", wet="19.7", steel="19.1")
        assert HoldPoint.objects.get(pk=point.pk).doubted_at
        climate_at(cast, "08:40", wet="15.0", steel="19.1", replaces=newer, replacement_reason="misread")
        assert HoldPoint.objects.get(pk=point.pk).doubted_at is None
    assert late.verdict == "fail"


def test_a_refused_point_is_presented_and_taken_back_on_pages(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    actions.refuse(cast.clara, **signed(point, reason="Runs"))
    client.force_login(cast.ines)
    present = reverse("point_present", args=[point.pk])
    answer = client.post(present, {"note": "Recoated", "reworked_at": "2026-03-04T08:00", "reworked_by": "Crew"})
    assert answer.status_code == 422
    assert "It was refused at 2026-03-09 12:00" in answer.content.decode()
    assert client.post(present, {"note": "Recoated"}).status_code == 302
    client.force_login(cast.clara)
    page = read(client, "point", point.pk)
    assert "a release needs a measurement begun after that" in page
    assert "Sign and release" not in page
    actions.refuse(cast.clara, **signed(HoldPoint.objects.get(), reason="Not measured since"))
    back = reverse("point_unrefuse", args=[point.pk])
    assert client.post(back, {"reason": "", "password": PASSWORD}).status_code == 422
    assert client.post(back, {"reason": "No need", "password": PASSWORD}).status_code == 302
    # The refusal before it still stands.
    assert "Not ready" in read(client, "board")


def test_a_point_that_cannot_be_released_says_why_and_offers_no_release(cast: Cast, client: Client) -> None:
    point = a_point(cast)
    client.force_login(cast.clara)
    page = read(client, "point", point.pk)
    assert "No thickness has been measured on this area after this coat." in page
    assert "Sign and release" not in page
    assert "Sign and refuse" in page


def test_a_released_point_in_doubt_is_shown_so_on_board_and_page(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    actions.release(cast.clara, **signed(point))
    fall(cast, "09:20")
    client.force_login(cast.clara)
    assert "In doubt</span>" in read(client, "board")
    page = read(client, "point", point.pk)
    assert "What this point was released on no longer holds" in page
    assert "an incident with the gauge was reported" in page
    # What was written of it is the company's own.
    assert "dropped on the deck" not in page


def test_the_board_narrows_by_place_project_and_area(cast: Cast, client: Client) -> None:
    one, other = a_point(cast), a_point(cast, area=cast.site.other_area)
    client.force_login(cast.quinn)
    assert str(other.pk) not in read(client, "board", words="hatch")
    assert str(one.pk) in read(client, "board", words="hatch", place="unready")
    assert str(one.pk) not in read(client, "board", project=str(cast.foreign.project.pk))
    assert "No point lies here" in read(client, "board", place="released")
    # One of the bare steel asks for no thickness; to say that none was measured would say that one is missing.
    HoldPoint.objects.filter(pk=other.pk).update(measured=False, coat=None)
    shown = read(client, "board")
    assert ("Not measured" in shown, "None asked for" in shown) == (True, True)
    HoldPoint.objects.filter(pk=other.pk).update(measured=True, coat=other.coat)
    for odd in ({"project": "x"}, {"place": "x"}, {"page": "x"}, {"page": "99"}):
        assert str(one.pk) in read(client, "board", **odd)


def test_the_board_and_each_point_agree_on_where_it_lies(cast: Cast) -> None:
    """The board sorts in SQL of its own; a list of a few points annotates each. Both must say the same."""
    site, seen = cast.site, set()
    sound_record(cast)
    for coat, verdict in ((1, "fail"), (2, "incomplete")):
        sound_record(cast, coat=coat, verdict=verdict)
    measure(cast, "17:40", "17:45", area=site.other_area)
    for area in (site.area, site.other_area):
        for coat in range(3):
            a_point(cast, area=area, coat=coat)
    for state in HoldPoint.State.values:
        HoldPoint.objects.update(state=state)
        keep_places(HoldPoint.objects.all())
        every = {point.pk: point.said for point in with_ground(HoldPoint.objects.all())}
        assert {row.pk: row.lies for row in board(cast.quinn)[1]} == every
        seen |= set(every.values())
    assert seen == set(HoldPoint.Lies) - {HoldPoint.Lies.PASSED_OVER, HoldPoint.Lies.NOTIFIED, HoldPoint.Lies.PASSED}


def many_points(cast: Cast, first: int, last: int) -> None:
    site = cast.site
    areas = InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"B{n:04}", name="Panel", area_m2=9)
        for n in range(first, last)
    )
    for area in areas:
        a_point(cast, area=area)
        measure(cast, "09:00", "09:40", area=area, tell=False)


def test_the_board_of_thirty_areas_takes_as_many_queries_as_of_three(cast: Cast, client: Client) -> None:
    client.force_login(cast.clara)
    taken = []
    for first, last in ((0, 3), (3, 30)):
        many_points(cast, first, last)
        with CaptureQueriesContext(connection) as queries:
            read(client, "board")
        taken.append(len(queries))
    assert taken[0] == taken[1] <= 12


def test_a_point_takes_as_many_queries_with_more_evidence(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    taken = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            read(client, "point", point.pk)
        taken.append(len(queries))
        for _ in range(4):
            nonconformance.raise_nonconformance(cast.ines, area=cast.site.area, coat=cast.site.coats[0], title="Dust")
            sound_record(cast)
    assert taken[0] == taken[1]


def test_a_quality_manager_plans_a_point_on_every_area_that_lacks_it(cast: Cast, client: Client) -> None:
    a_point(cast)
    client.force_login(cast.quinn)
    address = reverse("points_plan", args=[cast.site.project.pk])
    sent = {"title": "Primer accepted", "kind": "hold", "coat": str(cast.site.coats[0].pk), "every": "on"}
    assert client.post(address, sent).status_code == 302
    assert HoldPoint.objects.filter(coat=cast.site.coats[0]).count() == 2
    answer = client.post(address, sent | {"title": ""})
    assert answer.status_code == 422
    answer = client.post(address, sent)
    assert "Choose at least one area." in answer.content.decode()
    client.force_login(cast.ines)
    assert client.get(address).status_code == 403


def test_a_nonconformance_is_raised_repaired_and_closed_on_pages(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    sent = {"against": "area", "area": cast.site.area.pk, "coat": cast.site.coats[0].pk, "title": "Dust in the film"}
    answer = client.post(reverse("nonconformance_new", args=[cast.site.project.pk]), sent)
    raised = Nonconformance.objects.get()
    assert answer["Location"] == reverse("nonconformance", args=[raised.pk])
    rework = reverse("nonconformance_rework", args=[raised.pk])
    assert client.post(rework, {"what": ""}).status_code == 422
    assert client.post(reverse("nonconformance_close", args=[raised.pk])).status_code == 403
    client.force_login(cast.quinn)
    answer = client.post(reverse("nonconformance_close", args=[raised.pk]))
    assert answer.status_code == 422
    assert "Nothing is decided about it" in answer.content.decode()
    sent = {"what": "Sanded", "done_by": "Crew 2", "done_at": "2026-03-04T11:00"}
    client.force_login(cast.ines)
    assert client.post(rework, sent).status_code == 302
    looked_at(cast, raised)
    client.force_login(cast.quinn)
    assert client.post(reverse("nonconformance_close", args=[raised.pk])).status_code == 302
    page = read(client, "nonconformance", raised.pk)
    assert "Sanded" in page
    assert "Closed" in page


def test_the_list_of_nonconformances_has_open_ones_first_and_only_ones_own(cast: Cast, client: Client) -> None:
    for title in ("Runs", "Dust"):
        nonconformance.raise_nonconformance(cast.ines, area=cast.site.area, coat=cast.site.coats[0], title=title)
    nonconformance.raise_nonconformance(cast.igor, area=cast.foreign.area, coat=cast.foreign.coats[0], title="Foreign")
    newest = Nonconformance.objects.get(title="Dust")
    reworked(cast, newest, "11:00", "Sanded")
    looked_at(cast, newest)
    nonconformance.close_nonconformance(cast.quinn, nonconformance=newest)
    client.force_login(cast.clara)
    page = read(client, "nonconformance_list")
    assert page.index("NC-001 Runs") < page.index("NC-002 Dust")
    assert "Foreign" not in page
    assert "NC-001" not in read(client, "nonconformance_list", state="closed")


def test_strangers_are_led_to_the_sign_in(cast: Cast, client: Client) -> None:
    for name in ("board", "nonconformance_list"):
        assert client.get(reverse(name)).status_code == 302
