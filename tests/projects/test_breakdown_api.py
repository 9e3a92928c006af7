"""Sections and areas changed by the API, with the sentences and the sight of the pages."""

from __future__ import annotations

from typing import Any

from accounts.models import JournalEntry, Person
from inspection.foundation.ids import new_id
from inspection.projects.models import InspectionArea, Section
from tests.cast import Cast
from tests.projects.test_area_changes import now
from tests.projects.test_pages import as_person

BECAUSE = {"reason": "As built"}


def post(person: Person, path: str, **sent: Any) -> tuple[int, Any]:
    answer = as_person(person).post(f"/api/{path}/", sent, content_type="application/json")
    return answer.status_code, answer.json() if answer.content else None


def messages(answer: tuple[int, Any]) -> str:
    assert answer[0] in (404, 409, 422), answer
    return str(answer[1])


def test_sections_are_added_changed_and_removed(cast: Cast) -> None:
    structure = str(cast.site.structure.pk)
    status, fore = post(cast.quinn, "sections/add", structure=structure, name="Fore")
    assert (status, fore["path"]) == (201, "Fore")
    _, bay = post(cast.quinn, "sections/add", structure=structure, name="Bay 1", parent=fore["id"])
    assert bay["path"] == "Fore / Bay 1"
    assert "lies within Fore itself" in messages(
        post(cast.quinn, f"sections/{fore['id']}/change", name="Fore", parent=bay["id"], **BECAUSE)
    )
    _, moved = post(cast.quinn, f"sections/{bay['id']}/change", name="Bay 2", parent=None, **BECAUSE)
    assert moved["path"] == "Bay 2"
    _, named = post(cast.quinn, f"sections/{bay['id']}/change", name="Bay 2", parent=fore["id"], **BECAUSE)
    _, named = post(cast.quinn, f"sections/{bay['id']}/change", name="Bay 3", **BECAUSE)
    assert named["path"] == "Fore / Bay 3"
    post(cast.quinn, f"sections/{bay['id']}/change", name="Bay 2", parent=None, **BECAUSE)
    assert post(cast.quinn, f"sections/{fore['id']}/remove", **BECAUSE) == (204, None)
    assert [section.path for section in Section.objects.all()] == ["Bay 2"]


def test_an_area_is_changed_divided_and_brought_back(cast: Cast) -> None:
    area, site = f"areas/{cast.site.area.pk}", cast.site
    _, told = post(cast.quinn, f"{area}/measure", area_m2=9.5, welds_m=3, **BECAUSE)
    assert (told["area_m2"], told["edges_m"], told["welds_m"]) == (9.5, None, 3)
    _, told = post(cast.quinn, f"{area}/rename", code="A7", name="Hatch", **BECAUSE)
    assert (told["code"], told["shape"]) == ("A7", "plate")
    _, bay = post(cast.quinn, "sections/add", structure=str(site.structure.pk), name="Bay")
    _, told = post(cast.quinn, f"{area}/move", structure=str(site.structure.pk), section=bay["id"], **BECAUSE)
    assert told["section_path"] == "Bay"
    halves = [{"code": f"A7-{number}", "name": "Half", "area_m2": 4.75} for number in (1, 2)]
    over = [halves[0], {**halves[1], "area_m2": 4.76}]
    assert "more than the 9.50 m² of A7" in messages(post(cast.quinn, f"{area}/divide", parts=over, **BECAUSE))
    status, made = post(cast.quinn, f"{area}/divide", parts=halves, **BECAUSE)
    assert (status, [part["code"] for part in made]) == (201, ["A7-1", "A7-2"])
    assert made[0]["made_from"] == [str(site.area.pk)]
    assert "was retired on" in messages(post(cast.quinn, f"{area}/divide", parts=halves, **BECAUSE))
    status, whole = post(
        cast.quinn, "areas/merge", areas=[part["id"] for part in made], code="A8", name="Both", **BECAUSE
    )
    assert (status, whole["area_m2"]) == (201, 9.5)
    assert "Bring that back first" in messages(post(cast.quinn, f"{area}/restore", **BECAUSE))
    assert post(cast.quinn, f"areas/{made[0]['id']}/restore", **BECAUSE)[0] == 200
    assert post(cast.quinn, f"{area}/restore", **BECAUSE)[0] == 200
    assert now(site.area).retired_at is None
    assert InspectionArea.objects.in_use().filter(structure=site.structure).count() == 2
    assert JournalEntry.objects.filter(reason="As built").count() >= 10


def test_what_a_sender_does_not_see_is_not_there_and_others_may_not(cast: Cast) -> None:
    area = f"areas/{cast.site.area.pk}"
    assert post(cast.igor, f"{area}/retire", **BECAUSE)[0] == 404
    assert post(cast.ines, f"{area}/retire", **BECAUSE)[0] == 403
    foreign = str(cast.foreign.structure.pk)
    assert "another project" in messages(post(cast.quinn, f"{area}/move", structure=foreign, **BECAUSE))
    ids = [str(cast.site.area.pk), str(new_id())]
    assert "There is no such area" in messages(
        post(cast.quinn, "areas/merge", areas=ids, code="A8", name="X", **BECAUSE)
    )
    assert "reason" in messages(post(cast.quinn, f"{area}/retire"))
