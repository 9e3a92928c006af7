"""Sheets for places where no phone may go: printed before, entered afterwards as any measurement is."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader
from time_machine import travel

from accounts.models import JournalEntry
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.printed import actions, queries
from inspection.fieldwork.printed.models import PrintedArea, PrintedSheet
from inspection.fieldwork.printed.plans import changes_since
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.projects.breakdown import Change, retire
from inspection.projects.models import InspectionArea
from tests.cast import MORNING, Cast
from tests.fieldwork.build import GOOD_SPOTS, sent
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]
HOUR = timedelta(hours=1)


def printed(cast: Cast, *coats: int) -> list[PrintedArea]:
    """A sheet of the 8 m² area after the coats, printed in the morning."""
    places = [(cast.site.area, cast.site.coats[coat - 1]) for coat in coats or (1,)]
    sheet, _ = actions.print_sheet(cast.ines, id=new_id(), project=cast.site.project, places=places, at=MORNING)
    return list(sheet.areas.select_related("sheet__project", "area__structure__project", "coat__system"))


def written(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "gauge": cast.gauge, "profile_way": "adjusted", "readings": GOOD_SPOTS, "first_reading_at": MORNING + HOUR,
        "last_reading_at": MORNING + 2 * HOUR, **changes,
    }  # fmt: skip


def boxes(cast: Cast, **changes: str) -> dict[str, str]:
    """The form as it is filled in: five spots of three readings, by their places on the sheet."""
    filled = {f"spot_{each.spot}_{each.order}": f"{each.value_nm / 1000:g}" for each in GOOD_SPOTS}
    site = cast.site
    return {
        "area": str(site.area.pk), "coat": str(site.coats[0].pk), "gauge": str(cast.gauge.pk),
        "profile_way": "adjusted", "first_reading_at": "2026-03-04T08:00:00", "last_reading_at": "2026-03-04T09:00:00",
        **filled, **changes,
    }  # fmt: skip


def test_a_sheet_is_printed_typed_off_and_stored_as_any_measurement(ines: Client, cast: Cast) -> None:
    with travel(MORNING, tick=False):
        page = ines.get(reverse("printed_new", args=[cast.site.project.pk]))
        assert "A2 Shell, after Primer (not measured yet)" in words(page)
        # Of many areas those that are wanted are named.
        for asked, told in (("shell", ["A2"]), ("nowhere", [])):
            named = ines.get(reverse("printed_new", args=[cast.site.project.pk]), {"words": asked})
            assert [each.area.code for each in named.context["form"].offered.values()] == told
        assert "No area of P-1 with “nowhere” in code, name or section wants measuring" in words(named)
        body = {"id": str(new_id()), "places": [f"{cast.site.area.pk}:{cast.site.coats[0].pk}"]}
        for _ in range(2):
            answer = ines.post(reverse("printed_new", args=[cast.site.project.pk]), body)
    (sheet,) = PrintedSheet.objects.all()
    assert answer["Location"] == reverse("printed_sheet", args=[sheet.code])
    assert "Enter it" in words(ines.get(answer["Location"]))
    # The code is typed as it is read: small letters, blanks, any dash.
    typed = f" {sheet.code[:3].lower()} {sheet.code[3:].lower()}–1"
    answer = ines.post(reverse("printed_list"), {"code": typed})
    address = reverse("printed_enter", args=[sheet.code, 1])
    assert answer["Location"] == address
    assert "Spot 5, crossed out" in ines.get(address).content.decode()
    with travel(MORNING + 3 * HOUR, tick=False):
        first = ines.post(address, boxes(cast, spot_2_0="310", void_reason="on a weld", measured_by="Ola Berg"))
        again = ines.post(address, boxes(cast, spot_2_0="310", void_reason="on a weld", measured_by="Ola Berg"))
        other = ines.post(address, boxes(cast, spot_1_1="79"))
    record = ThicknessRecord.objects.get()
    assert (first.status_code, again.status_code, other.status_code) == (302, 302, 422)
    assert first["Location"] == again["Location"] == reverse("thickness", args=[record.pk])
    assert (record.verdict, record.reading_count, record.taken_by) == ("pass", 15, cast.ines)
    assert record.note == f"From printed sheet {sheet.code}-1, measured by Ola Berg."
    assert record.readings.get(spot=2, order=1).void_reason == "on a weld"
    assert f"{sheet.code}-1 was entered already, by Ines Inspector" in words(other)
    assert "was entered already" in words(ines.get(address))
    verbs = JournalEntry.objects.filter(object_id=str(sheet.pk)).order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["printed_sheet.printed", "printed_sheet.entered"]


def test_the_paper_bears_the_plan_the_code_and_a_box_for_each_reading(ines: Client, cast: Cast) -> None:
    first, second = printed(cast, 1, 2)
    answer = ines.get(reverse("printed_pdf", args=[first.sheet.code]))
    pages = [page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages]
    assert len(pages) == 2
    assert all(f"{each.code}\n" in f"{page}\n" for each, page in zip((first, second), pages, strict=True))
    # SSPC-PA 2: five spots of three readings for up to 10 m² (from memory); ISO 19840: 15 for 3 to 10 m² (from memory).
    assert "5 × 3" in pages[0]
    assert (first.plan["spots"], first.plan["readings_a_spot"]) == (5, 3)
    assert (second.plan["spots"], second.plan["readings_a_spot"]) == (15, 1)
    # Through both coats: 60 + 100 and 120 + 200 µm.
    assert (second.plan["minimum_nm"], second.plan["maximum_nm"]) == (160_000, 320_000)
    assert "Crossed out" in pages[0]
    assert "a gauge may not go either" in " ".join(pages[0].split())
    assert answer.content == ines.get(reverse("printed_pdf", args=[first.sheet.code])).content


def test_what_looks_like_a_slip_is_asked_before_it_is_stored(ines: Client, cast: Cast) -> None:
    (page,) = printed(cast)
    record_thickness(cast.ines, **sent(cast, first_reading_at=MORNING + HOUR, last_reading_at=MORNING + HOUR))
    actions.withdraw_sheet(cast.quinn, sheet=page.sheet, reason="left on the bus")
    page.refresh_from_db()
    early = written(cast, first_reading_at=MORNING - HOUR)
    with pytest.raises(Asked) as asked:
        actions.enter_printed(cast.ines, printed=page, **early)
    told = [fault.message for fault in asked.value.faults]
    assert told[0].endswith("was set aside: left on the bus")
    assert told[1] == "The first reading, 2026-03-04 06:00, lies before the printing, 2026-03-04 07:00."
    assert told[2].startswith("A1 was measured after Primer since the sheet was printed")
    assert told[3].startswith("The same readings are stored already")
    # The API asks the same under the paper's id, and keeps that it was entered.
    site, moment = cast.site, (MORNING - HOUR).isoformat()
    by_api = {
        "id": str(page.pk), "project": str(site.project.pk), "area": str(site.area.pk), "gauge": str(cast.gauge.pk),
        "coat": str(site.coats[0].pk), "profile_way": "adjusted", "first_reading_at": moment, "last_reading_at": moment,
        "readings": [{"spot": each.spot, "value_um": each.value_nm / 1000} for each in GOOD_SPOTS],
    }  # fmt: skip
    doubted = ines.post("/api/thickness/", by_api, content_type="application/json")
    assert doubted.status_code == 428
    assert [one["message"] for one in doubted.json()["errors"]] == told
    with transaction.atomic():
        sure = ines.post("/api/thickness/", by_api | {"confirmed": True}, content_type="application/json")
        assert sure.status_code == 201
        assert JournalEntry.objects.filter(verb="printed_sheet.entered", object_id=page.sheet.pk).count() == 1
        again = ines.post("/api/thickness/", by_api, content_type="application/json")
        assert again.status_code == 200
        transaction.set_rollback(True)
    # The page asks the same; the answer holds for what was asked about and no other.
    address = reverse("printed_enter", args=[page.sheet.code, 1])
    answer = ines.post(address, boxes(cast))
    assert answer.status_code == 422
    confirmed = answer.context["form"].as_asked
    assert ines.post(address, boxes(cast, spot_1_1="79", confirmed=confirmed)).status_code == 422
    assert not ThicknessRecord.objects.filter(pk=page.pk).exists()
    assert ines.post(address, boxes(cast, confirmed=confirmed)).status_code == 302
    assert ThicknessRecord.objects.filter(pk=page.pk).exists()


def test_a_box_that_is_wrong_is_named_and_nothing_is_kept(ines: Client, cast: Cast) -> None:
    (page,) = printed(cast)
    address = reverse("printed_enter", args=[page.sheet.code, 1])
    empty = {name: value for name, value in boxes(cast).items() if not name.startswith("spot_")}
    assert "No reading is typed" in words(ines.post(address, empty))
    answer = words(ines.post(address, boxes(cast, spot_3_2="8x")))
    assert "Spot 3, reading 2, in µm:" in answer
    # Beyond what the gauge shows: the action finds it, and it stands beside its box.
    assert "Spot 4, reading 1, in µm: 9000" in words(ines.post(address, boxes(cast, spot_4_1="9000")))
    assert "Why readings were crossed out: Say why" in words(ines.post(address, boxes(cast, spot_1_0="300")))
    assert "No sheet of your projects bears this code" in words(ines.post(reverse("printed_list"), {"code": "AAAAAA"}))
    assert ThicknessRecord.objects.count() == 0


def test_the_entry_says_what_has_changed_since_the_printing(ines: Client, cast: Cast) -> None:
    (page,) = printed(cast)
    area = page.area
    assert changes_since(page.plan, area, page.coat, "um") == []
    part = InspectionArea.objects.create(
        structure=cast.site.structure, system=cast.site.system, code="A1-1", name="Part", area_m2=4
    )
    InspectionArea.objects.filter(pk=area.pk).update(area_m2=25)
    part.made_from.add(area)
    retire(cast.quinn, [area], Change.DIVIDED, reason="two crews", parts=[part])
    told = words(ines.get(reverse("printed_enter", args=[page.sheet.code, 1])))
    assert "A1 was retired on" in told
    assert "It became A1-1." in told
    assert "m²: 8 on the paper, 25 now." in told
    # Three areas of five spots of three for 25 m² (SSPC-PA 2, from memory).
    assert "Readings wanted: 15 on the paper, 45 now." in told
    # Evidence is never turned away.
    page = PrintedArea.objects.select_related("sheet__project", "area__structure", "coat__system").get(pk=page.pk)
    record, new = actions.enter_printed(cast.ines, printed=page, confirmed=True, **written(cast))
    assert (new, record.area, record.verdict) == (True, area, "incomplete")


def test_a_sheet_is_refused_whole_with_the_row_that_is_wrong(cast: Cast) -> None:
    site = cast.site
    new: dict[str, Any] = {"project": site.project}
    InspectionArea.objects.filter(pk=site.other_area.pk).update(area_m2=9_000)
    large = InspectionArea.objects.get(pk=site.other_area.pk)
    primer = site.coats[0]
    places = [(site.area, primer), (large, primer), (site.area, primer)]
    with pytest.raises(Refused) as refusal:
        actions.print_sheet(cast.ines, id=new_id(), places=places, **new)
    assert [(fault.row, fault.message.split(";")[0]) for fault in refusal.value.faults] == [
        (2, "A2 wants 460 spots after Primer"), (3, "A1 after Primer is chosen twice."),
    ]  # fmt: skip
    assert PrintedSheet.objects.count() == 0
    own = new_id()
    actions.print_sheet(cast.ines, id=own, places=[(site.area, primer)], **new)
    with pytest.raises(Conflict):
        actions.print_sheet(cast.ines, id=own, places=[(site.area, site.coats[1])], **new)
    with pytest.raises(NotAllowed):
        actions.print_sheet(cast.clara, id=new_id(), places=[(site.area, primer)], **new)


def test_a_sheet_is_set_aside_and_brought_back_with_the_reason(ines: Client, cast: Cast) -> None:
    (page,) = printed(cast)
    code = page.sheet.code
    assert "Why: " in words(ines.post(reverse("printed_withdraw", args=[code]), {"reason": ""}))
    ines.post(reverse("printed_withdraw", args=[code]), {"reason": "wet"})
    assert "Set aside" in words(ines.get(reverse("printed_sheet", args=[code])))
    assert "Set aside" in words(ines.get(reverse("printed_list")))
    ines.post(reverse("printed_restore", args=[code]), {"reason": "dried"})
    (sheet,) = PrintedSheet.objects.all()
    assert (sheet.withdrawn_at, sheet.withdrawn_why) == (None, "")
    with pytest.raises(Conflict):
        actions.restore_sheet(cast.ines, sheet=sheet, reason="again")
    reasons = JournalEntry.objects.filter(object_id=str(sheet.pk)).order_by("pk").values_list("reason", flat=True)
    assert list(reasons) == ["", "wet", "dried"]


def test_a_stranger_finds_no_sheet_and_the_list_takes_no_more_queries_for_many(ines: Client, cast: Cast) -> None:
    (page,) = printed(cast)
    assert queries.by_code(cast.igor, page.code) == (None, 1)
    assert queries.by_code(cast.ines, page.code) == (page.sheet, 1)
    costs = []
    for more in (1, 6):
        for _ in range(more):
            printed(cast, 1, 2)
        with CaptureQueriesContext(connection) as caught:
            ines.get(reverse("printed_list"))
        costs.append(len(caught))
    assert costs[0] == costs[1]
    stranger = Client()
    stranger.force_login(cast.igor)
    assert stranger.get(reverse("printed_enter", args=[page.sheet.code, 1])).status_code == 404


def test_a_record_of_another_area_under_the_papers_id_is_not_told_as_entered_from_it(ines: Client, cast: Cast) -> None:
    """Ids are made by senders, so whoever knows that of a paper may bring any record under it, of any project."""
    (page,) = printed(cast)
    other = cast.foreign
    record_thickness(
        cast.igor, id=page.pk, project=other.project, area=other.area, coat=other.coats[0], unit="um", **written(cast)
    )
    (shown,) = queries.areas_of(page.sheet)
    assert shown.record is None
    assert queries.sheets_seen(cast.ines).get().entered_count == 0
    told = words(ines.get(reverse("printed_enter", args=[page.sheet.code, 1])))
    assert "entered already" not in told
    assert "Igor" not in told
