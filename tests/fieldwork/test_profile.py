"""Surface profile from the form or the API to its verdict, its standing, what stands at its place, and its way back."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.fieldwork import latest
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import Latest
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.profile.recording import LocationSent, record_profile
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.holdpoints import actions as points
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.ground import further_kept_otherwise, lies_otherwise, wrongly_marked
from inspection.holdpoints.models import Decision, HoldPoint, Requirement
from inspection.instruments.actions import record_certificate, reinstate_certificate, withdraw_certificate
from inspection.instruments.models import Certificate, CertifiedValue, Gauge
from inspection.nonconformance.models import Nonconformance
from inspection.projects.division import Part, divide_area
from inspection.recall.actions import recall, reinstate
from inspection.recall.foreseen import touched_by
from inspection.standing.actions import refresh
from inspection.standing.models import Standing
from inspection.standing.queries import compute
from inspection.trace.bundle import bundle
from inspection.trace.kinds import kind_named
from inspection.trace.queries import rests_on, rests_on_it
from reports.daily.gathering import gather
from reports.daily.pdf.document import draw
from reports.verify import records as verified
from tests.cast import DAY, MORNING, PASSWORD, Cast
from tests.fieldwork.build import correct_by_page
from tests.fieldwork.test_latest import IDS
from tests.fieldwork.test_sheet_pages import words
from tests.holdpoints.planned import a_line, plan_of
from tests.holdpoints.scene import a_point
from tests.past_triggers import rewrite
from tests.standing.scene import measure, verify
from tests.standing.test_any_order import every_order

# ASTM D4417 B: ten readings at each location; the worked readings of the fact sheet, its means 55.7, 63.9 and 71.5 and
# maxima 63, 71 and 77 (stored sources: study cards naming the 2014 edition, a trade magazine of 2018).
TEN = (
    (48, 52, 61, 55, 57, 63, 50, 59, 54, 58), (60, 66, 62, 71, 58, 64, 69, 61, 65, 63),
    (72, 70, 68, 75, 66, 74, 77, 69, 71, 73),
)  # fmt: skip


@pytest.fixture
def gauge(cast: Cast) -> Gauge:
    """A depth micrometer with a certificate, and a specification of 50 to 75 µm on the steel.

    In a report it comes before the thickness gauge: an instrument without checks then begins the instruments.
    """
    cast.site.area.system.profile_min_nm, cast.site.area.system.profile_max_nm = 50_000, 75_000
    cast.site.area.system.save()
    gauge = Gauge.objects.create(identity="D-1", kind=Gauge.Kind.PROFILE)
    paper = Certificate.objects.create(
        number="P-77", laboratory="Laboratory", issued=date(2026, 1, 1), expires=date(2026, 12, 31),
        traceable_to="the national institute", recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=paper, gauge=gauge)
    return gauge


def locations(*rows: Any) -> list[LocationSent]:
    return [LocationSent([round(value * 1000) for value in row]) for row in rows]


def profile(cast: Cast, **changes: Any) -> dict[str, Any]:
    site = cast.site
    return {
        "id": new_id(), "project": site.project, "area": site.area, "taken_at": MORNING, "method": "micrometer",
        "location_value": "mean", "locations": locations(*TEN), "gauge": Gauge.objects.filter(identity="D-1").first(),
    } | changes  # fmt: skip


def typed(cast: Cast, **changes: Any) -> dict[str, Any]:
    lines = "\n".join(" ".join(map(str, row)) for row in TEN)
    gauge = Gauge.objects.filter(identity="D-1").first()
    return {
        "id": str(new_id()), "area": str(cast.site.area.pk), "taken_at": f"{MORNING:%Y-%m-%dT%H:%M}",
        "method": "micrometer", "location_value": "mean", "locations": lines, "gauge": str(gauge.pk) if gauge else "",
    } | changes  # fmt: skip


# --- the verdict ------------------------------------------------------------------------------------------------------
@pytest.mark.usefixtures("gauge")
@pytest.mark.parametrize(
    ("value", "verdict", "mean_um", "highest_um"),
    # SSPC-PA 17 judges each location, never the mean of all: by maxima the third (77) lies outside (from memory).
    [("mean", "pass", 63.7, 71.5), ("maximum", "fail", 70.333, 77)],
)
def test_locations_are_judged_by_the_value_that_the_specification_names(
    cast: Cast, value: str, verdict: str, mean_um: float, highest_um: float
) -> None:
    record, new = record_profile(cast.ines, **profile(cast, location_value=value))
    assert new
    assert record.verdict == verdict
    assert record.mean_nm / 1000 == pytest.approx(mean_um, abs=0.001)
    assert record.highest_nm / 1000 == highest_um
    assert record.reading_count == 30


@pytest.mark.usefixtures("gauge")
@pytest.mark.parametrize(
    ("rows", "verdict"),
    [
        # Two locations only: at least three for each apparatus and shift (SSPC-PA 17, stored source).
        (TEN[:2], "incomplete"),
        # Nine readings at one of them: it has no value yet.
        ((TEN[0][:9], *TEN[1:]), "incomplete"),
        # One location of 49.9 is too low though the mean of all lies inside (from memory).
        (((49.9,) * 10, (60,) * 10, (70,) * 10), "fail"),
        # The ends are inside (from memory).
        (((50,) * 10, (60,) * 10, (75,) * 10), "pass"),
    ],
)
def test_too_few_locations_or_readings_judge_nothing_and_one_bad_location_decides(
    cast: Cast, rows: Any, verdict: str
) -> None:
    record, _ = record_profile(cast.ines, **profile(cast, locations=locations(*rows)))
    assert record.verdict == verdict


def test_without_limits_in_the_specification_nothing_is_judged_and_it_says_so(cast: Cast) -> None:
    record, _ = record_profile(cast.ines, **profile(cast))
    assert record.verdict == "not judged"
    assert "gives no limits" in record.result["notes"][0]


@pytest.mark.usefixtures("gauge")
def test_the_film_of_a_replica_tape_is_subtracted(cast: Cast) -> None:
    # ISO 8503-5: the film is 50 µm thick (stored source); two tapes a location (from memory).
    taped = locations((105, 109), (112, 116), (120, 122))
    record, _ = record_profile(cast.ines, **profile(cast, method="tape", film_nm=50_000, locations=taped))
    assert (record.lowest_nm, record.highest_nm) == (57_000, 71_000)
    assert record.verdict == "pass"


def test_a_tape_past_its_day_outside_its_grade_and_an_instrument_outside_its_range_are_asked_about(
    cast: Cast, gauge: Gauge
) -> None:
    """Coarse tape is read from 20 to 64 µm, ends included (stored source: public pages); 50 µm of it are film."""
    taped = {"method": "tape", "film_nm": 50_000, "tape_grade": "coarse", "consumable_batch": "Roll 9"}
    asked = profile(cast, **taped, locations=locations((70, 114), (100, 101), (90, 95)), ask=True)
    record, _ = record_profile(cast.ines, **asked, consumable_expires=DAY)
    facts = dict(BY_NAME["profile"].facts(record))
    assert (facts["Batch of the tape"], facts["Last day of the tape"]) == ("Roll 9", f"{DAY}")
    assert BY_NAME["profile"].digest(record) == record.digest
    past = {"consumable_expires": DAY - timedelta(days=1)}
    for changes, said in (
        (past, "which was past"),
        ({"locations": locations((69, 114), (100, 101), (90, 95))}, "19.* outside the range of coarse tape"),
        ({"locations": locations((70, 115), (100, 101), (90, 95))}, "65.* outside the range of coarse.*next grade"),
    ):
        with pytest.raises(Asked, match=said):
            record_profile(cast.ines, **asked | {"id": new_id()} | changes)
    Gauge.objects.filter(pk=gauge.pk).update(range_from_nm=0, range_to_nm=110_000)
    with pytest.raises(Asked, match=r"114.* outside the range of .* 0.* to 110"):
        record_profile(cast.ines, **asked | {"id": new_id(), "gauge": Gauge.objects.get(pk=gauge.pk)})
    kept, _ = record_profile(cast.ines, **asked | past | {"id": new_id(), "ask": False})
    assert any("which was past" in told for told in BY_NAME["profile"].warnings(kept))


# --- storing ----------------------------------------------------------------------------------------------------------
@pytest.mark.usefixtures("gauge")
def test_sent_again_it_changes_nothing_and_other_content_is_refused(cast: Cast) -> None:
    asked = profile(cast)
    first, _ = record_profile(cast.ines, **asked)
    assert record_profile(cast.ines, **asked) == (first, False)
    with pytest.raises(Conflict):
        record_profile(cast.ines, **asked | {"locations": locations((60,) * 10)})
    assert ProfileRecord.objects.count() == 1


WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({"locations": []}, "locations", "1 to 500 locations"),
    ({"locations": locations((60,), (0,))}, "locations", "no height of a profile"),
    ({"method": "thumb"}, "method", "Give one of micrometer"),
    ({"film_nm": 50_000}, "film", "Only a replica tape"),
    ({"consumable_batch": "Roll 9"}, "consumable_batch", "Only a replica tape"),
    ({"method": "tape", "tape_grade": "smooth"}, "tape_grade", "Give one of below"),
    ({"taken_at": timezone.now() + timedelta(days=400)}, "taken_at", ""),
    ({"locations": [LocationSent([60_000], "pot\u202e1")]}, "locations", ""),
]


@pytest.mark.parametrize(("changes", "field", "sentence"), WRONG)
def test_what_no_rule_has_to_judge_is_refused_by_field(
    cast: Cast, changes: dict[str, Any], field: str, sentence: str
) -> None:
    with pytest.raises(Refused) as refusal:
        record_profile(cast.ines, **profile(cast, **changes))
    assert any(fault.field == field and sentence in fault.message for fault in refusal.value.faults)
    assert not ProfileRecord.objects.exists()


def test_another_kind_of_gauge_is_refused_and_so_is_whoever_does_not_record(cast: Cast) -> None:
    with pytest.raises(Refused, match="no surface profile gauge"):
        record_profile(cast.ines, **profile(cast, gauge=cast.gauge))
    with pytest.raises(NotAllowed):
        record_profile(cast.clara, **profile(cast))


@pytest.mark.usefixtures("gauge")
def test_what_is_doubtful_is_asked_about_before_it_is_stored(cast: Cast) -> None:
    thick = profile(cast, locations=locations((2_500 / 10,) * 10, (60,) * 10, (60,) * 10), ask=True)
    with pytest.raises(Asked, match="Check the unit"):
        record_profile(cast.ines, **thick)
    assert not ProfileRecord.objects.exists()
    record, _ = record_profile(cast.ines, **thick | {"ask": False})
    assert record.verdict == "fail"


@pytest.mark.usefixtures("gauge")
def test_the_newest_stands_for_the_bare_steel_and_a_correction_takes_its_place(cast: Cast) -> None:
    first, _ = record_profile(cast.ines, **profile(cast))
    later, _ = record_profile(cast.ines, **profile(cast, taken_at=MORNING + timedelta(hours=1)))
    kept = Latest.objects.get(kind="profile")
    assert (kept.record_id, kept.coat_id, kept.area_id) == (later.pk, None, cast.site.area.pk)
    moved, _ = record_profile(
        cast.ines, **profile(cast, area=cast.site.other_area, replaces=later, replacement_reason="the other area")
    )
    by_area = dict(Latest.objects.filter(kind="profile").values_list("area", "record"))
    assert by_area == {cast.site.area.pk: first.pk, cast.site.other_area.pk: moved.pk}
    entry = JournalEntry.objects.get(verb="profile.corrected")
    assert (entry.before or {})["record"] == str(later.pk)
    call_command("standing", "--check")


@pytest.mark.usefixtures("gauge")
def test_heights_altered_behind_the_house_are_found(cast: Cast) -> None:
    record, _ = record_profile(cast.ines, **profile(cast))

    def told() -> list[str]:
        return [words for words in verified.differences() if "surface profile" in words]

    assert told() == []
    rewrite(ProfileRecord.objects.filter(pk=record.pk), locations=[{"apparatus": "", "readings_nm": [40_000] * 10}] * 3)
    found = " ".join(told())
    assert "does not match its digest" in found
    assert "its verdict is pass, what was read gives fail" in found


# --- its standing -----------------------------------------------------------------------------------------------------
def test_it_is_sound_while_a_certificate_of_its_gauge_covers_the_day(cast: Cast, gauge: Gauge) -> None:
    record, _ = record_profile(cast.ines, **profile(cast))
    assert Standing.objects.get(record=record).state == "sound"
    paper = Certificate.objects.get(number="P-77")
    withdraw_certificate(cast.quinn, certificate=paper, reason="The laboratory’s master was wrong")
    standing = Standing.objects.get(record=record)
    assert standing.state == "in_question"
    assert "withdrawn" in standing.reasons[0]
    reinstate_certificate(cast.quinn, certificate=Certificate.objects.get(pk=paper.pk), reason="It was another one")
    assert Standing.objects.get(record=record).state == "sound"
    call_command("standing", "--check")


def test_without_certificate_or_gauge_it_is_kept_and_in_question(cast: Cast, gauge: Gauge) -> None:
    bare = Gauge.objects.create(identity="D-2", kind=Gauge.Kind.PROFILE)
    unsaid, _ = record_profile(cast.ines, **profile(cast, gauge=None))
    never, _ = record_profile(cast.ines, **profile(cast, gauge=bare, source="api"))
    reasons = {row.record_id: row.reasons for row in Standing.objects.all()}
    assert reasons == {
        unsaid.pk: ["It is not said with which instrument on record it was measured."],
        never.pk: ["D-2 has no certificate."],
    }
    record_certificate(
        cast.quinn, number="P-78", laboratory="Laboratory", issued=date(2026, 1, 1), expires=date(2026, 12, 31),
        traceable_to="the national institute", gauges=[bare],
    )  # fmt: skip
    assert Standing.objects.get(record=never).state == "sound"


def test_standings_of_many_are_computed_in_as_many_queries_as_of_one(cast: Cast, gauge: Gauge) -> None:
    ids = [record_profile(cast.ines, **profile(cast, taken_at=MORNING + timedelta(minutes=n)))[0].pk for n in range(12)]

    def queries(some: list[Any]) -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            refresh(records=some)
        return len(caught)

    assert queries(ids) == queries(ids[:1])


# --- pages and API ----------------------------------------------------------------------------------------------------
@pytest.mark.usefixtures("gauge")
def test_from_the_form_to_its_page_and_back_by_a_correction(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    address = reverse("profile_new", args=[cast.site.project.pk])
    assert "a line for each location" in words(client.get(address))
    wrong = client.post(address, typed(cast, locations="55 57\nfifty 60"))
    assert wrong.status_code == 422
    assert "row 2" in words(wrong)
    stored = client.post(address, typed(cast), follow=True)
    shown = words(stored)
    assert "Surface profile of A1" in shown
    assert "63.7 µm" in shown
    record = ProfileRecord.objects.get()
    correct = f"{address}?replaces={record.pk}"
    assert "48 52 61" in client.get(correct).content.decode()
    changed = typed(cast, locations="Pot 1: 60 61 62\nPot 1: 63 64 65\nPot 1: 60 60 70", readings_a_location="3",
                    method="tape", tape_grade="coarse", consumable_batch="Roll 9", consumable_expires="2027-01-31",
                    confirmed="no",
                    replacement_reason="Three a location were agreed")  # fmt: skip
    asked = correct_by_page(client, correct, changed)
    assert (asked.status_code, "Nothing is subtracted for the film" in words(asked)) == (422, True)
    assert "outside the range of coarse tape" in words(asked)
    assert correct_by_page(client, correct, changed | {"confirmed": asked.context["form"].as_asked}).status_code == 302
    newest = ProfileRecord.objects.get(replaces=record)
    assert newest.locations[0] == {"apparatus": "Pot 1", "readings_nm": [60_000, 61_000, 62_000]}
    assert newest.verdict == "pass"
    assert "Roll 9" in words(client.get(reverse("profile", args=[newest.pk])))
    assert 'value="2027-01-31"' in client.get(f"{address}?replaces={newest.pk}").content.decode()
    assert "This version was replaced" in words(client.get(reverse("profile", args=[record.pk])))
    for name in ("profile_list", "records", "today"):
        assert "A1" in words(client.get(reverse(name))), name


@pytest.mark.usefixtures("gauge")
def test_by_the_api_in_either_unit_and_sent_again(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    body = {
        "id": str(new_id()), "project": str(cast.site.project.pk), "area": str(cast.site.area.pk),
        "taken_at": MORNING.isoformat(), "method": "comparator", "location_value": "mean", "gauge": None,
        "locations": [{"readings_mil": [2.5]}, {"readings_um": [60]}, {"readings_um": [70], "apparatus": ""}],
    }  # fmt: skip
    address = reverse("api_profile_list")
    answers = [client.post(address, json.dumps(body), content_type="application/json") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200], answers[0].content
    told = answers[0].json()
    assert told["verdict"] == "pass"
    assert told["locations"][0]["readings_nm"] == [63_500]
    assert told["standing"]["state"] == "in_question"
    assert client.get(reverse("api_profile", args=[body["id"]])).json()["result"]["verdict"] == "pass"
    assert client.get(address).json()["results"][0]["id"] == body["id"]
    both = body | {"id": str(new_id()), "locations": [{"readings_um": [1], "readings_mil": [1]}]}
    refused = client.post(address, json.dumps(both), content_type="application/json")
    assert refused.status_code in (400, 422)


# --- what rests on it -------------------------------------------------------------------------------------------------
def required_point(cast: Cast) -> HoldPoint:
    site = cast.site
    (point,) = points.plan_points(
        cast.quinn, project=site.project, areas=[site.area], coat=site.coats[0], kind="hold", title="Primer accepted",
        requires=["profile"],
    )  # fmt: skip
    verify(cast, "06:40")
    measure(cast, "08:00", "08:20")
    verify(cast, "17:30")
    return point


def test_a_point_waits_for_the_profile_it_requires_and_falls_into_doubt_with_it(cast: Cast, gauge: Gauge) -> None:
    point = required_point(cast)
    assert evidence_of(point).why_not == ["No surface profile record stands for this area."]
    with pytest.raises(Refused, match="No surface profile record"):
        points.release(cast.clara, point=point, password=PASSWORD, evidence_digest=evidence_of(point).digest)
    record_profile(cast.ines, **profile(cast, locations=locations((40,) * 10, (60,) * 10, (60,) * 10)))
    assert evidence_of(point).why_not == ["Surface profile: fail."]
    good, _ = record_profile(cast.ines, **profile(cast, taken_at=MORNING + timedelta(minutes=5)))
    evidence = evidence_of(point)
    assert evidence.why_not == []
    assert HoldPoint.objects.get(pk=point.pk).lies == HoldPoint.Lies.READY
    decision = points.release(cast.clara, point=point, password=PASSWORD, evidence_digest=evidence.digest)
    assert decision.evidence["required"][0]["record"]["id"] == str(good.pk)
    assert [row.record_id for row in decision.further.all()] == [good.pk]
    withdraw_certificate(cast.quinn, certificate=Certificate.objects.get(number="P-77"), reason="The master was wrong")
    point.refresh_from_db()
    assert point.doubted_at is not None
    assert HoldPoint.objects.get(pk=point.pk).lies == HoldPoint.Lies.DOUBT
    assert evidence_of(point).in_doubt
    call_command("standing", "--check")
    assert Decision.objects.get(pk=decision.pk).evidence_digest == decision.evidence_digest
    HoldPoint.objects.filter(pk=point.pk).update(further="met")
    with pytest.raises(SystemExit):
        call_command("standing", "--check")
    call_command("standing")
    call_command("standing", "--check")


@pytest.mark.usefixtures("gauge")
def test_how_many_and_how_fresh_records_have_to_be_follows_the_line_of_the_plan(cast: Cast) -> None:
    with time_machine.travel(MORNING + timedelta(hours=3), tick=False):
        line = a_line(plan_of(cast), coat=None, needs=("profile",), more={"how_many": 2, "fresh_hours": 200})
        points.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area])
        point = HoldPoint.objects.get(line=line)
        assert list(evidence_of(point).why_not) == ["No surface profile record stands for this area."]
        record_profile(cast.ines, **profile(cast))
        assert evidence_of(point).why_not == ["Surface profile: 1 of 2 records of this area pass and are sound."]
        assert HoldPoint.objects.get(pk=point.pk).lies == HoldPoint.Lies.UNREADY
        record_profile(cast.ines, **profile(cast, taken_at=MORNING + timedelta(hours=1)))
        assert evidence_of(point).why_not == []
        assert HoldPoint.objects.get(pk=point.pk).lies == HoldPoint.Lies.READY
    with time_machine.travel(MORNING + timedelta(days=30), tick=False):
        assert "counts for 200 h here" in evidence_of(point).why_not[0]
        assert points.sweep_run_out() == 1
        assert HoldPoint.objects.get(pk=point.pk).lies == HoldPoint.Lies.UNREADY


def test_recalling_the_certificate_of_its_gauge_tells_beforehand_what_it_takes_and_gives_back(
    cast: Cast, client: Client, gauge: Gauge
) -> None:
    point = required_point(cast)
    record, _ = record_profile(cast.ines, **profile(cast))
    points.release(cast.clara, point=point, password=PASSWORD, evidence_digest=evidence_of(point).digest)
    paper = Certificate.objects.get(number="P-77")
    before = touched_by(paper, cast.quinn)
    assert [(layer.kind.name, layer.total) for layer in before.layers] == [("profile", 1), ("holdpoint", 1)]
    assert (before.records, before.points) == (1, 1)
    client.force_login(cast.quinn)
    assert "Surface profile record" in words(client.get(reverse("recall", args=[paper.pk])))
    done = recall(cast.quinn, certificate=paper, reason="The master was wrong")
    assert list(done.touched["records"]) == [str(record.pk)]
    assert done.touched["points"] == [str(point.pk)]
    raised = Nonconformance.objects.get()
    assert raised.state == "open"
    back = reinstate(cast.quinn, certificate=Certificate.objects.get(pk=paper.pk), reason="It was another laboratory")
    assert back.touched["closed"] == [str(raised.pk)]
    point.refresh_from_db()
    assert point.doubted_at is None
    call_command("standing", "--check")


def test_in_whatever_order_it_arrives_what_stands_its_standing_and_the_point_are_what_the_facts_say(
    cast: Cast, gauge: Gauge
) -> None:
    """Two records, a correction that takes one elsewhere, and a withdrawal: 24 orders."""
    site, paper = cast.site, Certificate.objects.get(number="P-77")
    point = HoldPoint.objects.create(
        project=site.project, area=site.area, coat=site.coats[0], title="Primer accepted", state="released"
    )
    Requirement.objects.create(point=point, kind="profile")
    good = profile(cast)
    low = profile(cast, taken_at=MORNING + timedelta(hours=2), locations=locations((40,) * 10, (60,) * 10, (60,) * 10))

    def moved() -> None:
        wrong, _ = record_profile(cast.ines, **low)
        elsewhere = {"id": IDS[0], "area": site.other_area, "replaces": wrong, "replacement_reason": "the other area"}
        record_profile(cast.ines, **low | elsewhere)

    events = [
        lambda: record_profile(cast.ines, **good), lambda: record_profile(cast.ines, **low), moved,
        lambda: withdraw_certificate(cast.quinn, certificate=Certificate.objects.get(pk=paper.pk), reason="Wrong"),
    ]  # fmt: skip
    ends = set()
    for _ in every_order(events, lambda depth: MORNING + timedelta(days=3 + depth)):
        assert not list(latest.differences())
        assert not list(wrongly_marked())
        assert not list(further_kept_otherwise(HoldPoint.objects.all()))
        assert not list(lies_otherwise(HoldPoint.objects.all()))
        kept = {row.record_id: (row.state, tuple(row.reasons)) for row in Standing.objects.all()}
        said = compute(list(kept), MORNING + timedelta(days=9))
        assert kept == {pk: (found.state, found.reasons) for pk, found in said.items()}
        states = {row.record_id: row.state for row in Standing.objects.all()}
        standing_now = tuple(sorted(Latest.objects.filter(kind="profile").values_list("area", "record")))
        ends.add((standing_now, tuple(sorted(states.items()))))
    assert len(ends) == 1


def test_the_parts_of_a_divided_area_require_what_the_area_did(cast: Cast, gauge: Gauge) -> None:
    site = cast.site
    points.plan_points(
        cast.quinn, project=site.project, areas=[site.area], coat=site.coats[0], kind="hold", title="Primer accepted",
        requires=["profile"],
    )  # fmt: skip
    parts = [Part(code="A1.1", name="Upper", area_m2=Decimal(4)), Part(code="A1.2", name="Lower", area_m2=Decimal(4))]
    divide_area(cast.quinn, area=site.area, parts=parts, reason="Two shifts")
    planned = HoldPoint.objects.filter(area__code__startswith="A1.")
    assert {(point.area.code, point.further) for point in planned} == {("A1.1", "lost"), ("A1.2", "lost")}
    assert [point.requirements.get().kind for point in planned] == ["profile", "profile"]


def test_only_kinds_that_can_be_sound_are_required(cast: Cast) -> None:
    site = cast.site
    with pytest.raises(Refused, match=r"moon: a point can require .*profile"):
        points.plan_points(
            cast.quinn, project=site.project, areas=[site.area], coat=site.coats[0], kind="hold", title="Primer",
            requires=["climate", "moon"],
        )  # fmt: skip
    assert not HoldPoint.objects.exists()


def test_the_plan_page_offers_it_and_the_point_shows_it(cast: Cast, client: Client, gauge: Gauge) -> None:
    site = cast.site
    client.force_login(cast.quinn)
    address = reverse("points_plan", args=[site.project.pk])
    assert "It also requires" in words(client.get(address))
    body = {"title": "Primer accepted", "kind": "hold", "coat": site.coats[0].pk, "areas": [site.area.pk],
            "requires": ["profile"]}  # fmt: skip
    assert client.post(address, body).status_code == 302
    point = HoldPoint.objects.get()
    assert "Surface profile, required too" in words(client.get(reverse("point", args=[point.pk])))
    record_profile(cast.ines, **profile(cast))
    shown = words(client.get(reverse("point", args=[point.pk])))
    assert "Depth micrometer, 3 locations, mean 63.7 µm" in shown
    told = client.get(reverse("api_point", args=[point.pk])).json()
    assert told["evidence"]["also_required"][0]["verdict"] == "pass"
    assert a_point(cast, coat=1).requirements.count() == 0


def test_it_is_traced_bundled_and_told_in_the_report_of_its_day(cast: Cast, gauge: Gauge) -> None:
    point = required_point(cast)
    record, _ = record_profile(cast.ines, **profile(cast, note="Pot 2 was idle"))
    points.release(cast.clara, point=point, password=PASSWORD, evidence_digest=evidence_of(point).digest)
    kind = kind_named("profile")
    assert kind is not None
    below = {layer.kind.name for layer in rests_on(record, kind, cast.quinn)}
    above = {layer.kind.name for layer in rests_on_it(record, kind, cast.quinn)}
    assert {"gauge", "certificate"} <= below
    assert {"area", "holdpoint"} <= above
    archive = zipfile.ZipFile(io.BytesIO(bundle(record, kind, cast.quinn, timezone.now())))
    content = json.loads(archive.read(f"records/profile/{record.pk}.json"))
    assert content["locations"][0]["readings_nm"][0] == 48_000
    assert content["standing"]["state"] == "sound"
    facts = gather(cast.site.project, DAY)
    (told,) = facts.observed
    assert (told.found, told.verdict, told.standing) == (
        "Depth micrometer, 3 locations, mean 63.7 µm", "pass", "sound",
    )  # fmt: skip
    assert "1 surface profile record" in facts.people[0].recorded
    assert draw(facts).startswith(b"%PDF")
