"""A check typed wrong is corrected by a new version with its reason: standing follows, the old one stays readable."""

from __future__ import annotations

import io
import json
import re
import zipfile
from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse
from time_machine import travel

from accounts.models import JournalEntry
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments import gauge_errors
from inspection.instruments.actions import PointSent, record_verification, register_gauge, report_incident
from inspection.instruments.models import Certificate, Verification
from inspection.standing.models import Standing
from tests.cast import Cast
from tests.instruments.pages import as_person, checked, text_of
from tests.instruments.test_api import content, read, send
from tests.past_triggers import rewrite
from tests.standing import scene

REASON = "The second shim was S-250, not S-500"
FOUND = {"purpose": "closing", "adjustment": "none", "as_left": False}


def points(cast: Cast, offset_nm: int = 0) -> list[PointSent]:
    return [
        PointSent([cast.shims[50]], [50_200 + offset_nm, 50_400 + offset_nm, 50_000 + offset_nm]),
        PointSent([cast.shims[250]], [249_800 + offset_nm, 250_000 + offset_nm, 249_600 + offset_nm]),
    ]


def corrected(cast: Cast, old: Verification, by: Any = None, **changed: Any) -> Verification:
    given = {
        "id": uuid4(), "gauge": old.gauge, "project": old.project, "purpose": old.purpose, "surface": old.surface,
        "adjustment": old.adjustment, "as_left": old.as_left, "taken_at": old.taken_at, "points": points(cast),
        "replaces": old, "replacement_reason": REASON,
    }  # fmt: skip
    check, _ = record_verification(by or cast.quinn, **given | changed)
    return check


@pytest.fixture
def mistyped(cast: Cast) -> Verification:
    """A closing check of the cast's day, 20 µm off by a slip; the record of that day is in question for it."""
    scene.verify(cast, "06:40")
    scene.measure(cast, "09:00", "09:40")
    return checked(cast, taken_at=scene.clock("17:30"), offset_nm=20_000, **FOUND)


def test_standing_follows_and_both_versions_stay_readable(cast: Cast, mistyped: Verification) -> None:
    assert Standing.objects.get().state == "in_question"
    new = corrected(cast, mistyped)
    standing = Standing.objects.get()
    assert (standing.state, standing.closing) == ("sound", new)
    assert (new.taken_by, new.corrected_by, new.replaces) == (cast.ines, cast.quinn, mistyped)
    client = as_person(cast.clara)
    old_page = text_of(client.get(reverse("verification", args=[mistyped.pk])))
    assert "Replaced by a correction" in old_page
    assert "Do not use this gauge" not in old_page
    assert REASON in old_page
    assert reverse("verification", args=[new.pk]) in old_page
    assert "70.2 70.4 70.0" in old_page
    assert "No record yet." in old_page
    new_page = text_of(client.get(reverse("verification", args=[new.pk])))
    assert f"Corrected by Quinn Quality at {new.received_at:%Y-%m-%d %H:%M}: {REASON}" in new_page
    assert reverse("verification", args=[mistyped.pk]) in new_page
    assert "after work</td>" in new_page
    entry = JournalEntry.objects.get(verb="verification.corrected")
    assert (entry.reason, entry.before["verification"], entry.after["verdict"]) == (REASON, str(mistyped.pk), "pass")
    assert as_person(cast.carl).get(reverse("verification", args=[new.pk])).status_code == 404


def test_the_replaced_version_counts_nowhere(cast: Cast, mistyped: Verification) -> None:
    gauge, quinn = cast.gauge, cast.quinn
    assert gauge_errors.failed_check(gauge, quinn, None) == mistyped
    report_incident(quinn, gauge=gauge, at=scene.clock("17:00"), what="fell")
    assert gauge.incidents.unsettled().count() == 1
    corrected(cast, mistyped)
    assert gauge_errors.failed_check(gauge, quinn, None) is None
    assert gauge.incidents.unsettled().count() == 0
    assert [len(one.errors) for one in gauge_errors.series_of(gauge, quinn)] == [2, 2]
    with travel(scene.clock("17:45"), tick=False):
        page = text_of(as_person(cast.ines).get(reverse("thickness_start", args=[cast.site.project.pk])))
        assert "failed" not in page


def test_a_check_of_the_wrong_gauge_is_moved_and_both_gauges_follow(cast: Cast) -> None:
    other = register_gauge(
        cast.quinn, identity="G-02", range_from_nm=0, range_to_nm=10**6, accuracy_pct=1, accuracy_nm=1000
    )
    cast.gauge_certificate.values.create(gauge=other)
    for gauge in (cast.gauge, other):
        scene.verify(cast, "06:40", gauge=gauge)
        scene.measure(cast, "09:00", "09:40", gauge=gauge)
    closing = checked(cast, taken_at=scene.clock("17:30"), **FOUND)

    def states() -> dict[str, str]:
        return dict(Standing.objects.values_list("record__gauge__identity", "state"))

    assert states() == {"G-01": "sound", "G-02": "in_question"}
    with pytest.raises(Refused, match="This would put 1 record in question: There is no check after work"):
        corrected(cast, closing, gauge=other)
    corrected(cast, closing, gauge=other, confirmed=True)
    assert states() == {"G-01": "in_question", "G-02": "sound"}


def test_nothing_that_ran_out_keeps_a_correction_out_and_it_combines_as_was_chosen_then(
    cast: Cast, mistyped: Verification
) -> None:
    rewrite(Certificate.objects.all(), expires=date(2026, 3, 3))
    with pytest.raises(Refused, match="expired on 2026-03-03"):
        checked(cast, taken_at=scene.clock("17:30"))
    new = corrected(cast, mistyped)
    assert new.combination == mistyped.combination
    assert "certificate CG-1 expired on 2026-03-03" in " ".join(Standing.objects.get().reasons)


def test_a_correction_needs_a_reason_stays_in_its_project_and_is_made_once(cast: Cast, mistyped: Verification) -> None:
    with pytest.raises(Refused, match="Say why the check is corrected"):
        corrected(cast, mistyped, replacement_reason=" ")
    with pytest.raises(Refused, match="stays in the project"):
        corrected(cast, mistyped, project=cast.foreign.project)
    with pytest.raises(NotAllowed):
        corrected(cast, mistyped, by=cast.audrey)
    given = {"id": uuid4()}
    first = corrected(cast, mistyped, **given)
    assert corrected(cast, mistyped, **given) == first
    with pytest.raises(Conflict, match="Quinn Quality corrected this check already"):
        corrected(cast, mistyped)
    assert corrected(cast, first, points=points(cast, 100)).replaces == first


def test_the_page_fills_in_what_was_stored_and_stores_the_corrected_version(cast: Cast) -> None:
    """Weeks later, with the shims run out since: what held on the day of the check is offered."""
    check = checked(cast, adjustment="zero", purpose="opening", note="Damp")
    rewrite(Certificate.objects.all(), expires=date(2026, 5, 1))
    client = as_person(cast.ines)
    page = client.get(reverse("verification", args=[check.pk])).content.decode()
    (address,) = re.findall(r'href="([^"]*replaces=[^"]*)">Correct it', page)
    shown = text_of(client.get(address.replace("&amp;", "&")))
    assert "Correct a verification of G-01" in shown
    assert "50.2 50.4 50</textarea>" in shown
    assert "249.8 250 249.6</textarea>" in shown
    assert 'value="2026-03-04T07:00"' in shown
    assert "Damp</textarea>" in shown
    body = {
        "readings1": "50.2 50.4 50.1", "readings2": "249.8 250 249.6", "taken_at": "2026-03-04T07:00", "note": "Damp",
    }  # fmt: skip
    there = re.search(r'<form method="post" action="([^"]*)"', shown)
    assert there
    action = reverse("verification_new") + there[1].replace("&amp;", "&")
    lacking = client.post(action, body)
    assert (lacking.status_code, "Why it is corrected" in text_of(lacking)) == (422, True)
    done = client.post(action, body | {"replacement_reason": "A typing slip"}, follow=True)
    assert "is stored, corrected" in text_of(done)
    new = Verification.objects.get(replaces=check)
    assert new.points.first().readings_nm == [50_200, 50_400, 50_100]
    assert "Replaced by a correction" in text_of(client.get(reverse("verification_list")))
    assert "Correct it" not in text_of(client.get(reverse("verification", args=[check.pk])))
    assert client.get(address.replace("&amp;", "&")).status_code == 404


def test_the_api_corrects_and_shows_both(cast: Cast) -> None:
    first = content(cast)
    assert send(cast.ines, first)[0] == 201
    status, answer = send(cast.ines, content(cast, replaces=first["id"], replacement_reason="slip", note="n"))
    assert (status, answer["replaces"], answer["corrected_by"]) == (201, first["id"], "Ines Inspector")
    assert read(cast.ines, "api_verification", first["id"])[1]["replaced_by"] == answer["id"]
    status, problem = send(cast.ines, content(cast, replaces=first["id"], replacement_reason="slip"))
    assert (status, problem["errors"][0]["field"]) == (409, "replaces")
    assert send(cast.ines, content(cast, replaces=str(uuid4()), replacement_reason="slip"))[0] == 404


def test_trace_and_bundle_show_both_versions(cast: Cast, mistyped: Verification) -> None:
    new = corrected(cast, mistyped)
    record = Standing.objects.get().record
    client = as_person(cast.audrey)
    old_trace = text_of(client.get(reverse("trace_of", args=["verification", mistyped.pk])))
    new_trace = text_of(client.get(reverse("trace_of", args=["verification", new.pk])))
    assert "Replaced by a correction" in old_trace
    assert REASON in old_trace
    assert f"{REASON} By Quinn Quality" in new_trace
    bundle = client.get(reverse("trace_bundle", args=["thickness", record.pk]))
    with zipfile.ZipFile(io.BytesIO(bundle.content)) as files:
        texts = [files.read(name).decode() for name in files.namelist() if name.endswith(".json")]
    of_check = next(thing for text in texts if (thing := json.loads(text)).get("id") == str(new.pk))
    assert of_check["replacement_reason"] == REASON
    assert of_check["replaces"]["id"] == str(mistyped.pk)
    assert of_check["replaces"]["points"][0]["readings_nm"] == [70_200, 70_400, 70_000]
