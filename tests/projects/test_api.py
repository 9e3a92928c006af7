"""Projects, areas and systems in the API: what is read, by whom, and in how many queries."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Person
from inspection.projects.models import InspectionArea
from tests.cast import Cast


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person, "allauth.account.auth_backends.AuthenticationBackend")
    return client


def read(person: Person, name: str, *args: object, query: str = "") -> tuple[int, dict]:
    answer = as_person(person).get(reverse(name, args=args) + query)
    return answer.status_code, answer.json()


def test_projects_are_listed_as_each_person_sees_them(cast: Cast) -> None:
    seen = {
        someone.name: {row["code"] for row in read(someone, "api_project_list")[1]["results"]}
        for someone in (cast.quinn, cast.ines, cast.carl, cast.audrey)
    }
    assert seen == {
        "Quinn Quality": {"P-1", "P-2"},
        "Ines Inspector": {"P-1"},
        "Carl Client": {"P-2"},
        "Audrey Auditor": {"P-1"},
    }


def test_a_project_tells_its_areas_in_square_metres(cast: Cast) -> None:
    _, project = read(cast.ines, "api_project", cast.site.project.pk)
    assert (project["area_count"], Decimal(str(project["area_m2"])), project["client"]) == (2, Decimal(68), "Owner One")


def test_a_system_tells_each_coat_and_the_sums_up_to_it_in_um(cast: Cast) -> None:
    _, system = read(cast.ines, "api_system", cast.site.system.pk)
    coat = system["coats"][1]
    assert (coat["minimum_um"], coat["through_minimum_um"], coat["through_maximum_um"]) == (100, 160, 320)
    assert coat["rule"] == "dft-iso19840"


def test_areas_can_be_read_of_one_project(cast: Cast) -> None:
    query = f"?project={cast.site.project.pk}"
    _, page = read(cast.quinn, "api_area_list", query=query)
    assert {row["code"] for row in page["results"]} == {"A1", "A2"}
    assert {row["project"] for row in page["results"]} == {str(cast.site.project.pk)}
    assert read(cast.quinn, "api_area_list", query="?project=nonsense")[0] == 404


@pytest.mark.parametrize("name", ["api_project_list", "api_area_list", "api_system_list"])
def test_the_number_of_queries_does_not_grow_with_rows(cast: Cast, name: str) -> None:
    def cost() -> int:
        client = as_person(cast.ines)
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert client.get(reverse(name)).status_code == 200
        return len(caught)

    before = cost()
    for number in range(30):
        InspectionArea.objects.create(
            structure=cast.site.structure, system=cast.site.system, code=f"B{number}", name="Bay", area_m2=4
        )
    assert cost() == before


def test_what_is_foreign_does_not_exist(cast: Cast) -> None:
    for someone in (cast.igor, cast.carl):
        assert read(someone, "api_project", cast.site.project.pk)[0] == 404
        assert read(someone, "api_area", cast.site.area.pk)[0] == 404
        assert read(someone, "api_system", cast.site.system.pk)[0] == 404
    assert Client().get(reverse("api_project_list")).status_code == 401
