"""Lots by their pages, the API and the core: begun, ended, corrected, withdrawn; what is refused, and what is asked."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts.models import JournalEntry, Organisation, Person, Role
from inspection.fieldwork.climate.recording import record_climate
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import DataSheet, DataSheetRow, InspectionArea, Membership, Party
from inspection.works.crews import add_crew
from inspection.works.models import Crew, Lot, LotPlace, Shift
from tests.cast import MORNING, Cast, person

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def words(answer: Any) -> str:
    """What a reader sees of a page, on one line."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def as_person(who: Person) -> Client:
    client = Client()
    client.force_login(who)
    return client


@pytest.fixture
def crew(cast: Cast) -> Crew:
    party = Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)
    return Crew.objects.create(project=cast.site.project, party=party, name="Days")


@pytest.fixture
def begin(cast: Cast, crew: Crew) -> Callable[..., Any]:
    """A lot of the primer on area A1 that was begun in the morning, sent to the API, but for what is named."""

    def send(by: Person | None = None, **otherwise: Any) -> Any:
        sent = {
            "id": str(new_id()), "activity": "coat", "coat": str(cast.site.coats[0].pk), "crew": str(crew.pk),
            "method": "airless", "begun_at": MORNING.isoformat(), "places": [{"area": str(cast.site.area.pk)}],
            "confirmed": True, **otherwise,
        }  # fmt: skip
        address = f"/api/projects/{cast.site.project.pk}/lots/begin/"
        return as_person(by or cast.ines).post(address, sent, content_type="application/json")

    return send


def messages(answer: Any, status: int = 422) -> dict[str, str]:
    assert answer.status_code == status, answer.content
    return {f"{fault['field']}{fault.get('row') or ''}": fault["message"] for fault in answer.json()["errors"]}


def test_a_lot_is_begun_on_its_page_ended_corrected_withdrawn_and_brought_back(cast: Cast, crew: Crew) -> None:
    ines, project = as_person(cast.ines), cast.site.project
    Shift.objects.create(crew=crew, begun_at=MORNING - HOUR)
    typed = {
        "id": str(new_id()), "activity": "blast", "places": "a1: 50 %\nA2: 12,5 m²", "crew": str(crew.pk),
        "begun_at": "2026-03-04T07:00", "method": "dryblast", "tip": "no. 6",
    }  # fmt: skip
    shown = ines.post(f"/projects/{project.pk}/lots/new/", typed, follow=True)
    assert "Lot 1: Blast cleaning" in words(shown), words(shown)
    assert "A1 Hatch 4 8" in words(shown)
    assert "A2 Shell 12.50 60" in words(shown)
    lot = Lot.objects.get()
    assert lot.shift is not None, "the crew’s shift that holds the beginning is found"
    again = ines.post(f"/projects/{project.pk}/lots/new/", typed, follow=True)
    assert (again.status_code, Lot.objects.count()) == (200, 1)

    ended = ines.post(f"/lots/{lot.pk}/end/", {"ended_at": "2026-03-04T09:30"}, follow=True)
    assert "Ended 2026-03-04 09:30" in words(ended)
    filled = ines.get(f"/lots/{lot.pk}/correct/")
    assert "A2: 12.5" in filled.content.decode()
    right = {
        **typed,
        "id": str(new_id()),
        "places": "A2: 20",
        "ended_at": "2026-03-04T09:30",
        "reason": "Not the hatch",
    }
    corrected = ines.post(f"/lots/{lot.pk}/correct/", right, follow=True)
    assert "Lot 1: Blast cleaning" in words(corrected)
    assert "Not the hatch" in words(corrected)
    assert "corrected" in words(ines.get(f"/lots/{lot.pk}/"))
    new = Lot.objects.get(replaces=lot)
    ines.post(f"/lots/{new.pk}/withdraw/", {"reason": "Of yesterday"})
    assert "Withdrawn" in words(ines.get(f"/projects/{project.pk}/lots/?state=withdrawn"))
    ines.post(f"/lots/{new.pk}/restore/", {"reason": "It was today"})
    assert not Lot.objects.get(pk=new.pk).withdrawn_at
    verbs = list(JournalEntry.objects.filter(verb__startswith="lot.").order_by("pk").values_list("verb", flat=True))
    assert verbs == ["lot.begun", "lot.ended", "lot.corrected", "lot.withdrawn", "lot.restored"]
    assert as_person(cast.igor).get(f"/lots/{new.pk}/").status_code == 404
    assert as_person(cast.clara).get(f"/lots/{new.pk}/").status_code == 200
    assert as_person(cast.clara).get(f"/projects/{project.pk}/lots/new/").status_code == 403


def test_what_was_sent_twice_is_stored_once_and_other_content_is_a_conflict(cast: Cast, begin: Any, crew: Crew) -> None:
    own = str(new_id())
    first, again = begin(id=own), begin(id=own)
    assert (first.status_code, again.status_code, Lot.objects.count()) == (201, 200, 1)
    Shift.objects.create(crew=crew, begun_at=MORNING - HOUR)
    assert begin(id=own).status_code == 200, "a shift told later changes nothing of what was sent"
    assert "used already" in messages(begin(id=own, method="brush"), 409)["id"]
    ines, ended = as_person(cast.ines), {"ended_at": (MORNING + HOUR).isoformat(), "drawn_l": 10, "returned_l": 1}
    for _ in range(2):
        answer = ines.post(f"/api/lots/{own}/end/", ended, content_type="application/json")
        assert (answer.status_code, answer.json()["drawn_l"]) == (200, 10)
    late = {**ended, "drawn_l": 12}
    assert ines.post(f"/api/lots/{own}/end/", late, content_type="application/json").status_code == 409


def test_bad_input_gets_a_sentence_that_names_field_and_row(cast: Cast, begin: Any, crew: Crew) -> None:
    site = cast.site
    other = add_crew(cast.quinn, project=site.project, party=crew.party, name="Nights")
    foreign_shift = Shift.objects.create(crew=other, begun_at=MORNING)
    hour_before = (MORNING - HOUR).isoformat()
    assert "give an end after that" in messages(begin(ended_at=hour_before))["ended_at"]
    assert "which has 8 m²" in messages(begin(places=[{"area": str(site.area.pk), "m2": 9}]))["places1"]
    twice = [{"area": str(site.other_area.pk)}, {"area": str(site.area.pk)}, {"area": str(site.area.pk)}]
    assert "more than once" in messages(begin(places=twice))["places3"]
    foreign = [{"area": str(site.area.pk)}, {"area": str(cast.foreign.area.pk)}]
    assert "no such area" in messages(begin(places=foreign), 404)["places2"]
    assert "not one of crew Days" in messages(begin(shift=str(foreign_shift.pk)))["shift"]
    assert "41 l came back of 40 l drawn" in messages(begin(drawn_l=40, returned_l=41))["returned_l"]
    assert "how many litres were drawn" in messages(begin(returned_l=1))["drawn_l"]
    assert "leave the coat out" in messages(begin(activity="blast", method="dryblast"))["coat"]
    assert "Say which coat" in messages(begin(coat=None))["coat"]
    assert "say how the steel was cleaned" in messages(begin(activity="blast", coat=None))["method"]
    assert "say how the paint was put on" in messages(begin(method="dryblast"))["method"]
    from inspection.projects.models import Coat, CoatingSystem

    system = CoatingSystem.objects.create(project=site.project, name="Inside", preparation_grade="Sa 3")
    inside = Coat.objects.create(
        system=system, order=1, name="Lining", product="Paint", volume_solids_pct=90, nominal_nm=300_000,
        rule=Coat.Rule.ISO_19840,
    )  # fmt: skip
    assert "no coat of A1" in messages(begin(coat=str(inside.pk)))["places1"]
    assert (
        "above 0 and at most 100" in messages(begin(places=[{"area": str(site.area.pk), "share_pct": 101}]))["places1"]
    )
    assert not Lot.objects.exists()


def test_on_the_page_a_place_that_is_none_is_named_by_its_row(cast: Cast, crew: Crew) -> None:
    typed = {"id": str(new_id()), "activity": "blast", "places": "A1\nA9\nA2: much", "crew": str(crew.pk),
             "begun_at": "2026-03-04T07:00", "method": "dryblast"}  # fmt: skip
    page = as_person(cast.ines).post(f"/projects/{cast.site.project.pk}/lots/new/", typed)
    assert page.status_code == 422
    assert "Row 3: “much” is no number" in words(page)
    typed["places"] = "A1\nA9"
    assert "Row 2: there is no such area" in words(as_person(cast.ines).post(page.request["PATH_INFO"], typed))


def test_what_is_doubtful_is_asked_about_once_and_kept_with_the_lot(cast: Cast, begin: Any) -> None:
    site, quinn = cast.site, cast.quinn
    sheet = DataSheet.objects.create(project=site.project, product="Paint", revision="1", thinner_max_pct=5)
    site.coats[1].data_sheet = sheet
    site.coats[1].save()
    HoldPoint.objects.create(
        project=site.project, area=site.area, coat=site.coats[0], title="After the primer", planned_at=MORNING - HOUR,
    )  # fmt: skip
    begin(ended_at=(MORNING + HOUR).isoformat())
    over = {"coat": str(site.coats[1].pk), "begun_at": (MORNING + 2 * HOUR).isoformat(), "thinner_pct": 8}
    refused = messages(begin(by=quinn, **over), 422)
    assert "“After the primer” holds" in refused["places"], "what is to begin stops at a hold; it was confirmed"
    assert "If it was applied all the same, record the lot with its end." in refused["places"]
    assert Lot.objects.count() == 1
    over["ended_at"] = (MORNING + 3 * HOUR).isoformat()
    asked = begin(by=quinn, confirmed=False, **over)
    told = " ".join(fault["message"] for fault in asked.json()["errors"])
    assert asked.status_code == 428
    for part in ("at most 5 %", "no climate for this coat", "“After the primer” holds"):
        assert part in told, told
    stored = begin(by=quinn, **over)
    assert stored.status_code == 201, "evidence is never turned away"
    assert any("After the primer" in sentence for sentence in stored.json()["gone_over"])
    point = HoldPoint.objects.get()
    assert point.passed_over_at == MORNING + 2 * HOUR, "going on over an open hold is recorded, never refused"
    assert point.passed_draft is not None
    as_person(quinn).post(f"/lots/{stored.json()['id']}/withdraw/", {"reason": "On another area"})
    point.refresh_from_db()
    assert point.passed_over_at is None, "and taken back with what went on over it"


def test_more_of_an_area_than_there_is_and_a_failing_climate_are_asked_about(cast: Cast, begin: Any) -> None:
    site = cast.site
    climate_of(cast, MORNING - HOUR, steel="4.0")
    begin(places=[{"area": str(site.area.pk), "share_pct": 60}])
    asked = messages(begin(confirmed=False, places=[{"area": str(site.area.pk), "m2": 5}]), 428)
    assert "9.8 m² would be recorded" in asked["places"]
    assert "the last climate before the beginning does not pass" in asked["begun_at"]


def climate_of(cast: Cast, at: datetime, *, steel: str, coat: int = 0) -> None:
    record_climate(
        cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=cast.site.coats[coat], taken_at=at,
        dry_bulb_c=Decimal("18"), relative_humidity_pct=Decimal("50"), surface_c=Decimal(steel), source="api",
    )  # fmt: skip


def sheet_of_primer(cast: Cast, *rows: tuple[int, int, int | None]) -> None:
    sheet = DataSheet.objects.create(project=cast.site.project, product="Paint", revision="2")
    for temperature, least, most in rows:
        DataSheetRow.objects.create(
            sheet=sheet, temperature_c=temperature, recoat_min_hours=least, recoat_max_hours=most
        )
    cast.site.coats[0].data_sheet = sheet
    cast.site.coats[0].save()


def clock(cast: Cast, by: Person | None = None) -> Any:
    return as_person(by or cast.ines).get(f"/api/projects/{cast.site.project.pk}/recoat-clock/").json()


def test_a_recoat_window_follows_the_steel_temperatures_measured_since(cast: Cast, begin: Any) -> None:
    sheet_of_primer(cast, (10, 16, 96), (20, 8, 48))
    begin(begun_at=(MORNING - 2 * HOUR).isoformat(), ended_at=MORNING.isoformat())
    [window] = clock(cast)
    assert (window["state"], window["opens_at"]) == ("not known", None)
    assert "No steel temperature" in window["notes"][0]
    climate_of(cast, MORNING, steel="20.0")
    climate_of(cast, MORNING + 4 * HOUR, steel="15.0")
    [window] = clock(cast)
    # Half of 8 h at 20 °C are used up in 4 h; half of 12 h, between the two stated, are left at 15 °C.
    assert window["opens_at"] == "2026-03-04T17:00:00Z"
    climate_of(cast, MORNING + 5 * HOUR, steel="4.0")
    [window] = clock(cast)
    assert window["opens_at"] is None
    assert "nothing is guessed beyond" in " ".join(window["notes"])


def test_a_single_stated_temperature_counts_where_none_was_measured_and_a_coat_too_early_is_asked_about(
    cast: Cast, begin: Any
) -> None:
    sheet_of_primer(cast, (20, 8, 48))
    begin(begun_at=(MORNING - 2 * HOUR).isoformat(), ended_at=MORNING.isoformat())
    [window] = clock(cast)
    assert window["opens_at"] == "2026-03-04T15:00:00Z"
    assert "taken as at the stated 20 °C" in window["notes"][0]
    next_coat = {"coat": str(cast.site.coats[1].pk), "confirmed": False}
    early = begin(begun_at=(MORNING + 7 * HOUR).isoformat(), **next_coat)
    assert "not to be painted over before 2026-03-04 15:00" in " ".join(f["message"] for f in early.json()["errors"])
    late = begin(begun_at=(MORNING + 49 * HOUR).isoformat(), **next_coat)
    assert "its recoat window closed at 2026-03-06 07:00" in " ".join(f["message"] for f in late.json()["errors"])
    page = words(as_person(cast.ines).get(f"/projects/{cast.site.project.pk}/recoat-clock/"))
    assert "2026-03-04 15:00" in page
    begin(begun_at=(MORNING + 9 * HOUR).isoformat(), coat=next_coat["coat"])
    assert clock(cast) == [], "a place whose next coat was begun waits no more"


def test_a_contractor_records_lots_of_its_own_crews_and_sees_no_others(cast: Cast, begin: Any) -> None:
    project = cast.site.project
    painters = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    pia = person("Pia Painter", painters, Role.CONTRACTOR)
    project.contractor = painters
    project.save()
    Membership.objects.create(project=project, person=pia, organisation=painters, role=Role.CONTRACTOR)
    theirs = add_crew(
        cast.quinn, project=project, party=Party.objects.get(project=project, organisation=painters), name="Sprayers"
    )
    ours = begin().json()["id"]
    assert begin(by=pia).status_code == 404, "another party’s crew is not theirs to see"
    own = begin(by=pia, crew=str(theirs.pk), ended_at=(MORNING + HOUR).isoformat())
    assert own.status_code == 201
    client = as_person(pia)
    assert [lot["id"] for lot in client.get("/api/lots/").json()["results"]] == [own.json()["id"]]
    assert client.get(f"/lots/{ours}/").status_code == 404
    assert client.get(f"/lots/{own.json()['id']}/").status_code == 200
    assert client.post(f"/lots/{own.json()['id']}/withdraw/", {"reason": "Twice"}).status_code == 302


def many_lots(cast: Cast, crew: Crew, numbers: range) -> None:
    """Primer on as many areas of 5 m², a lot for each, ended in the morning."""
    site = cast.site
    areas = InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"L{number}", name="Plate", area_m2=5)
        for number in numbers
    )
    lots = Lot.objects.bulk_create(
        Lot(
            project=site.project, number=number, activity="coat", method="airless", coat=site.coats[0], crew=crew,
            begun_at=MORNING - HOUR, ended_at=MORNING, entered_by=cast.ines, digest="0" * 64,
        )
        for number in numbers
    )  # fmt: skip
    LotPlace.objects.bulk_create(LotPlace(lot=lot, area=area, m2=5) for lot, area in zip(lots, areas, strict=True))


def test_no_list_of_lots_asks_more_for_more_rows(cast: Cast, crew: Crew) -> None:
    quinn, counts = as_person(cast.quinn), []
    sheet_of_primer(cast, (20, 8, 48))
    project = cast.site.project.pk
    addresses = (
        f"/projects/{project}/lots/", f"/projects/{project}/recoat-clock/", "/api/lots/",
        f"/api/projects/{project}/recoat-clock/",
    )  # fmt: skip
    for numbers in (range(1, 4), range(4, 31)):
        many_lots(cast, crew, numbers)
        for address in addresses:
            with CaptureQueriesContext(connection) as asked:
                assert quinn.get(address).status_code == 200
            counts.append(len(asked))
    assert counts[:4] == counts[4:]


def test_the_page_of_the_day_tells_what_opens_until_it_ends(cast: Cast, begin: Any) -> None:
    sheet_of_primer(cast, (20, 8, 48))
    begin(begun_at=(MORNING - 2 * HOUR).isoformat(), ended_at=MORNING.isoformat())
    ines = as_person(cast.ines)
    with time_machine.travel(MORNING + HOUR, tick=False):
        assert "Not yet open 2026-03-04 15:00" in words(ines.get("/today/"))
    with time_machine.travel(MORNING + 10 * HOUR, tick=False):
        assert "recoat clock" not in words(ines.get("/today/")), "open since, and not closing today"
