"""Pull-off tests from the form or the API to their verdict, what they rest on, and their way back."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.fieldwork.models import Latest
from inspection.fieldwork.pulloff.models import PullOffRecord
from inspection.fieldwork.pulloff.recording import PULL_OFF
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.holdpoints import actions as points
from inspection.holdpoints.evidence import evidence_of
from inspection.instruments.actions import withdraw_certificate
from inspection.instruments.models import Certificate, Gauge
from reports.daily.gathering import gather
from reports.daily.pdf.document import draw
from reports.verify import records as verified
from tests.cast import DAY, MORNING, Cast
from tests.fieldwork.after_paint import instrument, post, sent, stored, typed
from tests.fieldwork.build import correct_by_page
from tests.fieldwork.test_sheet_pages import words
from tests.past_triggers import rewrite


@pytest.fixture
def tester(cast: Cast) -> Gauge:
    return instrument(cast, Gauge.Kind.ADHESION, "AD-1")


def dolly(strength: float, place: str = "web", **failures: float) -> dict[str, Any]:
    return {"place": place, "strength_mpa": strength, "failures_pct": failures or {"B": 100}}


def observed(*tests: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return {
        "method": "ISO 16276-1", "tests": list(tests) or [dolly(8), dolly(9), dolly(10)], "tests_wanted": 3,
        "minimum_mean_mpa": 6, "minimum_single_mpa": 5, "greatest_glue_share_pct": 25,
        "contract_instrument": "hydraulic, 20 mm", "used_instrument": "Hydraulic, 20 mm", "dolly_mm": 20,
        "steel_mm": 12,
    } | changes  # fmt: skip


# --- the verdict ------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("sent_of_it", "verdict", "found"),
    [
        (observed(), "pass", "mean 9.0 MPa, lowest 8.0 MPa"),
        # Glue failure above 25 % and below the requirement is no result (guideline on concrete, stored source), and
        # three tests with a result are wanted.
        (observed(dolly(8), dolly(9), dolly(3, Y=100)), "incomplete", "mean 8.5 MPa"),
        # A failure wholly in the glue above the limit says at least so much (ISO 4624, ASTM D4541; common practice).
        (observed(dolly(8), dolly(9), dolly(8, Y=100)), "pass", "lowest 8.0 MPa"),
        (observed(dolly(8), dolly(9), dolly(4.9)), "fail", "lowest 4.9 MPa"),
        # ISO 16276-1:2007 (abstract, stored source): the contract's kind of instrument, steel from 10 mm.
        (observed(used_instrument="mechanical"), "not judged", "mean 9.0 MPa"),
        (observed(contract_instrument=""), "not judged", "mean 9.0 MPa"),
        (observed(steel_mm=9), "not judged", "mean 9.0 MPa"),
        (observed(method="ASTM D4541", steel_mm=6, contract_instrument=""), "pass", "mean 9.0 MPa"),
        (observed(minimum_mean_mpa=None, minimum_single_mpa=None), "not judged", "mean 9.0 MPa"),
    ],
)  # fmt: skip
def test_tests_are_judged_by_the_contract(cast: Cast, sent_of_it: dict[str, Any], verdict: str, found: str) -> None:
    record = stored(cast, PULL_OFF, sent_of_it)
    assert record.verdict == verdict
    assert found in record.found
    assert not [words for words in verified.differences() if "pull-off" in words]


def test_psi_are_held_against_mpa_without_rounding(cast: Cast) -> None:
    """1450 psi are 9.997 MPa (by the definition of the unit) and fail a limit of 10 MPa."""
    test = {"place": "web", "strength_psi": 1450, "failures_pct": {"B": 100}}
    record = stored(cast, PULL_OFF, observed(test, tests_wanted=1, minimum_single_mpa=10))
    assert record.verdict == "fail"


@pytest.mark.parametrize(
    ("sent_of_it", "field", "said"),
    [
        (observed(dolly(8, B=60, C=30)), "tests", "90 %"),
        (observed(dolly(8, layer=100)), "tests", "write A, B, C"),
        (observed(dolly(0)), "tests", "above 0"),
        (observed({"place": "web", "failures_pct": {"B": 100}}), "tests", "MPa or in psi"),
        (observed(dolly(3, Y=100), greatest_glue_share_pct=None), "greatest_glue_share_pct", "no result"),
        (observed(method="ISO 1"), "method", "ISO 16276-1"),
        (observed(dolly(8, place="a\nb")), "tests", "one line"),
        (observed(steel_mm=0), "steel_mm", "more than 0"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_refused_with_its_field(cast: Cast, sent_of_it: dict[str, Any], field: str, said: str) -> None:
    with pytest.raises(Refused, match=said) as refused:
        stored(cast, PULL_OFF, sent_of_it)
    assert {fault.field for fault in refused.value.faults} == {field}
    assert not PullOffRecord.objects.exists()


def test_another_instrument_and_another_role_are_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="no adhesion tester"):
        stored(cast, PULL_OFF, observed(), gauge=cast.gauge)
    with pytest.raises(NotAllowed):
        PULL_OFF.record(cast.clara, **{"id": cast.clara.pk, "taken_at": MORNING, "project": cast.site.project,
                        "area": cast.site.area, "coat": cast.site.coats[0], **observed()})  # fmt: skip


def test_what_is_doubtful_is_asked_about_and_then_stored(cast: Cast, tester: Gauge) -> None:
    """9.0 MPa in 6 s are 1.5 MPa/s, above the 1 MPa/s of ISO 4624:2016 (stored source)."""
    fast = observed({**dolly(9), "seconds": 6}, dolly(9), dolly(9))
    with pytest.raises(Asked, match=r"1\.5 MPa/s"):
        stored(cast, PULL_OFF, fast, ask=True, gauge=tester)
    record = stored(cast, PULL_OFF, fast, gauge=tester)
    assert any("1.5 MPa/s" in warning for warning in PULL_OFF.warnings(record))
    # 60 m² are remembered to ask for 3 tests (ISO 16276-1, from memory): fewer are asked about, and never refused.
    with pytest.raises(Asked, match="from memory, not verified"):
        stored(cast, PULL_OFF, observed(dolly(9), tests_wanted=1), ask=True, area=cast.site.other_area, gauge=tester)


def test_sent_again_it_is_one_record_and_other_content_is_refused(cast: Cast) -> None:
    record = stored(cast, PULL_OFF, observed())
    again = {"steel_mm": 12.0, "contract_instrument": " hydraulic,  20 mm "}
    assert stored(cast, PULL_OFF, observed(**again), id=record.pk) == record
    with pytest.raises(Conflict):
        stored(cast, PULL_OFF, observed(dolly(8)), id=record.pk)
    assert PullOffRecord.objects.count() == 1


# --- pages and API ----------------------------------------------------------------------------------------------------
def form(cast: Cast, **changes: Any) -> dict[str, Any]:
    lines = "web, mid: 7.2 in 8 s; B 60, B/C 30, Y 10\nflange: 8,1; B 100\nstiffener: 1160 psi; -/Y 20, B 80"
    named = {name: value for name, value in observed().items() if name != "tests"}
    return typed(cast, **named, tests=lines, **changes)


def test_from_the_form_to_its_page_and_back_by_a_correction(cast: Cast, client: Client, tester: Gauge) -> None:
    client.force_login(cast.ines)
    address = reverse("pulloff_new", args=[cast.site.project.pk])
    wrong = client.post(address, form(cast) | {"tests": "web: seven; B 100\nflange: 7; B 60\n7.2"})
    assert wrong.status_code == 422
    said = words(wrong)
    assert "Row 1: “seven” is no number" in said
    assert "Row 3: begin with the place" in said
    assert "Row 2: the shares add to 60 %" in words(
        client.post(address, form(cast) | {"tests": "a: 7; B 100\nb: 7; B 60"})
    )
    shown = words(client.post(address, form(cast, gauge=str(tester.pk)), follow=True))
    for word in ("Pull-off of A1", "3 tests, mean 7.8 MPa", "flange", "B/C 30 %", "1160 psi", "Sound"):
        assert word in shown, word
    record = PullOffRecord.objects.get()
    correct = f"{address}?replaces={record.pk}"
    assert "web, mid: 7.2 in 8 s; B 60, B/C 30, Y 10" in client.get(correct).content.decode()
    changed = form(cast) | {"tests": "web: 4.1; B 100", "replacement_reason": "The wrong sheet was read"}
    assert correct_by_page(client, correct, changed).status_code == 302
    newest = PullOffRecord.objects.get(replaces=record)
    assert newest.verdict == "fail"
    assert JournalEntry.objects.get(verb="pulloff.corrected").reason == "The wrong sheet was read"
    assert "This version was replaced" in words(client.get(reverse("pulloff", args=[record.pk])))
    assert Latest.objects.get(kind="pulloff").record_id == newest.pk
    # What the contract says is filled in from the last one of the project.
    assert 'value="25"' in client.get(address).content.decode()
    for name in ("pulloff_list", "records", "today"):
        assert "A1" in words(client.get(reverse(name))), name


def test_by_the_api_and_sent_again(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    body = sent(cast, **observed())
    answers = [post(client, "pulloff", body) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200], answers[0].content
    told = answers[0].json()
    assert (told["verdict"], told["mean_kpa"], told["standing"]["state"]) == ("pass", 9000, "in_question")
    assert client.get(reverse("api_pulloff", args=[body["id"]])).json()["observed"]["tests"][2]["strength_mpa"] == 10
    assert client.get(reverse("api_pulloff_list")).json()["results"][0]["id"] == body["id"]
    refused = post(client, "pulloff", sent(cast, **observed(dolly(8), dolly(9, B=50))))
    assert refused.status_code == 422
    assert "row" in refused.content.decode()
    text = post(client, "pulloff", sent(cast, **observed(steel_mm="12")))
    assert text.status_code in (400, 422)


# --- what rests on it -------------------------------------------------------------------------------------------------
def test_a_point_requires_it_and_trace_report_and_verify_tell_it(cast: Cast, tester: Gauge) -> None:
    site = cast.site
    (point,) = points.plan_points(
        cast.quinn, project=site.project, areas=[site.area], coat=site.coats[0], kind="hold", title="Adhesion",
        requires=["pulloff"],
    )  # fmt: skip
    assert any("No pull-off test record stands" in why for why in evidence_of(point).why_not)
    record = stored(cast, PULL_OFF, observed(), gauge=tester)
    assert not any("ull-off" in why for why in evidence_of(point).why_not)
    withdraw_certificate(
        cast.quinn, certificate=Certificate.objects.get(number="P-AD-1"), reason="The master was wrong"
    )
    assert any("Pull-off is in question" in why for why in evidence_of(point).why_not)
    facts = gather(site.project, DAY)
    assert [row.found for row in facts.observed] == ["ISO 16276-1, 3 tests, mean 9.0 MPa, lowest 8.0 MPa"]
    assert draw(facts)
    rewrite(PullOffRecord.objects.filter(pk=record.pk), observed=observed(dolly(20)))
    found = " ".join(verified.differences())
    assert "what was read does not match its digest" in found
    assert "what was read gives incomplete" in found
