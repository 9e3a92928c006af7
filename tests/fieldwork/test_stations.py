"""Climate stations: one reading serves every area around until the next one, and no longer than it counts."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry, Organisation, Role
from inspection.fieldwork import latest
from inspection.fieldwork.actions import record_climate
from inspection.fieldwork.climate import stations
from inspection.fieldwork.climate.stations import record_at_station
from inspection.fieldwork.models import ClimateRecord, Latest
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints.actions.keeping import keep_places, sweep_run_out
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import Decision, HoldPoint, Requirement
from inspection.projects.models import InspectionArea, Membership, Station
from inspection.works.signals import climate_asked
from tests import cast as casting
from tests.cast import MORNING, Cast
from tests.fieldwork.build import correct_by_page
from tests.projects.test_pages import as_person

HOUR = timedelta(hours=1)


def send(client: Any, address: str, sent: dict[str, Any]) -> Any:
    return client.post(address, sent, content_type="application/json")


def a_station(cast: Cast, **more: Any) -> Station:
    site = cast.site
    asked = {
        "code": "CS-1", "name": "North tower", "where": "outdoors", "areas": [site.area, site.other_area],
        "since": MORNING - 48 * HOUR, **more,
    }  # fmt: skip
    return stations.declare_station(cast.ines, project=site.project, **asked)[0]


def read(cast: Cast, station: Station, *, at: Any = MORNING, coats: Any = None, **more: Any) -> list[ClimateRecord]:
    figures = {"dry_bulb_c": Decimal("20.0"), "relative_humidity_pct": Decimal("60.0"), "surface_c": Decimal("18.0")}
    asked: dict[str, Any] = {"id": new_id(), **figures, **more}
    coats = [cast.site.coats[0]] if coats is None else coats
    return record_at_station(cast.ines, station=station, coats=coats, taken_at=at, **asked)[0]


def standing_at(area: InspectionArea) -> Any:
    return Latest.objects.filter(area=area, kind="climate").values_list("coat", "record")


def a_point(cast: Cast, area: InspectionArea) -> HoldPoint:
    """It stands on the climate for the first coat alone."""
    coat = cast.site.coats[0]
    point = HoldPoint.objects.create(
        project=cast.site.project, area=area, coat=coat, kind="hold", title="Primer begins", measured=False
    )
    Requirement.objects.create(point=point, kind="climate", coat=coat)
    keep_places(HoldPoint.objects.filter(pk=point.pk))
    return point


def lies(point: HoldPoint) -> str:
    point.refresh_from_db()
    return HoldPoint.Lies(point.lies).name


def test_one_reading_serves_every_area_of_the_station_for_each_coat_under_way(cast: Cast) -> None:
    site, station = cast.site, a_station(cast)
    first, second = read(cast, station, coats=site.coats[:2], wind_m_s=Decimal("4.5"), rain="light")
    for area in (site.area, site.other_area):
        assert set(standing_at(area)) == {(first.coat_id, first.pk), (second.coat_id, second.pk)}
    assert {first.coat_id, second.coat_id} == {coat.pk for coat in site.coats[:2]}
    assert not list(latest.differences())
    told = JournalEntry.objects.filter(verb="climate.recorded").latest("pk").after
    assert told["station"] == "CS-1"


def test_the_next_reading_takes_over_whichever_way_it_came_and_a_late_one_does_not(cast: Cast) -> None:
    site, station = cast.site, a_station(cast)
    [noon] = read(cast, station, at=MORNING + 4 * HOUR)
    [early] = read(cast, station, at=MORNING)
    assert [pk for _, pk in standing_at(site.other_area)] == [noon.pk]
    own, _ = record_climate(
        cast.ines, id=new_id(), project=site.project, area=site.other_area, coat=site.coats[0],
        taken_at=MORNING + 5 * HOUR, dry_bulb_c=Decimal(20), relative_humidity_pct=Decimal(60), surface_c=Decimal(18),
    )  # fmt: skip
    assert [pk for _, pk in standing_at(site.other_area)] == [own.pk]
    assert [pk for _, pk in standing_at(site.area)] == [noon.pk]
    assert early.verdict == "pass"
    assert not list(latest.differences())


def test_a_point_is_ready_by_a_stations_reading_until_it_no_longer_counts(cast: Cast) -> None:
    station, point = a_station(cast, holds_h=4), a_point(cast, cast.site.other_area)
    assert lies(point) == "UNREADY"
    now = timezone.now()
    read(cast, station, at=now - HOUR)
    assert lies(point) == "READY"
    assert sweep_run_out(now + 2 * HOUR) == 0
    assert sweep_run_out(now + 3.5 * HOUR) == 1
    read(cast, station, at=now - 30 * HOUR)
    stations.change_station(
        cast.ines, station=station, code="CS-1", name="North tower", where="outdoors", dehumidifier=False, holds_h=0.5,
        reason="As the specification has it",
    )  # fmt: skip
    assert lies(point) == "UNREADY"
    assert "counts for 0" in evidence_of(point).why_not[0]


def test_a_failed_reading_is_accepted_at_every_area_it_served_and_no_other(cast: Cast) -> None:
    station = a_station(cast, areas=[cast.site.area])
    served, other = a_point(cast, cast.site.area), a_point(cast, cast.site.other_area)
    [failed] = read(cast, station, surface_c=Decimal("10.0"))
    assert failed.verdict == "fail"
    assert "at station CS-1" in evidence_of(served).to_accept[0]
    assert not evidence_of(other).to_accept
    stations.serve_areas(
        cast.ines, station=station, areas=[cast.site.other_area], since=MORNING - HOUR, reason="Wrong side"
    )
    assert evidence_of(other).to_accept
    assert [pk for _, pk in standing_at(cast.site.other_area)] == [failed.pk]
    assert not list(latest.differences())


def test_each_condition_is_asked_of_the_same_reading(cast: Cast) -> None:
    """What failed before the station served an area is nothing to it, though later readings count there."""
    site, station = cast.site, a_station(cast, areas=[cast.site.area])
    [failed] = read(cast, station, surface_c=Decimal("10.0"))
    stations.serve_areas(
        cast.ines, station=station, areas=[site.area, site.other_area], since=MORNING + HOUR, reason="Moved on"
    )
    [good] = read(cast, station, at=MORNING + 2 * HOUR)
    point = a_point(cast, site.other_area)
    HoldPoint.objects.filter(pk=point.pk).update(state=HoldPoint.State.RELEASED)
    Decision.objects.create(
        point=point, number=1, outcome="released", person=cast.clara, at=MORNING - HOUR,
        evidence={}, evidence_digest="0" * 64,
    )  # fmt: skip
    keep_places(HoldPoint.objects.filter(pk=point.pk))
    assert failed.verdict == "fail"
    assert good.verdict == "pass"
    assert lies(point) == "RELEASED"
    asked = {"areas": [site.other_area.pk], "since": MORNING - HOUR, "until": MORNING + HOUR}
    assert climate_asked.send(sender=Station, **asked)[0][1] == []
    assert not list(latest.differences())


def test_lots_are_told_the_steel_that_a_station_measured_for_their_areas(cast: Cast) -> None:
    read(cast, a_station(cast), surface_c=Decimal("17.5"))
    asked = {"areas": [cast.site.other_area.pk], "since": MORNING - HOUR, "until": None}
    [(_, told)] = climate_asked.send(sender=Station, **asked)
    assert [(one.area, one.steel_c, one.passed) for one in told] == [(cast.site.other_area.pk, Decimal("17.5"), True)]
    assert climate_asked.send(sender=Station, **{**asked, "since": MORNING + HOUR})[0][1] == []


def test_without_a_coat_only_the_margin_is_judged_and_the_record_says_so(cast: Cast) -> None:
    station = a_station(cast)
    [record] = read(cast, station, coats=[], relative_humidity_pct=Decimal("95.0"))
    assert record.coat is None
    assert record.verdict == "fail"
    [warm] = read(cast, station, coats=[], relative_humidity_pct=Decimal("60.0"))
    assert warm.verdict == "pass"
    page = as_person(cast.clara).get(reverse("climate", args=[warm.pk])).content.decode()
    assert "No coat was named: only the margin above the dew point was judged" in page
    client = as_person(cast.ines)
    address = f"{reverse('climate_new', args=[cast.site.project.pk])}?replaces={warm.pk}"
    form = client.get(address).context["form"]
    sent = {name: value for name, value in form.initial.items() if value is not None and name != "coat"}
    sent |= {"area": warm.area_id, "taken_at": "2026-03-04T08:00", "surface_c": "17", "replacement_reason": "Misread"}
    assert correct_by_page(client, address, sent).status_code == 302
    newer = ClimateRecord.objects.get(replaces=warm)
    assert (newer.station, newer.coat) == (station, None)
    for area in (cast.site.area, cast.site.other_area):
        assert newer.pk in {pk for _, pk in standing_at(area)}
    assert not list(latest.differences())


def test_the_same_reading_again_changes_nothing_and_another_under_its_id_is_refused(cast: Cast) -> None:
    station, pk = a_station(cast), new_id()
    both = cast.site.coats[:2]
    assert read(cast, station, id=pk, coats=both) == read(cast, station, id=pk, coats=both)
    assert ClimateRecord.objects.count() == 2
    with pytest.raises(Conflict):
        read(cast, station, id=pk, coats=both, surface_c=Decimal("17.0"))


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"wind_m_s": Decimal(61)}, "wind_m_s", "from 0 to 60"),
        ({"warmest_surface_c": Decimal("17.9")}, "warmest_surface_c", "swapped"),
        ({"at": MORNING - 60 * HOUR}, "taken_at", "served no area"),
        ({"rain": "drizzle"}, "rain", "none, light, heavy"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(cast: Cast, wrong: Any, field: str, words: str) -> None:
    with pytest.raises(Refused, match=words) as refusal:
        read(cast, a_station(cast), **wrong)
    assert [fault.field for fault in refusal.value.faults] == [field]
    assert not ClimateRecord.objects.exists()


def test_warmest_steel_is_held_to_the_greatest_and_coldest_to_the_least(cast: Cast) -> None:
    """MIL-HDBK-1110, 9.6.6.2: coldest and warmest place both keep the limits of surface temperature."""
    [record] = read(cast, a_station(cast), warmest_surface_c=Decimal("40.1"))
    assert [check["name"] for check in record.result["checks"] if not check["passed"]] == [
        "greatest surface temperature"
    ]


def test_only_who_records_keeps_stations(cast: Cast) -> None:
    station = a_station(cast)
    for person in (cast.clara, cast.audrey):
        with pytest.raises(NotAllowed):
            stations.end_station(person, station=station, reason="Away")
    stations.end_station(cast.ines, station=station, reason="Taken down")
    stations.restore_station(cast.quinn, station=station, reason="Still there")
    assert set(JournalEntry.objects.filter(verb__startswith="station.").values_list("verb", flat=True)) == {
        "station.declared", "station.serves", "station.ended", "station.restored",
    }  # fmt: skip


def test_a_station_is_declared_read_and_changed_on_its_pages(in_date: Cast) -> None:
    cast = in_date
    client, project = as_person(cast.ines), cast.site.project
    sent = {"code": "CS-2", "name": "Hall", "where": "indoors", "dehumidifier": "on", "holds_h": "2", "since":
            "2026-03-04T00:00"}  # fmt: skip
    wrong = client.post(reverse("station_new", args=[project.pk]), {**sent, "codes": "A1, B7"})
    assert wrong.status_code == 422
    assert "No area in use has the code B7." in wrong.content.decode()
    client.post(reverse("station_new", args=[project.pk]), {**sent, "codes": "A1, A2"})
    station = Station.objects.get()
    address = reverse("station_read", args=[station.pk])
    figures = {
        "taken_at": "2026-03-04T08:00", "dry_bulb_c": "20", "wet_bulb_c": "15", "surface_c": "18",
        "warmest_surface_c": "24", "pressure_hpa": "1013.25", "wind_m_s": "1,5", "rain": "none",
        "dehumidifier_on": "True",
    }  # fmt: skip
    both = [coat.pk for coat in cast.site.coats[:2]]
    page = client.post(address, {**figures, "coats": both}, follow=True).content.decode()
    assert "The reading at CS-2 is stored. Within the limits." in page
    assert "no longer counts since 2026-03-04 10:00" in page
    assert ClimateRecord.objects.filter(dehumidifier_on=True, wind_m_s="1.5").count() == 2
    client.post(
        reverse("station_areas", args=[station.pk]), {"codes": "A2", "since": "2026-03-04T09:00", "reason": "Moved"}
    )
    assert [row.area.code for row in station.serves.filter(ended_at=None)] == ["A2"]
    assert "Climate stations" in client.get(reverse("project", args=[project.pk])).content.decode()
    assert "CS-2" in client.get(reverse("station_list", args=[project.pk])).content.decode()
    assert as_person(cast.igor).get(reverse("station", args=[station.pk])).status_code == 404


def test_a_contractors_people_see_the_stations_of_their_areas_and_write_nothing(cast: Cast) -> None:
    station = a_station(cast)
    read(cast, station)
    painters = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    painter = casting.person("Pia Painter", painters, Role.CONTRACTOR)
    cast.site.project.contractor = painters
    cast.site.project.save()
    Membership.objects.create(project=cast.site.project, person=painter, role=Role.CONTRACTOR)
    client = as_person(painter)
    page = client.get(reverse("station", args=[station.pk]))
    assert page.status_code == 200
    assert "Record a reading" not in page.content.decode()
    assert client.get(reverse("station_read", args=[station.pk])).status_code == 403


def test_the_api_takes_a_station_and_a_reading_again_without_harm(cast: Cast) -> None:
    site = cast.site
    sent = {
        "id": str(new_id()), "project": str(site.project.pk), "code": "CS-3", "name": "Quay", "where": "outdoors",
        "areas": [str(site.area.pk), str(site.other_area.pk)], "since": "2026-03-01T00:00:00Z",
    }  # fmt: skip
    client = as_person(cast.ines)
    assert send(client, reverse("api_station_list"), sent).status_code == 201
    assert send(client, reverse("api_station_list"), sent).status_code == 200
    assert send(client, reverse("api_station_list"), {**sent, "name": "Pier"}).status_code == 409
    reading = {
        "id": str(new_id()), "coats": [str(site.coats[0].pk)], "taken_at": MORNING.isoformat(), "dry_bulb_c": 20,
        "wet_bulb_c": 15, "surface_c": 18, "wind_m_s": 3.2, "rain": "none",
    }  # fmt: skip
    address = reverse("api_station_readings", args=[sent["id"]])
    first = send(client, address, reading)
    assert first.status_code == 201
    [told] = first.json()
    assert (told["station"], told["verdict"], told["wind_m_s"]) == (sent["id"], "pass", 3.2)
    assert send(client, address, reading).status_code == 200
    assert send(client, address, {**reading, "id": str(new_id()), "coats": [str(new_id())]}).status_code == 404
    assert [one["code"] for one in client.get(reverse("api_station_list")).json()["results"]] == ["CS-3"]


def test_neither_reading_nor_looking_takes_more_queries_with_more_areas(cast: Cast) -> None:
    def counted(many: int, code: str) -> tuple[int, int]:
        areas = [
            InspectionArea.objects.create(
                structure=cast.site.structure, system=cast.site.system, code=f"{code}{number}", name="Bay", area_m2=4
            )
            for number in range(many)
        ]
        station = a_station(cast, code=code, areas=areas)
        with CaptureQueriesContext(connection) as storing:
            read(cast, station)
        written = len(storing)
        for hours in range(1, many // 2):
            read(cast, station, at=MORNING + hours * HOUR)
        client = as_person(cast.ines)
        client.get(reverse("station", args=[station.pk]))
        with CaptureQueriesContext(connection) as looking:
            client.get(reverse("station", args=[station.pk]))
        return written, len(looking)

    counted(3, "W")
    assert counted(3, "F") == counted(20, "M")
