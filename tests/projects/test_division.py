"""Areas divided, merged and given another system: what waits goes over, records stay, all has a way back."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Person
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.refusals import Conflict, Refused
from inspection.holdpoints.actions import plan_points
from inspection.holdpoints.models import HoldPoint
from inspection.projects import breakdown, division
from inspection.projects.division import Part
from inspection.projects.models import Coat, CoatingSystem, InspectionArea
from tests.cast import Cast
from tests.fieldwork.test_run_out import thickness_sent
from tests.holdpoints.scene import a_point
from tests.holdpoints.test_at_once import at_once
from tests.projects.test_area_changes import now, send, send_twice
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_sections import down, hang
from tests.standing.scene import measure, verify


def parts(*rows: tuple[str, str], **more: str) -> dict[str, str]:
    """The form of so many parts, each of a code and m²."""
    sent = {"parts": str(len(rows)), "reason": "Two strakes", **more}
    for number, (code, size) in enumerate(rows, start=1):
        sent |= {f"part{number}-code": code, f"part{number}-name": "Strake", f"part{number}-area_m2": size}
    return sent


def divide(cast: Cast, sent: dict[str, str], area: InspectionArea | None = None) -> Any:
    return as_person(cast.quinn).post(reverse("area_divide", args=[(area or cast.site.area).pk]), sent, follow=True)


def divide_twice(cast: Cast, sent: dict[str, str], area: InspectionArea | None = None) -> Any:
    return divide(cast, sent | {"confirmed": divide(cast, sent, area).context["confirmed"]}, area)


def in_use(cast: Cast) -> list[str]:
    areas = InspectionArea.objects.in_use().filter(structure=cast.site.structure)
    return [f"{area.code} {area.area_m2}" for area in areas.order_by("code")]


def test_an_area_is_divided_after_its_records_and_points_were_shown_and_is_brought_back(cast: Cast) -> None:
    point = a_point(cast)
    verify(cast, "06:40")
    record = measure(cast, "08:00", "08:20")
    sent = parts(("A1-1", "5"), ("A1-2", "2,5"))
    shown = divide(cast, sent)
    words = text_of(shown)
    assert "0.5 m² of A1 lie in none of the parts." in words
    assert "1 record stays where it was taken, with the verdict and the decisions it has." in words
    assert "1 point there not released is closed and planned again on what takes the place." in words
    assert in_use(cast) == ["A1 8.00", "A2 60.00"]
    divide(cast, sent | {"confirmed": shown.context["confirmed"]})
    assert in_use(cast) == ["A1-1 5.00", "A1-2 2.50", "A2 60.00"]
    assert ThicknessRecord.objects.get(pk=record.pk).area == cast.site.area
    planned = HoldPoint.objects.filter(area__code__startswith="A1-").order_by("area__code")
    assert [(str(each), each.state, each.coat) for each in planned] == [
        (f"{point.title}, A1-1", "waiting", point.coat), (f"{point.title}, A1-2", "waiting", point.coat),
    ]  # fmt: skip
    assert HoldPoint.objects.get(pk=point.pk).state == "closed"
    entry = JournalEntry.objects.get(verb="area.divided")
    assert (list(entry.after["parts"].values()), entry.reason) == (["A1-1, 5.00 m²", "A1-2, 2.50 m²"], "Two strakes")
    page = text_of(as_person(cast.clara).get(reverse("area", args=[cast.site.area.pk])))
    assert "What took its place" in page
    assert "A1-2 Strake" in page
    with pytest.raises(Conflict, match="A1-1 is in use"):
        division.restore_area(cast.quinn, area=InspectionArea.objects.get(code="A1-1"), reason="a slip")
    back = send(cast, "restore")
    assert "A1-1, A1-2 took its place; that is taken back." in text_of(back)
    send(cast, "restore", confirmed=back.context["confirmed"])
    assert in_use(cast) == ["A1 8.00", "A2 60.00"]
    assert HoldPoint.objects.get(pk=point.pk).state == "waiting"
    assert set(HoldPoint.objects.filter(area__code__startswith="A1-").values_list("state", flat=True)) == {"closed"}
    with pytest.raises(Conflict, match="came from A1, which is in use"):
        division.restore_area(cast.quinn, area=InspectionArea.objects.get(code="A1-1"), reason="a slip")


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (
            parts(("A1-1", "5"), ("A1-2", "3.01")),
            "The parts have 8.01 m² of surface together, more than the 8.00 m² of A1",
        ),
        (parts(("A1-1", "5"), ("a1-1", "3")), "Two parts bear the code a1-1; give each its own."),
        (parts(("A2", "5"), ("A1-2", "3")), "Part 1, Code: Tank already has an area A2"),
        (parts(("A1-1", "5"), ("A1-2", "0")), "Part 2, Area in m²: The area is more than 0 m²"),
        (parts(("A1-1", "5"), ("A1-2", "3"), **{"part2-edges_m": "7"}), "The parts have 7.00 m of edges together"),
        (parts(("A1-1", "5"), ("A1-2", "3"), reason=""), "Why: This field is required."),
    ],
)
def test_parts_that_cannot_be_are_told_and_nothing_is_kept(cast: Cast, sent: dict[str, str], words: str) -> None:
    InspectionArea.objects.filter(pk=cast.site.area.pk).update(edges_m=6)
    answer = divide(cast, sent)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert in_use(cast) == ["A1 8.00", "A2 60.00"]
    assert InspectionArea.objects.count() == 4


def test_a_division_in_one_part_is_none(cast: Cast) -> None:
    with pytest.raises(Refused, match="Give at least 2 and at most 24 parts"):
        division.divide_area(cast.quinn, area=cast.site.area, parts=[Part("A1-1", "Whole", Decimal(8))], reason="none")


def test_areas_merge_into_one_as_large_as_they_are_together_and_come_back_together(cast: Cast) -> None:
    site, bay = cast.site, down(cast, "Fore", "Bay 1")
    one = hang(cast, bay, "B-1", edges_m=Decimal(3), welds_m=Decimal(1))
    two = hang(cast, down(cast, "Fore", "Bay 2"), "B-2", edges_m=Decimal(4))
    waiting = a_point(cast, area=one)
    a_point(cast, area=two)
    released = a_point(cast, area=two, coat=1)
    HoldPoint.objects.filter(pk=released.pk).update(state="released")
    where = reverse("areas_merge", args=[site.structure.pk])
    sent = {"areas": "b-1\nB-2\nB-1", "code": "B", "name": "Both", "reason": "One strake"}
    quinn = as_person(cast.quinn)
    shown = quinn.post(where, sent)
    words = text_of(shown)
    assert "B-1, B-2 are retired; the new area has 20.00 m²." in words
    assert "2 points there not released are closed and planned again on what takes the place." in words
    assert "1 point there stays released" in words
    quinn.post(where, sent | {"confirmed": shown.context["confirmed"]})
    merged = InspectionArea.objects.get(code="B")
    assert (merged.area_m2, merged.edges_m, merged.welds_m, merged.lies_in) == (20, 7, None, "Tank / Fore")
    assert set(merged.made_from.all()) == {one, two}
    assert [(point.coat, point.state) for point in merged.holdpoints.all()] == [(waiting.coat, "waiting")]
    back = send_twice(cast, "restore", one)
    assert "is brought back" in text_of(back)
    assert in_use(cast) == ["A1 8.00", "A2 60.00", "B-1 10.00", "B-2 10.00"]
    assert HoldPoint.objects.get(pk=waiting.pk).state == "waiting"


def test_areas_of_two_systems_or_two_structures_are_not_merged(cast: Cast) -> None:
    site = cast.site
    other = CoatingSystem.objects.create(project=site.project, name="System 2", preparation_grade="Sa 3")
    InspectionArea.objects.filter(pk=site.other_area.pk).update(system=other)
    where = reverse("areas_merge", args=[site.structure.pk])
    sent = {"areas": "A1\nA2", "code": "A9", "name": "Both", "reason": "One strake"}
    answer = as_person(cast.quinn).post(where, sent)
    assert answer.status_code == 422
    assert "A1 has the system System 1, A2 has System 2; areas are merged within one system." in text_of(answer)
    assert "Tank has no area A7." in text_of(as_person(cast.quinn).post(where, sent | {"areas": "A1\nA7"}))
    assert "Name at least two areas" in text_of(as_person(cast.quinn).post(where, sent | {"areas": "A1"}))
    assert in_use(cast) == ["A1 8.00", "A2 60.00"]


def test_another_system_leaves_what_was_judged_and_still_takes_what_comes_late(in_date: Cast) -> None:
    cast, site = in_date, in_date.site
    other = CoatingSystem.objects.create(project=site.project, name="System 2", preparation_grade="Sa 3")
    Coat.objects.create(
        system=other, order=1, name="Zinc", product="Paint", volume_solids_pct=60, minimum_nm=60_000,
        nominal_nm=75_000, rule=Coat.Rule.ISO_19840,
    )  # fmt: skip
    point, ines = a_point(cast), as_person(cast.ines)
    verify(cast, "06:40")
    record = measure(cast, "08:00", "08:20")
    before = ThicknessRecord.objects.values("verdict", "result", "inputs", "coat").get(pk=record.pk)
    shown = send(cast, "system", system=other.pk)
    assert "1 point there not released is closed." in text_of(shown)
    send(cast, "system", system=other.pk, confirmed=shown.context["confirmed"])
    assert now(site.area).system == other
    assert ThicknessRecord.objects.values("verdict", "result", "inputs", "coat").get(pk=record.pk) == before
    assert HoldPoint.objects.get(pk=point.pk).state == "closed"
    today = text_of(ines.get(reverse("today")))
    assert "Zinc" in today
    assert "System 1, until" in text_of(ines.get(reverse("area", args=[site.area.pk])))
    late = ines.post("/api/thickness/", thickness_sent(cast), content_type="application/json")
    assert late.status_code == 201, late.content
    assert any("A1 had the system of 1. Primer until" in each for each in late.json()["warnings"])
    correct = ines.get(reverse("thickness_upload", args=[site.project.pk]), {"replaces": str(record.pk)})
    assert f'<option value="{record.coat_id}" selected>System 1: 1. Primer' in text_of(correct)
    send_twice(cast, "system", system=site.system.pk)
    assert now(site.area).system == site.system
    assert HoldPoint.objects.get(pk=point.pk).state == "waiting"
    with pytest.raises(Refused, match="another project"):
        breakdown.change_system(cast.quinn, area=now(site.area), system=cast.foreign.system, reason="a slip")


def test_what_is_shown_before_costs_the_same_for_one_record_and_five(cast: Cast) -> None:
    verify(cast, "06:40")

    def cost() -> int:
        asking = Person.objects.get(pk=cast.quinn.pk)  # as each request does: what it knows of its roles is asked anew
        with CaptureQueriesContext(connection) as caught:
            breakdown.touched(asking, [cast.site.area], breakdown.Change.DIVIDED)
        return len(caught)

    measure(cast, "08:00", "08:05")
    before = cost()
    for minute in range(10, 14):
        measure(cast, f"08:{minute}", f"08:{minute}")
    assert cost() == before


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_of_two_who_divide_one_area_at_once_one_wins_and_the_other_is_told() -> None:
    from tests import cast as casting

    cast = casting.cast()

    def half(name: str) -> list[Part]:
        return [Part(f"{name}-{number}", "Half", Decimal(4)) for number in (1, 2)]

    ends = at_once(
        lambda: division.divide_area(cast.quinn, area=cast.site.area, parts=half("P"), reason="Port"),
        lambda: division.divide_area(cast.quinn, area=cast.site.area, parts=half("S"), reason="Starboard"),
    )
    (refusal,) = [end for end in ends if isinstance(end, Conflict)]
    assert "A1 was retired on" in str(refusal)
    assert InspectionArea.objects.in_use().filter(structure=cast.site.structure).count() == 3
    assert JournalEntry.objects.filter(verb="area.divided").count() == 1


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_a_point_planned_while_its_area_is_retired_waits_on_no_retired_area() -> None:
    from tests import cast as casting

    cast = casting.cast()
    site = cast.site

    def plan() -> Any:
        return plan_points(
            cast.quinn,
            project=site.project,
            areas=[site.area],
            coat=site.coats[0],
            kind="hold",
            title="Primer accepted",
        )

    at_once(lambda: breakdown.retire_area(cast.quinn, area=site.area, reason="Cut out"), plan)
    assert now(site.area).retired_at
    assert set(HoldPoint.objects.values_list("state", flat=True)) <= {"closed"}
