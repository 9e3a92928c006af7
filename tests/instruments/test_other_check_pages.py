"""Checks of instruments that measure no coating, on pages and by the API: registered, made, corrected, recalled."""

from __future__ import annotations

import json
from datetime import timedelta

import time_machine
from django.test import Client
from django.urls import reverse

from inspection.foundation.ids import new_id
from inspection.instruments.models import Certificate, Gauge, ReferenceStandard, Verification
from tests.cast import Cast
from tests.fieldwork.test_sheet_pages import words
from tests.instruments.test_other_checks import DAWN, paper, salts, standing
from tests.standing.scene import clock


def certificate_of(number: str, **values: str) -> dict[str, str]:
    return {
        "number": number, "laboratory": "Maker of solutions", "issued": "2026-01-01", "expires": "2026-12-31",
        "coverage_factor": "2", "traceable_to": "the national institute", "unit": "um", "rows": "6", **values,
    }  # fmt: skip


def test_a_meter_from_its_registration_to_the_recall_of_its_solution(cast: Cast, client: Client) -> None:
    client.force_login(cast.quinn)
    with time_machine.travel(DAWN, tick=False):
        form = words(client.get(reverse("gauge_new")))
        assert "Checked on site before and after work" in form
        meter = {"identity": "CM-1", "kind": "salts", "unit": "um", "checked_on_site": "on"}
        shown = words(client.post(reverse("gauge_new"), meter, follow=True))
        assert "Tolerance of its checks ± 5 %" in shown
        assert "since 2026-03-" in shown
        bottle = {"identity": "KCL-84", "kind": "solution", "unit": "um"}
        assert "conductivity on its label" in words(client.post(reverse("standard_new"), bottle))
        assert "sold as 84 µS/cm" in words(
            client.post(reverse("standard_new"), bottle | {"nominal": "84"}, follow=True)
        )
        gauge, solution = Gauge.objects.get(identity="CM-1"), ReferenceStandard.objects.get(identity="KCL-84")
        paper(cast, "P-CM-1", gauges=[gauge])
        lot = certificate_of("LOT-7", **{"value1-standard": str(solution.pk), "value1-value": "84"})
        assert "uncertainty, in µS/cm" in words(client.post(reverse("certificate_new"), lot))
        shown = words(client.post(reverse("certificate_new"), lot | {"value1-uncertainty": "±0,8"}, follow=True))
        assert "84 ± 0.8 µS/cm" in shown
        for name in ("standard", "equipment"):
            args = [solution.pk] if name == "standard" else []
            assert "84 ± 0.8 µS/cm" in words(client.get(reverse(name, args=args), {"show": "standards"})), name
    client.force_login(cast.ines)
    address = reverse("verification_new")
    asked = {
        "gauge": str(gauge.pk), "project": str(cast.site.project.pk), "purpose": "opening", "as_left": "left",
        "adjustment": "none", "on": str(solution.pk), "id": str(new_id()),
    }  # fmt: skip
    with time_machine.travel(clock("07:00"), tick=False):
        assert "CM-1" in words(client.get(address))
        record_form = words(client.get(reverse("salts_new", args=[cast.site.project.pk])))
        assert "not checked in the shift that began" in record_form
        step = words(client.get(address, {"gauge": str(gauge.pk)}))
        assert "standard solution each shift" in step
        assert "KCL-84, standard solution 84 ± 0.8 µS/cm" in step
        query = "?" + "&".join(f"{name}={value}" for name, value in asked.items())
        assert "Rinse the cell" in words(client.get(address + query))
        typed = {"readings1": "84,1 84.3", "taken_at": "2026-03-04T06:50", "note": ""}
        typed["taken_at"] = f"{clock('06:50'):%Y-%m-%dT%H:%M}"
        wrong = client.post(address + query, typed | {"readings1": "84 much"})
        assert wrong.status_code == 422
        assert "is no number" in words(wrong)
        shown = words(client.post(address + query, typed, follow=True))
        assert "agrees with its reference within the tolerance, ± 5 % of the reference" in shown
        assert "84.1 84.3" in shown
    record = salts(cast, "09:00", gauge)
    opening = Verification.objects.get(gauge=gauge)
    with time_machine.travel(clock("15:30"), tick=False):
        assert "A1" in words(client.get(reverse("verification", args=[opening.pk])))
        body = {
            "id": str(new_id()), "gauge": str(gauge.pk), "project": str(cast.site.project.pk), "purpose": "closing",
            "as_left": False, "taken_at": clock("15:00").isoformat(),
            "points": [{"standards": [str(solution.pk)], "readings": [90.1]}],
        }  # fmt: skip
        answers = [
            client.post(reverse("api_verification_list"), json.dumps(body), content_type="application/json")
            for _ in range(2)
        ]
        assert [answer.status_code for answer in answers] == [201, 200], answers[0].content
        point = answers[0].json()["points"][0]
        assert (answers[0].json()["verdict"], point["reference"], point["readings"]) == ("fail", 84, [90.1])
        told = client.get(reverse("api_gauge", args=[gauge.pk])).json()
        assert (told["site_check"]["unit"], told["site_check"]["on"]) == ("µS/cm", ["solution"])
        assert standing(record)[0] == "in_question"
        page = client.get(reverse("verification", args=[body["id"]])).content.decode()
        correct = page.split("Correct it")[0].rsplit('href="', 1)[1].split('"')[0].replace("&amp;", "&")
        assert 'rows="2"' in (form_page := client.get(correct).content.decode())
        assert "90.1" in form_page
        typed |= {"taken_at": f"{clock('15:00'):%Y-%m-%dT%H:%M}", "readings1": "84.1", "replacement_reason": "Misread"}
        client.post(correct, typed)
        assert standing(record) == ("sound", "")
        assert "was checked before and after" in words(client.get(reverse("salts", args=[record.pk])))
    client.force_login(cast.quinn)
    lot_of = Certificate.objects.get(number="LOT-7")
    value = lot_of.values.get()
    sent = {f"value-{value.pk}": "79,5", f"uncertainty-{value.pk}": "0.8"}
    shown = words(client.get(reverse("recall_correct", args=[lot_of.pk]), sent))
    assert "84 ± 0.8 µS/cm 79.5 ± 0.8 µS/cm" in shown
    assert "S1" not in shown
    with time_machine.travel(clock("16:00") + timedelta(hours=1), tick=False):
        assert "No longer" in words(client.get(reverse("gauge_checks", args=[gauge.pk])))
        client.post(reverse("gauge_checks", args=[gauge.pk]), {"reason": "A kit without a meter"})
        assert "no, its certificate alone" in words(client.get(reverse("gauge", args=[gauge.pk])))
    client.force_login(cast.carl)
    assert client.get(reverse("verification", args=[opening.pk])).status_code == 404
