"""Holiday tests, cut tests, cure, hardness, defects: form or API to verdict, cautions of high voltage, ways back."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.fieldwork.cure.recording import CURE
from inspection.fieldwork.cuttest.recording import CUT_TEST
from inspection.fieldwork.defects.recording import DEFECTS
from inspection.fieldwork.hardness.recording import HARDNESS
from inspection.fieldwork.highvoltage.models import HighVoltageRecord
from inspection.fieldwork.highvoltage.recording import HIGH_VOLTAGE
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.tested import AsTested
from inspection.fieldwork.wetsponge.recording import WET_SPONGE
from inspection.foundation.refusals import Asked, Refused
from inspection.holdpoints import actions as points
from inspection.holdpoints.evidence import evidence_of
from inspection.standing.models import Standing
from reports.daily.gathering import gather
from reports.daily.pdf.document import draw
from reports.verify import records as verified
from tests.cast import DAY, MORNING, Cast
from tests.fieldwork.after_paint import instrument, post, sent, stored, typed
from tests.fieldwork.build import correct_by_page
from tests.fieldwork.test_sheet_pages import words
from tests.past_triggers import rewrite
from tests.standing.scene import measure

HOLE = {"place": "frame 12, above the weld", "seen": "pinhole"}
SPONGE = {"standard": "ASTM D5162", "dry_film_um": 300, "voltage_v": 67.5, "wetting_agent": True, "earth_proven": True,
          "tested_m2": 8, "holidays": []}  # fmt: skip
HIGH = {"standard": "NACE SP0274", "dry_film_um": 1500, "voltage_v": 9600, "voltmeter_v": 9500, "earth_proven": True,
        "tested_m2": 8, "holidays": [], "cured_h": 168, "dielectric_strength_kv_per_mm": 15,
        "thinnest_film_um": 1200}  # fmt: skip
CUT = {"scale": "ISO 2409", "edition": "2020", "cuts": [{"place": "web", "rating": "1"}], "worst_rating": "1",
       "dry_film_um": 180, "spacing_mm": 3, "cuts_wanted": 1, "substrate": "hard"}  # fmt: skip
RUB = {"method": "ASTM D4752", "places": [{"place": "web", "rating": 4}], "least": 4, "cured_h": 48, "solvent": "MEK"}
RUNS = {"kind": "runs", "extent": "3", "place": "frame 12", "acceptable": False}
# Twice each (ASTM D3363, stored source).
PENCILS = {"method": "ASTM D3363 gouge", "places": [{"place": "web", "pencils": ["H", "2H"]}], "least": "H",
           "cured_h": 168, "pencil_set": "Set 4"}  # fmt: skip
DENTS = {"method": "ISO 2815 Buchholz", "places": [{"place": "web", "lengths_mm": [1.0, 1.25, 1.0, 0.75, 1.0]}],
         "least": 100, "dry_film_um": 240, "least_film_um": 20, "steel_c": 23, "cured_h": 168}  # fmt: skip
SEEN: dict[str, Any] = {"defects": [RUNS]}
KINDS: dict[str, tuple[AsTested, dict[str, Any]]] = {
    "wetsponge": (WET_SPONGE, SPONGE), "highvoltage": (HIGH_VOLTAGE, HIGH), "cuttest": (CUT_TEST, CUT),
    "cure": (CURE, RUB), "hardness": (HARDNESS, DENTS), "defects": (DEFECTS, SEEN),
}  # fmt: skip
# What is typed of each, and as what the lines come back in a correction.
LINES = {
    "wetsponge": {"holidays": "frame 12, above the weld; pinhole\nbracket 3"},
    "highvoltage": {"holidays": "frame 12, above the weld"},
    "cuttest": {"cuts": "web: 1; flakes at the crossings\nflange: 0"},
    "cure": {"places": "web: 4\nflange: 5"},
    "hardness": {"places": "web: 1 1.25 1 0.75 1\nflange: 1 1"},
    "defects": {"defects": "runs; 3; frame 12; not accepted\ndry spray; 0,4 m²; web; accepted"},
}


# --- the verdict ------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("kind", "changes", "verdict", "found"),
    [
        ("wetsponge", {}, "pass", "no holiday on 8 m²"),
        ("wetsponge", {"holidays": [HOLE]}, "fail", "1 holiday on 8 m², 0.12/m²"),
        # ASTM G62 method A (stored source): a wetting agent above 0.254 mm.
        ("wetsponge", {"wetting_agent": False}, "not judged", "no holiday"),
        # NACE SP0274: 1250 × √mil (stored source); 1500 µm are 59.06 mil and 9606 V.
        ("highvoltage", {}, "pass", "no holiday"),
        ("highvoltage", {"voltage_v": 8000, "voltmeter_v": 8000}, "not judged", "no holiday"),
        ("highvoltage", {"holidays": [HOLE, HOLE]}, "fail", "2 holidays on 8 m², 0.25/m²"),
        ("cuttest", {}, "pass", "ISO 2409, 1 cut, worst rating 1"),
        # ISO 2409 ends at 250 µm in all (stored source).
        ("cuttest", {"dry_film_um": 260}, "not judged", "worst rating 1"),
        ("cuttest", {"scale": "ASTM D3359 method A", "worst_rating": "5A", "spacing_mm": None,
                     "cuts": [{"place": "web", "rating": "4A"}]}, "fail", "worst rating 4A"),
        # ASTM D4752, ratings 5 to 0 (from memory).
        ("cure", {"least": 5}, "fail", "lowest rating 4"),
        ("cure", {"least": None}, "not judged", "lowest rating 4"),
        # ASTM D5402 fixes neither solvent nor rubs nor result (stored source).
        ("cure", {"method": "ASTM D5402", "places": [{"place": "web", "as_agreed": True}], "least": None,
                  "solvent": None}, "not judged", "1 of 1 places as agreed"),
        # HB is softer than F, F than H (ASTM D3363, from memory); the softer of two trials counts.
        ("hardness", PENCILS, "pass", "gouge, softest H"),
        ("hardness", PENCILS | {"places": [{"place": "web", "pencils": ["H", "F"]}]}, "fail", "softest F"),
        # ISO 2815: 100 over the length in mm (from memory); a film below its annex is not judged (stored source).
        ("hardness", {}, "pass", "lowest resistance 100"),
        ("hardness", {"least": 110}, "fail", "lowest resistance 100"),
        ("hardness", {"dry_film_um": 15}, "not judged", "lowest resistance 100"),
        ("defects", {}, "fail", "1 defect, 1 not acceptable"),
        ("defects", {"defects": [RUNS | {"acceptable": True}]}, "pass", "1 defect, none not acceptable"),
        ("defects", {"defects": []}, "pass", "nothing found"),
    ],
)  # fmt: skip
def test_what_was_found_is_judged(cast: Cast, kind: str, changes: dict[str, Any], verdict: str, found: str) -> None:
    how, usual = KINDS[kind]
    record = stored(cast, how, usual | changes)
    assert record.verdict == verdict
    assert found in record.found
    assert BY_NAME[kind].verdict(record) == verdict
    assert BY_NAME[kind].digest(record) == record.digest


@pytest.mark.parametrize(
    ("kind", "changes", "field"),
    [
        ("wetsponge", {"voltage_v": None}, "voltage_v"),
        ("wetsponge", {"voltage_v": 900}, "voltage_v"),
        ("wetsponge", {"tested_m2": 0}, "tested_m2"),
        ("wetsponge", {"holidays": [{"place": "", "seen": "pinhole"}]}, "holidays"),
        ("highvoltage", {"voltage_v": None}, "voltage_v"),
        ("highvoltage", {"thinnest_film_um": 1600}, "thinnest_film_um"),
        ("cuttest", {"cuts": [{"place": "web", "rating": "5B"}]}, "cuts"),
        ("cuttest", {"cuts": [{"place": "web", "rating": "6"}]}, "cuts"),
        ("cuttest", {"worst_rating": "4A"}, "worst_rating"),
        ("cuttest", {"spacing_mm": None}, "spacing_mm"),
        ("cure", {"places": [{"place": "web", "rating": 6}]}, "places"),
        ("cure", {"places": [{"place": "web", "pencil": "H"}]}, "places"),
        ("cure", {"places": [{"place": "web", "readings": [35, 36, 37]}], "method": "Barcol"}, "method"),
        ("cure", {"places": [{"place": "web", "pencil": "H"}], "method": "ASTM D3363", "least": "H"}, "method"),
        ("cure", {"least": "H"}, "least"),
        ("hardness", {"least": "H"}, "least"),
        ("hardness", {"method": "Barcol", "places": [{"place": "web", "readings": [35, 36]}], "least": 30}, "places"),
        ("hardness", {"places": [{"place": "web", "readings": [35, 36, 37]}]}, "places"),
        ("defects", {"defects": [RUNS | {"extent": "Ri 3"}]}, "defects"),
        ("defects", {"defects": [RUNS | {"kind": "ghosts"}]}, "defects"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_refused_with_its_field(cast: Cast, kind: str, changes: dict[str, Any], field: str) -> None:
    how, usual = KINDS[kind]
    with pytest.raises(Refused) as refused:
        stored(cast, how, usual | changes)
    assert {fault.field for fault in refused.value.faults} == {field}
    assert not how.model.objects.exists()  # type: ignore[attr-defined]  # every kind has one


@pytest.mark.parametrize(
    ("kind", "changes", "said"),
    [
        ("wetsponge", {"speed_m_per_s": 0.5}, r"0\.5 m/s"),
        ("wetsponge", {"tested_m2": 900}, "900 m² were tested of an area of 8 m²"),
        # Dielectric strength times the thinnest film (stored source): 15 kV/mm and 0.6 mm bear 9000 V.
        ("highvoltage", {"thinnest_film_um": 600}, "9000 V"),
        ("highvoltage", {}, "No confirmation of the cautions"),
        ("cuttest", {"edition": ""}, "edition"),
        ("hardness", PENCILS | {"places": [{"place": "web", "pencils": ["H"]}]}, "two trials"),
        ("hardness", {"least_film_um": None}, "what its annex asks"),
        ("cure", {"cured_h": None}, "how long the film had cured"),
    ],
)
def test_what_is_doubtful_is_asked_about_and_then_stored(
    cast: Cast, kind: str, changes: dict[str, Any], said: str
) -> None:
    how, usual = KINDS[kind]
    with pytest.raises(Asked, match=said):
        stored(cast, how, usual | changes, ask=True)
    assert stored(cast, how, usual | changes).pk


# --- pages and API ----------------------------------------------------------------------------------------------------
def test_a_pencil_of_before_stays_a_cure_test_that_is_read_and_corrected(cast: Cast, client: Client) -> None:
    """A new one goes to hardness. F is softer than H (ASTM D3363, from memory)."""
    record = stored(cast, CURE, RUB)
    seen = {"method": "ASTM D3363", "places": [{"place": "web", "pencil": "F"}], "least": "H", "cured_h": 48}
    rewrite(CURE.model.objects.all(), method="ASTM D3363", observed=seen)  # type: ignore[attr-defined]  # every kind has one
    client.force_login(cast.ines)
    address = reverse("cure_new", args=[cast.site.project.pk])
    assert "D3363" not in client.get(address).content.decode()
    correct = f"{address}?replaces={record.pk}"
    assert "ASTM D3363, as recorded" in client.get(correct).content.decode()
    changed = typed(cast, method="ASTM D3363", places="web: H", least="H", cured_h=48, replacement_reason="Misread")
    with time_machine.travel(MORNING, tick=False):
        answer = correct_by_page(client, correct, changed)
        assert answer.status_code == 302, words(answer)
    newest = CURE.model.objects.get(replaces=record.pk)  # type: ignore[attr-defined]  # as above
    assert (newest.verdict, newest.found) == ("pass", "ASTM D3363, softest H")


@pytest.mark.parametrize("kind", KINDS)
def test_from_the_form_to_its_page_and_back_by_a_correction(cast: Cast, client: Client, kind: str) -> None:
    client.force_login(cast.ines)
    lines = LINES[kind]
    figures = {name: value for name, value in KINDS[kind][1].items() if name not in lines}
    address = reverse(f"{kind}_new", args=[cast.site.project.pk])
    with time_machine.travel(MORNING, tick=False):
        if kind == "highvoltage":
            client.post(address, {"cautions": "confirmed"})
        answer = client.post(address, typed(cast, **figures, **lines, confirmed="no"), follow=True)
        if answer.status_code == 422:
            said = words(answer)
            assert "Nothing is stored yet" in said, said
            asked = answer.context["form"].as_asked
            answer = client.post(address, typed(cast, **figures, **lines, confirmed=asked), follow=True)
        shown = words(answer)
        assert f"{BY_NAME[kind].title} of A1" in shown
        record = KINDS[kind][0].model.objects.get()  # type: ignore[attr-defined]  # every kind has one
        correct = f"{address}?replaces={record.pk}"
        form = client.get(correct).content.decode().replace("&#x27;", "'")
        for line in next(iter(lines.values())).splitlines():
            assert line in form
        first = next(iter(lines.values())).splitlines()[0]
        changed = typed(
            cast,
            **figures,
            **{next(iter(lines)): first},
            note="Read again",
            replacement_reason="One was of another area",
        )
        answer = correct_by_page(client, correct, changed)
        if answer.status_code == 422:
            answer = correct_by_page(client, correct, changed | {"confirmed": answer.context["form"].as_asked})
        assert answer.status_code == 302, words(answer)
        assert JournalEntry.objects.get(verb=f"{kind}.corrected").reason == "One was of another area"
        assert "This version was replaced" in words(client.get(reverse(kind, args=[record.pk])))
        for name in (f"{kind}_list", "records", "today"):
            assert "A1" in words(client.get(reverse(name))), name
    client.force_login(cast.carl)
    assert client.get(reverse(kind, args=[record.pk])).status_code == 404


@pytest.mark.parametrize("kind", KINDS)
def test_by_the_api_and_sent_again(cast: Cast, client: Client, kind: str) -> None:
    client.force_login(cast.ines)
    body = sent(cast, **KINDS[kind][1])
    answers = [post(client, kind, body) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200], answers[0].content
    told = client.get(reverse(f"api_{kind}", args=[body["id"]])).json()
    assert told["verdict"] == answers[0].json()["verdict"]
    assert told["result"]["checks"]
    assert client.get(reverse(f"api_{kind}_list")).json()["results"][0]["id"] == body["id"]
    other = body | {"note": "another"}
    assert post(client, kind, other).status_code == 409


# --- cautions before high voltage -------------------------------------------------------------------------------------
def test_the_form_of_high_voltage_opens_only_after_its_cautions_and_who_confirmed_is_kept(
    cast: Cast, client: Client
) -> None:
    site = cast.site
    client.force_login(cast.ines)
    address = reverse("highvoltage_new", args=[site.project.pk])
    with time_machine.travel(MORNING, tick=False):
        shown = words(client.get(address))
        assert "High voltage can kill" in shown
        assert "Voltage set" not in shown
        figures = {name: value for name, value in HIGH.items() if name != "holidays"}
        assert "High voltage can kill" in words(client.post(address, typed(cast, **figures)))
        assert not HighVoltageRecord.objects.exists()
        opened = client.post(f"{address}?area={site.area.pk}", {"cautions": "confirmed"}, follow=True)
        assert "Voltage set" in words(opened)
        entry = JournalEntry.objects.get(verb="highvoltage.cautions_confirmed")
        assert (entry.actor_id, entry.project_id) == (cast.ines.pk, site.project.pk)
        # The day's confirmation stands for the day and is that of who tests.
        client.post(address, {"cautions": "confirmed"})
        assert JournalEntry.objects.filter(verb="highvoltage.cautions_confirmed").count() == 1
        record = stored(cast, HIGH_VOLTAGE, HIGH)
        assert record.cautions_confirmed_at == entry.at
        assert "Cautions confirmed" in words(client.get(reverse("highvoltage", args=[record.pk])))
        client.force_login(cast.quinn)
        assert "Voltage set" not in words(client.get(address))
    with time_machine.travel(MORNING.replace(day=MORNING.day + 1), tick=False):
        client.force_login(cast.ines)
        assert "Voltage set" not in words(client.get(address))


def test_evidence_sent_without_a_confirmation_is_kept_and_says_so(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    told = post(client, "highvoltage", sent(cast, **HIGH)).json()
    assert told["cautions_confirmed_at"] is None
    assert any("No confirmation of the cautions" in warning for warning in told["warnings"])
    with time_machine.travel(MORNING, tick=False):
        answer = client.post(reverse("api_highvoltage_cautions", args=[cast.site.project.pk]))
        assert answer.status_code == 201
        assert "High voltage can kill" in answer.json()["cautions"][0]
        again = post(client, "highvoltage", sent(cast, **HIGH)).json()
        assert again["cautions_confirmed_at"] is not None


def test_the_film_of_a_holiday_test_comes_from_the_thickness_that_stands(cast: Cast, client: Client) -> None:
    measure(cast, "08:00", "08:20")
    client.force_login(cast.ines)
    at = f"?area={cast.site.area.pk}&coat={cast.site.coats[0].pk}"
    address = reverse("wetsponge_new", args=[cast.site.project.pk])
    form = client.get(address + at).context["form"]
    assert float(form["dry_film_um"].value()) > 0
    assert client.get(address).context["form"]["dry_film_um"].value() is None


# --- what rests on them -----------------------------------------------------------------------------------------------
def test_points_report_bundle_and_verify_tell_them(cast: Cast) -> None:
    site = cast.site
    (point,) = points.plan_points(
        cast.quinn, project=site.project, areas=[site.area], coat=site.coats[0], kind="hold", title="Film accepted",
        requires=["cuttest", "cure", "defects", "hardness", "wetsponge"],
    )  # fmt: skip
    for kind, (how, usual) in KINDS.items():
        gauge = instrument(cast, how.instrument, f"I-{kind}") if how.instrument else None
        record = stored(cast, how, usual, gauge=gauge)
        assert Standing.objects.get(record=record).state == "sound"
    why = " ".join(evidence_of(point).why_not)
    assert "Visual defects: fail." in why
    for passed in ("Cut test", "Cure test", "Wet-sponge"):
        assert passed not in why
    stored(cast, DEFECTS, {"defects": []}, taken_at=MORNING.replace(hour=MORNING.hour + 1))
    assert "Visual defects" not in " ".join(evidence_of(point).why_not)
    facts = gather(site.project, DAY)
    assert {row.kind for row in facts.observed} == set(KINDS)
    assert draw(facts)
    assert not [said for said in verified.differences() if "test record" in said or "visual" in said]
