"""Pages and API of a coating system's revisions: issued after a look, shown on system, area and record, taken back."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from inspection.projects.models import CoatingSystem
from tests.cast import Cast
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_revisions import NEXT_DAY, issue, now, record


def typed(cast: Cast, **changes: str) -> dict[str, Any]:
    """What the form shows when it is opened, as a browser would send it back."""
    shown = as_person(cast.quinn).get(reverse("system_revise", args=[cast.site.system.pk]))
    sent: dict[str, Any] = {"coats": "3"}
    for form in [shown.context["form"], *shown.context["rows"]]:
        sent |= {field.html_name: "" if (value := field.value()) in (None, False) else value for field in form}
    return sent | {"applies_from": str(NEXT_DAY), "reason": "Thicker"} | changes


def test_a_revision_is_issued_after_a_look_at_what_it_moves(cast: Cast) -> None:
    judged = record(cast, cast.site.coats[0])
    quinn, where = as_person(cast.quinn), reverse("system_revise", args=[cast.site.system.pk])
    assert "Nothing differs from System 1" in text_of(quinn.post(where, typed(cast)))
    sent = typed(cast, **{"coat2-nominal_nm": "150"})
    shown = quinn.post(where, sent)
    told = text_of(shown)
    assert "At once 2 areas of System 1 move to the revision." in told
    assert "1 coat judged before, or lying under one, stays as judged, on 1 area; 5 coats not judged move." in told
    assert "1 record stays as it was judged, each by the revision it was judged by." in told
    assert CoatingSystem.objects.filter(project=cast.site.project).count() == 1
    done = quinn.post(where, sent | {"confirmed": shown.context["confirmed"]}, follow=True)
    assert "The revision is issued" in text_of(done)
    assert done.context["system"].number == 1
    again = quinn.post(where, sent | {"confirmed": shown.context["confirmed"]}, follow=True)
    assert (again.status_code, CoatingSystem.objects.filter(project=cast.site.project).count()) == (200, 2)
    former = text_of(quinn.get(reverse("system", args=[cast.site.system.pk])))
    assert "Revision 1 follows it" in former
    assert "1. Primer: no longer asked for; <strong>kept by 1 area</strong>" in " ".join(former.split())
    area = " ".join(text_of(quinn.get(reverse("area", args=[cast.site.area.pk]))).split())
    assert 'revision 0<span class="visually-hidden"> of System 1</span></a>, which it keeps' in area
    assert area.count("not yet") == 2
    assert "By <a" in text_of(quinn.get(reverse("thickness", args=[judged.pk])))
    assert "System 1, revision 1" in text_of(quinn.get(reverse("project", args=[cast.site.project.pk])))


def test_a_revision_is_taken_back_on_its_page(cast: Cast) -> None:
    revision, quinn = issue(cast), as_person(cast.quinn)
    done = quinn.post(reverse("system_take_back", args=[revision.pk]), {"reason": "A slip"}, follow=True)
    assert "is taken back; areas and points stand as before" in text_of(done)
    assert now(cast.site.area).system == cast.site.system
    assert "was taken back on" in text_of(quinn.get(reverse("system", args=[revision.pk])))


def test_the_api_revises_tells_the_steps_and_takes_back(cast: Cast) -> None:
    record(cast, cast.site.coats[0])
    quinn, system = as_person(cast.quinn), cast.site.system
    coats: list[dict[str, Any]] = [{"carries_on": 1}, {"carries_on": 2, "nominal_um": "150"}, {"carries_on": 3}]
    sent = {
        "id": "019c0000-0000-7000-8000-000000000001", "applies_from": str(NEXT_DAY), "reason": "Thicker",
        "coats": coats,
    }  # fmt: skip

    def post(name: str, pk: Any, body: dict[str, Any]) -> Any:
        return quinn.post(reverse(name, args=[pk]), body, content_type="application/json")

    made = post("api_system_revise", system.pk, sent)
    assert (made.status_code, made.json()["number"], made.json()["coats"][1]["nominal_um"]) == (201, 1, 150)
    assert post("api_system_revise", system.pk, sent).status_code == 200
    other = post("api_system_revise", system.pk, sent | {"reason": "Otherwise"})
    assert other.status_code == 409
    steps = quinn.get(reverse("api_area_steps", args=[cast.site.area.pk])).json()
    assert [(step["name"], step["revision"], step["kept"], step["judged"]) for step in steps] == [
        ("Primer", 0, True, True), ("Intermediate", 1, False, False), ("Finish", 1, False, False),
    ]  # fmt: skip
    new = {"carries_on": None, "name": "Tie"}
    wrong = post("api_system_revise", made.json()["id"], sent | {"id": str(system.pk)[:-1] + "0", "coats": [new]})
    assert wrong.status_code == 422
    assert "coat 1 carries on no coat" in str(wrong.json())
    back = post("api_system_take_back", made.json()["id"], {"reason": "A slip"})
    assert (back.status_code, back.json()["why"]) == (200, "Thicker")
