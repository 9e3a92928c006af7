"""Codes as drawings write them: up to 60 characters, and told apart where two structures use the same one."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from accounts.models import Person
from inspection.holdpoints.actions import plan_points
from inspection.instruments.actions.equipment import report_incident
from inspection.projects.actions import add_structure
from inspection.projects.areas import add_area
from inspection.projects.models import InspectionArea
from reports.daily.gathering import gather
from tests.cast import DAY, MORNING, Cast
from tests.standing.scene import measure, verify

LONG = "WBT-3P-FR112-FR118-LONGITUDINAL-BULKHEAD-STRAKE-04-PORT-SIDE"
assert len(LONG) == 60


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def twins(cast: Cast) -> tuple[InspectionArea, InspectionArea]:
    """A1 on the tank, and another A1 on the tower that came later."""
    site = cast.site
    tower = add_structure(cast.quinn, project=site.project, name="Tower")
    second = add_area(cast.quinn, structure=tower, system=site.system, code="a1", name="Hatch", area_m2=Decimal(9))
    return InspectionArea.objects.get(pk=site.area.pk), second


def test_a_code_of_sixty_characters_is_kept_and_one_of_sixty_one_is_told_of(cast: Cast) -> None:
    client, site = as_person(cast.quinn), cast.site
    sent = {
        "structure": site.structure.pk,
        "system": site.system.pk,
        "name": "Strake",
        "area_m2": "12",
        "shape": "plate",
    }
    path = f"/projects/{site.project.pk}/areas/new/"
    assert client.post(path, {**sent, "code": LONG + "X"}).status_code == 422
    assert client.post(path, {**sent, "code": LONG}).status_code == 302
    assert LONG in text_of(client.get(f"/projects/{site.project.pk}/"))
    project = {
        "code": "P-" + LONG[2:], "name": "Long", "client": cast.owner.pk, "time_zone": "UTC", "unit": "um",
        "shift_starts": "06:00",
    }  # fmt: skip
    assert client.post("/projects/new/", project).status_code == 302
    rows = f"structure;code;name;area_m2;shape;system\n;{LONG[:-1]}Z;Strake;12;;\n"
    answer = client.post(f"/projects/{site.project.pk}/areas/upload/", {"rows": rows, "store": "1"})
    assert answer.status_code == 302, text_of(answer)


def test_a_row_that_could_mean_either_structure_is_told_both(twins: Any, cast: Cast) -> None:
    rows = "code;name;area_m2\nA1;Hatch;12\n"
    answer = as_person(cast.quinn).post(f"/projects/{cast.site.project.pk}/areas/upload/", {"rows": rows})
    assert answer.status_code == 422
    assert "is missing, and “Tank” or “Tower” could be meant; name one in each row." in text_of(answer)


def test_the_same_code_on_two_structures_is_told_apart_on_pages_and_in_choosers(twins: Any, cast: Cast) -> None:
    site, quinn = cast.site, as_person(cast.quinn)
    points = plan_points(
        cast.quinn, project=site.project, areas=list(twins), coat=site.coats[0], kind="hold", title="Primer accepted"
    )
    verify(cast, "06:40")
    records = [measure(cast, "08:00", "08:20", area=area) for area in twins]
    project, there = site.project.pk, (("A1", "Tank"), ("a1", "Tower"))
    for path in ("/hold-points/", f"/thickness/?project={project}", "/decisions/"):
        report_incident(cast.ines, gauge=cast.gauge, at=MORNING, what="Fell")
        words = text_of(quinn.get(path))
        for code, structure in there:
            assert f"{code} ({structure})" in words or f"{code} Hatch ({structure})" in words, path
    for path in (f"/projects/{project}/hold-points/plan/", f"/projects/{project}/nonconformances/new/"):
        words = text_of(quinn.get(path))
        assert "A1 Hatch (Tank)" in words, path
        assert "a1 Hatch (Tower)" in words, path
    for record, point, (code, structure) in zip(records, points, there, strict=True):
        for path in (f"/thickness/{record.pk}/", f"/hold-points/{point.pk}/", f"/trace/thickness/{record.pk}/"):
            assert f"{code} ({structure})" in text_of(quinn.get(path)), path
        assert as_person(cast.ines).get(f"/api/thickness/{record.pk}/").json()["area_label"] == f"{code} ({structure})"
    facts = gather(site.project, DAY)
    assert {row.area for row in facts.thicknesses} == {"A1 (Tank)", "a1 (Tower)"}


def test_a_code_that_only_one_structure_has_stands_alone(twins: Any, cast: Cast) -> None:
    assert cast.site.other_area.label == "A2"
    assert InspectionArea.objects.get(pk=cast.foreign.area.pk).label == "A1"
