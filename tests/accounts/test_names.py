"""A person or an organisation renamed: new name from now on, evidence under the name of its time."""

from __future__ import annotations

from typing import Any

from django.test import Client

from accounts.models import JournalEntry, Organisation, Person
from reports.daily.gathering import gather
from tests.cast import DAY, Cast
from tests.standing.scene import measure, verify


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_evidence_keeps_the_name_of_its_time(cast: Cast) -> None:
    check = verify(cast, "06:40")
    record = measure(cast, "08:00", "08:20")
    before = gather(cast.site.project, DAY)
    admin, quinn = as_person(cast.admin), as_person(cast.quinn)
    sent = {"name": "Ines Lindqvist", "reason": "Married"}
    assert admin.post(f"/people/{cast.ines.pk}/rename/", sent).status_code == 302
    assert admin.post(
        f"/people/organisations/{cast.owner.pk}/rename/", {"name": "Owner Prime", "reason": "Bought"}
    ).status_code == 302  # fmt: skip
    assert "Ines Lindqvist" in text_of(admin.get("/people/"))
    for path in (f"/thickness/{record.pk}/", "/thickness/", f"/instruments/verifications/{check.pk}/"):
        words = text_of(quinn.get(path))
        assert "Ines Inspector" in words, path
        assert "Ines Lindqvist" not in words, path
    assert quinn.get(f"/api/thickness/{record.pk}/").json()["taken_by"] == "Ines Inspector"
    assert "For Owner Prime" in text_of(quinn.get(f"/projects/{cast.site.project.pk}/"))
    cast.site.project.refresh_from_db()
    after = gather(type(cast.site.project).objects.get(pk=cast.site.project.pk), DAY)
    assert (after.client, after.people[0].name) == ("Owner One", "Ines Inspector")
    assert after.digest == before.digest
    entries = JournalEntry.objects.filter(verb__in=("person.renamed", "organisation.renamed")).order_by("pk")
    assert [(entry.before, entry.after, entry.reason) for entry in entries] == [
        ({"name": "Ines Inspector"}, {"name": "Ines Lindqvist"}, "Married"),
        ({"name": "Owner One"}, {"name": "Owner Prime"}, "Bought"),
    ]


def test_a_second_renaming_keeps_each_name_in_its_time(cast: Cast) -> None:
    for name in ("Ines Two", "Ines Three"):
        as_person(cast.admin).post(f"/people/{cast.ines.pk}/rename/", {"name": name, "reason": "Put right"})
    ines = Person.objects.get(pk=cast.ines.pk)
    moments = [entry.at for entry in JournalEntry.objects.filter(verb="person.renamed").order_by("pk")]
    assert ines.name_at(cast.ines.joined_at) == "Ines Inspector"
    assert [ines.name_at(at) for at in moments] == ["Ines Two", "Ines Three"]


def test_who_may_not_or_a_name_that_is_taken_changes_nothing(cast: Cast) -> None:
    path = f"/people/organisations/{cast.owner.pk}/rename/"
    assert as_person(cast.ines).post(path, {"name": "X", "reason": "Y"}).status_code == 403
    answer = as_person(cast.admin).post(path, {"name": "owner two", "reason": "Slip"})
    assert "There is already an organisation called owner two" in text_of(answer)
    assert Organisation.objects.get(pk=cast.owner.pk).name == "Owner One"


def test_the_foot_of_every_page_names_the_company_as_it_is_called_now(cast: Cast) -> None:
    def foot() -> str:
        return as_person(cast.ines).get("/me/").content.decode().split('class="foot"')[-1]

    assert "The Company" in foot()
    Organisation.objects.filter(kind=Organisation.Kind.COMPANY).update(name="Coast Inspection")
    assert "Coast Inspection" in foot()
    assert "Stripecoat" not in foot()
