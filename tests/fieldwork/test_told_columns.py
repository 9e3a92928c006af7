"""How a file is read is asked before its preview, remembered for the gauge, and told with what is stored."""

from __future__ import annotations

import base64
from typing import Any

from django.test import Client

from accounts.models import JournalEntry
from inspection.fieldwork.models import ThicknessRecord, ToldShape
from inspection.fieldwork.queries import readings_of
from inspection.foundation.ids import new_id
from tests.cast import Cast
from tests.fieldwork.test_fair_tables import ods
from tests.fieldwork.test_sheet_pages import ines, words
from tests.fieldwork.test_upload_pages import nothing_is_stored, upload

__all__ = ["ines"]

LIST = "Report\nDFT\n" + "84,5\n85,0\n79,9\n" * 5 + "Mean 83,1\n"
ANSWER = {"head": "2", "column_0": "thickness", "unit": "um", "per_spot": "3", "skipped": ["18"], "remember": "on"}


def answered(client: Client, page: Any, **changes: Any) -> Any:
    """The page of columns as it was filled, sent with what is told."""
    form = page.context["form"]
    filled = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in (filled | changes).items() if value not in (None, False, "")}
    return client.post(page.request["PATH_INFO"], sent)


def test_a_list_of_values_is_asked_about_stored_as_told_and_offered_the_next_time(ines: Client, cast: Cast) -> None:
    asked = upload(ines, cast, LIST)
    assert asked.url.endswith("/columns/")
    page = ines.get(asked.url)
    assert "Nothing says whether the readings are in µm, mil or mm" in words(page)
    assert "say it, or how many readings a spot has" in words(page)
    assert page.context["form"]["skipped"].value() == ["18"]
    unsaid = answered(ines, page)
    assert (unsaid.status_code, nothing_is_stored(), ToldShape.objects.count()) == (422, True, 0)
    assert "Lines that are no readings" in words(page), "as it is called before anything is sent"
    assert "Lines that are no readings" in words(unsaid)
    preview = answered(ines, page, **ANSWER)
    shown = words(ines.get(preview.url))
    assert "Passed over as no readings: lines 1, 18." in shown
    assert "Spots are counted in the order of the file, 3 readings each." in shown
    assert ines.post(preview.url).status_code == 302
    record = ThicknessRecord.objects.get()
    assert [reading[:3] for reading in readings_of(record)][:4] == [
        (1, 1, 84_500), (1, 2, 85_000), (1, 3, 79_900), (2, 1, 84_500),
    ]  # fmt: skip
    told = JournalEntry.objects.get(verb="thickness.file_read_as")
    assert told.after["shape"]["per_spot"] == 3
    # The next file of the gauge, of another length: its preview at once, the columns one press away.
    shorter = LIST.replace("84,5\n85,0\n79,9\n", "81,5\n80,0\n", 1)
    preview = upload(ines, cast, shorter).url
    shown = words(ines.get(preview))
    assert "Read as Ines Inspector told it for gauge G-01" in shown
    assert "Passed over as no readings: lines 1, 17." in shown
    again = ines.get(f"{preview.removesuffix('/')}/columns/")
    # A line that may be a reading badly written is asked about, and so is the same head in another unit.
    odd = ines.get(upload(ines, cast, LIST.replace("85,0", "8 5,0x", 1)).url)
    assert "Filled in as Ines Inspector told it for gauge G-01" in words(odd)
    assert "Line 4 may be a reading; say whether it is passed over." in words(odd)
    other = ines.get(upload(ines, cast, LIST.replace("DFT", "DFT mil")).url)
    assert "Filled in as" not in words(other)
    assert again.context["form"]["skipped"].value() == ["17"]
    assert answered(ines, again).url.startswith("/projects/")
    # Unticked, it is forgotten.
    assert answered(ines, again, remember=None).status_code == 302
    assert ToldShape.objects.count() == 0
    verbs = (
        JournalEntry.objects.filter(verb__startswith="gauge.file_shape").order_by("pk").values_list("verb", flat=True)
    )
    assert list(verbs) == ["gauge.file_shape_told", "gauge.file_shape_forgotten"]


def test_another_head_is_looked_at_before_its_columns_are_told(ines: Client, cast: Cast) -> None:
    page = ines.get(upload(ines, cast, "Place;Value\nsp;dry film um\n1;84,5\n1;85,0\n").url)
    assert page.context["form"]["head"].value() == "1"
    other = answered(ines, page, head="2", column_0="spot")
    assert other.status_code == 200
    assert "Column 2 “dry film um”" in words(other)
    assert answered(ines, other, column_0="spot", column_1="thickness").status_code == 302
    assert answered(ines, other, head="9" * 5000, separator="none", sheet="²").status_code == 200


def test_the_areas_of_one_file_are_stored_each_as_a_record_of_its_own(ines: Client, cast: Cast) -> None:
    rows = "".join(f"{area};{spot};8{n}\n" for area in ("A1", "A2", "X9") for spot in range(1, 6) for n in range(3))
    preview = upload(ines, cast, "Area;Spot;DFT um\n" + rows).url
    page = words(ines.get(preview))
    assert "The file holds 3 areas, each stored as a record of its own" in page
    assert "15, in µm" in page
    unknown = ines.get(preview, {"part": "X9"})
    assert unknown.status_code == 422
    assert "“X9” is no inspection area of" in words(unknown)
    following = ines.post(preview)
    assert following.url.endswith("?part=A2")
    assert "stored already" not in words(ines.get(following.url))
    assert ines.post(following.url).status_code == 302
    stored = {record.area.code: record.reading_count for record in ThicknessRecord.objects.all()}
    assert stored == {cast.site.area.code: 15, cast.site.other_area.code: 15}
    one = words(ines.get(upload(ines, cast, "Area;Spot;DFT um\nA2;1;84\n").url))
    assert "The file names the area A2; you chose A1" in one


def test_readings_too_fine_are_refused_only_where_rounding_would_change_a_check(ines: Client, cast: Cast) -> None:
    """The primer's least is 60 µm: three readings of 59.9996 µm lie below it, and rounded up would not."""
    fine = "spot,thickness_um\n" + "".join(f"{spot},84.50004\n" * 3 for spot in range(1, 6))
    page = ines.get(upload(ines, cast, fine).url)
    assert (page.status_code, "15 rows are finer than a nanometre" in words(page)) == (200, True)
    turning = fine + "".join(f"{spot},47.9999996\n" * 3 for spot in range(6, 11))
    page = ines.get(upload(ines, cast, turning).url)
    assert page.status_code == 422
    assert "finer than a nanometre, and rounding it would change a check" in words(page)


def test_the_api_says_what_it_must_be_told_and_stores_a_workbook_as_told(ines: Client, cast: Cast) -> None:
    site = cast.site
    record = {
        "id": str(new_id()), "project": str(site.project.pk), "area": str(site.area.pk), "coat": str(site.coats[0].pk),
        "gauge": str(cast.gauge.pk), "profile_way": "adjusted", "first_reading_at": "2026-03-04T07:00:00Z",
        "last_reading_at": "2026-03-04T08:00:00Z", "name": "list.ods",
        "content": base64.b64encode(ods(("Measured",), *[(80 + n,) for n in range(15)])).decode(),
    }  # fmt: skip

    def sent(where: str, **more: Any) -> Any:
        return ines.post(f"/api/thickness/files/{where}", record | more, content_type="application/json")

    looked = sent("look/").json()
    assert {one["part"] for one in looked["asked"]} >= {"unit", "spot"}
    assert (sent("").status_code, looked["first_lines"][:2]) == (422, [["Measured"], ["80"]])
    shape = {"columns": ["thickness"], "head": 1, "unit": "um", "per_spot": 3}
    wrong = sent("", shape=shape | {"columns": ["mass"]})
    assert (wrong.status_code, nothing_is_stored()) == (422, True)
    looked = sent("look/", shape=shape).json()
    assert (looked["asked"], looked["readings"], looked["verdict"], nothing_is_stored()) == ([], 15, "pass", True)
    stored = sent("", shape=shape, remember=True)
    assert (stored.status_code, stored.json()["verdict"]) == (201, "pass")
    assert (sent("", shape=shape).status_code, ThicknessRecord.objects.count()) == (200, 1)
    assert ThicknessRecord.objects.get().file.media_type == "application/vnd.oasis.opendocument.spreadsheet"
    # The same file as another record: asked about, and stored when it is meant.
    other = {"id": str(new_id()), "shape": shape}
    assert sent("", **other).status_code == 428
    assert sent("", **other, confirmed=True).status_code == 201
    again = sent("look/", id=str(new_id())).json()
    assert (again["told_before"], again["asked"]) == (True, [])
    assert "The same file is stored already" in again["stored_before"][0]
    two = {"id": str(new_id()), "content": "", "rows": "area;spot;DFT um\nA1;1;84\nA2;1;85\n"}
    assert "say which is meant" in sent("", **two).json()["errors"][0]["message"]
    assert sent("look/", **two, of_area="A1").json()["readings"] == 1
