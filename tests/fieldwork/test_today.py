"""The inspector's landing page: what is under way, in hand, next and done today, by project."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from time_machine import travel

from inspection.fieldwork import todays_work
from inspection.fieldwork.actions import note_reading, open_sheet, record_climate, record_thickness
from inspection.fieldwork.climate.stations import declare_station, record_at_station
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Gauge, Verification
from inspection.projects.models import InspectionArea
from tests.cast import MORNING, Cast
from tests.fieldwork.build import GOOD_SPOTS, sent, spots
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]
NOON = MORNING + timedelta(hours=5)


def check_gauge(cast: Cast, at: datetime, verdict: str = "pass") -> Verification:
    return Verification.objects.create(
        gauge=cast.gauge, project=cast.site.project, purpose="opening", taken_at=at, taken_by=cast.ines, inputs={},
        result={}, verdict=verdict, verified_from_nm=0, verified_to_nm=500_000, digest=str(new_id()),
    )  # fmt: skip


@pytest.mark.usefixtures("in_date")
def test_only_own_open_sheets_are_under_way(ines: Client, cast: Cast) -> None:
    own = open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    note_reading(cast.ines, sheet=own, spot=1, value_nm=80_000)
    other = open_sheet(
        cast.quinn, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    answer = ines.get(reverse("today"))
    assert "1 reading with G-01, begun" in words(answer)
    assert str(own.pk) in answer.content.decode()
    assert str(other.pk) not in answer.content.decode()


def test_a_gauge_in_hand_says_whether_it_was_verified_in_this_shift(ines: Client, cast: Cast) -> None:
    Gauge.objects.filter(pk=cast.gauge.pk).update(holder=cast.ines)
    # The shifts of the project begin at 06:00 and 18:00.
    check_gauge(cast, MORNING - timedelta(hours=2))
    with travel(NOON, tick=False):
        assert "G-01 : Not verified this shift" in words(ines.get(reverse("today")))
        check_gauge(cast, MORNING)
        assert "G-01 : Verified 07:00" in words(ines.get(reverse("today")))
        check_gauge(cast, MORNING + timedelta(hours=1), "fail")
        assert "G-01 : Failed its check 08:00" in words(ines.get(reverse("today")))


def test_areas_next_begin_with_what_failed(cast: Cast) -> None:
    thin = spots([20, 20, 20])
    record_thickness(cast.ines, **sent(cast))
    failed, _ = record_thickness(cast.ines, **sent(cast, area=cast.site.other_area, readings=thin))
    third = InspectionArea.objects.create(
        structure=cast.site.structure, system=cast.site.system, code="A3", name="Roof", area_m2=9
    )
    (today,) = todays_work.today(cast.ines, NOON)
    assert [(item.area, item.coat, item.record) for item in today.next] == [
        (cast.site.other_area, cast.site.coats[0], failed.pk),
        (cast.site.area, cast.site.coats[1], today.next[1].record),
        (third, cast.site.coats[0], None),
    ]


def test_an_area_whose_last_coat_passed_is_done(cast: Cast) -> None:
    InspectionArea.objects.filter(pk=cast.site.other_area.pk).delete()
    readings = spots(*[[300]] * 10)
    record_thickness(cast.ines, **sent(cast, coat=3, readings=readings))
    (today,) = todays_work.today(cast.ines, NOON)
    assert today.next == []


def test_todays_records_are_those_of_the_projects_day(ines: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast))
    # Before the first shift begins it is still yesterday.
    before = MORNING - timedelta(hours=2)
    yesterday, _ = record_thickness(cast.ines, **sent(cast, first_reading_at=before, last_reading_at=before))
    record_climate(
        cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0],
        taken_at=MORNING, dry_bulb_c=Decimal(20), wet_bulb_c=Decimal(15), surface_c=Decimal(18),
    )  # fmt: skip
    with travel(NOON, tick=False):
        page = ines.get(reverse("today")).content.decode()
    assert str(record.pk) in page
    assert f"/thickness/{yesterday.pk}/" not in page.split("Records today (2)")[1]
    # Folded: one line for the area, of the worst of what was found there.
    assert "A1 Hatch: 2 records" in page


def test_the_page_takes_no_more_queries_for_thirty_areas_and_records_than_for_three(ines: Client, cast: Cast) -> None:
    Gauge.objects.filter(pk=cast.gauge.pk).update(holder=cast.ines)
    costs = []
    with travel(NOON, tick=False):
        check_gauge(cast, MORNING - timedelta(minutes=30))
        for count in (3, 27):
            for number in range(count):
                area = InspectionArea.objects.create(
                    structure=cast.site.structure, system=cast.site.system, code=f"B{count}-{number}", name="B",
                    area_m2=8,
                )  # fmt: skip
                record_thickness(cast.ines, **sent(cast, area=area, readings=GOOD_SPOTS))
            with CaptureQueriesContext(connection) as caught:
                page = words(ines.get(reverse("today")))
            assert f"Records today ({count if count == 3 else 30})" in page
            # Many places where nothing failed take one line.
            assert ("30 places with nothing against them" in page) is (count == 27)
            costs.append(len(caught))
    assert costs[0] == costs[1]


def test_it_is_a_page_for_those_who_record(client: Client, cast: Cast) -> None:
    for someone, status in ((cast.ines, 200), (cast.quinn, 200), (cast.clara, 403), (cast.audrey, 403)):
        client.force_login(someone)
        assert client.get(reverse("today")).status_code == status
    client.force_login(cast.igor)
    assert "P-1" not in words(client.get(reverse("today")))


def test_areas_next_say_how_many_more_there_are(ines: Client, cast: Cast) -> None:
    def told() -> str:
        return words(ines.get(reverse("today")))

    assert "that want measuring" not in told()
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=cast.site.structure, system=cast.site.system, code=f"B{at}", name="Roof", area_m2=9)
        for at in range(8)
    )
    assert f"The first 6 of {InspectionArea.objects.filter(structure=cast.site.structure).count()} that want" in told()


def test_areas_next_go_no_further_than_a_hold_point_lets_them(ines: Client, cast: Cast) -> None:
    record_thickness(cast.ines, **sent(cast))
    after, bare = (
        HoldPoint.objects.create(project=cast.site.project, area=area, coat=coat, title="Look", measured=bool(coat))
        for area, coat in ((cast.site.area, cast.site.coats[0]), (cast.site.other_area, None))
    )
    (today,) = todays_work.today(cast.ines, NOON)
    assert (today.next, [(each.area, each.held_at) for each in today.held]) == (
        [], [(cast.site.area, after.pk), (cast.site.other_area, bare.pk)],
    )  # fmt: skip
    page = words(ines.get(reverse("today")))
    assert "No area can be measured now: each waits at a hold point." in page
    assert "2 wait at a hold point of the plan" in page
    # A witness point, and one that was released, hold nothing; what fails is measured again wherever it lies.
    HoldPoint.objects.filter(pk=bare.pk).update(kind="witness")
    record_thickness(cast.ines, **sent(cast, readings=spots([20, 20, 20]), first_reading_at=NOON, last_reading_at=NOON))
    (today,) = todays_work.today(cast.ines, NOON)
    assert [each.area for each in today.next] == [cast.site.area, cast.site.other_area]
    assert today.held == []
    assert "The list ends here" in words(ines.get(reverse("today")))


@pytest.mark.usefixtures("in_date")
def test_a_closing_check_says_when_it_falls_due(ines: Client, cast: Cast) -> None:
    with travel(NOON, tick=False):
        check_gauge(cast, MORNING)
        record_thickness(cast.ines, **sent(cast, first_reading_at=NOON, last_reading_at=NOON))
        # The shift of the project's clock ends at 18:00.
        assert "G-01, P-1: 1 record Waiting due by 18:00 Check" in words(ines.get(reverse("today")))
    with travel(NOON.replace(hour=17, minute=40), tick=False):
        assert "G-01, P-1: 1 record Due soon by 18:00, in 20 min" in words(ines.get(reverse("today")))
    with travel(NOON.replace(hour=18, minute=5), tick=False):
        assert "G-01, P-1: 1 record Overdue since 18:00" in words(ines.get(reverse("today")))


def test_a_station_says_when_it_is_to_be_read_next(ines: Client, cast: Cast) -> None:
    with travel(NOON, tick=False):
        station, _ = declare_station(
            cast.ines, project=cast.site.project, areas=[cast.site.area], since=MORNING, code="CS-1", name="Quay",
            where="outdoors", holds_h=2,
        )  # fmt: skip
        assert "Read CS-1 : Not read today" in words(ines.get(reverse("today")))
        record_at_station(
            cast.ines, id=new_id(), station=station, coats=[cast.site.coats[0]], taken_at=NOON,
            dry_bulb_c=Decimal(20), wet_bulb_c=Decimal(15), surface_c=Decimal(18),
        )  # fmt: skip
        page = words(ines.get(reverse("today")))
        assert "Read CS-1 : due by 14:00" in page
        assert "Climate station CS-1: 1 record" in page
    with travel(NOON + timedelta(minutes=100), tick=False):
        assert "Read CS-1 : Due soon by 14:00, in 20 min" in words(ines.get(reverse("today")))


def test_many_instruments_that_are_well_take_one_line(ines: Client, cast: Cast) -> None:
    meters = [Gauge(identity=f"M-{at}", kind=Gauge.Kind.CLIMATE, holder=cast.ines) for at in range(11)]
    Gauge.objects.bulk_create(meters)
    Gauge.objects.filter(pk=cast.gauge.pk).update(holder=cast.ines)
    with travel(NOON, tick=False):
        page = words(ines.get(reverse("today")))
    assert page.index("G-01") < page.index("11 more with nothing against them") < page.index("M-0")
    assert "11 more with nothing against them" in page
    assert "Dropped : report that G-01 was dropped or misused" in page
