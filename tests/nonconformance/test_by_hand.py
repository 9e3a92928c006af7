"""Any party raises a nonconformance, against an area or anything else; a quality manager signs it from draft to issued.

Draft, issue by signature and the things it may be against: ISO 9001 8.7 (control and record), common practice.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.db import transaction
from django.urls import reverse

from accounts.models import JournalEntry, Tiding
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints.evidence import evidence_of
from inspection.nonconformance import actions
from inspection.nonconformance.models import Nonconformance
from inspection.nonconformance.queries import missing_of
from inspection.projects.models import Party
from inspection.works.models import Lot
from reports.attention.contractors import asked_of
from reports.daily.not_conforming import nonconformances_told
from reports.daily.parts import whole
from reports.handover.lacking import Scope, _nonconformances, _nonconformances_told
from tests.cast import MORNING, PASSWORD, Cast
from tests.holdpoints.scene import a_point
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_party_ways import painters
from tests.standing.scene import measure
from tests.works.painted import painted

pytestmark = pytest.mark.django_db


def raised_by(by: Any, cast: Cast, **about: Any) -> Nonconformance:
    more = {name: about.pop(name) for name in ("asked", "as_draft", "id") if name in about}
    return actions.raise_once(
        by, **{"id": new_id(), **more}, project=cast.site.project, about=actions.About(**about), title="Not to the plan"
    )[0]


def test_a_contractor_raises_a_draft_a_manager_signs_it_and_each_step_has_its_way_back(cast: Cast) -> None:
    _, pia = painters(cast)
    point, client = a_point(cast), as_person(pia)
    new = reverse("nonconformance_new", args=[cast.site.project.pk])
    sent = {"id": new_id(), "title": "Scaffold strikes", "against": "area", "area": cast.site.area.pk,
            "coat": cast.site.coats[0].pk}  # fmt: skip
    assert "a quality manager has looked at it" in text_of(client.get(new))
    assert [client.post(new, sent).status_code for _ in range(2)] == [302, 302]
    raised = Nonconformance.objects.get()
    assert (raised.state, raised.drafted, raised.raised_by) == ("draft", True, pia)
    assert evidence_of(point).nonconformances == ()
    assert [(told.person, told.kind) for told in Tiding.objects.all()] == [(cast.quinn, "nonconformance-raised")]
    with pytest.raises(NotAllowed):
        actions.issue_draft(cast.ines, nonconformance=raised, password=PASSWORD)
    issue, quinn = reverse("nonconformance_issue", args=[raised.pk]), as_person(cast.quinn)
    assert quinn.post(issue, {"password": "no"}).status_code in (403, 422)
    assert Nonconformance.objects.get().state == "draft"
    assert quinn.post(issue, {"password": PASSWORD}).status_code == 302
    issued = raised.dispositions.get(kind="issued")
    assert (Nonconformance.objects.get().state, issued.signed_as) == ("open", "Quinn Quality, The Company")
    assert [row.pk for row in evidence_of(point).nonconformances] == [raised.pk]
    # Taken back it is a draft again, unless something was decided meanwhile.
    decided, _ = actions.say(cast.quinn, nonconformance=raised, kind="decision", text="Sand", choice="rework")
    with pytest.raises(Conflict, match="take that back first"):
        actions.take_back(cast.quinn, disposition=issued, reason="too early")
    actions.take_back(cast.quinn, disposition=decided, reason="too early")
    actions.take_back(cast.quinn, disposition=issued, reason="too early")
    assert (Nonconformance.objects.get().state, evidence_of(point).nonconformances) == ("draft", ())
    # Whoever raised it drops it; a manager takes that back, and it is still a draft.
    assert client.post(reverse("nonconformance_drop", args=[raised.pk]), {"reason": "my slip"}).status_code == 302
    assert Nonconformance.objects.get().state == "closed"
    actions.take_back(cast.quinn, disposition=raised.dispositions.get(kind="closure"), reason="it was none")
    assert Nonconformance.objects.get().state == "draft"
    verbs = list(JournalEntry.objects.filter(verb__startswith="nonconformance.").values_list("verb", flat=True))
    assert {"nonconformance.drafted", "nonconformance.issued", "nonconformance.dropped"} <= set(verbs)


def test_what_the_platform_drew_up_over_ones_own_entry_is_not_ones_own_to_drop(cast: Cast) -> None:
    about = {"area": cast.site.area, "coat": cast.site.coats[0], "title": "Work went on", "description": ""}
    with transaction.atomic():
        drawn = actions.draft(cast.ines, **about)
    assert (drawn.raised_by, drawn.drafted) == (None, True)
    with pytest.raises(NotAllowed):
        actions.drop_draft(cast.ines, nonconformance=drawn, reason="not so")


def test_without_an_area_it_goes_its_whole_way_and_holds_nothing_back(cast: Cast) -> None:
    _, pia = painters(cast)
    party = Party.objects.get(organisation=pia.organisation)
    point = a_point(cast)
    procedure = raised_by(cast.ines, cast, against="procedure", named="PP-4 rev. 2", asked=party)
    gauge = raised_by(cast.quinn, cast, against="instrument", gauge=cast.gauge)
    general = raised_by(cast.clara, cast, against="project")
    assert [row.place for row in (procedure, gauge, general)] == [
        "Procedure PP-4 rev. 2",
        "Instrument G-01",
        "The project",
    ]
    assert (general.state, evidence_of(point).nonconformances) == ("draft", ())
    # What is asked of the contractor is theirs to see and answer; the rest is not.
    assert set(asked_of(pia)) == {procedure}
    page = text_of(as_person(pia).get(reverse("asked_of_us")))
    assert ("Procedure PP-4 rev. 2" in page, "G-01" in page) == (True, False)
    actions.answer(pia, nonconformance=procedure, text="Revision 3 by Friday")
    assert "Nothing is decided" in missing_of([procedure])[procedure.pk][0]
    actions.say(cast.quinn, nonconformance=procedure, kind="decision", text="Revise", choice="rework")
    actions.record_rework(cast.ines, nonconformance=procedure, what="Rev. 3", done_by="Pia", done_at=MORNING)
    with pytest.raises(Refused, match="Nobody looked at the effect"):
        actions.close_nonconformance(cast.quinn, nonconformance=procedure)
    actions.say(cast.quinn, nonconformance=procedure, kind="effect", text="Read", choice="reached")
    actions.close_nonconformance(cast.quinn, nonconformance=procedure)
    procedure.refresh_from_db()
    assert procedure.state == "closed"
    # A concession of the client closes another; lists, pages, report and hand-over name them by what they are against.
    assert "Instrument G-01" in text_of(as_person(cast.clara).get(reverse("nonconformance_list")))
    day = whole(cast.site.project, cast.site.project.day_of(gauge.raised_at))
    told = nonconformances_told(cast.site.project, day)
    assert {(row.area, row.coat) for row in told if row.number == gauge.number} == {("Instrument G-01", "")}
    scope = Scope(cast.quinn, cast.site.project, None, gauge.raised_at)
    lacks = _nonconformances_told(scope, list(_nonconformances(scope)))
    assert {lack.place for lack in lacks} == {"Instrument G-01", "The project"}
    actions.concede(cast.clara, nonconformance=gauge, reason="One shift only", password=PASSWORD)
    gauge.refresh_from_db()
    assert gauge.state == "closed"


@pytest.mark.parametrize(
    ("about", "field", "words"),
    [
        ({}, "area", "Choose the area"),
        ({"against": "lot"}, "lot", "Choose the lot"),
        ({"against": "procedure"}, "named", "Name the procedure"),
        ({"against": "project", "named": "x"}, "named", "leave this out"),
        ({"against": "weather"}, "against", "Give one of area"),
    ],
)
def test_what_names_it_is_asked_for_and_what_does_not_belong_is_refused(
    cast: Cast, about: dict[str, Any], field: str, words: str
) -> None:
    with pytest.raises(Refused, match=words) as refused:
        raised_by(cast.ines, cast, **about)
    assert refused.value.faults[0].field == field
    assert not Nonconformance.objects.exists()


def test_the_api_raises_once_and_issues_by_signature(cast: Cast) -> None:
    client, quinn, address = as_person(cast.clara), as_person(cast.quinn), "/api/nonconformances/"
    sent = {"id": str(new_id()), "project": str(cast.site.project.pk), "title": "Plan out of date",
            "against": "document", "named": "ITP rev. 1"}  # fmt: skip
    assert [client.post(address, sent, "application/json").status_code for _ in range(2)] == [201, 200]
    assert client.post(address, sent | {"title": "Other"}, "application/json").status_code == 409
    foreign = sent | {"id": str(new_id()), "project": str(cast.foreign.project.pk)}
    assert client.post(address, foreign, "application/json").status_code == 404
    shown = client.get(f"{address}{sent['id']}/").json()
    assert (shown["state"], shown["against"], shown["named"], shown["area_label"]) == (
        "draft", "document", "ITP rev. 1", None,
    )  # fmt: skip
    issue = f"{address}{sent['id']}/issue/"
    assert client.post(issue, {"password": PASSWORD}, "application/json").status_code == 403
    assert quinn.post(issue, {"password": PASSWORD}, "application/json").status_code == 201
    assert quinn.post(issue, {"password": PASSWORD}, "application/json").status_code == 409


def test_pages_of_area_lot_batch_and_gauge_lead_to_raising_one_against_them_for_who_may(cast: Cast) -> None:
    batch = painted(cast)
    lot, gauge = Lot.objects.get(), cast.gauge
    pages = {
        "area": ("area", reverse("area", args=[cast.site.area.pk]), cast.site.area),
        "lot": ("lot", reverse("lot", args=[lot.pk]), lot),
        "batch": ("batch", reverse("batch", args=[batch.pk]), batch),
        "gauge": ("instrument", reverse("gauge", args=[gauge.pk]), gauge),
    }
    new = reverse("nonconformance_new", args=[cast.site.project.pk])
    assert "Raise a nonconformance" not in text_of(as_person(cast.ines).get(pages["gauge"][1])), "used on none yet"
    measure(cast, "07:00", "08:00")
    for name, (against, address, thing) in pages.items():
        page = as_person(cast.ines).get(address).content.decode()
        link = f"{new}?against={against}&amp;{name}={thing.pk}"
        assert link in page, name
        form = as_person(cast.ines).get(link.replace("&amp;", "&")).context["form"]
        assert (form["against"].value(), str(form[name].value())) == (against, str(thing.pk))
    for name in ("area", "lot"):
        assert new not in as_person(cast.audrey).get(pages[name][1]).content.decode(), "an auditor raises none"
