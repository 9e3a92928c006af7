"""Items of rework: opened by holes and destructive tests or by hand, done, looked at by another, closed; ways back."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.fieldwork.pulloff.recording import PULL_OFF
from inspection.fieldwork.wetsponge.recording import WET_SPONGE
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints import actions as points
from inspection.holdpoints.evidence import evidence_of
from inspection.nonconformance import actions
from inspection.nonconformance.models import Nonconformance, ReworkEntry, ReworkItem
from reports.daily.gathering import gather
from reports.daily.pdf.document import draw
from reports.verify import decisions as verified
from tests.cast import DAY, MORNING, PASSWORD, Cast
from tests.fieldwork.after_paint import stored
from tests.fieldwork.test_pull_off import dolly, observed
from tests.fieldwork.test_sheet_pages import words
from tests.past_triggers import rewrite
from tests.projects.test_pages import as_person
from tests.standing.scene import measure, verify

HOLES = [{"place": "frame 12"}, {"place": "frame 14, above the weld"}]
SPONGE: dict[str, Any] = {"standard": "ASTM D5162", "dry_film_um": 200, "voltage_v": 67.5, "earth_proven": True,
                          "tested_m2": 8, "holidays": HOLES}  # fmt: skip
DONE: dict[str, Any] = {"what": "Brushed and touched up", "done_by": "Crew 2", "done_at": MORNING + timedelta(hours=2)}


def by_place() -> dict[str, str]:
    return dict(ReworkItem.objects.values_list("place", "state"))


def by_hand(cast: Cast, **changes: Any) -> ReworkItem:
    said = {"id": new_id(), "area": cast.site.area, "what": "Misses", "place": "behind bracket 3"} | changes
    return actions.open_item(cast.ines, **said)[0]


# --- opened -----------------------------------------------------------------------------------------------------------
def test_each_hole_and_each_destructive_test_opens_one_at_its_place(cast: Cast) -> None:
    record = stored(cast, WET_SPONGE, SPONGE)
    assert by_place() == {"frame 12": "open", "frame 14, above the weld": "open"}
    assert set(ReworkItem.objects.values_list("record", "what")) == {(record.pk, "Holiday")}
    stored(cast, WET_SPONGE, SPONGE, id=record.pk)
    assert ReworkItem.objects.count() == 2
    stored(cast, PULL_OFF, observed(dolly(8), dolly(9, place="flange"), dolly(9, place="flange")))
    assert ReworkItem.objects.filter(what="Pull-off test", place="flange").count() == 2
    assert not Nonconformance.objects.exists()


def test_a_correction_drops_what_it_no_longer_names_and_keeps_what_was_done(cast: Cast) -> None:
    record = stored(cast, WET_SPONGE, SPONGE)
    first = ReworkItem.objects.get(place="frame 12")
    actions.mark_done(cast.ines, item=first, **DONE)
    corrected = SPONGE | {"holidays": [{"place": "frame 13"}]}
    newer = stored(cast, WET_SPONGE, corrected, replaces=record, replacement_reason="The wrong frames were written")
    assert by_place() == {"frame 12": "done", "frame 14, above the weld": "dropped", "frame 13": "open"}
    assert "was corrected" in ReworkEntry.objects.get(kind="dropped").text
    page = words(as_person(cast.ines).get(reverse("wetsponge", args=[newer.pk])))
    for told in ("Holiday, frame 12 Done", "Holiday, frame 13 Open", "corrected by Ines Inspector"):
        assert told in page, told
    # What one correction dropped the next may name again; what stands is opened no second time.
    again = SPONGE | {"holidays": [*HOLES, {"place": "frame 13"}]}
    stored(cast, WET_SPONGE, again, replaces=newer, replacement_reason="They were right after all")
    assert sorted(ReworkItem.objects.exclude(state="dropped").values_list("place", flat=True)) == [
        "frame 12", "frame 13", "frame 14, above the weld",
    ]  # fmt: skip
    assert list(verified.differences()) == []


def test_one_is_opened_by_hand_once_and_only_by_those_who_inspect(cast: Cast) -> None:
    said: dict[str, Any] = {"id": new_id(), "area": cast.site.area, "what": " Misses ", "place": "behind bracket 3"}
    item, new = actions.open_item(cast.ines, **said)
    assert (new, item.what) == (True, "Misses")
    assert actions.open_item(cast.ines, **said) == (item, False)
    with pytest.raises(Conflict):
        actions.open_item(cast.ines, **said | {"place": "elsewhere"})
    with pytest.raises(Refused) as refused:
        by_hand(cast, place=" ")
    assert [fault.field for fault in refused.value.faults] == ["place"]
    with pytest.raises(NotAllowed):
        actions.open_item(cast.clara, **said | {"id": new_id()})
    with pytest.raises(Refused, match="no coat of this project"):
        actions.open_item(cast.quinn, **said | {"id": new_id(), "coat": cast.foreign.coats[0]})


# --- done, looked at, closed ------------------------------------------------------------------------------------------
def test_another_person_looks_at_it_and_every_entry_has_a_way_back(cast: Cast) -> None:
    item = by_hand(cast)
    done = actions.mark_done(cast.ines, item=item, **DONE)
    assert actions.mark_done(cast.ines, item=item, **DONE) == done
    with pytest.raises(Refused, match="Another person"):
        actions.look_at(cast.ines, item=item, in_order=True)
    with pytest.raises(Refused, match="what is not in order"):
        actions.look_at(cast.quinn, item=item, in_order=False)
    actions.look_at(cast.quinn, item=item, in_order=False, note="Still thin")
    item.refresh_from_db()
    assert item.state == "open"
    actions.mark_done(cast.ines, item=item, **DONE | {"what": "Touched up again"})
    closed = actions.look_at(cast.quinn, item=item, in_order=True)
    item.refresh_from_db()
    assert item.state == "closed"
    with pytest.raises(Conflict, match="closed now"):
        actions.drop_item(cast.ines, item=item, reason="too late")
    actions.take_entry_back(cast.quinn, entry=closed, reason="It was another bracket")
    item.refresh_from_db()
    assert item.state == "done"
    with pytest.raises(Conflict, match="already"):
        actions.take_entry_back(cast.quinn, entry=closed, reason="again")
    dropped = actions.drop_item(cast.ines, item=item, reason="Opened twice")
    actions.take_entry_back(cast.ines, entry=dropped, reason="It was not")
    item.refresh_from_db()
    assert item.state == "done"
    verbs = JournalEntry.objects.filter(object_id=str(item.pk)).order_by("pk").values_list("verb", flat=True)
    assert [verb.removeprefix("rework_item.") for verb in verbs] == [
        "opened", "done", "not_in_order", "done", "closed", "taken_back", "dropped", "taken_back",
    ]  # fmt: skip
    assert list(verified.differences()) == []
    rewrite(ReworkItem.objects.filter(pk=item.pk), state="closed")
    assert any("its entries make it done" in said for said in verified.differences())


def test_what_puts_it_right_was_done_after_it_was_found(cast: Cast) -> None:
    stored(cast, WET_SPONGE, SPONGE)
    item = ReworkItem.objects.get(place="frame 12")
    with pytest.raises(Refused, match="after that") as refused:
        actions.mark_done(cast.ines, item=item, **DONE | {"done_at": MORNING - timedelta(minutes=1)})
    assert refused.value.faults[0].field == "done_at"


# --- points -----------------------------------------------------------------------------------------------------------
def test_a_point_of_the_area_is_released_over_open_rework_only_with_a_reason(cast: Cast) -> None:
    site = cast.site
    (point,) = points.plan_points(
        cast.quinn, project=site.project, areas=[site.area], coat=site.coats[0], kind="hold", title="Film"
    )
    verify(cast, "06:40")
    measure(cast, "08:00", "08:20")
    verify(cast, "17:30")
    before = evidence_of(point)
    item = by_hand(cast)
    evidence = evidence_of(point)
    assert evidence.why_not == []
    assert evidence.to_accept == ["1 item of rework is not closed on this area: Misses, behind bracket 3."]
    assert evidence.digest != before.digest
    with pytest.raises(Conflict):
        points.release(cast.clara, point=point, password=PASSWORD, evidence_digest=before.digest)
    with pytest.raises(Refused, match="Rework on its area is still open"):
        points.release(cast.clara, point=point, password=PASSWORD, evidence_digest=evidence.digest)
    with pytest.raises(Refused, match="rework on its area is still open"):
        points.decide_many(cast.clara, project=site.project, shown={point.pk: evidence.digest}, password=PASSWORD)
    decision = points.release(
        cast.clara,
        point=point,
        password=PASSWORD,
        evidence_digest=evidence.digest,
        acceptance="Touched up with the next coat",
    )
    assert decision.reason == "Touched up with the next coat"
    assert decision.evidence["open_rework"] == [str(item.pk)]
    actions.mark_done(cast.ines, item=item, **DONE)
    actions.look_at(cast.quinn, item=item, in_order=True)
    assert evidence_of(point).digest == before.digest


# --- pages, API and report --------------------------------------------------------------------------------------------
def test_from_the_record_through_its_pages_to_closed(cast: Cast, client: Client) -> None:
    record = stored(cast, WET_SPONGE, SPONGE | {"holidays": HOLES[:1]})
    item = ReworkItem.objects.get()
    client.force_login(cast.ines)
    page = reverse("rework_item", args=[item.pk])
    with time_machine.travel(MORNING + timedelta(hours=3), tick=False):
        for address in (
            reverse("wetsponge", args=[record.pk]), reverse("area", args=[cast.site.area.pk]), reverse("rework_list"),
            page,
        ):  # fmt: skip
            assert "Holiday, frame 12" in words(client.get(address)), address
        assert "1 open, 0 done" in words(client.get(reverse("today")))
        wrong = client.post(reverse("rework_done", args=[item.pk]), {"what": "", "done_by": "Crew 2"})
        assert wrong.status_code == 422
        done = {"what": "Touched up", "done_by": "Crew 2", "done_at": f"{MORNING + timedelta(hours=2):%Y-%m-%dT%H:%M}"}
        shown = words(client.post(reverse("rework_done", args=[item.pk]), done, follow=True))
        assert "another person looks at it" in shown
        client.force_login(cast.quinn)
        look = reverse("rework_look", args=[item.pk])
        assert "what is not in order" in words(client.post(look, {"in_order": "no"}))
        assert "Closed" in words(client.post(look, {"in_order": "yes"}, follow=True))
        entry = ReworkEntry.objects.get(kind="right")
        back = reverse("rework_take_back", args=[entry.pk])
        assert client.post(back, {"reason": ""}).status_code == 422
        assert client.post(back, {"reason": "Another frame"}).status_code == 302
        drop = client.post(reverse("rework_drop", args=[item.pk]), {"reason": "Part of NC-1"}, follow=True)
        assert "Not to be done" in words(drop)
        new = reverse("rework_new", args=[cast.site.project.pk])
        opened = {"area": str(cast.site.area.pk), "what": "Runs", "place": "web"}
        assert "Runs, web" in words(client.post(new, opened, follow=True))
        assert client.post(new, opened | {"place": ""}).status_code == 422
    client.force_login(cast.clara)
    assert "Enter it as done" not in words(client.get(page))
    client.force_login(cast.carl)
    assert client.get(page).status_code == 404


def test_by_the_api_and_sent_again(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)

    def send(name: str, body: dict[str, Any], *args: Any) -> Any:
        return client.post(reverse(name, args=args), json.dumps(body), content_type="application/json")

    body = {"id": str(new_id()), "area": str(cast.site.area.pk), "what": "Misses", "place": "bracket 3"}
    assert [send("api_rework_list", body).status_code for _ in range(2)] == [201, 200]
    assert send("api_rework_list", body | {"what": "Runs"}).status_code == 409
    done = {"what": "Brushed", "done_by": "Crew 2", "done_at": MORNING.isoformat()}
    assert send("api_rework_done", done, body["id"]).status_code == 201
    assert send("api_rework_look", {"in_order": True}, body["id"]).status_code == 422
    client.force_login(cast.quinn)
    looked = send("api_rework_look", {"in_order": True}, body["id"])
    assert looked.status_code == 201, looked.content
    told = client.get(reverse("api_rework", args=[body["id"]])).json()
    assert (told["state"], [entry["kind"] for entry in told["entries"]]) == ("closed", ["done", "right"])
    assert send("api_rework_take_back", {"reason": "another"}, looked.json()["id"]).status_code == 201
    assert send("api_rework_drop", {"reason": "twice"}, body["id"]).status_code == 201
    listed = client.get(reverse("api_rework_list"), {"state": "dropped", "area": body["area"]}).json()["results"]
    assert [row["id"] for row in listed] == [body["id"]]
    assert client.get(reverse("api_rework_list"), {"state": "lost"}).status_code == 422


def test_the_list_and_the_day_ask_as_much_of_many_as_of_one(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)

    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as caught:
            assert client.get(address).status_code == 200
        return len(caught)

    addresses = [reverse("rework_list"), reverse("today"), reverse("area", args=[cast.site.area.pk])]
    by_hand(cast)
    few = [queries(address) for address in addresses]
    for number in range(6):
        by_hand(cast, place=f"bracket {number}", area=(cast.site.area, cast.site.other_area)[number % 2])
    assert [queries(address) for address in addresses] == few


def test_the_daily_report_tells_what_was_opened_done_and_closed_as_of_its_day(cast: Cast) -> None:
    with time_machine.travel(MORNING, tick=False):
        stored(cast, WET_SPONGE, SPONGE)
        quiet = by_hand(cast)
        actions.drop_item(cast.ines, item=quiet, reason="Opened twice")
    item = ReworkItem.objects.get(place="frame 12")
    with time_machine.travel(MORNING + timedelta(days=1), tick=False):
        actions.mark_done(cast.ines, item=item, **DONE)
        actions.look_at(cast.quinn, item=item, in_order=True)
    facts = gather(cast.site.project, DAY)
    told = {(row.place, row.state) for row in facts.rework}
    assert told == {
        ("frame 12", "Open"), ("frame 14, above the weld", "Open"), ("behind bracket 3", "Not to be done"),
    }  # fmt: skip
    assert draw(facts)
    after = gather(cast.site.project, DAY + timedelta(days=1))
    assert {(row.place, row.state) for row in after.rework} == {
        ("frame 12", "Closed"), ("frame 14, above the weld", "Open"),
    }  # fmt: skip
    assert [row.place for row in gather(cast.site.project, DAY + timedelta(days=2)).rework] == [
        "frame 14, above the weld"
    ]
