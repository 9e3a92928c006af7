"""Thickness readings take their correction from a surface profile record, and fall with what it rests on."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.models import Sheet, ThicknessRecord
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.profile.recording import LocationSent, record_profile
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Refused
from inspection.holdpoints import actions as points
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.actions import reinstate_certificate, withdraw_certificate
from inspection.instruments.models import Certificate, CertifiedValue, Gauge
from inspection.recall.actions import recall
from inspection.recall.foreseen import touched_by
from inspection.standing.models import Standing
from inspection.trace.kinds import kind_named
from inspection.trace.queries import rests_on
from reports.verify import records as verified
from tests.cast import MORNING, PASSWORD, Cast
from tests.fieldwork.build import GOOD_SPOTS
from tests.fieldwork.test_sheet_pages import words
from tests.past_triggers import rewrite
from tests.standing.scene import verify

HOUR = timedelta(hours=1)
# Over a medium profile the gauge shows 25 µm more than the film.
SHOWN = [reading._replace(value_nm=reading.value_nm + 25_000) for reading in GOOD_SPOTS]


@pytest.fixture
def micrometer(cast: Cast) -> Gauge:
    gauge = Gauge.objects.create(identity="D-1", kind=Gauge.Kind.PROFILE)
    paper = Certificate.objects.create(
        number="P-77", laboratory="Laboratory", issued=date(2026, 1, 1), expires=date(2026, 12, 31),
        traceable_to="the national institute", recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=paper, gauge=gauge)
    return gauge


def a_profile(cast: Cast, height_um: int = 64, **changes: Any) -> ProfileRecord:
    site = cast.site
    values = {
        "id": new_id(), "project": site.project, "area": site.area, "taken_at": MORNING, "method": "micrometer",
        "location_value": "mean", "locations": [LocationSent([height_um * 1000] * 10)] * 3, "abrasive": "grit",
        "gauge": Gauge.objects.filter(identity="D-1").first(), "base_metal_nm": [7_000, 8_000, 9_000] * 4,
        "base_metal_gauge": cast.gauge,
    }  # fmt: skip
    return record_profile(cast.ines, **values | changes)[0]


def thickness(cast: Cast, profile: ProfileRecord | None, **changes: Any) -> ThicknessRecord:
    site = cast.site
    values = {
        "id": new_id(), "project": site.project, "area": site.area, "coat": site.coats[0], "gauge": cast.gauge,
        "profile_way": "correction", "profile_record": profile, "unit": "um", "readings": SHOWN,
        "first_reading_at": MORNING + HOUR, "last_reading_at": MORNING + 2 * HOUR,
    }  # fmt: skip
    return record_thickness(cast.ines, **values | changes)[0]


@pytest.mark.usefixtures("micrometer")
@pytest.mark.parametrize(
    ("height_um", "abrasive", "way", "nm"),
    [
        # ISO 19840 subtracts 25 µm for medium and 40 µm for coarse (stored source), 10 µm for fine and 25 µm where the
        # grade is not known (from memory); the grit comparator's segments are 25, 60, 100 and 150 µm (stored source).
        (64, "grit", "correction", 25_000), (110, "grit", "correction", 40_000), (30, "grit", "correction", 10_000),
        (80, "shot", "correction", 40_000), (80, "", "correction", 25_000),
        # SSPC-PA 2 subtracts the base metal reading, the mean of about ten (stored source), whatever the height.
        (64, "grit", "base_metal", 8_000), (110, "", "base_metal", 8_000),
    ],
)  # fmt: skip
def test_the_record_gives_what_its_way_subtracts(cast: Cast, height_um: int, abrasive: str, way: str, nm: int) -> None:
    record = thickness(cast, a_profile(cast, height_um, abrasive=abrasive), profile_way=way)
    typed = thickness(cast, None, profile_way=way, correction_nm=nm)
    assert record.correction_nm == nm
    assert (record.mean_nm, record.verdict) == (typed.mean_nm, typed.verdict)


WRONG: list[tuple[dict[str, Any], dict[str, Any], str, str]] = [
    ({}, {"profile_way": "adjusted"}, "profile_record", "takes no correction"),
    ({}, {"correction_nm": 30_000}, "correction", "gives 25 µm (ISO 19840, profile medium)"),
    ({"base_metal_nm": [], "base_metal_gauge": None}, {"profile_way": "base_metal"}, "profile_record",
     "holds no base metal readings"),
    ({"height_um": 160}, {}, "profile_record", "coarser than coarse, for which the table of ISO 19840 has no value"),
]  # fmt: skip


@pytest.mark.usefixtures("micrometer")
@pytest.mark.parametrize(("of_profile", "of_thickness", "field", "sentence"), WRONG)
def test_what_the_record_cannot_give_is_refused_by_field(
    cast: Cast, of_profile: dict[str, Any], of_thickness: dict[str, Any], field: str, sentence: str
) -> None:
    with pytest.raises(Refused) as refusal:
        thickness(cast, a_profile(cast, **of_profile), **of_thickness)
    assert [(fault.field, sentence in fault.message) for fault in refusal.value.faults] == [(field, True)]
    assert not ThicknessRecord.objects.exists()


@pytest.mark.usefixtures("micrometer")
def test_a_profile_of_another_area_is_refused_and_base_metal_readings_that_are_none(cast: Cast) -> None:
    with pytest.raises(Refused, match="was measured on A2"):
        thickness(cast, a_profile(cast, area=cast.site.other_area))
    for changes, sentence in (
        ({"base_metal_gauge": None}, "with which coating thickness gauge"),
        ({"base_metal_nm": [600_000]}, "no reading of bare steel"),
        ({"base_metal_gauge": Gauge.objects.get(identity="D-1")}, "no coating thickness gauge"),
        ({"abrasive": "sand"}, "Give one of grit, shot"),
    ):
        with pytest.raises(Refused, match=sentence):
            a_profile(cast, **changes)


def test_recalling_the_micrometer_reaches_the_thickness_and_what_was_released_on_it(
    cast: Cast, micrometer: Gauge
) -> None:
    profile = a_profile(cast)
    verify(cast, MORNING + HOUR / 2)
    record, other = thickness(cast, profile), thickness(cast, None, correction_nm=25_000, coat=cast.site.coats[1])
    verify(cast, MORNING + 3 * HOUR)
    point = HoldPoint.objects.create(
        project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0], title="Primer accepted"
    )
    points.release(cast.clara, point=point, password=PASSWORD, evidence_digest=evidence_of(point).digest)
    assert Standing.objects.get(record=record).state == "sound"
    paper = Certificate.objects.get(number="P-77")
    before = touched_by(paper, cast.quinn)
    assert {layer.kind.name: layer.total for layer in before.layers} == {"profile": 1, "thickness": 1, "holdpoint": 1}
    done = recall(cast.quinn, certificate=paper, reason="The master was wrong")
    assert set(done.touched["records"]) == {str(record.pk), str(profile.pk)}
    standing = Standing.objects.get(record=record)
    assert standing.state == "in_question"
    assert (
        "correction was taken from the surface profile of 2026-03-04 07:00, which is in question"
        in (standing.reasons[0])
    )
    assert Standing.objects.get(record=other).reasons != standing.reasons
    point.refresh_from_db()
    assert point.doubted_at
    call_command("standing", "--check")
    reinstate_certificate(cast.quinn, certificate=Certificate.objects.get(pk=paper.pk), reason="It was another")
    assert Standing.objects.get(record=record).state == "sound"
    point.refresh_from_db()
    assert point.doubted_at is None
    call_command("standing", "--check")


def test_a_base_metal_reading_rests_on_the_gauge_that_took_it_and_not_on_the_micrometer(
    cast: Cast, micrometer: Gauge
) -> None:
    verify(cast, MORNING + HOUR / 2)
    record = thickness(cast, a_profile(cast), profile_way="base_metal")
    verify(cast, MORNING + 3 * HOUR)
    withdraw_certificate(cast.quinn, certificate=Certificate.objects.get(number="P-77"), reason="Wrong")
    assert Standing.objects.get(record=record).state == "sound"
    withdraw_certificate(cast.quinn, certificate=cast.gauge_certificate, reason="Wrong")
    told = " ".join(Standing.objects.get(record=record).reasons)
    assert "The correction was taken from the surface profile" in told
    call_command("standing", "--check")


@pytest.mark.usefixtures("micrometer")
def test_a_profile_that_is_corrected_to_another_value_puts_the_thickness_in_question(cast: Cast) -> None:
    verify(cast, MORNING + HOUR / 2)
    profile = a_profile(cast)
    record = thickness(cast, profile)
    verify(cast, MORNING + 3 * HOUR)
    again = {"replaces": profile, "replacement_reason": "Coarser than typed"}
    same = a_profile(cast, 66, **again)
    assert Standing.objects.get(record=record).state == "sound"
    a_profile(cast, 110, replaces=same, replacement_reason="Coarser still")
    standing = Standing.objects.get(record=record)
    assert (standing.state, "was corrected, and gives 40.0 µm" in standing.reasons[0]) == ("in_question", True)
    call_command("standing", "--check")


@pytest.mark.usefixtures("micrometer")
def test_the_link_is_traced_kept_under_the_digest_and_the_api_tells_it(cast: Cast, client: Client) -> None:
    profile = a_profile(cast)
    client.force_login(cast.ines)
    site = cast.site
    body = {
        "id": str(new_id()), "project": str(site.project.pk), "area": str(site.area.pk), "gauge": str(cast.gauge.pk),
        "coat": str(site.coats[0].pk), "profile_way": "correction", "profile_record": str(profile.pk),
        "first_reading_at": (MORNING + HOUR).isoformat(), "last_reading_at": (MORNING + 2 * HOUR).isoformat(),
        "readings": [{"spot": reading.spot, "value_um": reading.value_nm / 1000} for reading in SHOWN],
    }  # fmt: skip

    def send(sent: dict[str, Any]) -> Any:
        return client.post(reverse("api_thickness_list"), json.dumps(sent), content_type="application/json")

    first, again = send(body), send(body)
    assert (first.status_code, again.status_code) == (201, 200), first.content
    assert (first.json()["profile_record"], first.json()["correction_um"]) == (str(profile.pk), 25)
    foreign = send(body | {"id": str(new_id()), "profile_record": str(new_id())})
    assert foreign.status_code == 404
    record = ThicknessRecord.objects.get()
    kind = kind_named("thickness")
    assert kind
    assert {"profile", "gauge"} <= {layer.kind.name for layer in rests_on(record, kind, cast.quinn)}
    assert "the surface profile record" in words(client.get(reverse("thickness", args=[record.pk])))
    assert "25.0 µm (ISO 19840, profile medium)" in words(client.get(reverse("profile", args=[profile.pk])))
    assert not [told for told in verified.differences() if "thickness" in told or "profile" in told]
    rewrite(ThicknessRecord.objects.filter(pk=record.pk), profile_record=None)
    assert any("do not match their digest" in told for told in verified.differences())


@pytest.mark.usefixtures("in_date")
def test_the_sheet_and_the_upload_take_it_and_it_goes_along_to_a_correction(cast: Cast, client: Client) -> None:
    profile = a_profile(cast)
    client.force_login(cast.ines)
    site = cast.site
    start = reverse("thickness_start", args=[site.project.pk])
    assert "ISO 19840, profile medium" in words(client.get(f"{start}?area={site.area.pk}"))
    asked = {"area": site.area.pk, "coat": site.coats[0].pk, "gauge": cast.gauge.pk, "profile_way": "correction",
             "profile_record": profile.pk}  # fmt: skip
    assert "leave this out" in words(client.post(start, asked | {"correction": "30"}))
    assert client.post(start, asked).status_code == 302
    sheet = Sheet.objects.get()
    assert (sheet.profile_record_id, sheet.correction_nm) == (profile.pk, 25_000)
    assert "the surface profile record" in words(client.get(reverse("sheet", args=[sheet.pk])))
    rows = "spot,reading,thickness_um\n" + "".join(f"{r.spot},{r.order},{r.value_nm // 1000}\n" for r in GOOD_SPOTS)
    times = {
        "first_reading_at": f"{MORNING + HOUR:%Y-%m-%dT%H:%M}",
        "last_reading_at": f"{MORNING + 2 * HOUR:%Y-%m-%dT%H:%M}",
    }
    upload = client.post(reverse("thickness_upload", args=[site.project.pk]), asked | times | {"rows": rows})
    assert upload.status_code == 302, words(upload)
    assert client.post(upload["Location"]).status_code == 302
    record = ThicknessRecord.objects.get()
    assert (record.profile_record_id, record.correction_nm) == (profile.pk, 25_000)
    form = client.get(f"{start}?replaces={record.pk}").context["form"]
    assert form["profile_record"].value() == profile.pk
