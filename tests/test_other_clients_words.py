"""A gauge, a file and an id may serve two clients; what was written for one is never told to the other."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from accounts import post
from accounts.models import Letter, Person
from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints import actions as holdpoints
from inspection.instruments import actions as instruments
from inspection.instruments.models import Custody
from inspection.projects import actions as projects
from inspection.projects.models import Membership
from inspection.recall.actions import recall
from reports.daily.gathering import gather
from reports.daily.pdf import draw
from tests.cast import DAY, Cast
from tests.fieldwork.test_api import thickness
from tests.holdpoints.scene import a_point, signed, sound_record
from tests.sight.reading import words_in, words_of
from tests.standing.scene import clock, fall, measure, verify, withdraw

pytestmark = pytest.mark.django_db
WORD = "Osprey"


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def lent(cast: Cast) -> ThicknessRecord:
    """A measurement of one client that rests on a check made for the other, in between a fall on the other's works."""
    verify(cast, "07:00")
    record = measure(cast, "08:00", "09:00")
    instruments.report_incident(cast.igor, gauge=cast.gauge, at=clock("09:30"), what=f"Fell at {WORD} quay")
    verify(cast, "10:00", site=cast.foreign, by=cast.igor, note=f"In the {WORD} store", purpose="closing")
    Custody.objects.create(gauge=cast.gauge, holder=cast.igor, place=f"{WORD} quay", recorded_by=cast.igor)
    return ThicknessRecord.objects.get(pk=record.pk)


@pytest.mark.parametrize("who", ["clara", "audrey"])
def test_a_gauge_page_tells_an_outsider_that_there_was_an_incident_and_not_what_or_where(
    cast: Cast, lent: ThicknessRecord, who: str
) -> None:
    client = signed_in(getattr(cast, who))
    page = client.get(reverse("gauge", args=[cast.gauge.pk])).content.decode()
    answer = client.get(reverse("api_gauge", args=[cast.gauge.pk]))
    assert WORD not in page + answer.content.decode()
    assert "Custody" not in page
    assert "an incident" in page
    assert answer.json()["holder"] is None
    # The company's people keep the gauge, and read what they need to know of it.
    kept = signed_in(cast.ines).get(reverse("gauge", args=[cast.gauge.pk])).content.decode()
    assert f"Fell at {WORD} quay" in kept
    assert "Custody" in kept


def test_an_incident_far_from_any_check_of_a_client_is_not_told_to_them(cast: Cast) -> None:
    verify(cast, "07:00")
    at = clock("07:00") + timedelta(days=3)
    instruments.report_incident(cast.igor, gauge=cast.gauge, at=at, what="Fell")
    page = signed_in(cast.clara).get(reverse("gauge", args=[cast.gauge.pk])).content.decode()
    assert "Nothing has been reported" in page
    assert "Fell" in signed_in(cast.ines).get(reverse("gauge", args=[cast.gauge.pk])).content.decode()


def test_a_standing_says_when_an_incident_lay_in_between_without_its_words(cast: Cast, lent: ThicknessRecord) -> None:
    reasons = lent.standing.reasons
    assert reasons == ["At 09:30 an incident with the gauge was reported, such as a fall."]
    page = signed_in(cast.clara).get(reverse("thickness", args=[lent.pk])).content.decode()
    assert reasons[0] in page
    journal = signed_in(cast.audrey).get("/journal/", {"project": cast.site.project.pk}).content.decode()
    assert "An incident with G-01 at 2026-03-04 09:30 UTC was reported." in journal
    assert WORD not in page + journal


@pytest.mark.parametrize("who", ["audrey", "ines", "quinn"])
def test_a_bundle_tells_a_check_made_for_another_project_by_its_figures_alone(
    cast: Cast, lent: ThicknessRecord, who: str
) -> None:
    """Whoever makes it: a bundle is handed on."""
    answer = signed_in(getattr(cast, who)).get(reverse("trace_bundle", args=["thickness", lent.pk]))
    told = words_of(answer)
    assert WORD not in told
    assert cast.foreign.project.code not in told
    assert str(cast.foreign.project.pk) not in told
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        checks = [
            json.loads(archive.read(name)) for name in archive.namelist() if name.startswith("records/verification/")
        ]
    assert sorted(check["made_for_another_project"] for check in checks) == [False, True]
    assert all(check["points"][0]["readings_nm"] and check["taken_by"] for check in checks)


def test_the_trace_of_a_check_made_for_another_project_tells_no_reason_written_there(
    cast: Cast, lent: ThicknessRecord
) -> None:
    wrong = lent.standing.closing
    verify(cast, "10:00", site=cast.foreign, by=cast.igor, replaces=wrong, replacement_reason=f"Slip at {WORD}")
    closing = ThicknessRecord.objects.get(pk=lent.pk).standing.closing
    assert closing.replaces_id == wrong.pk
    client = signed_in(cast.audrey)
    told = [client.get(reverse(name, args=["verification", closing.pk])) for name in ("trace_of", "trace_bundle")]
    assert [answer.status_code for answer in told] == [200, 200]
    assert not [answer for answer in told if WORD in words_of(answer)]


def test_a_daily_report_tells_neither_note_nor_person_of_another_project(cast: Cast, lent: ThicknessRecord) -> None:
    facts = gather(cast.site.project, DAY)
    assert len(facts.instruments[0].checks) == 2
    assert WORD not in words_in(draw(facts)) + repr(facts)
    assert [person.name for person in facts.people] == ["Ines Inspector"]


def test_the_same_bytes_bear_the_name_each_client_gave_them(cast: Cast) -> None:
    content = b"spot,thickness_um\n" + b"".join(b"%d,%d\n" % (spot, 80 + spot) for spot in range(1, 6))
    pages = {}
    for site, inspector, client, name in (
        (cast.foreign, cast.igor, cast.carl, f"{WORD}.csv"), (cast.site, cast.ines, cast.clara, "hatch.csv"),
    ):  # fmt: skip
        browser = signed_in(inspector)
        sent = {
            "area": site.area.pk, "coat": site.coats[0].pk, "gauge": cast.gauge.pk, "profile_way": "adjusted",
            "first_reading_at": "2026-03-04T07:00", "last_reading_at": "2026-03-04T08:00",
            "file": SimpleUploadedFile(name, content),
        }  # fmt: skip
        chosen = browser.post(reverse("thickness_upload", args=[site.project.pk]), sent)
        assert chosen.status_code == 302, chosen.content.decode()
        browser.post(chosen["Location"])
        record = ThicknessRecord.objects.get(project=site.project)
        reader = signed_in(client)
        pages[name] = "".join(
            words_of(reader.get(reverse(address, args=[record.pk]))) for address in ("thickness", "thickness_file")
        )
    assert WORD in pages[f"{WORD}.csv"]
    assert "hatch.csv" in pages["hatch.csv"]
    assert WORD not in pages["hatch.csv"]


def sent_to(cast: Cast, person: Person, body: dict[str, Any]) -> Any:
    return signed_in(person).post("/api/thickness/", body, "application/json")


def test_an_id_of_a_foreign_record_answers_as_a_free_one_does(cast: Cast) -> None:
    site = cast.foreign
    foreign = thickness(
        cast, project=str(site.project.pk), area=str(site.area.pk), coat=str(site.coats[0].pk), note=WORD
    )
    assert sent_to(cast, cast.igor, foreign).status_code == 201
    mine = thickness(cast, id=foreign["id"])
    first, again = sent_to(cast, cast.ines, mine), sent_to(cast, cast.ines, mine)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["id"] == again.json()["id"]
    assert WORD not in first.content.decode()
    # Nothing of the foreign one changed, and the sender's own is there under the id that was answered.
    assert ThicknessRecord.objects.get(pk=foreign["id"]).note == WORD
    assert ThicknessRecord.objects.get(pk=first.json()["id"]).project == cast.site.project
    # Other content under an id of one's own is told, as ever, under that id too.
    assert sent_to(cast, cast.ines, {**mine, "note": "other"}).status_code == 409
    # To whom both are in sight, a used id is a used id.
    assert sent_to(cast, cast.quinn, thickness(cast, id=foreign["id"])).status_code == 409


def test_who_has_left_the_project_gets_no_letter_of_its_points(cast: Cast) -> None:
    point = a_point(cast)
    sound_record(cast)
    holdpoints.release(cast.clara, **signed(point))
    part = Membership.objects.get(project=cast.site.project, person=cast.clara)
    projects.end_membership(cast.quinn, membership=part)
    withdraw(cast, cast.shim_certificate)
    point.refresh_from_db()
    assert point.doubted_at
    assert not Letter.objects.filter(kind="released-in-doubt").exists()


def test_a_letter_that_waits_is_not_sent_to_who_has_left_meanwhile(cast: Cast, mailoutbox: list[Any]) -> None:
    point = a_point(cast)
    sound_record(cast)
    holdpoints.release(cast.clara, **signed(point))
    fall(cast, "10:00")
    written = Letter.objects.filter(kind="released-in-doubt", person=cast.clara)
    assert written.waiting().count() == 1
    part = Membership.objects.get(project=cast.site.project, person=cast.clara)
    projects.end_membership(cast.quinn, membership=part)
    post.send_due()
    assert not [mail for mail in mailoutbox if "in doubt" in mail.subject]
    assert not written.waiting().exists()


def test_a_recall_is_told_to_who_takes_part_and_names_only_their_projects(cast: Cast) -> None:
    for site, by in ((cast.site, cast.ines), (cast.foreign, cast.igor)):
        measured = {"site": site, "by": by}
        verify(cast, "07:00", **measured)
        measure(cast, "08:00", "09:00", **measured)
        verify(cast, "10:00", **measured)
    part = Membership.objects.get(project=cast.foreign.project, person=cast.igor)
    projects.end_membership(cast.quinn, membership=part)
    recall(cast.quinn, certificate=cast.shim_certificate, reason="oven out")
    letters = {letter.person: letter.body for letter in Letter.objects.filter(kind="recall")}
    assert cast.igor not in letters
    assert cast.site.project.code in letters[cast.ines]
    assert cast.foreign.project.code not in letters[cast.ines]
    assert cast.foreign.project.code in letters[cast.quinn]
