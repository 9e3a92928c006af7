"""A plan from its first line to its second revision: lines, tables, templates, approval, legend and calendar."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.http import Http404
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry, Letter, Organisation, Person, Role
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.plan import awaiting, calendar, content, legend, line_table, lines, queries, revisions, templates_kept
from inspection.plan.legend import Letter as Of
from inspection.plan.lines import Letters, LineSent
from inspection.plan.models import Plan, PlanLine, PlanRevision
from inspection.plan.signals import plan_in_force
from inspection.projects.models import Membership, Party, Project
from reports.attention import needs
from tests import cast as casting
from tests.cast import PASSWORD, Cast

pytestmark = pytest.mark.django_db
PROFILE = LineSent(
    number="4.2", activity="profile", title="Surface profile", frequency="every area", criterion="50 to 85 µm",
    method="ISO 8503-5", requires=[("profile", 1, None)], letters=[Letters("client", "H"), Letters("inspection", "P")],
)  # fmt: skip
PRIMER = LineSent(
    number="4.10", activity="thickness", title="Primer", frequency="every area", criterion="75 µm", coat_order=1,
    letters=[Letters("client", "W")],
)  # fmt: skip


def draft(cast: Cast, *sent: LineSent) -> PlanRevision:
    revision = revisions.begin_plan(cast.quinn, project=cast.site.project, name="ITP 12")
    lines.put_lines(cast.quinn, revision=revision, lines=sent or [PROFILE, PRIMER])
    return revision


def digest(revision: PlanRevision) -> str:
    return content.digest_of_revision(revision, queries.lines_of(revision))


def agreed(cast: Cast, revision: PlanRevision) -> PlanRevision:
    """Asked, approved by the client, in force today."""
    client = Party.objects.filter(project=revision.plan.project, kind="client")
    revisions.ask_approval(cast.quinn, revision=revision, parties=client)
    revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=digest(revision))
    return revisions.bring_into_force(cast.quinn, revision=revision)


def numbers(revision: PlanRevision) -> list[str]:
    return [line.number for line in queries.lines_of(revision)]


def faults(refused: Any) -> list[tuple[str, str]]:
    return [(fault.field, fault.message) for fault in refused.value.faults]


# --- lines ------------------------------------------------------------------------------------------------------------
def test_lines_stand_in_the_order_people_count(cast: Cast) -> None:
    assert numbers(draft(cast, PRIMER, PROFILE)) == ["4.2", "4.10"]


@pytest.mark.parametrize(
    ("wrong", "field", "told"),
    [
        ({"letters": [Letters("class", "H")]}, "parties", "there is none in this project"),
        ({"letters": []}, "parties", "asks nobody"),
        ({"letters": [Letters("client", "X")]}, "parties", "not in the legend"),
        ({"criterion": " "}, "criterion", "without a criterion"),
        ({"requires": [("sniffing", 1, None)]}, "requires", "no kind of record"),
        ({"coat_order": 7}, "coat", "has a coat 7"),
        ({"number": "4/2"}, "number", "A number has"),
        ({"lead": 5000, "lead_unit": "hours"}, "lead", "1000"),
    ],
)
def test_a_wrong_line_gets_its_sentence_and_nothing_is_half_kept(
    cast: Cast, wrong: dict[str, Any], field: str, told: str
) -> None:
    revision = revisions.begin_plan(cast.quinn, project=cast.site.project, name="ITP 12")
    bad = LineSent(**{**PROFILE.__dict__, "number": "5", **wrong})
    with pytest.raises(Refused) as refused:
        lines.put_lines(cast.quinn, revision=revision, lines=[PRIMER, bad])
    assert [(fault.field, fault.row) for fault in refused.value.faults] == [(field, 2)]
    assert told in refused.value.faults[0].message
    assert not revision.lines.exists()


def test_a_party_of_its_own_letter_and_one_that_is_not_there(cast: Cast) -> None:
    second = Organisation.objects.create(name="Owner Three", kind="client")
    party = Party.objects.create(project=cast.site.project, organisation=second, kind="client")
    stranger = Party.objects.get(project=cast.foreign.project, kind="client")
    sent = LineSent(**{**PROFILE.__dict__, "letters": [Letters("client", "H"), Letters("client", "W", party.pk)]})
    revision = draft(cast, sent)
    assert [str(each) for each in revision.lines.get().interventions.all()][1].startswith("W of")
    foreign = {**PROFILE.__dict__, "letters": [Letters("client", "H", stranger.pk)]}
    with pytest.raises(Refused, match="not a client of this project"):
        lines.put_lines(cast.quinn, revision=revision, lines=[LineSent(**foreign)])


def test_a_line_is_changed_renumbered_and_taken_out_and_the_journal_keeps_it(cast: Cast) -> None:
    revision = draft(cast)
    line = revision.lines.get(number="4.2")
    sent = LineSent(**{**PROFILE.__dict__, "number": "4.3", "criterion": "60 to 90 µm"})
    lines.change_line(cast.quinn, line=line, sent=sent)
    assert numbers(revision) == ["4.3", "4.10"]
    with pytest.raises(Refused, match=r"already a line 4\.10"):
        lines.change_line(cast.quinn, line=line, sent=LineSent(**{**PROFILE.__dict__, "number": "4.10"}))
    lines.take_out(cast.quinn, line=PlanLine.objects.get(number="4.3"))
    entry = JournalEntry.objects.get(verb="plan_line.taken_out")
    assert entry.before
    assert entry.before["criterion"] == "60 to 90 µm"
    with pytest.raises(NotAllowed):
        lines.put_lines(cast.ines, revision=revision, lines=[PROFILE])


# --- tables -----------------------------------------------------------------------------------------------------------
HEAD = "number;activity;title;frequency;criterion;coat;requires;lead;client;inspection"


def test_a_sheet_read_again_changes_what_it_names_by_number(cast: Cast) -> None:
    revision = draft(cast)
    text = line_table.written_out(revision)
    assert [row.outcome for row in line_table.read(revision, text.encode()).rows] == ["Unchanged", "Unchanged"]
    changed = "4.2;;;;60 to 90 µm;;2 climate within 8 h, profile;2 d;;none"
    sheet = f"{HEAD}\n{changed}\n5;climate;Climate;every shift;3 K;;;;R;\n"
    table = line_table.read(revision, sheet.encode())
    assert table.faults == []
    assert [row.outcome for row in table.rows] == ["Changed", "New"]
    stored = lines.put_lines(cast.quinn, revision=revision, lines=table.sent())
    assert [len(stored.added), len(stored.changed)] == [1, 1]
    line = revision.lines.get(number="4.2")
    assert (line.title, line.criterion, line.method, line.lead, line.lead_unit) == (
        "Surface profile", "60 to 90 µm", "ISO 8503-5", 2, "days",
    )  # fmt: skip
    assert [each.letter for each in line.interventions.all()] == ["H"]


def test_what_is_wrong_in_a_sheet_stands_beside_its_row(cast: Cast) -> None:
    revision = draft(cast)
    sheet = f"{HEAD}\n6;sweeping;T;every;c;x;???;soon;H;\n4.2;;;;;;;;;\n4.2;;;;;;;;;\n"
    table = line_table.read(revision, sheet.encode())
    assert [fault.field for fault in table.rows[0].faults] == ["activity", "coat", "requires", "lead"]
    assert "in row 3 already" in table.rows[2].faults[0].message


def test_a_sheet_is_shown_before_it_is_stored(cast: Cast, client: Client) -> None:
    revision = draft(cast)
    client.force_login(cast.quinn)
    address = reverse("plan_table", args=[revision.pk])
    rows = f"{HEAD}\n5;climate;Climate;every shift;3 K;;;;R;\n"
    looked = client.post(address, {"rows": rows})
    assert "1 line: 1 new; nothing is stored yet" in looked.content.decode()
    assert numbers(revision) == ["4.2", "4.10"]
    client.post(address, {"rows": rows, "store": "1"})
    assert numbers(revision) == ["4.2", "4.10", "5"]


# --- approval and revisions -------------------------------------------------------------------------------------------
def test_the_parties_asked_are_those_that_do_more_than_perform_and_their_people_get_a_letter(cast: Cast) -> None:
    revision = draft(cast)
    asked = revisions.ask_approval(cast.quinn, revision=revision)
    assert [party.kind for party in asked] == ["client"]
    revisions.ask_approval(cast.quinn, revision=revision)
    assert [letter.person for letter in Letter.objects.filter(kind="plan-to-approve")] == [cast.clara]


def test_a_draft_comes_into_force_only_approved_as_it_reads(cast: Cast) -> None:
    revision = draft(cast)
    with pytest.raises(Refused, match="No party was asked"):
        revisions.bring_into_force(cast.quinn, revision=revision)
    revisions.ask_approval(cast.quinn, revision=revision)
    with pytest.raises(Refused, match=r"Owner One .* has not approved"):
        revisions.bring_into_force(cast.quinn, revision=revision)
    shown = digest(revision)
    with pytest.raises(Refused, match="not your password"):
        revisions.approve(cast.clara, revision=revision, password="guess", digest=shown)
    with pytest.raises(NotAllowed):
        revisions.approve(cast.ines, revision=revision, password=PASSWORD, digest=shown)
    with pytest.raises(Http404):
        revisions.approve(cast.carl, revision=revision, password=PASSWORD, digest=shown)
    revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=shown)
    with pytest.raises(Conflict, match="already"):
        revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=shown)
    lines.put_lines(cast.quinn, revision=revision, lines=[LineSent(**{**PROFILE.__dict__, "criterion": "any"})])
    with pytest.raises(Refused, match="has not approved these lines"):
        revisions.bring_into_force(cast.quinn, revision=revision)
    with pytest.raises(Conflict, match="changed since you looked"):
        revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=shown)
    revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=digest(revision))
    revisions.bring_into_force(cast.quinn, revision=revision)
    assert [line.number for line in queries.lines_in_force(cast.site.project)] == ["4.2", "4.10"]
    with pytest.raises(Conflict, match="only a draft"):
        lines.put_lines(cast.quinn, revision=revision, lines=[PROFILE])


def test_a_draft_waits_for_people_of_the_parties_asked_until_they_approve_it_as_it_reads(
    cast: Cast, client: Client
) -> None:
    revision = draft(cast)

    def told(person: Person) -> bool:
        client.force_login(person)
        return "Plans to approve" in client.get(reverse("points_awaited")).content.decode()

    def managers() -> list[str]:
        sections = {each.key: each for each in needs.decisions(cast.quinn, timezone.now())}
        return [row.reason for row in sections["plans-to-approve"].rows]

    assert (told(cast.clara), managers()) == (False, [])
    revisions.ask_approval(cast.quinn, revision=revision)
    assert [told(person) for person in (cast.clara, cast.carl, cast.ines)] == [True, False, False]
    assert managers() == ["Waits for Owner One (client)"]
    revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=digest(revision))
    assert (told(cast.clara), managers()) == (False, [])
    lines.put_lines(cast.quinn, revision=revision, lines=[PRIMER])
    lines.put_lines(cast.quinn, revision=revision, lines=[LineSent(**{**PRIMER.__dict__, "criterion": "80 µm"})])
    assert told(cast.clara), "what was approved reads otherwise now"
    with CaptureQueriesContext(connection) as few:
        assert len(awaiting.unapproved(cast.quinn)) == 1
    theirs = revisions.begin_plan(cast.quinn, project=Project.objects.get(code="P-2"), name="ITP 13")
    many = [LineSent(**{**PROFILE.__dict__, "number": f"7.{number}"}) for number in range(9)]
    lines.put_lines(cast.quinn, revision=theirs, lines=many)
    revisions.ask_approval(cast.quinn, revision=theirs)
    with CaptureQueriesContext(connection) as more:
        assert len(awaiting.unapproved(cast.quinn)) == 2
    assert len(more) == len(few)
    assert [str(each.revision) for each in awaiting.unapproved_by_parties_of(cast.carl)] == [str(theirs)]


def test_an_approval_is_withdrawn_with_a_reason_while_the_revision_is_a_draft(cast: Cast) -> None:
    revision = draft(cast)
    revisions.ask_approval(cast.quinn, revision=revision)
    (given,) = revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=digest(revision))
    with pytest.raises(NotAllowed):
        revisions.withdraw_approval(cast.quinn, approval=given, reason="no")
    with pytest.raises(Refused, match="Say why"):
        revisions.withdraw_approval(cast.clara, approval=given, reason=" ")
    revisions.withdraw_approval(cast.clara, approval=given, reason="profile too low")
    with pytest.raises(Refused, match="has not approved"):
        revisions.bring_into_force(cast.quinn, revision=revision)
    (again,) = revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=digest(revision))
    revisions.bring_into_force(cast.quinn, revision=revision)
    with pytest.raises(Conflict, match="in force"):
        revisions.withdraw_approval(cast.clara, approval=again, reason="late")


def test_a_revision_carries_on_its_lines_and_tells_what_differs(cast: Cast) -> None:
    first = agreed(cast, draft(cast))
    second = revisions.begin_revision(cast.quinn, plan=first.plan, note="profile raised")
    with pytest.raises(Conflict, match="draft of this plan is under way"):
        revisions.begin_revision(cast.quinn, plan=first.plan)
    carried = second.lines.get(number="4.2")
    assert carried.carries_on == first.lines.get(number="4.2")
    lines.change_line(
        cast.quinn, line=carried, sent=LineSent(**{**PROFILE.__dict__, "number": "4.1", "criterion": "60 µm"})
    )
    lines.take_out(cast.quinn, line=second.lines.get(number="4.10"))
    found = content.differences(queries.lines_of(first), queries.lines_of(second))
    assert [(each.what, each.line.number) for each in found] == [("Changed", "4.1"), ("Removed", "4.10")]
    assert found[0].changes == [("Number", "4.2", "4.1"), ("Criterion", "50 to 85 µm", "60 µm")]
    told: list[dict[str, Any]] = []

    def listen(**sent: Any) -> None:
        told.append(sent)

    plan_in_force.connect(listen, weak=False, dispatch_uid="test")
    try:
        agreed(cast, second)
    finally:
        plan_in_force.disconnect(dispatch_uid="test")
    first.refresh_from_db()
    assert first.state == "superseded"
    assert [(sent["revision"], sent["former"]) for sent in told] == [(second, first)]


def test_a_day_ahead_or_before_the_former_revision_is_refused(cast: Cast) -> None:
    first = agreed(cast, draft(cast))
    second = revisions.begin_revision(cast.quinn, plan=first.plan)
    today = cast.site.project.day_of(timezone.now())
    for day, told in ((today + timedelta(days=1), "lies ahead"), (today - timedelta(days=1), "can't apply before")):
        with pytest.raises(Refused, match=told):
            revisions.bring_into_force(cast.quinn, revision=second, applies_from=day)


def test_a_party_that_ended_since_keeps_a_draft_from_coming_into_force(cast: Cast) -> None:
    party = Party.objects.create(
        project=cast.site.project, organisation=Organisation.objects.create(name="Class", kind="client"), kind="class"
    )
    revision = draft(cast, LineSent(**{**PROFILE.__dict__, "letters": [Letters("client", "H"), Letters("class", "W")]}))
    Party.objects.filter(pk=party.pk).update(ended_at=timezone.now())
    with pytest.raises(Refused, match=r"Line 4\.2: W for the classification society"):
        agreed(cast, revision)
    assert not queries.lines_in_force(cast.site.project).exists()


def test_a_draft_is_thrown_away_and_taken_up_again(cast: Cast) -> None:
    revision = draft(cast)
    revisions.throw_away(cast.quinn, revision=revision, reason="another contract")
    with pytest.raises(Conflict, match="thrown away"):
        lines.put_lines(cast.quinn, revision=revision, lines=[PROFILE])
    revisions.take_up_again(cast.quinn, revision=revision, reason="the same after all")
    revision.refresh_from_db()
    assert revision.is_draft
    revisions.throw_away(cast.quinn, revision=revision, reason="again")
    revisions.begin_revision(cast.quinn, plan=revision.plan)
    with pytest.raises(Conflict, match="Another draft"):
        revisions.take_up_again(cast.quinn, revision=revision, reason="both")


# --- templates --------------------------------------------------------------------------------------------------------
def kept(cast: Cast, revision: PlanRevision) -> Plan:
    template = templates_kept.begin_template(cast.quinn, name="Immersed steel", of=revision)
    revisions.bring_into_force(cast.quinn, revision=template.revisions.get())
    return template


def test_a_template_is_fitted_to_another_project_and_what_does_not_fit_is_told(cast: Cast) -> None:
    class_line = LineSent(**{**PROFILE.__dict__, "number": "9", "letters": [Letters("class", "H")]})
    template = kept(cast, draft(cast))
    own = revisions.begin_revision(cast.quinn, plan=template)
    lines.put_lines(cast.quinn, revision=own, lines=[class_line, LineSent(**{**PRIMER.__dict__, "coat_order": 8})])
    revisions.bring_into_force(cast.quinn, revision=own)
    legend.put_legend(
        cast.quinn, project=cast.foreign.project,
        letters=[Of("S", "hold", "Stop"), Of("A", "witness", "Attend"), Of("D", "perform", "Do")],
    )  # fmt: skip
    fit = templates_kept.fitted(own, cast.foreign.project)
    assert fit.mapped == ["Client: Owner Two", "Inspection company: The Company"]
    assert [told.split(":")[0] for told in fit.left_out] == [
        "Classification society", "Line 4.10 Primer", "Line 9 Surface profile",
    ]  # fmt: skip
    begun = templates_kept.apply_template(cast.quinn, project=cast.foreign.project, template=template)
    line = begun.lines.get()
    assert [(each.letter, each.meaning) for each in line.interventions.all()] == [("S", "hold"), ("D", "perform")]
    assert content.overrides(line) == []
    line.criterion = "60 µm"
    assert content.overrides(line) == ["Criterion differs from the template: “50 to 85 µm”"]
    with pytest.raises(Refused, match="has a plan already"):
        templates_kept.apply_template(cast.quinn, project=cast.foreign.project, template=template)


def test_the_fit_of_a_template_is_shown_before_the_plan_begins(cast: Cast, client: Client) -> None:
    template = kept(cast, draft(cast))
    client.force_login(cast.quinn)
    address = reverse("plan_begin", args=[cast.foreign.project.pk])
    sent = {"name": "ITP 13", "template": str(template.pk)}
    shown = client.post(address, sent)
    assert "2 lines of the template would stand" in shown.content.decode()
    assert not Plan.objects.filter(project=cast.foreign.project).exists()
    client.post(address, {**sent, "confirmed": shown.context["confirmed"]})
    assert Plan.objects.get(project=cast.foreign.project).from_template == template


def test_a_template_is_nobodys_but_the_companys_managers(cast: Cast, client: Client) -> None:
    revision = kept(cast, draft(cast)).revisions.get()
    for person, status in ((cast.quinn, 200), (cast.ines, 404), (cast.clara, 404), (cast.audrey, 404)):
        client.force_login(person)
        assert client.get(reverse("plan_revision", args=[revision.pk])).status_code == status


# --- legend and calendar ----------------------------------------------------------------------------------------------
def test_a_letter_that_lines_bear_keeps_its_meaning(cast: Cast) -> None:
    draft(cast)
    with pytest.raises(Refused, match="bear H as hold"):
        legend.put_legend(cast.quinn, project=cast.site.project, letters=[Of("H", "witness", "Hold")])
    letters = [Of("H", "hold", "Stop point"), Of("W", "witness", "Attend"), Of("P", "perform", "Do")]
    legend.put_legend(cast.quinn, project=cast.site.project, letters=letters)
    assert legend.legend_of(cast.site.project) == letters
    assert legend.legend_of(cast.foreign.project) == list(legend.DEFAULTS)
    with pytest.raises(Refused, match="twice"):
        legend.put_legend(cast.quinn, project=cast.foreign.project, letters=[letters[0], Of("h", "hold", "Again")])


def test_the_calendar_is_put_as_one_and_wrong_input_gets_its_sentence(cast: Cast, client: Client) -> None:
    client.force_login(cast.quinn)
    address = reverse("plan_calendar", args=[cast.site.project.pk])
    good = {
        "weekdays": ["1", "2", "6"], "begins": "07:00", "ends": "17:00", "closed": "2026-12-25 Christmas\n01.01.2027",
        "lead_hold": "48", "unit_hold": "hours", "lead_witness": "2", "unit_witness": "days",
    }  # fmt: skip
    for wrong, told in (
        ({"closed": "Christmas"}, "is no date"), ({"ends": ""}, "or neither"), ({"ends": "06:00"}, "before they begin"),
        ({"weekdays": []}, "at least one day"), ({"lead_hold": "0"}, "1 to 1000"),
    ):  # fmt: skip
        answer = client.post(address, {**good, **wrong})
        assert answer.status_code == 422
        assert told in answer.content.decode()
    assert calendar.lead_times_of(cast.site.project) == {}
    assert client.post(address, good).status_code == 302
    found = calendar.calendar_of(cast.site.project)
    assert (found.weekdays, found.closed) == ({1, 2, 6}, {date(2026, 12, 25), date(2027, 1, 1)})
    assert calendar.lead_times_of(cast.site.project) == {"hold": (48, "hours"), "witness": (2, "days")}
    assert JournalEntry.objects.get(verb="calendar.changed").before == {
        "weekdays": "12345", "begins": None, "ends": None, "closed": {}, "leads": {},
    }  # fmt: skip


def test_a_line_asks_for_its_own_notice_before_the_projects(cast: Cast) -> None:
    line = PlanLine(number="1", lead=3, lead_unit="days")
    assert calendar.lead_asked(line, "hold", {"hold": (48, "hours")}) == (3, "days")
    assert calendar.lead_asked(PlanLine(number="1"), "hold", {"hold": (48, "hours")}) == (48, "hours")


# --- pages and API ----------------------------------------------------------------------------------------------------
def test_the_client_reads_and_approves_on_the_page_and_the_stranger_sees_nothing(cast: Cast, client: Client) -> None:
    revision = draft(cast)
    revisions.ask_approval(cast.quinn, revision=revision)
    client.force_login(cast.clara)
    page = client.get(reverse("plan", args=[cast.site.project.pk])).content.decode()
    assert "50 to 85 µm" in page
    assert "Sign and approve" in page
    sent = {"digest": digest(revision), "password": PASSWORD}
    assert client.post(reverse("plan_approve", args=[revision.pk]), sent).status_code == 302
    assert "Sign and approve" not in client.get(reverse("plan_revision", args=[revision.pk])).content.decode()
    client.force_login(cast.carl)
    assert client.get(reverse("plan", args=[cast.site.project.pk])).status_code == 404
    assert client.get(reverse("plan_revision", args=[revision.pk])).status_code == 404


def test_a_page_of_many_lines_asks_no_more_than_one_of_few(
    cast: Cast, client: Client, django_assert_max_num_queries: Any
) -> None:
    revision = draft(cast)
    many = [LineSent(**{**PROFILE.__dict__, "number": f"7.{number}"}) for number in range(60)]
    lines.put_lines(cast.quinn, revision=revision, lines=many)
    client.force_login(cast.clara)
    with django_assert_max_num_queries(30):
        assert client.get(reverse("plan_revision", args=[revision.pk])).status_code == 200


def test_a_line_is_typed_on_the_page(cast: Cast, client: Client) -> None:
    revision = draft(cast)
    client.force_login(cast.quinn)
    typed = {
        "number": "5", "activity": "climate", "title": "Climate", "scope": "shift", "coat": "",
        "frequency": "every 4 h", "criterion": "3 K above dew point", "requires": "2 climate within 8 h", "lead": "1 d",
        "party_client": "R",
    }  # fmt: skip
    address = reverse("plan_line_new", args=[revision.pk])
    refused = client.post(address, {**typed, "requires": "sniffing", "lead": "soon"})
    assert refused.status_code == 422
    assert "is no kind of record" in refused.content.decode()
    assert client.post(address, typed).status_code == 302
    line = revision.lines.get(number="5")
    assert lines.sent_by(line).requires == [("climate", 2, 8)]
    typed["party_client"] = ""
    assert "asks nobody" in client.post(reverse("plan_line", args=[line.pk]), typed).content.decode()


def test_lines_are_put_and_read_by_the_api(cast: Cast, client: Client) -> None:
    revision = draft(cast)
    client.force_login(cast.quinn)
    sent = {
        "number": "5", "activity": "salts", "title": "Salts", "frequency": "one an area", "criterion": "20 mg/m²",
        "interventions": [{"party_kind": "client", "letter": "W"}],
    }  # fmt: skip
    address = reverse("api_plan_lines", args=[revision.pk])
    assert client.post(address, {"lines": [sent]}, "application/json").status_code == 200
    wrong = client.post(
        address, {"lines": [{**sent, "interventions": [{"party_kind": "maker", "letter": "H"}]}]}, "application/json"
    )
    assert wrong.status_code == 422
    client.force_login(cast.clara)
    read = client.get(reverse("api_plan_revision", args=[revision.pk])).json()
    assert [line["number"] for line in read["lines"]] == ["4.2", "4.10", "5"]
    assert client.post(address, {"lines": [sent]}, "application/json").status_code == 403
    client.force_login(cast.carl)
    assert client.get(reverse("api_plan_revision", args=[revision.pk])).status_code == 404


def test_people_of_two_parties_each_approve_for_their_own(cast: Cast) -> None:
    surveyors = Organisation.objects.create(name="Surveyors", kind="client")
    someone: Person = casting.person("Sven Surveyor", surveyors, Role.CLIENT)
    Party.objects.create(project=cast.site.project, organisation=surveyors, kind="class")
    Membership.objects.create(project=cast.site.project, person=someone, organisation=surveyors, role=Role.CLIENT)
    revision = draft(cast, LineSent(**{**PROFILE.__dict__, "letters": [Letters("client", "H"), Letters("class", "H")]}))
    revisions.ask_approval(cast.quinn, revision=revision)
    revisions.approve(someone, revision=revision, password=PASSWORD, digest=digest(revision))
    with pytest.raises(Refused, match="Owner One"):
        revisions.bring_into_force(cast.quinn, revision=revision)
    revisions.approve(cast.clara, revision=revision, password=PASSWORD, digest=digest(revision))
    revisions.bring_into_force(cast.quinn, revision=revision)
