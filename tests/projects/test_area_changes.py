"""An area measured again, renamed, moved, retired and brought back: shown before, journalled, nothing lost."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.fieldwork.actions import open_sheet
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Refused
from inspection.holdpoints.actions import plan_points
from inspection.holdpoints.models import HoldPoint
from inspection.projects import breakdown
from inspection.projects.actions import add_structure
from inspection.projects.areas import add_area
from inspection.projects.models import InspectionArea
from tests.cast import Cast
from tests.fieldwork.test_run_out import thickness_sent
from tests.holdpoints.scene import a_point
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_sections import down
from tests.standing.scene import measure, verify


def send(cast: Cast, deed: str, area: InspectionArea | None = None, **sent: Any) -> Any:
    where = reverse(f"area_{deed}", args=[(area or cast.site.area).pk])
    return as_person(cast.quinn).post(where, {"reason": "As built", **sent}, follow=True)


def send_twice(cast: Cast, deed: str, area: InspectionArea | None = None, **sent: Any) -> Any:
    """Look at what it touches, then confirm it."""
    shown = send(cast, deed, area, **sent)
    return send(cast, deed, area, confirmed=shown.context["confirmed"], **sent)


def now(area: InspectionArea) -> InspectionArea:
    return InspectionArea.objects.get(pk=area.pk)


def test_a_new_size_is_shown_with_what_was_judged_and_leaves_it_judged(cast: Cast) -> None:
    verify(cast, "06:40")
    record = measure(cast, "08:00", "08:20", coat=1)
    before = ThicknessRecord.objects.values("inputs", "result", "verdict", "readings_wanted").get(pk=record.pk)
    shown = send(cast, "measure", area_m2="250", edges_m="12,5", welds_m="")
    assert "1 record stays as it was judged" in text_of(shown)
    assert now(cast.site.area).area_m2 == 8
    done = send(cast, "measure", area_m2="250", edges_m="12,5", welds_m="", confirmed=shown.context["confirmed"])
    assert "<dd>250 m²</dd>" in text_of(done)
    assert now(cast.site.area).edges_m == Decimal("12.5")
    assert ThicknessRecord.objects.values("inputs", "result", "verdict", "readings_wanted").get(pk=record.pk) == before
    entry = JournalEntry.objects.get(verb="area.measured_again")
    assert (entry.before["area_m2"], entry.after["area_m2"], entry.reason) == ("8.00", "250.00", "As built")


def test_what_was_shown_is_shown_again_where_more_came_meanwhile(cast: Cast) -> None:
    verify(cast, "06:40")
    measure(cast, "08:00", "08:20")
    shown = send(cast, "measure", area_m2="9")
    measure(cast, "09:00", "09:20")
    again = send(cast, "measure", area_m2="9", confirmed=shown.context["confirmed"])
    assert "2 records stay as they were judged" in text_of(again)
    assert now(cast.site.area).area_m2 == 8


@pytest.mark.parametrize(
    ("deed", "sent", "words"),
    [
        ("measure", {"area_m2": "0"}, "The area is more than 0 m²"),
        ("measure", {"area_m2": "8"}, "Nothing differs from what is stored"),
        ("measure", {"area_m2": "8", "welds_m": "-3"}, "A length is 0 m or more"),
        ("rename", {"code": "a2", "name": "Hatch", "shape": "plate"}, "Tank already has an area a2"),
        ("rename", {"code": "A1", "name": "Hatch", "shape": "plate", "reason": " "}, "This field is required"),
        ("move", {"section": "Nowhere"}, "Tank has no section “Nowhere”; it has no sections yet."),
        ("restore", {}, "A1 is in use."),
    ],
)
def test_what_cannot_be_is_told_and_nothing_changes(cast: Cast, deed: str, sent: dict[str, str], words: str) -> None:
    before = InspectionArea.objects.filter(pk=cast.site.area.pk).values().get()
    answer = send(cast, deed, structure=cast.site.structure.pk, **sent)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert InspectionArea.objects.filter(pk=cast.site.area.pk).values().get() == before


def test_codes_are_told_apart_as_areas_are_renamed_and_moved(cast: Cast) -> None:
    site = cast.site
    tower = add_structure(cast.quinn, project=site.project, name="Tower")
    given: dict[str, Any] = {"system": site.system, "name": "Hatch", "area_m2": Decimal(9)}
    twin = add_area(cast.quinn, structure=tower, code="A1", **given)
    assert (now(site.area).label, now(twin).label) == ("A1 (Tank)", "A1 (Tower)")
    send(cast, "rename", twin, code="A7", name="Hatch", shape="pipe")
    assert (now(site.area).label, now(twin).label) == ("A1", "A7")
    refused = send(cast, "move", twin, structure=site.structure.pk, section="")
    assert refused.status_code == 200
    assert now(twin).structure == site.structure
    third = add_area(cast.quinn, structure=tower, code="A7", **given)
    assert "Tank already has an area A7" in text_of(send(cast, "move", third, structure=site.structure.pk))
    with pytest.raises(Refused, match="another project"):
        breakdown.move_area(cast.quinn, area=third, structure=cast.foreign.structure, section=None, reason="a slip")


def test_a_structure_is_corrected_and_its_areas_are_told_by_its_new_name(cast: Cast) -> None:
    site = cast.site
    tower = add_structure(cast.quinn, project=site.project, name="Twoer")
    twin = add_area(cast.quinn, structure=tower, system=site.system, code="A1", name="Hatch", area_m2=Decimal(9))
    where, quinn = reverse("structure_correct", args=[tower.pk]), as_person(cast.quinn)
    sent = {"name": "tank", "description": "", "reason": "A slip"}
    assert "P-1 already has a structure named tank." in text_of(quinn.post(where, sent))
    assert "Nothing differs" in text_of(quinn.post(where, sent | {"name": "Twoer"}))
    assert now(twin).label == "A1 (Twoer)"
    quinn.post(where, sent | {"name": "Tower"})
    assert (now(twin).label, now(site.area).label) == ("A1 (Tower)", "A1 (Tank)")
    entry = JournalEntry.objects.get(verb="structure.corrected")
    assert (entry.before["name"], entry.after["name"], entry.reason) == ("Twoer", "Tower", "A slip")


def test_an_area_moves_with_its_records_into_another_section(cast: Cast) -> None:
    bay = down(cast, "Fore", "Bay 1")
    verify(cast, "06:40")
    record = measure(cast, "08:00", "08:20")
    done = send_twice(cast, "move", structure=cast.site.structure.pk, section="fore / bay 1")
    assert "Tank / Fore / Bay 1" in text_of(done)
    assert now(cast.site.area).section == bay
    assert ThicknessRecord.objects.get(pk=record.pk).area == cast.site.area


def test_a_retired_area_leaves_what_is_next_and_the_boards_and_comes_back_with_its_points(cast: Cast) -> None:
    point, ines = a_point(cast), as_person(cast.ines)
    assert "A1" in text_of(ines.get(reverse("today")))
    shown = send(cast, "retire", reason="Replaced by a new hatch")
    assert "1 point there not released is closed." in text_of(shown)
    send(cast, "retire", reason="Replaced by a new hatch", confirmed=shown.context["confirmed"])
    assert HoldPoint.objects.get(pk=point.pk).state == HoldPoint.State.CLOSED
    assert "A1 Hatch" not in text_of(ines.get(reverse("today")))
    board = reverse("board")
    assert "A1 Hatch" not in text_of(ines.get(board))
    assert "A1 Hatch" in text_of(ines.get(board, {"retired": "1"}))
    tree = reverse("structure", args=[cast.site.structure.pk])
    assert "A1 Hatch" not in text_of(ines.get(tree))
    assert "A1 Hatch" in text_of(ines.get(tree, {"retired": "1"}))
    assert '<td data-label="Area, m²" class="num">60</td>' in text_of(ines.get(reverse("project_list")))
    with pytest.raises(Refused, match="was retired on"):
        plan_points(
            cast.quinn, project=cast.site.project, areas=[now(cast.site.area)], coat=cast.site.coats[1], kind="hold",
            title="Second coat",
        )  # fmt: skip
    done = send_twice(cast, "restore", reason="It was built after all")
    assert "is brought back" in text_of(done)
    assert HoldPoint.objects.get(pk=point.pk).state == HoldPoint.State.WAITING
    assert "A1 Hatch" in text_of(ines.get(board))
    verbs = JournalEntry.objects.filter(object_type="projects.inspectionarea").values_list("verb", flat=True)
    assert [verb for verb in verbs.order_by("pk") if verb in ("area.retired", "area.restored")] == [
        "area.retired", "area.restored",
    ]  # fmt: skip


def test_evidence_of_a_retired_area_is_kept_and_warned_of_while_nothing_new_begins(in_date: Cast) -> None:
    cast, site = in_date, in_date.site
    breakdown.retire_area(cast.quinn, area=site.area, reason="Cut out.")
    verify(cast, "06:40")
    sent = thickness_sent(cast)
    answer = as_person(cast.ines).post("/api/thickness/", sent, content_type="application/json")
    assert answer.status_code == 201, answer.content
    (warning,) = [each for each in answer.json()["warnings"] if "retired" in each]
    assert "A1 was retired on" in warning
    assert "Cut out. The record is kept there all the same." in warning
    assert JournalEntry.objects.get(verb="thickness.recorded").after["changed_area"] == [warning]
    assert "The area was retired on" in text_of(as_person(cast.ines).get(f"/thickness/{sent['id']}/"))
    with pytest.raises(Conflict, match="Nothing new begins there"):
        open_sheet(
            cast.ines, id=new_id(), area=now(site.area), coat=site.coats[0], gauge=cast.gauge, profile_way="adjusted"
        )


def test_only_a_quality_manager_changes_an_area_and_strangers_see_none(cast: Cast) -> None:
    where = [reverse(f"area_{deed}", args=[cast.site.area.pk]) for deed in ("measure", "rename", "retire")]
    assert {as_person(cast.ines).get(address).status_code for address in where} == {403}
    assert {as_person(cast.igor).post(address).status_code for address in where} == {404}
