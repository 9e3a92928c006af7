"""What the company chooses for its instruments: kept in versions, read by its own people, obeyed by every check."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from io import StringIO
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import DatabaseError, transaction
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from accounts.models import JournalEntry, Person, Qualification
from inspection.fieldwork.actions import record_thickness
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments import actions
from inspection.instruments.actions import PointSent, StandardValue
from inspection.instruments.models import Certificate, InstrumentRules, Verification
from inspection.standards import calculate
from tests.cast import MORNING, Cast, scheme
from tests.fieldwork.build import sent as thickness
from tests.instruments.pages import as_person, begin, checked, text_of
from tests.past_triggers import rewrite

PAGE, API = "/instruments/rules/", "/api/instrument-rules/"
EXPIRED = date(2026, 3, 3)  # the day before the cast's morning


def choice(**changed: Any) -> dict[str, Any]:
    return {
        "overdue": "block", "combination": "root-sum-square", "escalate_after_days": 7, "cost_of_a_reading": None,
        "currency": "", "reason": "agreed at the yearly review",
    } | changed  # fmt: skip


def choose(by: Person, **changed: Any) -> InstrumentRules:
    return actions.choose_rules(by, **choice(**changed))


def qualified(person: Person, expires: date | None, **more: Any) -> Qualification:
    paper = {"scheme": scheme(), "level": "2", "number": "CI-17", "issued": date(2023, 1, 1)}
    return Qualification.objects.create(person=person, expires=expires, **paper | more)


def refusal_of(cast: Cast, **changed: Any) -> list[str]:
    with pytest.raises(Refused) as refusal:
        checked(cast, **changed)
    return [fault.message for fault in refusal.value.faults]


# --- choosing ---------------------------------------------------------------------------------------------------------
def test_while_nobody_has_chosen_overdue_blocks_and_accuracies_add_in_squares(cast: Cast) -> None:
    held = InstrumentRules.now()
    assert (held.overdue, held.combination, held.escalate_after_days) == ("block", "root-sum-square", 7)
    assert not InstrumentRules.objects.exists()


def test_the_newest_choice_holds_and_the_earlier_ones_stay(cast: Cast) -> None:
    choose(cast.quinn, overdue="warn")
    choose(cast.quinn, combination="sum", cost_of_a_reading=Decimal("1.50"), currency="eur")
    held = InstrumentRules.now()
    assert (held.overdue, held.combination, held.cost_of_a_reading, held.currency) == (
        "block", "sum", Decimal("1.50"), "EUR",
    )  # fmt: skip
    assert InstrumentRules.objects.count() == 2


def test_a_choice_is_journalled_with_what_held_before_and_why(cast: Cast) -> None:
    choose(cast.quinn, overdue="warn")
    entry = JournalEntry.objects.get(verb="instrument_rules.chosen")
    assert (entry.actor, entry.before["overdue"], entry.after["overdue"], entry.reason) == (
        cast.quinn, "block", "warn", "agreed at the yearly review",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"overdue": "ignore"}, "overdue"),
        ({"combination": "mean"}, "combination"),
        ({"escalate_after_days": 0}, "escalate_after_days"),
        ({"escalate_after_days": 366}, "escalate_after_days"),
        ({"cost_of_a_reading": Decimal("-1"), "currency": "EUR"}, "cost_of_a_reading"),
        ({"cost_of_a_reading": Decimal("1.555"), "currency": "EUR"}, "cost_of_a_reading"),
        ({"cost_of_a_reading": Decimal(1)}, "currency"),
        ({"cost_of_a_reading": Decimal(1), "currency": "E1R"}, "currency"),
        ({"currency": "EUR"}, "cost_of_a_reading"),
        ({"overdue": "warn", "reason": "  "}, "reason"),
        ({"overdue": "warn", "reason": "x" * 1001}, "reason"),
        ({}, ""),
    ],
)
def test_what_cannot_be_chosen_is_refused_by_its_field(cast: Cast, changed: dict[str, Any], field: str) -> None:
    with pytest.raises(Refused) as refusal:
        choose(cast.quinn, **changed)
    assert [fault.field for fault in refusal.value.faults] == [field]
    assert not InstrumentRules.objects.exists()
    assert not JournalEntry.objects.filter(verb="instrument_rules.chosen").exists()


def test_a_choice_made_without_having_seen_the_newest_is_a_conflict(cast: Cast) -> None:
    looked = timezone.now()
    choose(cast.quinn, overdue="warn")
    with pytest.raises(Conflict, match="Quinn Quality chose anew at"):
        choose(cast.quinn, combination="sum", seen_at=looked)
    assert InstrumentRules.now().combination == "root-sum-square"


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_refuses_to_change_a_choice(cast: Cast, change: str) -> None:
    rows = InstrumentRules.objects.filter(pk=choose(cast.quinn, overdue="warn").pk)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        rows.update(overdue="block") if change == "update" else rows.order_by()._raw_delete("default")


# --- how accuracies combine -------------------------------------------------------------------------------------------
def test_a_check_is_judged_by_the_combination_the_company_chose(cast: Cast) -> None:
    """Gauge ± 1 % ± 1 µm on 50.2 µm is 1.502 µm; with the shim's 1.0 µm 1.804 µm in squares, 2.502 µm by plain sum."""
    points = [PointSent([cast.shims[50]], [52_400])]
    assert checked(cast, points=points).verdict == "fail"
    choose(cast.quinn, combination="sum")
    check = checked(cast, points=points)
    assert (check.verdict, check.inputs["combination"], check.combination) == ("pass", "sum", "sum")
    assert check.result["points"][0]["tolerance_um"] == pytest.approx(2.502)
    assert calculate("verify-gauge", check.inputs) == check.result
    assert JournalEntry.objects.filter(verb="verification.recorded").latest("pk").after["combination"] == "sum"


def test_an_old_check_judged_again_uses_the_combination_of_its_day(cast: Cast) -> None:
    """The corrected value of 50.0 µm allows 1.5 + 1.0 µm by sum and 1.803 µm in squares; the error is then 2.4 µm."""
    choose(cast.quinn, combination="sum")
    checked(cast, points=[PointSent([cast.shims[50]], [52_400])])
    closing = {"purpose": "closing", "adjustment": "none", "taken_at": MORNING + timedelta(hours=2)}
    checked(cast, points=[PointSent([cast.shims[50]], [52_400])], **closing)
    spots = [reading._replace(value_nm=50_000) for reading in thickness(cast)["readings"]]
    record, _ = record_thickness(cast.ines, **thickness(cast, readings=spots))
    assert record.standing.state == "sound"
    choose(cast.quinn, combination="root-sum-square")
    paper = {
        "issued": date(2025, 9, 1), "expires": date(2026, 9, 1), "laboratory": "Example Laboratory",
        "traceable_to": "National institute", "number": "CS-1",
    }  # fmt: skip
    values = [StandardValue(shim, shim.nominal_nm, 1_000) for shim in cast.shims.values()]
    actions.correct_certificate(
        cast.quinn, certificate=cast.shim_certificate, reason="Values rounded", values=values, **paper
    )
    record.standing.refresh_from_db()
    assert record.standing.state == "sound"


def test_a_check_stored_before_there_was_a_choice_was_made_in_squares() -> None:
    assert Verification(inputs={"points": []}).combination == InstrumentRules.Combination.ROOT_SUM_SQUARE


@given(
    certified=st.integers(0, 10**6),
    expanded=st.integers(0, 10**5),
    pct=st.integers(0, 2_000),
    fixed=st.integers(1, 10**5),
    off=st.integers(-(10**5), 10**5),
)
def test_the_sum_never_allows_less_than_the_squares(
    certified: int, expanded: int, pct: int, fixed: int, off: int
) -> None:
    given_ = {
        "certified_um": certified / 1000, "expanded_uncertainty_um": expanded / 1000, "accuracy_pct": pct / 100,
        "accuracy_um": fixed / 1000, "readings_um": [(certified + off) / 1000],
    }  # fmt: skip
    squares, plain = (calculate("verify-gauge", given_ | {"combination": how}) for how in ("root-sum-square", "sum"))
    assert plain["tolerance_um"] >= squares["tolerance_um"] * (1 - 1e-12)
    assert (squares["verdict"], plain["verdict"]) != ("pass", "fail")


# --- what has run out -------------------------------------------------------------------------------------------------
def run_out(*certificates: Certificate) -> None:
    rewrite(Certificate.objects.filter(pk__in=[paper.pk for paper in certificates]), expires=EXPIRED)


def test_where_overdue_is_warned_of_a_check_rests_on_what_has_run_out(cast: Cast) -> None:
    run_out(cast.gauge_certificate, cast.shim_certificate)
    choose(cast.quinn, overdue="warn")
    check = checked(cast)
    assert (check.verdict, check.points.get(order=1).certified_nm) == ("pass", 50_200)
    assert JournalEntry.objects.get(verb="verification.recorded").after["run_out"] == [
        "G-01: certificate CG-1 expired on 2026-03-03.",
        "S-250: certificate CS-1 expired on 2026-03-03.",
        "S-50: certificate CS-1 expired on 2026-03-03.",
    ]


def test_the_value_relied_on_is_that_of_the_newest_version_that_has_run_out(cast: Cast) -> None:
    paper = {
        "issued": date(2025, 9, 1), "expires": EXPIRED, "laboratory": "Example Laboratory", "number": "CS-1",
        "traceable_to": "National institute",
    }  # fmt: skip
    values = [StandardValue(shim, shim.nominal_nm, 1_000) for shim in cast.shims.values()]
    actions.correct_certificate(
        cast.quinn, certificate=cast.shim_certificate, reason="Values rounded", values=values, **paper
    )
    older = {"issued": date(2024, 9, 1), "expires": date(2025, 9, 1), "laboratory": "L", "traceable_to": "N"}
    actions.record_certificate(
        cast.quinn, number="CS-0", values=[StandardValue(cast.shims[50], 49_000, 1_000)], **older
    )
    choose(cast.quinn, overdue="warn")
    assert checked(cast).points.get(order=1).certified_nm == 50_000


def test_a_certificate_in_date_goes_before_a_newer_one_that_has_run_out(cast: Cast) -> None:
    choose(cast.quinn, overdue="warn")
    short = {"issued": date(2026, 1, 1), "expires": EXPIRED, "laboratory": "L", "traceable_to": "N"}
    actions.record_certificate(
        cast.quinn, number="CS-9", values=[StandardValue(cast.shims[50], 51_000, 1_000)], **short
    )
    assert checked(cast).points.get(order=1).certified_nm == 50_200


def test_withdrawn_and_missing_certificates_are_refused_even_where_overdue_is_warned_of(cast: Cast) -> None:
    run_out(cast.gauge_certificate, cast.shim_certificate)
    choose(cast.quinn, overdue="warn")
    bare = actions.register_standard(cast.quinn, identity="S-75", nominal_nm=75_000)
    assert refusal_of(cast, points=[PointSent([bare], [75_000])]) == ["S-75: it has no certificate."]
    actions.withdraw_certificate(cast.quinn, certificate=cast.gauge_certificate, reason="Wrong block", at=MORNING)
    assert refusal_of(cast) == ["G-01: certificate CG-1 was withdrawn on 2026-03-04: Wrong block."]


def test_a_run_out_certificate_traceable_to_a_withdrawn_one_is_refused(cast: Cast) -> None:
    master = Certificate.objects.create(
        number="M-1", laboratory="L", traceable_to="N", issued=date(2024, 1, 1), expires=date(2029, 1, 1),
        recorded_by=cast.quinn,
    )  # fmt: skip
    rewrite(Certificate.objects.filter(pk=cast.gauge_certificate.pk), parent=master, expires=EXPIRED)
    actions.withdraw_certificate(cast.quinn, certificate=master, reason="Block worn", at=MORNING)
    choose(cast.quinn, overdue="warn")
    assert refusal_of(cast) == ["G-01: certificate CG-1 is traceable to M-1, which was withdrawn."]


@pytest.mark.parametrize("of", ["gauge_certificate", "shim_certificate"])
def test_what_rests_on_a_run_out_certificate_is_in_question_and_stored_so(cast: Cast, of: str) -> None:
    run_out(getattr(cast, of))
    choose(cast.quinn, overdue="warn")
    checked(cast)
    checked(cast, purpose="closing", adjustment="none", taken_at=MORNING + timedelta(hours=2))
    record, _ = record_thickness(cast.ines, **thickness(cast))
    assert record.standing.state == "in_question"
    assert any("expired on 2026-03-03" in reason for reason in record.standing.reasons)
    told = StringIO()
    call_command("standing", "--check", stdout=told)
    assert "1 records, 0 stored otherwise than the facts say;" in told.getvalue()


def test_a_run_out_qualification_blocks_a_verification_or_is_warned_of(cast: Cast) -> None:
    qualified(cast.ines, EXPIRED)
    words = "Ines Inspector: qualification Coating inspector 2, number CI-17, ran out on 2026-03-03."
    assert refusal_of(cast) == [words]
    choose(cast.quinn, overdue="warn")
    checked(cast)
    assert JournalEntry.objects.get(verb="verification.recorded").after["run_out"] == [words]


def test_the_newest_paper_under_a_scheme_decides_and_no_paper_is_not_judged(cast: Cast) -> None:
    qualified(cast.ines, EXPIRED)
    qualified(cast.ines, date(2028, 1, 1), number="CI-18", issued=date(2026, 1, 1))
    assert checked(cast).verdict == "pass"
    assert actions.record_verification(
        cast.quinn, id=uuid4(), gauge=cast.gauge, project=cast.site.project, purpose="opening", adjustment="zero",
        surface="smooth", as_left=True, taken_at=MORNING, points=[PointSent([cast.shims[50]], [50_200])],
    )[1]  # fmt: skip


def test_a_qualification_counts_to_the_end_of_its_last_day(cast: Cast) -> None:
    qualified(cast.ines, MORNING.date())
    assert checked(cast).verdict == "pass"


# --- handing over -----------------------------------------------------------------------------------------------------
def test_what_has_run_out_goes_to_no_crew_but_into_store_and_to_the_quality_manager(cast: Cast) -> None:
    for thing in ({"gauge": cast.gauge}, {"standard": cast.shims[50]}):
        with pytest.raises(Refused, match="expired on 2026-09-01") as refusal:
            actions.hand_over(cast.quinn, to=cast.ines, **thing)
        assert [fault.field for fault in refusal.value.faults] == ["to"]
        actions.hand_over(cast.quinn, to=cast.quinn, **thing)
        actions.hand_over(cast.quinn, to=None, place="Calibration laboratory", **thing)


def test_where_overdue_is_warned_of_it_goes_to_a_crew_and_the_journal_says_so(cast: Cast) -> None:
    choose(cast.quinn, overdue="warn")
    actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.ines)
    entry = JournalEntry.objects.get(verb="equipment.handed_over")
    assert entry.after["run_out"][0].startswith("G-01: certificate CG-1 expired on 2026-09-01.")


def test_the_hand_over_page_says_so_before_anything_is_chosen(cast: Cast) -> None:
    client, where = as_person(cast.quinn), reverse("gauge_hand_over", args=[cast.gauge.pk])
    assert "to no crew" in text_of(client.get(where))
    answer = client.post(where, {"to": cast.ines.pk, "place": ""})
    assert (answer.status_code, "Hand it into store" in text_of(answer)) == (422, True)
    choose(cast.quinn, overdue="warn")
    assert "It may be handed over; what rests on it will be in question." in text_of(client.get(where))
    assert client.post(where, {"to": cast.ines.pk, "place": ""}).status_code == 302


# --- pages ------------------------------------------------------------------------------------------------------------
def test_the_page_says_what_holds_since_when_by_whom_and_why(cast: Cast) -> None:
    client = as_person(cast.ines)
    assert "Nobody has chosen yet" in text_of(client.get(PAGE))
    choose(cast.quinn, overdue="warn", reason="Calibration is booked out")
    choose(cast.quinn, combination="sum", reason="The contract says so")
    words = text_of(client.get(PAGE))
    holds, _, earlier = words.partition("Earlier choices")
    for part in ("by plain sum", "Quinn Quality", "The contract says so", "Block: what has run out"):
        assert part in holds
    assert all(part in earlier for part in ("Warn", "Calibration is booked out"))
    assert "<form" not in holds.partition("What holds now")[2]


def test_a_quality_manager_chooses_on_the_page(cast: Cast) -> None:
    client = as_person(cast.quinn)
    asked = choice(overdue="warn", cost_of_a_reading="1,5", currency="eur") | {"seen_at": timezone.now().isoformat()}
    assert client.post(PAGE, asked).status_code == 302
    held = InstrumentRules.now()
    assert (held.overdue, held.cost_of_a_reading, held.currency) == ("warn", Decimal("1.5"), "EUR")
    assert "The rules are chosen" in text_of(client.get(PAGE))
    again = client.post(PAGE, asked | {"seen_at": timezone.now().isoformat()})
    assert (again.status_code, "This is what holds already" in text_of(again)) == (422, True)


def test_the_page_says_when_somebody_chose_meanwhile(cast: Cast) -> None:
    asked = choice(combination="sum", cost_of_a_reading="", seen_at=timezone.now().isoformat())
    choose(cast.quinn, overdue="warn")
    answer = as_person(cast.quinn).post(PAGE, asked)
    assert (answer.status_code, "Quinn Quality chose anew at" in text_of(answer)) == (422, True)
    assert InstrumentRules.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"reason": ""}, "Why: This field is required."),
        ({"escalate_after_days": "soon"}, "“soon” is not a number; write it as 7."),
        ({"cost_of_a_reading": "1.5", "currency": ""}, "Name the currency of the cost"),
        ({"cost_of_a_reading": "99999999", "currency": "EUR"}, "What measuring again costs, a reading:"),
        ({"overdue": ""}, "What has run out: This field is required."),
        ({"seen_at": "yesterday"}, "Seen at: Enter a valid date/time."),
    ],
)
def test_a_slip_is_named_and_nothing_typed_is_lost(cast: Cast, changed: dict[str, Any], words: str) -> None:
    asked = choice(combination="sum", cost_of_a_reading="", reason="Typed at length") | changed
    answer = as_person(cast.quinn).post(PAGE, asked)
    shown = text_of(answer)
    assert (answer.status_code, words in shown) == (422, True)
    assert 'value="sum" required id="id_combination_1" checked' in shown
    assert ("Typed at length" in shown) is ("reason" not in changed)
    assert not InstrumentRules.objects.exists()


def test_the_rules_are_reached_from_the_instruments_page(cast: Cast) -> None:
    for person, linked in ((cast.ines, True), (cast.audrey, True), (cast.clara, False)):
        assert (PAGE in text_of(as_person(person).get(reverse("equipment")))) is linked


def test_each_step_of_a_verification_says_beforehand_what_has_run_out(in_date: Cast) -> None:
    cast, new = in_date, reverse("verification_new")
    yesterday = timezone.now().date() - timedelta(days=2)
    rewrite(Certificate.objects.all(), expires=yesterday)
    qualified(cast.ines, yesterday)
    client = as_person(cast.ines)
    words = text_of(client.get(new))
    assert f"certificate CG-1 expired on {yesterday}" in words
    assert "A verification by you would be refused" in words
    assert "would be refused as things stand" in text_of(client.get(new, {"gauge": cast.gauge.pk}))
    choose(cast.quinn, overdue="warn")
    words = text_of(client.get(new))
    assert "Yes, but" in words
    assert "You may go on; the journal keeps this." in words
    asked = begin(cast) | {"adjustment": "none", "on": [cast.shims[50].pk]}
    words = text_of(client.get(new, asked))
    assert f"S-50: certificate CS-1 expired on {yesterday}." in words
    assert "what rests on the verification will be in question" in words
    assert "combined as the root of the sum of the squares" in words


def test_the_advice_takes_shims_in_date_before_those_that_have_run_out(in_date: Cast) -> None:
    """For 120 µm on smooth steel the shim of 125 µm is nearest; once it alone has run out, another is taken."""
    cast, where = in_date, f"{reverse('verification_new')}?{urlencode(begin(in_date))}"
    client = as_person(cast.ines)
    choose(cast.quinn, overdue="warn")
    assert "Check on S-125" in text_of(client.get(where))
    kept = [shim for nominal, shim in cast.shims.items() if nominal != 125]
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), expires=EXPIRED)
    paper = {
        "issued": date(2026, 1, 1), "expires": timezone.now().date() + timedelta(days=30), "laboratory": "L",
        "traceable_to": "N",
    }  # fmt: skip
    values = [StandardValue(shim, shim.nominal_nm, 1_000) for shim in kept]
    actions.record_certificate(cast.quinn, number="CS-2", values=values, **paper)
    words = text_of(client.get(where))
    assert "Check on S-125" not in words
    assert "S-125, shim 125.4 ± 1.0 µm, not in your hands; certificate CS-1 expired on 2026-03-03" in words


def test_the_page_of_a_verification_says_the_combination_and_what_had_run_out(cast: Cast) -> None:
    run_out(cast.gauge_certificate, cast.shim_certificate)
    choose(cast.quinn, overdue="warn", combination="sum")
    check = checked(cast)
    words = text_of(as_person(cast.audrey).get(reverse("verification", args=[check.pk])))
    assert "the accuracies of gauge and standard combined by plain sum" in words
    assert "S-50: certificate CS-1 expired on 2026-03-03." in words
    assert "What rests on this verification is in question." in words


def test_the_history_of_a_gauge_says_how_the_tolerance_it_draws_was_combined(cast: Cast) -> None:
    checked(cast)
    where = reverse("gauge", args=[cast.gauge.pk])
    assert "gauge and standard combined as the root of the sum of the squares." in text_of(
        as_person(cast.ines).get(where)
    )
    choose(cast.quinn, combination="sum")
    checked(cast, days=1)
    assert "gauge and standard combined by plain sum." in text_of(as_person(cast.ines).get(where))


def test_a_certificate_recorded_afterwards_that_covers_the_day_lifts_the_warning_of_the_gauge(cast: Cast) -> None:
    run_out(cast.gauge_certificate)
    choose(cast.quinn, overdue="warn")
    where = reverse("verification", args=[checked(cast).pk])
    assert "is in question" in text_of(as_person(cast.ines).get(where))
    paper = {"issued": date(2026, 3, 1), "expires": date(2027, 3, 1), "laboratory": "L", "traceable_to": "N"}
    actions.record_certificate(cast.quinn, number="CG-2", gauges=[cast.gauge], **paper)
    assert "is in question" not in text_of(as_person(cast.ines).get(where))


# --- API --------------------------------------------------------------------------------------------------------------
def test_the_api_tells_what_holds(cast: Cast) -> None:
    client = as_person(cast.audrey)
    assert client.get(API).json() == {
        "overdue": "block", "combination": "root-sum-square", "escalate_after_days": 7, "cost_of_a_reading": None,
        "currency": "", "reason": "", "chosen_by": None, "chosen_at": None,
    }  # fmt: skip
    held = choose(cast.quinn, overdue="warn")
    answer = client.get(API).json()
    assert (answer["overdue"], answer["chosen_by"], answer["chosen_at"]) == (
        "warn", "Quinn Quality", held.chosen_at.isoformat(),
    )  # fmt: skip


def sent_check(cast: Cast) -> dict[str, Any]:
    return {
        "id": str(uuid4()), "gauge": str(cast.gauge.pk), "project": str(cast.site.project.pk), "purpose": "opening",
        "adjustment": "zero", "surface": "smooth", "taken_at": MORNING.isoformat(),
        "points": [{"standards": [str(cast.shims[50].pk)], "readings_um": [50.1]}],
    }  # fmt: skip


def test_the_api_answers_a_check_with_its_combination_and_its_warnings(cast: Cast) -> None:
    run_out(cast.shim_certificate)
    choose(cast.quinn, overdue="warn", combination="sum")
    where = reverse("api_verification_list")
    answer = as_person(cast.ines).post(where, sent_check(cast), content_type="application/json")
    assert (answer.status_code, answer.json()["combination"], answer.json()["warnings"]) == (
        201, "sum", ["S-50: certificate CS-1 expired on 2026-03-03."],
    )  # fmt: skip
    stored = reverse("api_verification", args=[answer.json()["id"]])
    assert as_person(cast.ines).get(stored).json()["warnings"] == answer.json()["warnings"]


def test_a_check_made_already_and_sent_in_is_not_lost_for_a_qualification(cast: Cast) -> None:
    qualified(cast.ines, EXPIRED)
    where = reverse("api_verification_list")
    answer = as_person(cast.ines).post(where, sent_check(cast), content_type="application/json")
    assert answer.status_code == 201
    assert "ran out on 2026-03-03" in answer.json()["warnings"][0]
    assert "ran out" in JournalEntry.objects.get(verb="verification.recorded").after["run_out"][0]


# --- strangers --------------------------------------------------------------------------------------------------------
def test_only_a_quality_manager_chooses(cast: Cast) -> None:
    for someone in (cast.ines, cast.admin, cast.audrey, cast.clara, cast.carl):
        with pytest.raises(NotAllowed):
            choose(someone, overdue="warn")
        assert as_person(someone).post(PAGE, choice(overdue="warn", cost_of_a_reading="")).status_code == 403
    assert not InstrumentRules.objects.exists()


def test_the_company_and_auditors_read_the_rules_and_clients_do_not(cast: Cast) -> None:
    for someone, status in (
        (cast.ines, 200), (cast.igor, 200), (cast.admin, 200), (cast.audrey, 200), (cast.clara, 403), (cast.carl, 403),
    ):  # fmt: skip
        client = as_person(someone)
        assert (client.get(PAGE).status_code, client.get(API).status_code) == (status, status)
