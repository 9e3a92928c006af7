"""Reminders of what runs out: the right day, the right people, once each, one letter a person and day."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts.models import Letter, Person, Qualification, Role
from inspection.instruments.models import Certificate, CertifiedValue, Gauge, InstrumentRules, ReferenceStandard
from reports.attention.models import Reminded
from reports.attention.reminders import remind
from reports.attention.running_out import threshold_passed
from tests.cast import Cast, person, scheme

EXPIRES = date(2026, 9, 1)  # both certificates of the cast
LONG_AGO = datetime(2025, 9, 1, tzinfo=UTC)
SHIMS = "Certificate CS-1 runs out on 2026-09-01, in 30 days"


def on(days_before: int) -> datetime:
    return datetime.combine(EXPIRES - timedelta(days=days_before), datetime.min.time(), UTC) + timedelta(hours=9)


def bodies(to: Person) -> list[str]:
    """The letters to one person, the oldest first."""
    return [letter.body for letter in Letter.objects.filter(recipient=to.email).order_by("written_at")]


def told(to: Person) -> list[list[str]]:
    """Letter by letter, what one person was newly told, without what they are to do about it."""
    return [re.findall(r"^- (.+?)\. [A-Z]", body, flags=re.MULTILINE) for body in bodies(to)]


def names(to: Person) -> list[list[str]]:
    """The same by the names of certificates, equipment and schemes alone."""
    name = re.compile(r"(?:Certificate )?(.+?)(?:,| \(| runs| ran)")
    return [[name.match(fact)[1] for fact in facts] for facts in told(to)]


def hold(holder: Person, *things: Gauge | ReferenceStandard) -> None:
    for thing in things:
        thing.holder = holder
        thing.save()


def certificate(cast: Cast, number: str, expires: date, *things: Gauge) -> Certificate:
    paper = Certificate.objects.create(
        number=number, laboratory="Example Laboratory", issued=date(2025, 8, 1), expires=expires,
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    for thing in things:
        CertifiedValue.objects.create(certificate=paper, gauge=thing)
    return paper


def climate_meter(identity: str, since: datetime = LONG_AGO) -> Gauge:
    return Gauge.objects.create(identity=identity, kind=Gauge.Kind.CLIMATE, state_since=since)


def qualification(of: Person, expires: date = EXPIRES, under: str = "Coating inspector") -> Qualification:
    return Qualification.objects.create(
        person=of, scheme=scheme(under), level="2", number="CI-17", issued=date(2023, 1, 1), expires=expires
    )


def choose(cast: Cast, **chosen: object) -> None:
    InstrumentRules.objects.create(reason="Chosen for the test", chosen_by=cast.admin, **chosen)


def withdraw(number: str, at: datetime, by: Person) -> None:
    Certificate.objects.filter(number=number).update(withdrawn_at=at, withdrawn_by=by, withdrawal_reason="error")


# --- when -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "threshold"),
    [
        *[(61, None), (60, 60), (45, 60), (30, 30), (8, 30), (7, 7), (1, 7), (0, 0), (-3, 0), (-6, 0)],
        *[(-7, -7), (-13, -7), (-14, -14), (-365, -364)],
    ],
)
def test_the_threshold_passed_last_is_due(days: int, threshold: int | None) -> None:
    assert threshold_passed(EXPIRES, EXPIRES - timedelta(days=days), escalate_after=7) == threshold


def test_nothing_is_written_earlier(cast: Cast) -> None:
    assert remind(on(61)) == 0
    assert not Letter.objects.exists()


def test_each_threshold_is_told_once_in_one_letter(cast: Cast) -> None:
    for day in range(70, -7, -1):
        assert remind(on(day)) == (day in {60, 30, 7, 0})
        assert remind(on(day)) == 0
    assert names(cast.quinn) == [["CG-1", "CS-1"]] * 4
    assert [fact.partition(":")[0] for (fact, _) in told(cast.quinn)] == [
        "Certificate CG-1 runs out on 2026-09-01, in 60 days",
        "Certificate CG-1 runs out on 2026-09-01, in 30 days",
        "Certificate CG-1 runs out on 2026-09-01, in 7 days",
        "Certificate CG-1 runs out today, 2026-09-01",
    ]
    assert {letter.recipient for letter in Letter.objects.all()} == {cast.quinn.email}


def test_after_days_without_a_worker_only_the_last_threshold_is_told(cast: Cast) -> None:
    remind(on(61))
    remind(on(5))
    assert names(cast.quinn) == [["CG-1", "CS-1"]]
    assert "in 5 days" in bodies(cast.quinn)[0]
    assert remind(on(4)) == 0


def test_a_beat_missed_on_the_day_itself_is_made_up(cast: Cast) -> None:
    remind(on(-3))
    assert told(cast.quinn) == [
        [
            "Certificate CG-1 ran out on 2026-09-01, 3 days ago: G-01 (in store)",
            "Certificate CS-1 ran out on 2026-09-01, 3 days ago: S-125, S-250, S-50, S-500 (in store)",
        ]
    ]


def test_the_day_is_that_of_utc(cast: Cast) -> None:
    east = timezone(timedelta(hours=9))
    assert remind(datetime.combine(EXPIRES - timedelta(days=60), datetime.min.time(), east)) == 0
    assert remind(datetime.combine(EXPIRES - timedelta(days=59), datetime.min.time(), east)) == 1


def test_what_comes_up_after_the_letter_of_the_day_waits_for_the_next(cast: Cast) -> None:
    remind(on(30))
    paper = qualification(cast.ines, EXPIRES - timedelta(days=20))
    assert remind(on(30) + timedelta(hours=3)) == 1
    assert bodies(cast.ines)
    assert len(bodies(cast.quinn)) == 1
    assert remind(on(29)) == 1
    assert names(cast.quinn)[1] == ["Coating inspector 2 of Ines Inspector"]
    assert f"{paper.expires}, in 9 days" in bodies(cast.quinn)[1]


# --- whom -----------------------------------------------------------------------------------------------------------


def test_who_holds_the_equipment_is_told_of_that_alone(cast: Cast) -> None:
    hold(cast.ines, cast.gauge, cast.shims[50])
    hold(cast.igor, cast.shims[125])
    remind(on(30))
    assert told(cast.ines) == [
        [
            "Certificate CG-1 runs out on 2026-09-01, in 30 days: G-01 (you)",
            "Certificate CS-1 runs out on 2026-09-01, in 30 days: S-50 (you)",
        ]
    ]
    assert names(cast.igor) == [["CS-1"]]
    assert told(cast.quinn) == [
        [
            "Certificate CG-1 runs out on 2026-09-01, in 30 days: G-01 (Ines Inspector)",
            f"{SHIMS}: S-125 (Igor Inspector); S-250, S-500 (in store); S-50 (Ines Inspector)",
        ]
    ]


def test_a_new_holder_is_told_though_the_last_one_was(cast: Cast) -> None:
    hold(cast.ines, cast.gauge)
    remind(on(30))
    hold(cast.igor, cast.gauge)
    remind(on(29))
    assert names(cast.igor) == [["CG-1"]]
    assert len(bodies(cast.ines)) == len(bodies(cast.quinn)) == 1


def test_a_holder_who_is_also_a_manager_gets_one_letter(cast: Cast) -> None:
    hold(cast.quinn, cast.gauge)
    assert remind(on(30)) == 1
    assert names(cast.quinn) == [["CG-1", "CS-1"]]


def test_a_qualification_is_told_to_the_person_and_the_managers(cast: Cast) -> None:
    qualification(cast.ines, EXPIRES - timedelta(days=1))
    remind(on(8))
    assert told(cast.ines) == [["Your qualification Coating inspector 2 runs out on 2026-08-31, in 7 days"]]
    assert "Coating inspector 2 of Ines Inspector runs out on 2026-08-31, in 7 days" in told(cast.quinn)[0]
    assert bodies(cast.igor) == []


def test_people_who_left_are_not_written_to(cast: Cast) -> None:
    hold(cast.ines, cast.gauge)
    qualification(cast.ines)
    Person.objects.filter(pk=cast.ines.pk).update(is_active=False)
    remind(on(7))
    assert {letter.recipient for letter in Letter.objects.all()} == {cast.quinn.email}
    assert names(cast.quinn) == [["CG-1", "CS-1"]]


def test_a_manager_whose_role_has_ended_is_not_written_to(cast: Cast) -> None:
    cast.quinn.grants.update(ended_at=on(40))
    assert remind(on(7)) == 0


# --- what -----------------------------------------------------------------------------------------------------------


def test_a_withdrawn_certificate_is_not_told_but_what_lost_it_is(cast: Cast) -> None:
    Gauge.objects.update(state_since=LONG_AGO)
    withdraw("CG-1", on(10), cast.quinn)
    remind(on(7))
    assert told(cast.quinn) == [
        [
            "G-01 (in store) has had no certificate since 2026-08-22, for 3 days",
            "Certificate CS-1 runs out on 2026-09-01, in 7 days: S-125, S-250, S-50, S-500 (in store)",
        ]
    ]


def test_a_replaced_certificate_is_told_by_its_new_date(cast: Cast) -> None:
    old = cast.gauge_certificate
    new = Certificate.objects.create(
        number="CG-1", version=2, replaces=old, replacement_reason="date misread", laboratory=old.laboratory,
        issued=old.issued, expires=EXPIRES + timedelta(days=30), traceable_to=old.traceable_to, recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=new, gauge=cast.gauge)
    remind(on(7))
    assert [fact.partition(":")[0] for fact in told(cast.quinn)[0]] == [
        "Certificate CS-1 runs out on 2026-09-01, in 7 days",
        "Certificate CG-1 v2 runs out on 2026-10-01, in 37 days",
    ]


def test_equipment_that_a_correction_no_longer_names_has_no_certificate(cast: Cast) -> None:
    Gauge.objects.update(state_since=LONG_AGO)
    old = cast.gauge_certificate
    Certificate.objects.create(
        number="CG-1", version=2, replaces=old, replacement_reason="another gauge", laboratory=old.laboratory,
        issued=old.issued, expires=old.expires, traceable_to=old.traceable_to, recorded_by=cast.quinn,
        recorded_at=on(33),
    )  # fmt: skip
    remind(on(32))
    assert "G-01 (in store) has had no certificate since 2026-07-30, for 1 day" in told(cast.quinn)[0]


def test_equipment_calibrated_again_is_not_told_of_the_old_certificate(cast: Cast) -> None:
    certificate(cast, "CG-2", date(2027, 8, 1), cast.gauge)
    remind(on(7))
    assert names(cast.quinn) == [["CS-1"]]


@pytest.mark.parametrize("state", ["retired", "at_laboratory", "quarantined"])
def test_equipment_out_of_service_is_not_told(cast: Cast, state: str) -> None:
    cast.gauge.state = state
    cast.gauge.save()
    Gauge.objects.filter(pk=climate_meter("H-01").pk).update(state=state)
    remind(on(7))
    assert names(cast.quinn) == [["CS-1"]]


def test_a_renewed_qualification_is_not_told_by_the_old_date(cast: Cast) -> None:
    for expires in (EXPIRES, EXPIRES + timedelta(days=900)):
        qualification(cast.ines, expires)
    remind(on(7))
    assert bodies(cast.ines) == []
    assert names(cast.quinn) == [["CG-1", "CS-1"]]


def test_instruments_and_standards_of_any_kind_without_a_certificate_are_told_once(cast: Cast) -> None:
    hold(cast.ines, climate_meter("H-01", on(102)))
    ReferenceStandard.objects.create(identity="S-75", nominal_nm=75_000, state_since=on(101))
    for day in range(100, 97, -1):
        remind(on(day))
    assert told(cast.ines) == [["H-01 (you) has had no certificate since 2026-05-22, for 2 days"]]
    assert told(cast.quinn) == [
        [
            "H-01 (Ines Inspector) has had no certificate since 2026-05-22, for 2 days",
            "S-75 (in store) has had no certificate since 2026-05-23, for 1 day",
        ]
    ]


def test_on_the_day_of_registering_a_missing_certificate_is_not_told_yet(cast: Cast) -> None:
    climate_meter("H-01", on(100) - timedelta(hours=1))
    assert remind(on(100)) == 0
    assert remind(on(99)) == 1


def test_a_certificate_lost_a_second_time_is_told_a_second_time(cast: Cast) -> None:
    gauge = climate_meter("H-01", on(300))
    certificate(cast, "H-1", date(2028, 1, 1), gauge)
    withdraw("H-1", on(200), cast.quinn)
    remind(on(199))
    certificate(cast, "H-2", date(2028, 1, 1), gauge)
    assert remind(on(150)) == 0
    withdraw("H-2", on(100), cast.quinn)
    remind(on(99))
    assert told(cast.quinn) == [
        ["H-01 (in store) has had no certificate since 2026-02-13, for 1 day"],
        ["H-01 (in store) has had no certificate since 2026-05-24, for 1 day"],
    ]


# --- escalation -----------------------------------------------------------------------------------------------------


def escalations(to: Person) -> list[str]:
    """The days on which something was escalated in a letter to the person."""
    found = Letter.objects.filter(recipient=to.email, body__startswith="Escalated").order_by("written_at")
    return [str(Reminded.objects.filter(letter=letter)[0].day) for letter in found]


def run_daily(days_before: Iterable[int]) -> None:
    for day in days_before:
        remind(on(day))


def test_what_is_still_overdue_after_a_week_is_told_to_the_administrators_too_and_again_every_week(cast: Cast) -> None:
    hold(cast.ines, cast.gauge)
    run_daily(range(0, -23, -1))
    weekly = ["2026-09-08", "2026-09-15", "2026-09-22"]
    assert [escalations(one) for one in (cast.admin, cast.quinn, cast.ines)] == [weekly] * 3
    assert len(bodies(cast.admin)) == 3
    assert "Certificate CG-1 ran out on 2026-09-01, 21 days ago: G-01 (Ines Inspector)" in told(cast.admin)[2]
    assert bodies(cast.igor) == bodies(cast.clara) == []


def test_an_escalation_says_who_was_told_when(cast: Cast) -> None:
    hold(cast.ines, cast.gauge)
    run_daily((30, 0, -7, -14))
    first, second = bodies(cast.admin)
    # The shims, which nobody holds, were told to the manager alone.
    twice = "(2 times, last on 2026-09-01)"
    assert re.findall("Told before: .*", first) == [
        f"Told before: Ines Inspector {twice}, Quinn Quality {twice}.",
        f"Told before: Quinn Quality {twice}.",
    ]
    often = "(3 times, last on 2026-09-08)"
    assert f"Told before: Adam Admin (on 2026-09-08), Ines Inspector {often}, Quinn Quality {often}." in second


def test_an_escalation_of_what_nobody_was_told_says_so(cast: Cast) -> None:
    remind(on(-30))
    assert "Nobody had been told before." in bodies(cast.admin)[0]


def test_letters_written_later_on_one_day_say_the_same_of_who_was_told(cast: Cast) -> None:
    run_daily((0, -7))
    anna = person("Anna Administrator", cast.company, Role.ADMINISTRATOR)
    remind(on(-7))
    assert bodies(anna) == bodies(cast.admin)
    assert "Told before: Quinn Quality (on 2026-09-01)." in bodies(anna)[0]


@pytest.mark.parametrize("settled", ["calibrated", "retired", "at_laboratory", "quarantined"])
def test_what_is_settled_is_not_escalated(cast: Cast, settled: str) -> None:
    remind(on(0))
    ReferenceStandard.objects.update(state="retired")
    if settled == "calibrated":
        certificate(cast, "CG-2", date(2027, 8, 1), cast.gauge)
    else:
        Gauge.objects.update(state=settled)
    run_daily(range(-1, -30, -1))
    assert bodies(cast.admin) == []
    assert len(bodies(cast.quinn)) == 1


def test_qualifications_and_equipment_without_a_certificate_are_escalated_too(cast: Cast) -> None:
    hold(cast.ines, climate_meter("H-01", on(100)))
    qualification(cast.igor, EXPIRES - timedelta(days=100))
    remind(on(93))
    assert told(cast.admin) == [
        [
            "Coating inspector 2 of Igor Inspector ran out on 2026-05-24, 7 days ago",
            "H-01 (Ines Inspector) has had no certificate since 2026-05-24, for 7 days",
        ]
    ]
    assert escalations(cast.ines) == escalations(cast.igor) == escalations(cast.quinn) == ["2026-05-31"]


def test_the_company_chooses_after_how_many_days_it_escalates(cast: Cast) -> None:
    choose(cast, escalate_after_days=3)
    run_daily(range(0, -5, -1))
    assert escalations(cast.admin) == ["2026-09-04"]
    # Another choice is counted from the same day on which it ran out.
    choose(cast, escalate_after_days=4)
    run_daily(range(-5, -13, -1))
    assert escalations(cast.admin) == ["2026-09-04", "2026-09-06", "2026-09-09", "2026-09-13"]


# --- the letter as its reader sees it -------------------------------------------------------------------------------


def test_the_letter_lists_what_is_overdue_first_then_by_date_then_what_was_told_before(cast: Cast) -> None:
    hold(cast.ines, climate_meter("H-01", on(20)))
    qualification(cast.igor, EXPIRES - timedelta(days=15))
    qualification(cast.ines, EXPIRES + timedelta(days=30))  # told before, not overdue: not in the letter
    run_daily((18, 13))
    old = certificate(cast, "OLD-1", EXPIRES - timedelta(days=9), climate_meter("H-02"), climate_meter("H-03"))
    remind(on(7))
    letter = Letter.objects.filter(recipient=cast.quinn.email).last()
    assert letter
    assert letter.subject == "Certificates and qualifications: 1 escalated, 1 overdue, 2 running out"
    certificates = "http://localhost:8000/instruments/certificates"
    expected = f"""\
Escalated to the administrators, because it is still overdue

- Coating inspector 2 of Igor Inspector ran out on 2026-08-17, 8 days ago. See that it is renewed, and record the new one.
  http://localhost:8000/people/{cast.igor.pk}/
  Told before: Igor Inspector (2 times, last on 2026-08-19), Quinn Quality (2 times, last on 2026-08-19).

Overdue

- Certificate OLD-1 ran out on 2026-08-23, 2 days ago: H-02, H-03 (in store). Have them calibrated, or record the new certificate.
  {certificates}/{old.pk}/

Running out

- Certificate CG-1 runs out on 2026-09-01, in 7 days: G-01 (in store). Have it calibrated, or record the new certificate.
  {certificates}/{cast.gauge_certificate.pk}/

- Certificate CS-1 runs out on 2026-09-01, in 7 days: S-125, S-250, S-50, S-500 (in store). Have them calibrated, or record the new certificate.
  {certificates}/{cast.shim_certificate.pk}/

Also overdue, as told before

- H-01 (Ines Inspector): no certificate for 13 days

No work can be begun with what has run out.

All that needs a decision of yours:
http://localhost:8000/decisions/
"""  # noqa: E501 - a letter is not wrapped
    assert letter.body == expected


def test_a_letter_of_one_thing_says_it_in_the_subject(cast: Cast) -> None:
    qualification(cast.ines, EXPIRES - timedelta(days=1))
    for days, subject in (
        (2, "Your qualification Coating inspector 2 runs out on 2026-08-31, in 1 day"),
        (1, "Your qualification Coating inspector 2 runs out today, 2026-08-31"),
        (-6, "Your qualification Coating inspector 2 ran out on 2026-08-31, 7 days ago (escalated)"),
    ):
        remind(on(days))
        last = Letter.objects.filter(recipient=cast.ines.email).last()
        assert last
        assert last.subject == subject


def test_a_subject_is_cut_where_the_names_are_long(cast: Cast) -> None:
    qualification(cast.ines, EXPIRES - timedelta(days=1), "Inspector of " + "coatings and linings " * 5)
    Person.objects.filter(pk=cast.ines.pk).update(name="Ines " + "van der Lange " * 8)
    remind(on(61))
    letter = Letter.objects.get(recipient=cast.quinn.email)
    assert letter.subject.startswith("Inspector of coatings")
    assert letter.subject.endswith("van der Lange…")
    assert len(letter.subject) <= 200


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ("block", "No work can be begun with what has run out."),
        ("warn", "Work may be begun with what has run out, but what rests on it will be in question."),
    ],
)
def test_the_letter_says_what_follows_as_the_company_chose(cast: Cast, chosen: str, words: str) -> None:
    choose(cast, overdue=chosen)
    remind(on(7))
    assert words not in bodies(cast.quinn)[0]
    remind(on(-1))
    assert words in bodies(cast.quinn)[1]


@pytest.mark.parametrize("name", ["quinn", "ines", "admin"])
def test_every_address_in_a_letter_opens_for_its_reader(cast: Cast, name: str) -> None:
    hold(cast.ines, cast.gauge, climate_meter("H-01"))
    qualification(cast.ines)
    qualification(cast.igor)
    remind(on(-8))
    client = Client()
    client.force_login(getattr(cast, name))
    addresses = re.findall(r"\S*http\S*", bodies(getattr(cast, name))[0])
    assert len(addresses) >= 4
    for address in addresses:
        assert address.startswith("http://localhost:8000/")
        assert client.get(address.removeprefix("http://localhost:8000")).status_code == 200, address


# --- the rows -------------------------------------------------------------------------------------------------------


def test_what_was_told_cannot_be_untold(cast: Cast) -> None:
    remind(on(7))
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Reminded.objects.update(threshold=60)


def test_it_asks_as_often_for_thirty_as_for_three(cast: Cast) -> None:
    def fill(numbers: range) -> None:
        for number in numbers:
            gauge = Gauge.objects.create(identity=f"P-{number}", kind=Gauge.Kind.PROFILE, holder=cast.ines)
            certificate(cast, f"P-{number}", EXPIRES, gauge)
            hold(cast.ines, climate_meter(f"H-{number}"))
            qualification(cast.ines, under=f"Scheme {number}")

    def asked(days_before: int) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert remind(on(days_before)) == 3
        return len(queries)

    fill(range(3))
    few = asked(-7)
    fill(range(3, 30))
    assert asked(-14) <= few


def test_a_manager_who_is_administrator_too_is_told_once(cast: Cast) -> None:
    both = person("Bea Both", cast.company, Role.QUALITY_MANAGER)
    both.grants.create(role=Role.ADMINISTRATOR)
    remind(on(-7))
    assert names(both) == [["CG-1", "CS-1"]]
