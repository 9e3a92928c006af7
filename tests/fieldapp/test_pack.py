"""The field pack: what each person takes along, once, only where it changed, and on from where it broke off."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import Organisation, Person, Role
from inspection.drawings.actions import Placed, set_areas, withdraw_revision
from inspection.fieldapp import pack_drawings
from inspection.fieldapp.pack import pack_of
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.areas_next import areas_next
from inspection.fieldwork.profile.recording import LocationSent, record_profile
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.actions import PointSent, record_verification
from inspection.projects.models import InspectionArea, Membership, Party, Scope
from tests import cast as casting
from tests.cast import MORNING, Cast
from tests.drawings.test_drawings import drawn, kept, noted
from tests.fieldapp.phone import by_node
from tests.fieldapp.test_told_forms import laid_out
from tests.fieldwork.build import sent, spots
from tests.services import ROOT
from tests.works.painted import HOUR, painted

pytestmark = pytest.mark.django_db
HERE = Path(__file__).parent
PART = re.compile(r"^\| (?:the body|`(\w+)`) \| (.+) \|$", re.MULTILINE)


def content(person: Person, cast: Cast) -> dict[str, Any]:
    return dict(json.loads(pack_of(person, cast.site.project, timezone.now()).body))


def address_of(cast: Cast) -> str:
    return reverse("api_field_pack", args=[cast.site.project.pk])


def worked(cast: Cast) -> dict[str, str]:
    """A day's work on the first area: a check, a profile, paint, a lot, a station, rework, an open point."""
    site = cast.site
    casting.bring_in_date()
    ids = laid_out(cast)
    shims = [PointSent([cast.shims[nm]], [nm * 1_000 + 200] * 3) for nm in (50, 250)]
    record_verification(
        cast.ines, id=new_id(), gauge=cast.gauge, project=site.project, purpose="opening", taken_at=timezone.now(),
        points=shims, confirmed=True, as_left=True,
    )  # fmt: skip
    record_profile(
        cast.ines, id=new_id(), project=site.project, area=site.area, taken_at=MORNING, method="stylus",
        location_value="maximum", locations=[LocationSent([60_000] * 10)], abrasive="grit",
    )  # fmt: skip
    HoldPoint.objects.create(project=site.project, area=site.area, coat=site.coats[0], title="Primer measured")
    revision = kept(cast)
    set_areas(cast.ines, drawing=revision.drawing, areas=[Placed(site.area, 4_000, 5_000)])
    noted(cast, revision, area=site.area)
    return ids


def test_the_same_facts_are_the_same_bytes_and_a_broken_download_goes_on(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    address = address_of(cast)
    first = client.get(address, headers={"accept-encoding": "gzip"})
    whole = gzip.decompress(first.content)
    version = json.loads(whole)["version"]
    # As the phone holds it: the digest of all but the version itself.
    assert hashlib.sha256(b"{" + whole.split(b",", 1)[1]).hexdigest() == version
    assert (first["ETag"], first["X-Plain-Length"]) == (f'"{version}"', str(len(whole)))
    assert "no-store" in first["Cache-Control"]
    assert client.get(address, headers={"accept-encoding": "gzip"}).content == first.content
    assert client.get(address).content == whole

    same = client.get(address, headers={"if-none-match": f'"{version}"'})
    assert (same.status_code, same.content, same["ETag"]) == (304, b"", f'"{version}"')
    resumed = {"range": "bytes=1000-", "if-range": f'"{version}"'}
    rest = client.get(address, headers=resumed)
    assert (rest.status_code, whole[:1000] + rest.content) == (206, whole)
    assert rest["Content-Range"] == f"bytes 1000-{len(whole) - 1}/{len(whole)}"
    assert client.get(address, headers={**resumed, "range": f"bytes={len(whole)}-"}).status_code == 200
    cast.site.area.name = "Another name"
    cast.site.area.save()
    changed = client.get(address, headers=resumed)
    assert (changed.status_code, changed["ETag"] != first["ETag"]) == (200, True), "the whole, for it is another"
    assert client.get(address, headers={"if-none-match": f'"{version}"'}).status_code == 200
    client.force_login(cast.igor)
    assert client.get(address).status_code == 404


def test_each_takes_along_what_they_see_and_nothing_more(cast: Cast) -> None:
    worked(cast)
    site = cast.site
    company, client = content(cast.ines, cast), content(cast.clara, cast)
    [area] = [each for each in company["areas"] if each["id"] == str(site.area.pk)]
    assert [row[:3] for row in area["latest"]] == [["profile", None, "not judged"]]
    assert {point["title"] for point in company["points"]} == {"Line 1", "Primer measured"}
    assert (client["people"], client["may"]["record"], client["may"]["raise"]) == ([], False, True)
    assert {each["holder"] for each in client["gauges"]} <= {None}
    assert company["people"]

    painters = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    painter = casting.person("Petra Painter", painters, Role.CONTRACTOR)
    party = Party.objects.create(project=site.project, organisation=painters, kind=Party.Kind.CONTRACTOR)
    Membership.objects.create(project=site.project, person=painter, organisation=painters, role=Role.CONTRACTOR)
    Scope.objects.create(party=party, area=site.other_area)
    theirs = content(Person.objects.get(pk=painter.pk), cast)
    assert [each["id"] for each in theirs["areas"]] == [str(site.other_area.pk)]
    assert [point["area"] for point in theirs["points"]] == [str(site.other_area.pk)], "none of an area not theirs"
    for part in ("profiles", "rework", "people", "gauges", "standards", "lots", "batches", "last", "drawings",
                 "drawing_notes"):  # fmt: skip
        assert not theirs[part], part
    assert "latest" not in theirs["areas"][0]
    acts = {"lot", "lot-end", "mix", "mix-use", "batch", "nonconformance", "notice-read"}
    assert {form["name"] for form in theirs["forms"]} == acts


def test_the_number_of_queries_stays_however_much_there_is(cast: Cast) -> None:
    worked(cast)
    site = cast.site

    def counted() -> int:
        with CaptureQueriesContext(connection) as caught:
            content(Person.objects.get(pk=cast.ines.pk), cast)
        return len(caught)

    few = counted()
    for number in range(6):
        area = InspectionArea.objects.create(
            structure=site.structure, system=site.system, code=f"N{number}", name="Panel", area_m2=9
        )
        HoldPoint.objects.create(project=site.project, area=area, coat=site.coats[0], title="Primer")
        cast.gauge.pk = None
        cast.gauge.pk, cast.gauge.identity = new_id(), f"G-1{number}"
        cast.gauge.save(force_insert=True)
        drawing = kept(cast, f"D-2{number}")
        set_areas(cast.ines, drawing=drawing.drawing, areas=[Placed(area)])
        noted(cast, drawing, area=area)
    assert counted() == few


def test_the_smallest_pictures_are_taken_along_as_far_as_they_fit(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every drawing is there with its areas and notes; a picture that does not fit is left out, and so none is cut."""
    site = cast.site
    large, small = kept(cast, "D-1"), kept(cast, "D-2", drawn(size=(60, 40)))
    gone = kept(cast, "D-3")
    withdraw_revision(cast.ines, revision=gone, reason="Of another tank")
    set_areas(cast.ines, drawing=small.drawing, areas=[Placed(site.other_area, 0, 10_000), Placed(site.area)])
    note = noted(cast, small)
    pack = content(cast.ines, cast)
    assert [each["number"] for each in pack["drawings"]] == ["D-1", "D-2"]
    told = pack["drawings"][1]
    assert (told["width"], told["height"], told["revision_id"]) == (60, 40, str(small.pk))
    assert {(each["area"], each["x"], each["y"]) for each in told["areas"]} == {
        (str(site.area.pk), None, None), (str(site.other_area.pk), 0, 10_000),
    }  # fmt: skip
    assert [each["id"] for each in pack["drawing_notes"]] == [str(note.pk)]
    head, _, data = told["picture"].partition(",")
    assert head == "data:image/webp;base64"
    assert base64.b64decode(data)[:4] == b"RIFF"
    monkeypatch.setattr(pack_drawings, "MOST_PICTURES", large.small_size)
    pictures = [each["picture"] for each in content(cast.ines, cast)["drawings"]]
    assert [each is None for each in pictures] == [True, False]
    assert len(base64.b64decode(data)) == small.small_size < large.small_size <= 40_000


def test_the_document_tells_what_is_in_it(cast: Cast) -> None:
    """docs/explanation/field-pack.md names every part and what each of it has."""
    worked(cast)
    painted(cast, "K-2", at=timezone.now() - 2 * HOUR)
    pack = content(cast.ines, cast)
    text = (ROOT / "docs" / "explanation" / "field-pack.md").read_text(encoding="utf-8")
    told = {part: re.findall(r"`(\w+)`", names) for part, names in PART.findall(text)}
    assert set(told[""]) == set(pack)
    for part, names in told.items():
        found = pack[part] if part else []
        rows = found if isinstance(found, list) else [found]
        for row in rows:
            optional = set() if part not in ("areas", "forms") else set(names)
            assert set(row) <= set(names), part
            assert set(names) <= set(row) | optional, part
        assert rows or part in ("", "notices", "shifts"), f"nothing of {part} is laid out"


def served(name: str, **how: Any) -> dict[str, Any]:
    """A body as the office makes it, of a pack that holds but a name."""
    told = json.dumps({"name": name}, separators=(",", ":")).encode()
    version = hashlib.sha256(told).hexdigest()
    return {"body": f'{{"version":"{version}",{told[1:].decode()}', "version": version, **how}


@pytest.mark.once
def test_the_phone_goes_on_where_a_download_broke_and_never_loses_the_pack_it_has(tmp_path: Path) -> None:
    old, new = served("old"), served("new")
    torn = {**new, "body": new["body"].replace("new", "nex")}
    steps = [
        {**old, "breaks": [30]}, old, {**new, "breaks": [20, 0]}, new,
        {**old, "breaks": [None]}, torn | {"version": "0" * 64}, {**old, "breaks": [10, 0]}, new,
    ]  # fmt: skip
    [told] = by_node(tmp_path, HERE / "pack.mjs", [{"steps": steps}])
    first, same, broken, whole, offline, wrong, again, other, *kept = told
    assert (first["outcome"], first["name"], len(first["asked"])) == ("new", "old", 2), "on at once, in one go"
    assert (first["asked"][1]["Range"], first["asked"][1]["If-Range"]) == ("bytes=30-", f'"{old["version"]}"')
    assert (same["outcome"], same["name"], same["age"]) == ("same", "old", 300_000)
    assert broken["outcome"].startswith("PackBroken: The download stopped at 20 of ")
    assert (broken["name"], broken["parts"], broken["kept"]) == ("old", 1, 1), "the old one serves meanwhile"
    assert (whole["outcome"], whole["name"], whole["asked"][0]["Range"], whole["parts"]) == (
        "new",
        "new",
        "bytes=20-",
        0,
    )
    assert (offline["outcome"], offline["name"]) == ("offline", "new")
    assert (wrong["outcome"].split(":")[0], wrong["name"], wrong["parts"]) == ("PackBroken", "new", 0)
    assert (again["name"], again["parts"]) == ("new", 1)
    assert (other["outcome"], other["name"]) == ("same", "new")
    assert kept == [2, 0], "of a project that is theirs no more neither pack nor half a pack stays"


def test_the_phone_puts_first_what_the_office_puts_first(cast: Cast, tmp_path: Path) -> None:
    site = cast.site
    more = [
        InspectionArea.objects.create(structure=site.structure, system=site.system, code=code, name="Panel", area_m2=8)
        for code in ("B1", "B2", "B3")
    ]
    record_thickness(cast.ines, **sent(cast))
    # Well below the primer's 60 µm; a first reading alone; and one that a hold point keeps from its next coat.
    record_thickness(cast.ines, **sent(cast, area=more[0], readings=spots(*[[20, 21, 20]] * 5)))
    record_thickness(cast.ines, **sent(cast, area=more[1], readings=spots([80])))
    record_thickness(cast.ines, **sent(cast, area=more[2]))
    HoldPoint.objects.create(project=site.project, area=more[2], coat=site.coats[0], title="Primer measured")
    part = InspectionArea.objects.create(
        structure=site.structure, system=site.system, code="B1-R", name="Part", area_m2=1, repair_of=more[0]
    )
    pack = content(cast.ines, cast)
    [told] = by_node(tmp_path, HERE / "places.mjs", [{"pack": pack}])
    office = areas_next([site.project.pk])
    order = [[each.area.code, each.coat.name, each.why, each.held_at is not None] for each in office]
    assert sorted(told, key=lambda each: each[3]) == order
    assert len(order) == 5
    # With a repaired part beside what failed, that is measured and not the area.
    for area in pack["areas"]:
        if area["code"] == "B1":
            area["repairs"] = {str(site.coats[0].pk): str(part.pk)}
    [told] = by_node(tmp_path, HERE / "places.mjs", [{"pack": pack}])
    assert told[0] == ["B1-R", "Primer", "B1 failed, and stands once this repaired part passes and can be relied on",
                       False]  # fmt: skip
