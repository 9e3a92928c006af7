"""The app's forms: for every kind of record and every act, what is typed into the told form is what the API takes."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from inspection.fieldapp.told_forms import _all, forms_for
from inspection.fieldwork.climate.stations import declare_station
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.actions import mark_done, open_item
from inspection.works.models import Lot, Mix, PaintBatch
from tests.cast import MORNING, Cast
from tests.fieldapp import bodies
from tests.fieldapp.phone import by_node
from tests.notices.scene import give, planned
from tests.works.painted import painted

HERE = Path(__file__).parent
# Of what is there already.
CHANGES = ("/end/", "/use/", "/acknowledge/", "/outcome/", "/receipt/")
OF = {"zone": "Europe/Oslo", "unit": "um", "now": MORNING.isoformat()}


def laid_out(cast: Cast) -> dict[str, str]:
    """What the acts name: a crew, a batch and a mix of it, a lot under way, a station, an item of rework."""
    site = cast.site
    batch = painted(cast)
    mix, lot = Mix.objects.get(), Lot.objects.get()
    under_way = Lot.objects.create(
        project=site.project, number=7, activity="coat", method="airless", coat=site.coats[0], crew=lot.crew,
        begun_at=MORNING, entered_by=cast.ines, digest="0" * 64,
    )  # fmt: skip
    station, _ = declare_station(
        cast.ines, id=new_id(), project=site.project, code="CS-1", name="Deck", where="outdoors", areas=[site.area],
        since=MORNING,
    )  # fmt: skip
    item, _ = open_item(cast.ines, id=new_id(), area=site.area, coat=site.coats[0], what="runs", place="frame 12")
    done, _ = open_item(cast.ines, id=new_id(), area=site.area, coat=site.coats[0], what="sags", place="frame 14")
    mark_done(cast.quinn, item=done, what="ground", done_by="Days", done_at=MORNING)
    notice = give(cast, planned(cast))
    ids = {"done": done, "notice": notice, "person": cast.ines, "standard": cast.shims[50],
           "point": HoldPoint.objects.filter(line__isnull=False)[0],
           "project": site.project, "area": site.area, "coat": site.coats[0], "crew": lot.crew, "batch": batch,
           "mix": mix, "lot": under_way, "station": station, "rework": item, "gauge": cast.gauge}  # fmt: skip
    return {name: str(row.pk) for name, row in ids.items()}


def named(sample: dict[str, Any], ids: dict[str, str]) -> dict[str, Any]:
    text = json.dumps(sample, default=lambda each: each.isoformat())
    for name, pk in ids.items():
        text = text.replace(f"{{{name}}}", pk)
    return dict(json.loads(text))


@pytest.mark.django_db
def test_what_is_typed_into_every_told_form_is_taken_by_the_api(cast: Cast, client: Client, tmp_path: Path) -> None:
    told = {form["name"]: form for form in forms_for(cast.ines)}
    assert set(bodies.RECORDS) == {kind.name for kind, _ in TAKEN_BY_FORM}, "each kind has its sample"
    assert set(told) == set(bodies.RECORDS) | set(bodies.ACTS), "and each act"
    rows = {(name, each["name"]): each["help"] for name, form in told.items() for each in form["fields"]
            if each["type"] == "rows"}  # fmt: skip
    assert not [place for place, text in rows.items() if "colon" in text], "each cell has a box of its own"
    assert rows["abrasive", "leachates"] == "Two each"
    yes_or_no = [each for name in ("attendance", "rework-looked") for each in told[name]["fields"]
                 if each["type"] == "flag"]  # fmt: skip
    assert [(each["null"], each["required"]) for each in yes_or_no] == [(True, True)] * 2, "nobody says no by silence"
    assert rows["wetsponge", "holidays"] == "None where none is found"
    ids = laid_out(cast)
    questions = []
    for name, form in told.items():
        where = {"area": ids["area"], "coat": ids["coat"], "taken_at": MORNING.isoformat()}
        sample = bodies.ACTS[name] if name in bodies.ACTS else where | bodies.RECORDS[name]
        of = {**OF, "id": str(new_id()), "project": ids["project"]}
        questions.append({"ask": "filled", "form": form, "sample": named(sample, ids), "of": of})
    client.force_login(cast.ines)
    for question, answer in zip(questions, by_node(tmp_path, HERE / "told.mjs", questions), strict=True):
        form, body = question["form"], answer["body"]
        assert not answer["faults"], (form["name"], answer["faults"])
        about = {"rework": ids["done"]} if form["name"] == "rework-looked" else {}
        address = form["address"].format(**ids | about)
        if "confirmed" in form.get("body", ()):
            body |= {"confirmed": True}
        sent = client.post(address, body, content_type="application/json")
        assert sent.status_code == (200 if address.endswith(CHANGES) else 201), (form["name"], sent.content)
        for field in form["fields"]:
            given = question["sample"].get(field["name"])
            if field["type"] != "moment" and given not in (None, [], "", False):
                assert body[field["name"]] == given, (form["name"], field["name"])
    assert PaintBatch.objects.count() == 2


@pytest.mark.django_db
def test_who_may_not_send_a_form_is_told_none(cast: Cast) -> None:
    assert {form["name"] for form in forms_for(cast.clara)} == {"nonconformance", "notice-read"}
    assert not forms_for(cast.audrey)
    labels = {form["name"]: {f["name"]: f["label"] for f in form["fields"]} for form in forms_for(cast.ines)}
    assert labels["pulloff"]["dolly_mm"] == "Dolly, diameter in mm", "as on the page of the kind"
    assert labels["diary-visitor"]["text"] == "Reason"
    [rows] = [
        f for form in forms_for(cast.ines) if form["name"] == "dust" for f in form["fields"] if f["name"] == "tapes"
    ]
    assert rows["fields"][0]["label"] == "Place", "the cells of a declared table say theirs"


def shares(**of: str) -> list[dict[str, str]]:
    return [{"key": code, "value": share} for code, share in of.items()]


@pytest.mark.once
def test_faults_name_field_and_row_before_anything_is_sent(tmp_path: Path) -> None:
    tests = {
        "name": "tests", "type": "rows", "required": True, "at_least": 1,
        "fields": [{"name": "place", "type": "text", "required": True}, {"name": "strength_mpa", "type": "number"},
                   {"name": "failures_pct", "type": "map", "required": True}],
    }  # fmt: skip
    figures = {"name": "readings", "type": "readings", "min": 0, "max": 100, "places": 1}
    form = {"fields": [tests, {"name": "taken_at", "type": "moment", "required": True}, figures,
                       {"name": "wanted", "type": "integer", "min": 1}, {"name": "um", "type": "number", "unit": "um"},
                       {"name": "mil", "type": "number", "unit": "mil"}]}  # fmt: skip
    of = {**OF, "id": "1", "project": "2"}
    wrong = {
        "tests": [{"place": "", "strength_mpa": "7,2", "failures_pct": shares(b="60", B="x")},
                  {"place": "", "strength_mpa": "", "failures_pct": []}],
        "taken_at": "2026-03-29T02:30", "readings": "7,25 101; 8", "wanted": "1.5", "um": "80", "mil": "3",
    }  # fmt: skip
    right = {**wrong, "taken_at": "2026-10-25T02:30", "readings": "7,2 99.9;\n8", "wanted": "3", "tests": [
        {"place": "web", "strength_mpa": "7,20", "failures_pct": shares(**{"b": "60", "b/c": "40"})},
        {"place": "", "strength_mpa": "", "failures_pct": [{"key": "", "value": ""}]}]}  # fmt: skip
    errors = [
        {"field": "tests[0].place", "row": None, "message": "May not be blank."},
        {"field": "tests", "row": 2, "message": "Give a code."},
        {"field": "moon", "row": None, "message": "No."},
    ]
    asked = [
        {"ask": "read", "form": form, "values": wrong, "of": of},
        {"ask": "read", "form": form, "values": right, "of": {**of, "now": 1_792_886_400_000}},
        {"ask": "answered", "form": form, "errors": errors},
        {"ask": "moment", "local": "2026-10-25T02:30", "zone": "Europe/Oslo"},
        {"ask": "moment", "local": "2026-02-30T02:30", "zone": "Europe/Oslo"},
    ]
    refused, read, answered, twice, none = by_node(tmp_path, HERE / "told.mjs", asked)
    assert [(f["field"], f["row"], f["cell"]) for f in refused["faults"]] == [
        ("tests", 1, "place"), ("tests", 1, "failures_pct"), ("tests", 1, "failures_pct"), ("taken_at", None, None),
        ("readings", None, None), ("readings", None, None), ("wanted", None, None),
    ]  # fmt: skip
    assert "stands twice" in refused["faults"][1]["message"]
    assert "never showed" in refused["faults"][3]["message"], "the clocks were put forward over it"
    # The hour that comes twice is the one nearest to now (IANA: Oslo went back at 01:00 UTC on 2026-10-25).
    assert read["body"]["taken_at"] == "2026-10-25T02:30:00+02:00"
    assert read["body"]["tests"] == [{"place": "web", "strength_mpa": 7.2, "failures_pct": {"B": 60, "B/C": 40}}]
    assert (read["body"]["readings"], read["body"]["um"], "mil" in read["body"]) == ([7.2, 99.9, 8], 80, False)
    assert read["faults"] == []
    assert [(f["field"], f["row"], f["cell"]) for f in answered] == [
        ("tests", 1, "place"), ("tests", 2, None), ("", None, None),
    ]  # fmt: skip
    assert [sent for sent, _ in twice] == ["2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00"]
    assert none == []


@pytest.mark.once
def test_the_app_sends_to_the_addresses_of_its_forms_and_screens_and_to_no_other(tmp_path: Path) -> None:
    one = "01a21a45-94f0-7953-afb9-e1f4a46a9528"
    told = {each for _, form in _all() for name, each in form.items() if name in ("address", "cautions_address")}
    own = sorted(
        {re.sub(r"{\w+}", one, each) for each in told}
        | {"/api/thickness/", "/api/verifications/", "/api/photos/", f"/api/photos/{one}/mark/", "/api/drawing-notes/"}
    )
    strange = [
        "/api/tokens/", f"/api/hold-points/{one}/release/", f"/api/hold-points/{one}/refuse/", f"/api/climate/{one}/",
        "https://elsewhere.example/api/climate/", "//elsewhere.example/api/climate/", "/api/climate/?x=/",
        f"/api/lots/../hold-points/{one}/release/x/../end/", f"/api/lots/{one}/end/\n", f"/api/lots/{one}/../end/",
    ]  # fmt: skip
    asked = [{"method": "POST", "address": each} for each in (*own, *strange)]
    told_of = by_node(tmp_path, HERE / "sent_to.mjs", [*asked, {"method": "DELETE", "address": "/api/climate/"}])
    assert told_of == [True] * len(own) + [False] * (len(strange) + 1)


@pytest.mark.django_db
def test_an_act_sent_again_after_a_lost_answer_is_done_once(cast: Cast, client: Client) -> None:
    """Key and digest as draft-ietf-httpapi-idempotency-key-header has it: the same again, and other content refused."""
    planned(cast)
    point = HoldPoint.objects.filter(line__isnull=False)[0]
    client.force_login(cast.ines)

    def noted(key: Any, **said: Any) -> Any:
        return client.post(
            f"/api/hold-points/{point.pk}/attend/", said, content_type="application/json",
            headers={"Idempotency-Key": str(key)},
        )  # fmt: skip

    key = new_id()
    refused = noted(key, note="nobody said whether they came")
    assert refused.status_code == 422, "and what was refused may be sent again, put right, under the same key"
    first, again = (noted(key, attended=True) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json()["already"]
    assert point.decisions.count() == 1
    assert noted(key, attended=False).status_code == 409
    client.force_login(cast.quinn)
    assert noted(key, attended=True).status_code == 201, "a key is its sender's alone"
    assert noted("none", attended=True).status_code == 400
