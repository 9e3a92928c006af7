"""Papers people hold: schemes are the company's list, renewals are chosen, mistakes are put right or taken out."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts import qualifying
from accounts.models import JournalEntry, Person, Qualification, Scheme
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from tests.cast import Cast, scheme

PAPER: dict[str, Any] = {"level": "2", "number": "CI-7", "issued": date(2025, 2, 1), "expires": date(2028, 2, 1)}
SENT = {name: str(value) for name, value in PAPER.items()}


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_administrator_and_the_quality_manager_keep_the_list_and_nobody_else(cast: Cast) -> None:
    address = reverse("schemes")
    for person, name in ((cast.admin, "Coating inspector"), (cast.quinn, "Rope access")):
        assert signed_in(person).post(address, {"name": name}).status_code == 302
    again = signed_in(cast.quinn).post(address, {"name": "coating  Inspector"})
    assert (again.status_code, "Coating inspector stands on the list already." in words(again)) == (422, True)
    with pytest.raises(NotAllowed):
        qualifying.add_scheme(cast.ines, name="Welding")
    found = Scheme.objects.get(name="Rope access")
    changed = reverse("scheme", args=[found.pk])
    signed_in(cast.quinn).post(changed, {"name": "Rope access technician", "retired": "on"})
    entry = JournalEntry.objects.get(verb="scheme.changed")
    assert (entry.before, entry.after) == (
        {"name": "Rope access", "retired": False}, {"name": "Rope access technician", "retired": True},
    )  # fmt: skip
    page = words(signed_in(cast.quinn).get(reverse("person", args=[cast.ines.pk])))
    assert ("Coating inspector</option>" in page, "Rope access" in page) == (True, False)
    with pytest.raises(Refused, match="off the list"):
        qualifying.add_qualification(cast.quinn, person=cast.ines, scheme=Scheme.objects.get(pk=found.pk), **PAPER)
    signed_in(cast.quinn).post(changed, {"name": "Rope access technician"})
    assert Scheme.objects.get(pk=found.pk).retired_at is None


def test_a_renewal_is_chosen_and_only_number_and_days_are_typed(cast: Cast) -> None:
    paper = qualifying.add_qualification(cast.quinn, person=cast.ines, scheme=scheme(), **PAPER)
    client, address = signed_in(cast.quinn), reverse("person", args=[cast.ines.pk])
    assert f"{address}?renew={paper.pk}#record" in words(client.get(address))
    page = words(client.get(f"{address}?renew={paper.pk}"))
    assert "Renew Coating inspector 2" in page
    assert f'<option value="{paper.scheme_id}" selected>Coating inspector</option>' in page
    assert 'name="level" value="2"' in page
    sent = SENT | {"scheme": str(paper.scheme_id), "number": "CI-9", "issued": "2026-01-01", "expires": "2030-01-01"}
    client.post(reverse("qualification_new", args=[cast.ines.pk]), sent)
    assert set(cast.ines.qualifications.values_list("scheme__name", "number")) == {
        ("Coating inspector", "CI-7"), ("Coating inspector", "CI-9"),
    }  # fmt: skip
    typed = client.post(reverse("qualification_new", args=[cast.ines.pk]), sent | {"scheme": "Coating inspektor"})
    assert typed.status_code == 422


def test_some_papers_never_run_out_and_that_is_said_and_not_left_open(cast: Cast) -> None:
    client, address = signed_in(cast.quinn), reverse("qualification_new", args=[cast.ines.pk])
    sent = SENT | {"scheme": str(scheme().pk), "expires": ""}
    for more, told in (({}, "or tick that it never runs out."), ({"expires": "2028-02-01", "never": "on"}, "not both")):
        answer = client.post(address, sent | more)
        assert (answer.status_code, told in words(answer)) == (422, True)
    assert client.post(address, sent | {"never": "on"}).status_code == 302
    assert Qualification.objects.get().expires is None
    assert "<span>never</span>" in words(signed_in(cast.ines).get("/me/"))


def test_a_paper_is_corrected_with_its_reason_and_the_journal_keeps_both(cast: Cast) -> None:
    paper = qualifying.add_qualification(cast.quinn, person=cast.ines, scheme=scheme(), **PAPER)
    client, address = signed_in(cast.quinn), reverse("qualification_correct", args=[paper.pk])
    page = words(client.get(address))
    assert 'value="CI-7"' in page
    sent = SENT | {"scheme": str(paper.scheme_id), "expires": "2029-02-01"}
    assert client.post(address, sent).status_code == 422  # without its reason
    assert client.post(address, sent | {"reason": "Misread the year"}).status_code == 302
    entry = JournalEntry.objects.get(verb="qualification.corrected")
    assert (entry.before["expires"], entry.after["expires"]) == ("2028-02-01", "2029-02-01")
    assert entry.reason == "Misread the year"
    assert cast.ines.qualifications.get().expires == date(2029, 2, 1)


def test_a_withdrawn_paper_stays_readable_and_counts_for_nothing(cast: Cast) -> None:
    paper = qualifying.add_qualification(cast.quinn, person=cast.ines, scheme=scheme(), **PAPER)
    client, address = signed_in(cast.admin), reverse("qualification_withdraw", args=[paper.pk])
    assert client.post(address, {"reason": " "}).status_code == 422
    client.post(address, {"reason": "Recorded for the wrong person"})
    assert "Recorded for the wrong person" in words(signed_in(cast.ines).get("/me/"))
    assert list(cast.ines.qualifications.standing()) == []
    with pytest.raises(Conflict, match="was withdrawn"):
        qualifying.withdraw_qualification(cast.quinn, qualification=paper, reason="again")
    with pytest.raises(NotAllowed):
        qualifying.correct_qualification(cast.ines, qualification=paper, reason="x", scheme=scheme(), **PAPER)
    assert signed_in(cast.ines).get(address).status_code == 403
