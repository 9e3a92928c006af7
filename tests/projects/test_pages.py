"""Projects on pages: the list, one project, and setting one up without losing a keystroke."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Person
from inspection.projects.models import CoatingSystem, InspectionArea, Membership, Project
from tests.cast import Cast, site


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_list_shows_each_person_their_projects_with_their_square_metres(cast: Cast) -> None:
    words = text_of(as_person(cast.clara).get(reverse("project_list")))
    assert "P-1 Works P-1" in words
    assert "P-2" not in words
    assert '<td data-label="Area, m²" class="num">68</td>' in words


def test_the_list_costs_the_same_for_three_projects_and_thirty(cast: Cast) -> None:
    client = as_person(cast.quinn)

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse("project_list"))
        return len(caught)

    before = cost()
    for number in range(28):
        site(f"Q-{number}", cast.owner)
    assert cost() == before


def test_a_project_shows_what_was_specified_and_the_sums_a_gauge_shows(cast: Cast) -> None:
    words = text_of(as_person(cast.clara).get(reverse("project", args=[cast.site.project.pk])))
    assert "SSPC-PA 2, level 3" in words
    assert '<td data-label="Sum minimum" class="num">160.0</td>' in words
    assert '<td data-label="Sum maximum" class="num">410.0</td>' in words
    assert "A1 Hatch" in words
    assert "Ines Inspector" in words
    assert "Add an area" not in words


def test_the_project_page_costs_the_same_for_three_areas_and_thirty(cast: Cast) -> None:
    client = as_person(cast.quinn)

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse("project", args=[cast.site.project.pk]))
        return len(caught)

    before = cost()
    for number in range(28):
        InspectionArea.objects.create(
            structure=cast.site.structure, system=cast.site.system, code=f"B{number}", name="Bay", area_m2=1
        )
    assert cost() == before


def test_areas_are_found_by_code_or_name(cast: Cast) -> None:
    where = reverse("project", args=[cast.site.project.pk])
    words = text_of(as_person(cast.quinn).get(where, {"area": "hatch"}))
    assert ("A1 Hatch" in words, "A2 Shell" in words) == (True, False)
    assert "No area’s code or name holds “roof”" in text_of(as_person(cast.quinn).get(where, {"area": "roof"}))


def test_a_project_is_opened_from_the_form(cast: Cast) -> None:
    sent = {
        "code": "J-14", "name": "Jetty", "client": str(cast.owner.pk), "contractor": "", "time_zone": "Europe/Oslo",
        "unit": "mil", "shift_starts": "6:00, 18:00",
    }  # fmt: skip
    answer = as_person(cast.quinn).post(reverse("project_new"), sent)
    project = Project.objects.get(code="J-14")
    assert answer.headers["Location"] == reverse("project", args=[project.pk])
    assert (project.unit, project.shift_starts) == ("mil", "06:00, 18:00")
    wrong = as_person(cast.quinn).post(reverse("project_new"), sent | {"shift_starts": "six", "name": "Jetty two"})
    words = text_of(wrong)
    assert wrong.status_code == 422
    assert "“six” is not a time of day; write 06:00 or 06:00, 18:00." in words
    assert "There is already a project J-14" in words
    assert 'value="Jetty two"' in words


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ("0", "The area is more than 0 m²; give its size, such as 12.5."),
        ("-3", "The area is more than 0 m²; give its size, such as 12.5."),
        ("big", "“big” is not a number; write it as 12.5."),
        ("1e400", "1E+400 m² is more than any inspection area"),
        ("12,345", "12.345 m² may be meant as thousands; write 12.35 or 12345."),
        ("0,0041", "0.0041 m² is less than can be kept; the least is 0.01 m²."),
    ],
)
def test_an_impossible_area_is_explained_beside_its_field(cast: Cast, size: str, words: str) -> None:
    sent = {
        "structure": str(cast.site.structure.pk), "system": str(cast.site.system.pk), "code": "A9", "name": "Roof",
        "area_m2": size, "shape": "plate",
    }  # fmt: skip
    answer = as_person(cast.quinn).post(reverse("area_new", args=[cast.site.project.pk]), sent)
    page = text_of(answer)
    assert answer.status_code == 422
    assert words in page
    assert f'value="{size}"' in page
    assert not InspectionArea.objects.filter(code="A9").exists()


def test_more_digits_than_steel_has_are_rounded(cast: Cast) -> None:
    sent = {
        "structure": str(cast.site.structure.pk), "system": str(cast.site.system.pk), "code": "A9", "name": "Roof",
        "area_m2": "12.3456", "shape": "plate",
    }  # fmt: skip
    as_person(cast.quinn).post(reverse("area_new", args=[cast.site.project.pk]), sent)
    assert InspectionArea.objects.get(code="A9").area_m2 == Decimal("12.35")


def test_a_decimal_comma_is_understood(cast: Cast) -> None:
    sent = {
        "structure": str(cast.site.structure.pk), "system": str(cast.site.system.pk), "code": "A9", "name": "Roof",
        "area_m2": "12,5", "shape": "plate",
    }  # fmt: skip
    as_person(cast.quinn).post(reverse("area_new", args=[cast.site.project.pk]), sent)
    assert str(InspectionArea.objects.get(code="A9").area_m2) == "12.50"


def system_sent(**changed: str) -> dict[str, str]:
    sent = {"coats": "3", "name": "C5-M", "preparation_grade": "Sa 2½", "profile_min_nm": "50", "profile_max_nm": "85"}
    for number, rule in enumerate(("dft-pa2", "dft-iso19840", "dft-imo-pspc"), start=1):
        sent |= {
            f"coat{number}-{name}": value
            for name, value in {
                "name": f"Coat {number}", "product": "Epoxy", "minimum_nm": "60", "nominal_nm": "75,5",
                "maximum_nm": "", "volume_solids_pct": "65", "rule": rule, "pa2_level": "3" if number == 1 else "",
                "humidity_max_pct": "85", "margin_min_c": "3",
            }.items()
        }  # fmt: skip
    return sent | changed


def test_a_system_of_three_coats_is_specified_in_one_form(cast: Cast) -> None:
    where = reverse("system_new", args=[cast.site.project.pk])
    client = as_person(cast.quinn)
    assert 'name="coat3-minimum_nm"' in text_of(client.get(where))
    assert 'name="coat5-minimum_nm"' in text_of(client.get(where, {"coats": "5"}))
    client.post(where, system_sent())
    system = CoatingSystem.objects.get(name="C5-M")
    assert [(coat.order, coat.nominal_nm, coat.rule) for coat in system.coats.all()] == [
        (1, 75_500, "dft-pa2"),
        (2, 75_500, "dft-iso19840"),
        (3, 75_500, "dft-imo-pspc"),
    ]


def test_one_coat_is_told_as_one(cast: Cast) -> None:
    client = as_person(cast.quinn)
    sent = {name: value for name, value in system_sent().items() if not name.startswith(("coat2", "coat3"))}
    answer = client.post(reverse("system_new", args=[cast.site.project.pk]), {**sent, "coats": "1"}, follow=True)
    assert "is specified with 1 coat." in text_of(answer)


def test_a_slip_in_one_coat_is_named_with_the_coat_and_nothing_is_stored(cast: Cast) -> None:
    where = reverse("system_new", args=[cast.site.project.pk])
    sent = system_sent(**{"coat2-minimum_nm": "90", "coat3-product": "Polyurethane"})
    answer = as_person(cast.quinn).post(where, sent)
    words = text_of(answer)
    assert answer.status_code == 422
    assert "Coat 2, Nominal dry film thickness, µm: The nominal thickness is at least the minimum." in words
    assert 'value="Polyurethane"' in words
    assert not CoatingSystem.objects.filter(name="C5-M").exists()


def test_the_form_speaks_the_projects_unit(cast: Cast) -> None:
    Project.objects.filter(pk=cast.site.project.pk).update(unit="mil")
    where = reverse("system_new", args=[cast.site.project.pk])
    client = as_person(cast.quinn)
    assert "Minimum dry film thickness, mil" in text_of(client.get(where))
    sent = system_sent(profile_min_nm="2", profile_max_nm="3.5")
    sent |= {name: "3" for name in sent if name.endswith(("minimum_nm", "nominal_nm"))}
    client.post(where, sent)
    assert CoatingSystem.objects.get(name="C5-M").coats.first().minimum_nm == 76_200


def test_a_person_is_added_and_their_part_ended(cast: Cast) -> None:
    client = as_person(cast.quinn)
    where = reverse("member_new", args=[cast.site.project.pk])
    assert "Clara Client" not in text_of(client.get(where))  # she already takes part
    client.post(where, {"person": str(cast.igor.pk), "role": "inspector"})
    membership = Membership.objects.get(project=cast.site.project, person=cast.igor)
    client.post(reverse("member_end", args=[membership.pk]))
    membership.refresh_from_db()
    assert membership.ended_at is not None
    assert client.post(reverse("member_end", args=[membership.pk])).status_code == 409


def test_an_area_needs_a_structure_and_a_system_first(cast: Cast) -> None:
    client = as_person(cast.quinn)
    sent = {
        "code": "J-14", "name": "Jetty", "client": str(cast.owner.pk), "time_zone": "UTC", "unit": "um",
        "shift_starts": "06:00",
    }  # fmt: skip
    client.post(reverse("project_new"), sent)
    project = Project.objects.get(code="J-14")
    answer = client.get(reverse("area_new", args=[project.pk]))
    assert (answer.status_code, "add both first" in text_of(answer)) == (422, True)


@pytest.mark.parametrize("name", ["member_new", "structure_new", "system_new", "area_new"])
def test_only_the_quality_manager_sets_up_and_strangers_find_nothing(cast: Cast, name: str) -> None:
    where = reverse(name, args=[cast.site.project.pk])
    for someone, status in (
        (cast.ines, 403),
        (cast.clara, 403),
        (cast.audrey, 403),
        (cast.igor, 404),
        (cast.carl, 404),
    ):
        assert as_person(someone).get(where).status_code == status
        assert as_person(someone).post(where, {"name": "x"}).status_code == status
    assert as_person(cast.admin).get(where).status_code == 403
    assert as_person(cast.carl).get(reverse("project", args=[cast.site.project.pk])).status_code == 404
