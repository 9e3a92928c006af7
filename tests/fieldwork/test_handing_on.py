"""What a file holds is read once and judged once, from its sending to the record, unless something changed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from inspection.fieldwork import handing_on, judging, reading_table
from inspection.fieldwork.judging import Answer, judge
from inspection.fieldwork.models import KeptUpload, ThicknessRecord
from inspection.fieldwork.queries import readings_of
from inspection.projects.models import Coat, InspectionArea, Project
from tests.cast import Cast
from tests.fieldwork.build import GOOD_SPOTS
from tests.fieldwork.test_api import thickness
from tests.fieldwork.test_sheet_pages import ines
from tests.fieldwork.test_upload_pages import GOOD, upload

__all__ = ["ines"]


class Work:
    """How often files were read, and rules asked about a coat."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.read = self.judged = 0
        read, asked = reading_table.sheets_of, judging.calculate

        def reading(*given: Any, **more: Any) -> Any:
            self.read += 1
            return read(*given, **more)

        def judged(name: str, given: Any) -> Any:
            self.judged += name.startswith("dft-")
            return asked(name, given)

        monkeypatch.setattr(reading_table, "sheets_of", reading)
        monkeypatch.setattr(judging, "calculate", judged)

    @property
    def done(self) -> tuple[int, int]:
        return self.read, self.judged


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> Work:
    return Work(monkeypatch)


def stored(client: Client, address: str) -> ThicknessRecord:
    """The record that confirming the preview gives; it says what its readings give."""
    assert client.post(address).status_code == 302
    record = ThicknessRecord.objects.get()
    record.area.refresh_from_db()
    fresh = judge(Coat.objects.get(pk=record.coat_id), record.area, readings_of(record), record.correction_nm)
    assert (record.inputs, record.result) == (fresh.inputs, fresh.result)
    return record


def test_from_the_file_to_the_record_it_is_read_once_and_judged_once(ines: Client, cast: Cast, work: Work) -> None:
    address = upload(ines, cast, GOOD).url
    assert ines.get(address).status_code == 200
    assert ines.post(address).status_code == 302
    assert work.done == (1, 1)
    assert ThicknessRecord.objects.get().verdict == "pass"


def test_looking_again_and_turning_the_pages_of_a_preview_reads_and_judges_nothing(
    ines: Client, cast: Cast, work: Work
) -> None:
    address = upload(ines, cast, GOOD + "99;1;80\n" * 3).url
    assert {ines.get(address + page).status_code for page in ("", "?page=2", "?checks=2")} == {422}
    assert work.done == (1, 0)


def test_the_api_reads_and_judges_once(ines: Client, cast: Cast, work: Work) -> None:
    assert ines.post("/api/thickness/", thickness(cast), content_type="application/json").status_code == 201
    assert work.judged == 1


def test_the_answer_that_is_handed_on_is_the_one_that_is_stored(ines: Client, cast: Cast) -> None:
    rows = GOOD.replace("85,0;\n", "85,0;\n5;4;19,9;probe tilted\n5;5;85,0;\n")
    record = stored(ines, upload(ines, cast, rows, last_reading_at="2026-03-04T08:00").url)
    assert record.reading_count == len(GOOD_SPOTS) + 1


CHANGES: dict[str, Callable[[Cast], object]] = {
    "the size of the area": lambda cast: InspectionArea.objects.update(area_m2=60),
    "the limits of the coat": lambda cast: Coat.objects.filter(pk=cast.site.coats[0].pk).update(
        minimum_nm=82_000, nominal_nm=90_000
    ),
    "the level of the rule": lambda cast: Coat.objects.filter(pk=cast.site.coats[0].pk).update(pa2_level=1),
}
VERDICTS = {"the size of the area": "incomplete", "the limits of the coat": "fail", "the level of the rule": "pass"}


@pytest.mark.parametrize("changed", CHANGES)
def test_what_changed_since_the_preview_is_judged_again(ines: Client, cast: Cast, work: Work, changed: str) -> None:
    address = upload(ines, cast, GOOD).url
    assert ines.get(address).status_code == 200
    CHANGES[changed](cast)
    assert ines.post(address).status_code == 302
    assert work.done == (1, 2)
    assert ThicknessRecord.objects.get().verdict == VERDICTS[changed]


def test_in_another_zone_the_file_is_read_again(ines: Client, cast: Cast, work: Work) -> None:
    rows = "spot,thickness_um,time\n" + "".join(f"{n // 3 + 1},8{n % 10},2026-03-04 07:{10 + n}\n" for n in range(15))
    address = upload(ines, cast, rows, first_reading_at=None, last_reading_at=None).url
    Project.objects.filter(pk=cast.site.project.pk).update(time_zone="Europe/Helsinki")
    assert ines.post(address).status_code == 302
    assert work.read == 2
    assert f"{ThicknessRecord.objects.get().taken_at:%H:%M}" == "05:10"


def test_what_another_release_read_is_read_and_judged_again(
    ines: Client, cast: Cast, work: Work, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = upload(ines, cast, GOOD).url
    monkeypatch.setattr(handing_on, "release", lambda: "the next one")
    assert ines.post(address).status_code == 302
    assert work.done == (2, 2)


def test_what_0_1_kept_is_read_when_it_is_stored(ines: Client, cast: Cast, work: Work) -> None:
    address = upload(ines, cast, GOOD).url
    KeptUpload.objects.update(read=None)
    assert stored(ines, address).verdict == "pass"
    assert work.read == 2


def test_a_table_is_the_same_after_it_was_handed_on(cast: Cast) -> None:
    content = (
        "spot,reading,thickness_mil,time,void_reason,batch\n"
        "1,1,3.21,2026-03-04 07:01,,\u20ac\n1,2,3.999999,,,x\n0,,-1,never,,\n"
        "2,1,3.3,2026-03-04 07:02+02:00,tilted,\n"
    ).encode()
    table = reading_table.read_table(content, zone=cast.site.project.zone)
    assert table.faults
    for answer in (None, Answer("digest", {"verdict": "pass", "mean_um": 0.1, "checks": [{"passed": None}]})):
        read = handing_on.Read("UTC", table, answer)
        assert handing_on.unpacked(handing_on.packed(read)) == read


def test_the_digest_of_the_release_covers_what_reads_and_what_judges(monkeypatch: pytest.MonkeyPatch) -> None:
    handing_on.release.cache_clear()
    now = handing_on.release()
    read_bytes = handing_on.Path.read_bytes
    for changed in ("cells.py", "thickness_pa2.py", "judging.py", "reading_table.py"):
        handing_on.release.cache_clear()
        with monkeypatch.context() as other:
            other.setattr(
                handing_on.Path, "read_bytes",
                lambda path, changed=changed: read_bytes(path) + b"#" * (path.name == changed),
            )  # fmt: skip
            assert handing_on.release() != now
    handing_on.release.cache_clear()
