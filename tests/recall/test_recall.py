"""Withdrawing or correcting a certificate: the preview says what then happens, all of it happens or none."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry, Letter
from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import Certificate, CertifiedValue
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.recall import actions
from inspection.recall.flips import off_at
from inspection.recall.foreseen import Touched, touched_by
from inspection.recall.models import Recall
from inspection.standing.models import Standing
from tests.cast import Cast
from tests.holdpoints.scene import a_point, signed
from tests.past_triggers import rewrite
from tests.standing.scene import clock, measure, new_gauge_certificate, verify
from tests.trace.scene import issued, written


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def a_day(cast: Cast) -> HoldPoint:
    """Sound on both projects in the morning, in question after a failed check; one point released."""
    verify(cast, "06:40")
    measure(cast, "08:00", "08:30")
    measure(cast, "08:30", "08:50", site=cast.foreign)
    verify(cast, "09:00")
    measure(cast, "10:00", "10:30", area=cast.site.other_area)
    verify(cast, "17:30", off_by_nm=30_000)
    point = a_point(cast)
    holdpoints.release(cast.clara, **signed(point))
    return point


def states() -> dict[Any, str]:
    return dict(Standing.objects.values_list("record", "state"))


def shown(preview: Touched, kind: str) -> set[Any]:
    return {node.pk for layer in preview.layers if layer.kind.name == kind for node in layer.nodes}


def changes(before: dict[Any, str]) -> dict[Any, tuple[str, str]]:
    after = states()
    return {pk: (state, after[pk]) for pk, state in before.items() if state != after[pk]}


def recalled_shims(cast: Cast, **more: Any) -> Recall:
    return actions.recall(cast.quinn, certificate=cast.shim_certificate, reason="oven at fault", **more)


def test_the_preview_of_a_withdrawal_says_what_then_happens(cast: Cast) -> None:
    point = a_day(cast)
    before = states()
    preview = touched_by(cast.shim_certificate, cast.quinn)
    assert states() == before
    assert (preview.verifications, preview.records, preview.readings) == (2, 2, 6)
    assert shown(preview, "holdpoint") == {point.pk}
    assert {row.project.code: row.records for row in preview.by_project} == {"P-1": 1, "P-2": 1}
    assert {person.name for person in preview.people} == {"Quinn Quality", "Ines Inspector", "Clara Client"}
    done = recalled_shims(cast)
    changed = changes(before)
    assert set(changed) == shown(preview, "thickness")
    assert set(changed.values()) == {("sound", "in_question")}
    assert done.touched["records"] == {str(pk): list(pair) for pk, pair in changed.items()}
    assert set(done.touched["verifications"]) == {str(pk) for pk in shown(preview, "verification")}
    assert done.touched["points"] == [str(point.pk)]
    call_command("standing", "--check")


def test_it_marks_the_point_raises_a_nonconformance_and_writes_to_each_once(cast: Cast) -> None:
    point = a_day(cast)
    done = recalled_shims(cast)
    point.refresh_from_db()
    assert (point.state, evidence_of(point).in_doubt) == ("released", True)
    raised = Nonconformance.objects.get()
    assert done.touched["nonconformances"] == [str(raised.pk)]
    assert raised.title == "The release of Primer on A1 lost its ground"
    letters = sorted((letter.person.name, letter.kind) for letter in written().select_related("person"))
    assert letters == [
        ("Clara Client", "released-in-doubt"),
        ("Ines Inspector", "recall"),
        ("Quinn Quality", "recall"),
    ]
    assert JournalEntry.objects.filter(verb="certificate.recall_withdrawn").count() == 1
    with pytest.raises(Conflict, match="already withdrawn"):
        recalled_shims(cast)
    assert (written().count(), Recall.objects.count(), Nonconformance.objects.count()) == (3, 1, 1)


def test_a_gauge_certificate_counts_only_where_no_other_covers_the_day(cast: Cast) -> None:
    a_day(cast)
    assert touched_by(cast.gauge_certificate, cast.quinn).records == 2
    new_gauge_certificate(cast, "CG-2", date(2026, 3, 1), date(2027, 3, 1))
    assert touched_by(cast.gauge_certificate, cast.quinn).records == 0
    before = states()
    actions.recall(cast.quinn, certificate=cast.gauge_certificate, reason="not accredited")
    assert states() == before


def test_a_certificate_higher_up_touches_what_rests_on_those_below(cast: Cast) -> None:
    parent = Certificate.objects.create(
        number="CP-1", laboratory="Upper Laboratory", issued=date(2024, 1, 1), expires=date(2027, 1, 1),
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), parent=parent)
    a_day(cast)
    preview = touched_by(parent, cast.quinn)
    assert preview.records == 2
    before = states()
    actions.recall(cast.quinn, certificate=parent, reason="lost its accreditation")
    assert set(changes(before)) == shown(preview, "thickness")


def test_taking_it_back_is_a_new_step_that_restores_what_the_facts_restore(cast: Cast) -> None:
    a_day(cast)
    before = states()
    recalled_shims(cast)
    with time_machine.travel(datetime(2026, 3, 9, 13, 0, tzinfo=UTC), tick=False):
        back = actions.reinstate(cast.quinn, certificate=cast.shim_certificate, reason="it was another oven")
    assert states() == before
    assert (back.touched["way"], len(back.touched["records"])) == ("reinstated", 2)
    assert Recall.objects.count() == 2
    closed = Nonconformance.objects.get()
    assert (closed.state, closed.repair) == ("closed", "Certificate CS-1 was reinstated: it was another oven")
    assert back.touched["closed"] == [str(closed.pk)]
    told = dict(Letter.objects.filter(subject="Certificate CS-1 was reinstated").values_list("recipient", "body"))
    assert f"/trace/certificate/{cast.shim_certificate.pk}/" in told["quinn@example.com"]
    # A client has no trace to follow, but points to look at.
    assert told["clara@example.com"].rstrip().endswith(reverse("board"))


def test_what_somebody_has_begun_to_repair_stays_open_when_the_recall_is_taken_back(cast: Cast, client: Client) -> None:
    a_day(cast)
    recalled_shims(cast)
    raised = Nonconformance.objects.get()
    nonconformance.record_rework(
        cast.ines, nonconformance=raised, what="The area is blasted again", done_by="Blasters", done_at=clock("18:00")
    )
    back = actions.reinstate(cast.quinn, certificate=cast.shim_certificate, reason="it was another oven")
    raised.refresh_from_db()
    assert raised.state == "open"
    client.force_login(cast.quinn)
    page = client.get(reverse("recalled", args=[back.pk])).content.decode()
    assert "still open</h2>" in page
    assert "NC-001 The release of Primer" in page


def test_what_lost_its_ground_is_shown_so_in_every_trace(cast: Cast, client: Client) -> None:
    point = a_day(cast)
    issue = issued(cast, cast.site, *ThicknessRecord.objects.filter(project=cast.site.project, standing__state="sound"))
    client.force_login(cast.quinn)
    trace = reverse("trace_of", args=["certificate", cast.shim_certificate.pk])
    assert "ow in question" not in client.get(trace).content.decode()
    done = recalled_shims(cast)
    for page in (trace, reverse("recalled", args=[done.pk])):
        shown_there = client.get(page).content.decode()
        assert "In doubt" in shown_there
        assert "Now in question" in shown_there
    assert "In doubt" in client.get(reverse("trace_of", args=["holdpoint", point.pk])).content.decode()
    assert "Now in question" in client.get(reverse("trace_of", args=["report", issue.pk])).content.decode()


def corrected_by(cast: Cast, more_nm: int, *nominals: int) -> list[StandardValue]:
    values = CertifiedValue.objects.filter(standard__in=[cast.shims[nominal] for nominal in nominals])
    return [StandardValue(v.standard, v.value_nm + more_nm, v.expanded_uncertainty_nm) for v in values]


def test_the_preview_of_a_corrected_value_says_what_then_happens(cast: Cast) -> None:
    a_day(cast)
    before = states()
    for more_nm, changing in ((300, 0), (8_000, 2)):
        preview = touched_by(cast.shim_certificate, cast.quinn, corrected_by(cast, more_nm, 50))
        assert preview.records == changing
    assert states() == before
    recalled_shims(cast, corrected=corrected_by(cast, 8_000, 50))
    assert set(changes(before)) == shown(preview, "thickness")
    version = Certificate.objects.get(replaces=cast.shim_certificate)
    assert version.values.get(standard=cast.shims[50]).value_nm == 58_200
    assert version.values.get(standard=cast.shims[250]).value_nm == 249_800
    call_command("standing", "--check")
    with pytest.raises(Conflict, match="corrected meanwhile"):
        recalled_shims(cast)


def test_a_corrected_value_turns_the_verdict_of_what_was_measured_after_adjusting_on_it(cast: Cast) -> None:
    verify(cast, "06:40", adjustment="two-point")
    # Primer: 60 to 120 µm under SSPC-PA 2 level 3, whose area mean must reach the minimum. 61 µm passes.
    spots = [ReadingSent(spot, order, 61_000) for spot in range(1, 6) for order in (1, 2, 3)]
    record, _ = fieldwork.record_thickness(
        cast.ines, id=new_id(), project=cast.site.project,
        area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted", unit="um",
        readings=spots, first_reading_at=clock("08:00"), last_reading_at=clock("08:30"),
    )  # fmt: skip
    verify(cast, "17:30")
    assert (record.verdict, states()[record.pk]) == ("pass", "sound")
    # The 50 µm shim was really 1.7 µm thinner: inside the tolerance of the check (1 µm + 1 % and U = 1 µm in squares,
    # 1.79 µm), so the standing holds; but the gauge showed what lies near it 1.6 µm too thick: 59.4 is not 60.
    preview = touched_by(cast.shim_certificate, cast.quinn, corrected_by(cast, -1_700, 50))
    assert preview.records == 0
    assert [(flip.record, flip.was, flip.would_be) for flip in preview.flips] == [(record, "pass", "fail")]
    done = recalled_shims(cast, corrected=corrected_by(cast, -1_700, 50))
    record.refresh_from_db()
    assert record.verdict == "pass"
    assert done.touched["flips"] == {str(record.pk): ["pass", "fail"]}


def test_the_bias_runs_straight_between_the_shims_and_stays_beyond_them() -> None:
    bias = ((50_000, -2_000), (250_000, 0))
    assert [off_at(nm, bias) for nm in (0, 50_000, 100_000, 150_000, 250_000, 900_000)] == [
        -2_000, -2_000, -1_500, -1_000, 0, 0,
    ]  # fmt: skip
    assert off_at(80_000, ((125_000, 700),)) == 700


def test_issued_reports_that_rest_on_it_are_found_and_those_who_have_them_are_told(cast: Cast) -> None:
    a_day(cast)
    foreign = Standing.objects.get(record__project=cast.foreign.project).record
    issue = issued(cast, cast.foreign, foreign)
    preview = touched_by(cast.shim_certificate, cast.quinn)
    assert shown(preview, "report") == {issue.pk}
    assert cast.carl in preview.people
    recalled_shims(cast)
    letter = Letter.objects.get(person=cast.carl)
    assert (letter.kind, letter.subject) == ("recall", "Certificate CS-1 was withdrawn")
    assert "P-2 Works P-2: 1 measurement" in letter.body
    assert "P-1" not in letter.body


@pytest.mark.parametrize("who", ["ines", "clara", "audrey", "admin"])
def test_only_a_quality_manager_recalls(cast: Cast, client: Client, who: str) -> None:
    someone = getattr(cast, who)
    with pytest.raises(NotAllowed):
        actions.recall(someone, certificate=cast.shim_certificate, reason="x")
    client.force_login(someone)
    assert client.get(reverse("recall", args=[cast.shim_certificate.pk])).status_code == 403


def test_without_a_reason_nothing_is_done(cast: Cast) -> None:
    a_day(cast)
    before = states()
    with pytest.raises(Refused, match="Say why"):
        actions.recall(cast.quinn, certificate=cast.shim_certificate, reason=" ")
    assert states() == before
    assert not Recall.objects.exists()


def test_a_recall_that_is_cut_off_leaves_nothing(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    a_day(cast)
    before = states()

    def cut_off(*args: Any, **more: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("inspection.recall.actions._write", cut_off)
    with pytest.raises(KeyboardInterrupt):
        recalled_shims(cast)
    cast.shim_certificate.refresh_from_db()
    assert cast.shim_certificate.withdrawn_at is None
    assert states() == before
    assert [found.count() for found in (written(), Recall.objects, Nonconformance.objects)] == [0, 0, 0]


def test_the_pages_preview_do_list_and_take_back(cast: Cast, client: Client) -> None:
    a_day(cast)
    client.force_login(cast.quinn)
    address = reverse("recall", args=[cast.shim_certificate.pk])
    page = client.get(address).content.decode()
    assert "released point losing ground" in page
    assert "Clara Client, Owner One" in page
    assert "A1 after Primer, 2026-03-04 08:00" in page
    assert not Recall.objects.exists()
    assert client.post(address, {"reason": ""}).status_code == 422
    answer = client.post(address, {"reason": "oven at fault"})
    done = Recall.objects.get()
    assert answer["Location"] == reverse("recalled", args=[done.pk])
    page = client.get(answer["Location"]).content.decode()
    for words in ("oven at fault", "sound → in question", "NC-001 The release of Primer", "Clara Client, Owner One"):
        assert words in page
    page = client.get(address).content.decode()
    assert "Take the withdrawal back" in page
    assert "<h1>Reinstate certificate CS-1</h1>" in page
    answer = client.post(reverse("recall_reinstate", args=[cast.shim_certificate.pk]), {"reason": "another oven"})
    assert answer.status_code == 302
    assert "in question → sound" in client.get(answer["Location"]).content.decode()


def test_corrected_values_are_previewed_by_get_and_recorded_by_post(cast: Cast, client: Client) -> None:
    a_day(cast)
    client.force_login(cast.quinn)
    address = reverse("recall_correct", args=[cast.shim_certificate.pk])
    page = client.get(address).content.decode()
    assert "What this would touch" not in page
    assert "<h1>Correct the values of certificate CS-1</h1>" in page
    sent = {}
    for value in cast.shim_certificate.values.all():
        sent[f"value-{value.pk}"] = str(value.value_nm / 1000)
        sent[f"uncertainty-{value.pk}"] = "1"
    assert "Change at least one value" in client.get(address, sent).content.decode()
    thin = cast.shim_certificate.values.get(standard=cast.shims[50])
    assert "is not a number" in client.get(address, {**sent, f"value-{thin.pk}": "much"}).content.decode()
    sent[f"value-{thin.pk}"] = "58,2"
    page = client.get(address, sent).content.decode()
    assert "changing standing, 6 readings" in page
    assert f'name="value-{thin.pk}" value="58,2"' in page
    assert re.search(r"S-50</th>.*?>50\.2 ± .*?>58\.2 ± ", " ".join(page.split()))
    answer = client.post(address, {**sent, "reason": "read from the wrong line"})
    assert answer.status_code == 302
    assert "Corrected: certificate CS-1 v2" in client.get(answer["Location"]).content.decode()
    # The old version's page leads to the newest.
    assert client.get(reverse("recall", args=[cast.shim_certificate.pk]))["Location"].count("recall") == 1


def test_a_value_corrected_back_is_undone_as_fully_as_a_reinstatement(cast: Cast, client: Client) -> None:
    point = a_day(cast)
    issue = issued(cast, cast.site, *ThicknessRecord.objects.filter(project=cast.site.project, standing__state="sound"))
    before = states()
    recalled_shims(cast, corrected=corrected_by(cast, 8_000, 50))
    wrong = Certificate.objects.get(replaces=cast.shim_certificate)
    raised = Nonconformance.objects.get()
    point.refresh_from_db()
    assert (raised.state, point.doubted_at is not None) == ("open", True)
    with time_machine.travel(datetime(2026, 3, 9, 13, 0, tzinfo=UTC), tick=False):
        thin = CertifiedValue.objects.get(certificate=wrong, standard=cast.shims[50])
        as_it_was = [StandardValue(cast.shims[50], thin.value_nm - 8_000, thin.expanded_uncertainty_nm)]
        preview = touched_by(wrong, cast.quinn, as_it_was)
        assert (preview.points_lost, preview.points_again, preview.reports) == (0, 1, 1)
        assert (preview.checks_lost, len(preview.again)) == (0, 2)
        assert shown(preview, "report") == {issue.pk}
        assert {person.name for person in preview.people} >= {"Quinn Quality", "Ines Inspector", "Clara Client"}
        client.force_login(cast.quinn)
        asked = {f"value-{thin.pk}": "50.2", f"uncertainty-{thin.pk}": "1"}
        for value in wrong.values.exclude(pk=thin.pk):
            asked |= {f"value-{value.pk}": str(value.value_nm / 1000), f"uncertainty-{value.pk}": "1"}
        address = reverse("recall_correct", args=[wrong.pk])
        assert "released point standing again" in client.get(address, asked).content.decode()
        answer = client.post(address, {**asked, "reason": "the first value was right"})
    assert states() == before
    raised.refresh_from_db()
    point.refresh_from_db()
    assert (raised.state, point.doubted_at) == ("closed", None)
    back = Recall.objects.get(certificate__replaces=wrong)
    assert back.touched["closed"] == [str(raised.pk)]
    assert back.touched["reports"] == [str(issue.pk)]
    assert back.touched["points"] == [str(point.pk)]
    told = Letter.objects.filter(kind="recall", about=str(back.pk)).values_list("person__name", flat=True)
    assert set(told) == {"Quinn Quality", "Ines Inspector", "Clara Client"}
    page = client.get(answer["Location"]).content.decode()
    assert "since what they rest on stands again" in page
    assert "NC-001" in page


def test_a_value_corrected_half_way_back_neither_closes_nor_raises_again(cast: Cast) -> None:
    point = a_day(cast)
    recalled_shims(cast, corrected=corrected_by(cast, 8_000, 50))
    wrong = Certificate.objects.get(replaces=cast.shim_certificate)
    thin = CertifiedValue.objects.get(certificate=wrong, standard=cast.shims[50])
    still = [StandardValue(cast.shims[50], thin.value_nm - 1_000, thin.expanded_uncertainty_nm)]
    actions.recall(cast.quinn, certificate=wrong, reason="seven, not eight", corrected=still)
    point.refresh_from_db()
    assert point.doubted_at is not None
    assert list(Nonconformance.objects.values_list("state", flat=True)) == ["open"]


def test_what_a_corrected_value_turned_stands_again_once_it_is_corrected_back(cast: Cast) -> None:
    verify(cast, "06:40", adjustment="two-point")
    spots = [ReadingSent(spot, order, 61_000) for spot in range(1, 6) for order in (1, 2, 3)]
    fieldwork.record_thickness(
        cast.ines, id=new_id(), project=cast.site.project,
        area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted", unit="um",
        readings=spots, first_reading_at=clock("08:00"), last_reading_at=clock("08:30"),
    )  # fmt: skip
    verify(cast, "17:30")
    holdpoints.release(cast.clara, **signed(a_point(cast)))
    recalled_shims(cast, corrected=corrected_by(cast, -1_700, 50))
    raised = Nonconformance.objects.get()
    wrong = Certificate.objects.get(replaces=cast.shim_certificate)
    # Another shim corrected a little: the verdict would still turn, and nothing is raised twice or closed.
    other = CertifiedValue.objects.get(certificate=wrong, standard=cast.shims[250])
    little = [StandardValue(cast.shims[250], other.value_nm + 10, other.expanded_uncertainty_nm)]
    actions.recall(cast.quinn, certificate=wrong, reason="a digit", corrected=little)
    assert list(Nonconformance.objects.values_list("state", flat=True)) == ["open"]
    newest = Certificate.objects.get(replaces=wrong)
    thin = CertifiedValue.objects.get(certificate=newest, standard=cast.shims[50])
    right = [StandardValue(cast.shims[50], thin.value_nm + 1_700, thin.expanded_uncertainty_nm)]
    assert touched_by(newest, cast.quinn, right).points_again == 1
    actions.recall(cast.quinn, certificate=newest, reason="the first value was right", corrected=right)
    raised.refresh_from_db()
    assert raised.state == "closed"
