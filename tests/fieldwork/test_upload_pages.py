"""A file in two steps: every row and fault is shown before anything is stored, and then exactly that is stored."""

from __future__ import annotations

import html
import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import F
from django.test import Client
from django.urls import reverse

from accounts import vault
from accounts.models import StoredFile
from inspection.fieldwork.actions import finish_sheet, note_reading, record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import KeptUpload, Reading, ThicknessRecord
from tests.cast import Cast
from tests.fieldwork.build import GOOD_SPOTS, sent
from tests.fieldwork.test_sheet_pages import begun, ines, words

__all__ = ["ines"]

GOOD = "spot;reading;thickness_um;void_reason\n" + "".join(
    f"{reading.spot};{reading.order};{reading.value_nm / 1000:.1f};\n".replace(".", ",") for reading in GOOD_SPOTS
)


def upload(client: Client, cast: Cast, content: bytes | str, *, query: str = "", **changes: Any) -> Any:
    content = content.encode() if isinstance(content, str) else content
    body = {
        "area": str(cast.site.area.pk),
        "coat": str(cast.site.coats[0].pk),
        "gauge": str(cast.gauge.pk),
        "profile_way": "adjusted",
        "first_reading_at": "2026-03-04T07:00",
        "last_reading_at": "2026-03-04T08:00",
        "file": SimpleUploadedFile("readings.csv", content),
        **changes,
    }
    body = {name: value for name, value in body.items() if value is not None}
    return client.post(reverse("thickness_upload", args=[cast.site.project.pk]) + query, body)


def two_hours_pass() -> None:
    KeptUpload.objects.update(kept_until=F("kept_until") - timedelta(hours=2, minutes=1))


def nothing_is_stored() -> bool:
    return not (ThicknessRecord.objects.exists() or Reading.objects.exists() or StoredFile.objects.exists())


def test_the_preview_shows_every_row_and_the_verdict_and_stores_nothing(ines: Client, cast: Cast) -> None:
    answer = ines.get(upload(ines, cast, GOOD).url)
    page = words(answer)
    assert answer.status_code == 200
    assert "Rows 1 to 15 of 15" in page
    shown = [re.search(r"\d+,\d", row) for row in re.findall(r"<tr.*?</tr>", answer.content.decode(), re.DOTALL)]
    typed = [row.split(";")[2] for row in GOOD.splitlines()[1:]]
    assert [found[0] for found in shown if found] == typed
    assert "Pass" in page
    assert nothing_is_stored()


def test_the_second_step_stores_exactly_what_was_shown_with_its_file(ines: Client, cast: Cast) -> None:
    preview = upload(ines, cast, GOOD).url
    answer = ines.post(preview)
    record = ThicknessRecord.objects.get()
    assert answer.url == reverse("thickness", args=[record.pk])
    assert (record.source, record.verdict, record.reading_count) == ("file", "pass", 15)
    assert vault.content_of(record.file) == GOOD.encode()
    download = ines.get(reverse("thickness_file", args=[record.pk]))
    assert download.content == GOOD.encode()
    assert "readings.csv" in download["Content-Disposition"]
    # Pressing the button again stores nothing more.
    assert ines.post(preview).url == answer.url
    assert ThicknessRecord.objects.count() == 1


def test_the_same_file_or_readings_a_second_time_are_told_in_the_preview_and_kept_all_the_same(
    ines: Client, cast: Cast
) -> None:
    first = upload(ines, cast, GOOD).url
    assert "stored already" not in words(ines.get(first))
    ines.post(first)
    again = upload(ines, cast, GOOD, last_reading_at="2026-03-04T08:30").url
    page = words(ines.get(again))
    assert "The same file is stored already: A1 after Primer, 2026-03-04 07:00, by Ines Inspector." in page
    # The same rows, pasted for another area: told by their readings.
    pasted = {"file": None, "rows": GOOD.replace(";\n", "; \n"), "area": str(cast.site.other_area.pk)}
    page = words(ines.get(upload(ines, cast, b"", **pasted).url))
    assert "The same readings are stored already: A1 after Primer" in page
    # One reading differs, the lowest and the highest do not.
    other = {**pasted, "rows": GOOD.replace("82,0", "82,5")}
    assert "stored already" not in words(ines.get(upload(ines, cast, b"", **other).url))
    unsaid = ines.post(again)
    assert (unsaid.status_code, ThicknessRecord.objects.count()) == (428, 1)
    assert "say that it is meant" in words(unsaid)
    ines.post(again, {"again": "on"})
    assert ThicknessRecord.objects.count() == 2


def test_a_correction_may_repeat_what_it_corrects_and_strangers_records_are_not_told(
    client: Client, ines: Client, cast: Cast
) -> None:
    ines.post(upload(ines, cast, GOOD).url)
    record = ThicknessRecord.objects.get()
    corrected = upload(ines, cast, GOOD, query=f"?replaces={record.pk}", replacement_reason="another gauge").url
    assert "stored already" not in words(ines.get(corrected))
    client.force_login(cast.igor)
    foreign = cast.foreign
    body = {
        "area": str(foreign.area.pk), "coat": str(foreign.coats[0].pk), "gauge": str(cast.gauge.pk),
        "profile_way": "adjusted", "first_reading_at": "2026-03-04T07:00", "last_reading_at": "2026-03-04T08:00",
        "file": SimpleUploadedFile("readings.csv", GOOD.encode()),
    }  # fmt: skip
    answer = client.post(reverse("thickness_upload", args=[foreign.project.pk]), body, follow=True)
    assert "Preview: nothing is stored yet" in words(answer)
    assert "stored already" not in words(answer)


def test_faults_are_listed_by_row_and_cannot_be_stored(ines: Client, cast: Cast) -> None:
    preview = upload(ines, cast, "spot,thickness_um\n1,84.5\n1,eighty\n2,-4\n2,99999\nx,1\n").url
    answer = ines.get(preview)
    page = words(answer)
    assert answer.status_code == 422
    assert "4 faults in 4 rows" in page
    assert "row 3, thickness_um: “eighty” is not a number" in page
    assert "row 4, thickness_um: -4 µm is negative" in page
    assert "row 5, value: 99999.0 µm lies outside the range of gauge G-01" in page
    assert "row 6, spot: “x” is no whole number" in page
    assert ines.post(preview).status_code == 422
    assert nothing_is_stored()


def test_what_only_the_gauge_or_the_record_shows_wrong_is_named_by_row_too(ines: Client, cast: Cast) -> None:
    content = "spot,reading,thickness_um\n1,1,84.5\n\n1,1,85\n1,2,1600\n"
    page = words(ines.get(upload(ines, cast, content).url))
    assert "row 4, reading: Reading 1 of spot 1 is given twice" in page
    assert "row 5, value: 1600.0 µm lies outside the range of gauge G-01" in page


def test_faults_of_the_rows_the_gauge_and_the_times_are_all_told_at_once(ines: Client, cast: Cast) -> None:
    swapped = {"first_reading_at": "2026-03-04T08:00", "last_reading_at": "2026-03-04T07:00"}
    answer = ines.get(upload(ines, cast, "spot,thickness_um\n1,eighty\n2,9999\n", **swapped).url)
    page = words(answer)
    assert (answer.status_code, "3 faults in 2 rows" in page) == (422, True)
    assert "row 2, thickness_um: “eighty” is not a number" in page
    assert "row 3, value: 9999.0 µm lies outside the range of gauge G-01" in page
    assert "last_reading_at: The last reading cannot come before the first." in page


def test_a_row_that_cannot_be_read_brings_no_faults_that_only_follow_from_it(ines: Client, cast: Cast) -> None:
    without = {"first_reading_at": None, "last_reading_at": None}
    content = "spot,thickness_um,time\n1,eighty,2026-03-04 07:10\n"
    assert "1 fault in 1 row;" in words(ines.get(upload(ines, cast, content, **without).url))


def test_pasted_rows_come_back_with_all_that_was_typed_beside_them(ines: Client, cast: Cast) -> None:
    rows = "spot,thickness_um\n1,eighty\n2,84\n"
    typed = {"profile_way": "correction", "correction": "12,5", "note": "wind from the sea"}
    preview = upload(ines, cast, "", file=None, rows=rows, **typed).url
    page = ines.get(preview).content.decode()
    assert "Choose the file again" not in page
    form = ines.get(html.unescape(re.search(r'href="([^"]+)">Put the rows right<', page)[1])).context["form"]
    back = {name: form[name].value() for name in form.fields}
    assert back["rows"] == rows
    assert (back["area"], back["coat"], back["gauge"]) == (cast.site.area.pk, cast.site.coats[0].pk, cast.gauge.pk)
    assert (back["profile_way"], back["correction"], back["note"]) == ("correction", "12.5", typed["note"])
    shown = str(form["first_reading_at"]) + str(form["last_reading_at"])
    assert 'value="2026-03-04T07:00:00"' in shown
    assert 'value="2026-03-04T08:00:00"' in shown


def test_a_file_is_to_be_chosen_again_but_what_stood_beside_it_is_kept(ines: Client, cast: Cast) -> None:
    preview = upload(ines, cast, "spot,thickness_um\n1,eighty\n", note="wind from the sea").url
    page = ines.get(preview).content.decode()
    answer = ines.get(html.unescape(re.search(r'href="([^"]+)">Choose the file again<', page)[1]))
    assert "but for the file readings.csv" in words(answer)
    assert answer.context["form"]["note"].value() == "wind from the sea"
    assert not answer.context["form"]["rows"].value()


def test_what_was_sent_before_a_preview_comes_back_to_its_sender_alone(client: Client, cast: Cast) -> None:
    client.force_login(cast.ines)
    digest = upload(client, cast, GOOD).url.rstrip("/").rpartition("/")[2]
    again = reverse("thickness_upload", args=[cast.site.project.pk]) + f"?held={digest}"
    assert client.get(again).status_code == 200
    for other, status in ((cast.quinn, 404), (cast.igor, 404), (cast.clara, 403)):
        client.force_login(other)
        assert client.get(again).status_code == status
    client.force_login(cast.ines)
    two_hours_pass()
    assert "A preview is kept for two hours" in words(client.get(again))
    # What is typed into the form that was opened before is heard all the same.
    assert upload(client, cast, GOOD, query=f"?held={digest}").status_code == 302


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "The submitted file is empty"),
        (b"\n", "The file is empty"),
        (b"%PDF-1.7\x01", "The file is no text"),
        (b"x" * (11 * 1024 * 1024), "at most 10 MB"),
    ],
)
def test_a_file_that_is_no_table_is_refused_on_the_form(
    ines: Client, cast: Cast, content: bytes | str, said: str
) -> None:
    answer = upload(ines, cast, content)
    assert answer.status_code == 422
    assert said in words(answer)
    assert nothing_is_stored()


def test_50_mb_are_refused_by_their_size(ines: Client, cast: Cast) -> None:
    answer = upload(ines, cast, b"spot,thickness_um\n" + b"1,84\n" * (10 * 1024 * 1024))
    assert answer.status_code == 422
    assert "The file has 50 MB; at most 10 MB are read" in words(answer)


def test_times_come_from_the_file_or_the_form(ines: Client, cast: Cast) -> None:
    without = {"first_reading_at": None, "last_reading_at": None}
    page = words(ines.get(upload(ines, cast, GOOD, **without).url))
    assert "first_reading_at: Give the time, or a column time in the file" in page
    timed = "spot,thickness_um,time\n1,80,2026-03-04 07:10\n1,81,2026-03-04 07:20\n"
    ines.post(upload(ines, cast, timed, **without).url)
    record = ThicknessRecord.objects.get()
    assert (f"{record.first_reading_at:%H:%M}", f"{record.last_reading_at:%H:%M}") == ("07:10", "07:20")


def test_a_moment_in_the_future_is_refused(ines: Client, cast: Cast) -> None:
    page = words(ines.get(upload(ines, cast, GOOD, last_reading_at="2999-01-01T00:00").url))
    assert "lies in the future" in page


def test_a_file_and_pasted_rows_together_are_one_too_many(ines: Client, cast: Cast) -> None:
    assert "Give one: a file, or pasted rows" in words(upload(ines, cast, GOOD, rows="spot,thickness_um\n1,80"))
    assert "Choose a file, or paste its rows" in words(upload(ines, cast, GOOD, file=None))


def test_a_record_is_corrected_by_its_rows_and_both_versions_stay(ines: Client, cast: Cast) -> None:
    old, _ = record_thickness(
        cast.ines, **sent(cast, readings=[*GOOD_SPOTS, ReadingSent(1, 4, 190_000, None, "probe tilted")])
    )
    query = f"?replaces={old.pk}"
    form = ines.get(reverse("thickness_upload", args=[cast.site.project.pk]) + query).content.decode()
    rows = re.search(r'name="rows"[^>]*>([^<]*)<', form)[1].strip("\r\n")
    assert "1,4,190,,probe tilted" in rows
    assert upload(ines, cast, "", query=query, file=None, rows=rows).status_code == 422
    right = rows.replace("1,4,190,,probe tilted", "1,4,83,,")
    preview = upload(ines, cast, "", query=query, file=None, rows=right, replacement_reason="a slip of the key").url
    # What the rows change is shown before they are stored, as it is on the grid.
    told = words(ines.get(preview))
    for sentence in (
        "Readings that change (1)",
        "Spot 1, reading 4 190 (voided: probe tilted) 83",
        "Nothing that you see was decided",
    ):
        assert sentence in told, told
    ines.post(preview)
    new = ThicknessRecord.objects.get(replaces=old)
    assert (new.verdict, new.reading_count, new.file, new.source) == ("pass", 16, None, "page")
    assert "This version was replaced: a slip of the key" in words(ines.get(reverse("thickness", args=[old.pk])))


@pytest.mark.usefixtures("in_date")
def test_a_record_measured_on_a_sheet_keeps_its_times_through_a_correction(ines: Client, cast: Cast) -> None:
    old = measured(cast)
    form = ines.get(reverse("thickness_upload", args=[cast.site.project.pk]) + f"?replaces={old.pk}").content.decode()
    rows = re.search(r'name="rows"[^>]*>([^<]*)<', form)[1].strip("\r\n")
    assert 'name="first_reading_at" value=' not in form
    sent_again = {"file": None, "rows": rows, "replacement_reason": "nothing", "first_reading_at": ""}
    preview = upload(ines, cast, "", query=f"?replaces={old.pk}", last_reading_at="", **sent_again).url
    ines.post(preview)
    new = ThicknessRecord.objects.get(replaces=old)
    assert (new.first_reading_at, new.last_reading_at) == (old.first_reading_at, old.last_reading_at)
    assert new.result == old.result


def measured(cast: Cast) -> ThicknessRecord:
    sheet = begun(cast)
    for reading in GOOD_SPOTS:
        note_reading(cast.ines, sheet=sheet, spot=reading.spot, value_nm=reading.value_nm)
    return finish_sheet(cast.ines, sheet=sheet)


def test_two_corrections_of_one_record_end_in_one_and_a_clear_sentence(ines: Client, cast: Cast) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    query = f"?replaces={old.pk}"
    preview = upload(ines, cast, GOOD, query=query, replacement_reason="mine").url
    record_thickness(cast.quinn, **sent(cast, replaces=old, replacement_reason="first"))
    answer = ines.post(preview)
    assert answer.status_code == 422
    assert "Quinn Quality corrected this record already" in words(answer)


def test_the_file_to_fill_in_follows_the_plan_of_area_and_coat(ines: Client, cast: Cast) -> None:
    address = reverse("thickness_template", args=[cast.site.project.pk])
    asked = {"area": cast.site.other_area.pk, "coat": cast.site.coats[0].pk}
    # SSPC-PA 2, clause 8: 60 m² want three areas of five spots of three readings.
    assert len(ines.get(address, asked).content.decode().splitlines()) == 1 + 45
    assert len(ines.get(address).content.decode().splitlines()) == 1 + 15


def test_a_preview_is_its_senders_alone_and_ends(client: Client, cast: Cast) -> None:
    client.force_login(cast.ines)
    preview = upload(client, cast, GOOD).url
    client.force_login(cast.quinn)
    assert client.get(preview).status_code == 404
    client.force_login(cast.ines)
    assert client.get(preview).status_code == 200
    two_hours_pass()
    answer = client.post(preview)
    assert answer.status_code == 404
    assert "A preview is kept for two hours" in words(answer)
    client.force_login(cast.clara)
    assert upload(client, cast, GOOD).status_code == 403
    client.force_login(cast.igor)
    assert upload(client, cast, GOOD).status_code == 404


def test_with_the_cache_away_a_file_is_previewed_and_stored(ines: Client, cast: Cast, settings: Any) -> None:
    nobody_listens = {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": "redis://127.0.0.1:1/0"}
    settings.CACHES = {"default": nobody_listens}
    answer = ines.post(upload(ines, cast, GOOD).url, follow=True)
    assert "The record is stored with 15 readings." in words(answer)
    assert ThicknessRecord.objects.get().reading_count == 15


def test_of_one_person_the_newest_ten_previews_are_kept(ines: Client, cast: Cast) -> None:
    first, *_, last = [upload(ines, cast, GOOD, note=f"sent {number}").url for number in range(12)]
    assert KeptUpload.objects.filter(person=cast.ines).count() == 10
    assert (ines.get(first).status_code, ines.get(last).status_code) == (404, 200)
