"""Certificates on pages: recorded value by value, corrected, downloaded, and their chain to a national institute."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inspection.instruments import actions
from inspection.instruments.models import Certificate
from tests.cast import Cast
from tests.instruments.pages import as_person, checked, text_of
from tests.past_triggers import rewrite

PDF = b"%PDF-1.4\n%%EOF\n"


def sent(cast: Cast, **changed: Any) -> dict[str, Any]:
    return {
        "number": "CS-2", "laboratory": "Example Laboratory", "issued": "2026-01-05", "expires": "2027-01-05",
        "coverage_factor": "2", "traceable_to": "National institute", "unit": "um", "rows": "6",
        "value1-standard": str(cast.shims[50].pk), "value1-value": "50,1", "value1-uncertainty": "0.9",
        "value3-standard": str(cast.shims[125].pk), "value3-value": "125.2", "value3-uncertainty": "0.9",
        "file": SimpleUploadedFile("../../scan.pdf", PDF, "application/pdf"),
    } | changed  # fmt: skip


def test_a_certificate_is_recorded_from_its_rows(cast: Cast) -> None:
    answer = as_person(cast.quinn).post(reverse("certificate_new"), sent(cast))
    paper = Certificate.objects.get(number="CS-2")
    assert answer.headers["Location"] == reverse("certificate", args=[paper.pk])
    assert {(value.standard.identity, value.value_nm) for value in paper.values.all() if value.standard} == {
        ("S-50", 50_100),
        ("S-125", 125_200),
    }
    assert paper.file is not None
    assert paper.file.name == "scan.pdf"


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"value1-uncertainty": ""}, "Give its expanded uncertainty."),
        ({"value1-standard": ""}, "Choose the standard this value belongs to."),
        ({"value3-value": "12.52"}, "12.5 µm is far from the 125.0 µm S-125 is sold as; check value and row."),
        ({"value1-value": "-50"}, "-50 µm is negative; a thickness is zero or more."),
        ({"expires": "2026-01-05"}, "The expiry date must be after the issue date."),
        ({"issued": "05/01/2026"}, "Write the date as 2026-03-04 or 04.03.2026."),
        ({"file": SimpleUploadedFile("x.pdf", b"MZ\x90", "application/pdf")}, "neither PDF nor PNG nor JPEG"),
        ({"file": SimpleUploadedFile("x.pdf", b"", "application/pdf")}, "The submitted file is empty."),
    ],
)
def test_a_slip_names_its_place_and_loses_nothing(cast: Cast, changed: dict, words: str) -> None:
    answer = as_person(cast.quinn).post(reverse("certificate_new"), sent(cast, **changed))
    page = text_of(answer)
    assert answer.status_code == 422
    assert words in page
    assert 'value="Example Laboratory"' in page
    assert not Certificate.objects.filter(number="CS-2").exists()


def test_a_date_with_dots_and_an_uncertainty_with_its_sign_are_understood(cast: Cast) -> None:
    typed = sent(cast, issued="05.01.2026")
    boxes = [name for name, value in typed.items() if name.endswith("-uncertainty") and value]
    as_person(cast.quinn).post(reverse("certificate_new"), {**typed, **dict.fromkeys(boxes, "±0,4")})
    paper = Certificate.objects.get(number="CS-2")
    assert boxes
    assert f"{paper.issued}" == "2026-01-05"
    assert {value.expanded_uncertainty_nm for value in paper.values.exclude(standard=None)} == {400}


def test_more_rows_keep_what_was_typed_and_store_nothing(cast: Cast) -> None:
    answer = as_person(cast.quinn).post(reverse("certificate_new"), sent(cast, more="1", number=""))
    page = text_of(answer)
    assert answer.status_code == 200
    assert 'name="value12-value"' in page
    assert 'value="50,1"' in page
    assert "Please put right" not in page


def test_a_correction_starts_from_what_was_recorded(cast: Cast) -> None:
    client = as_person(cast.quinn)
    where = reverse("certificate_correct", args=[cast.shim_certificate.pk])
    page = text_of(client.get(where))
    assert 'value="50.2"' in page
    assert 'value="CS-1"' in page
    client.post(where, sent(cast, number="CS-1", reason="Value misread", file=""))
    new = Certificate.objects.get(replaces=cast.shim_certificate)
    old_page = text_of(client.get(reverse("certificate", args=[cast.shim_certificate.pk])))
    assert "CS-1 v2" in old_page
    assert "Replaced by a correction" in old_page
    assert new.values.count() == 2


def test_the_file_is_served_as_a_download_to_those_who_may_see_the_certificate(cast: Cast) -> None:
    as_person(cast.quinn).post(reverse("certificate_new"), sent(cast))
    paper = Certificate.objects.get(number="CS-2")
    answer = as_person(cast.ines).get(reverse("certificate_file", args=[paper.pk]))
    assert b"".join(answer.streaming_content) == PDF
    assert answer.headers["Content-Disposition"] == 'attachment; filename="scan.pdf"'
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Type"] == "application/pdf"
    for someone in (cast.carl, cast.audrey):
        assert as_person(someone).get(reverse("certificate_file", args=[paper.pk])).status_code == 404
    assert as_person(cast.ines).get(reverse("certificate_file", args=[cast.shim_certificate.pk])).status_code == 404


def test_an_auditor_sees_the_certificate_of_what_was_used_on_their_project(cast: Cast) -> None:
    where = reverse("certificate", args=[cast.shim_certificate.pk])
    assert as_person(cast.audrey).get(where).status_code == 404
    checked(cast)
    assert as_person(cast.audrey).get(where).status_code == 200
    assert as_person(cast.carl).get(where).status_code == 404


def test_the_chain_is_shown_up_to_the_institute(cast: Cast) -> None:
    paper = {"laboratory": "Metrology House", "issued": date(2024, 1, 1), "expires": date(2030, 1, 1)}
    top = actions.record_certificate(cast.quinn, number="T-1", traceable_to="The metre", **paper)
    middle = actions.record_certificate(cast.quinn, number="M-1", traceable_to="T-1", parent=top, **paper)
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), parent=middle)
    words = text_of(as_person(cast.quinn).get(reverse("certificate", args=[cast.shim_certificate.pk])))
    chain = words[words.index("What it is traceable to") :]
    assert chain.index("CS-1") < chain.index("M-1") < chain.index("T-1") < chain.index("The metre")


def test_the_register_of_certificates_is_filtered(cast: Cast) -> None:
    actions.withdraw_certificate(cast.quinn, certificate=cast.shim_certificate, reason="x")
    client = as_person(cast.quinn)
    words = text_of(client.get(reverse("certificate_list"), {"state": "withdrawn"}))
    assert ("CS-1" in words, "CG-1" in words) == (True, False)


def test_nobody_else_records_or_corrects(cast: Cast) -> None:
    for someone in (cast.ines, cast.admin):
        assert as_person(someone).get(reverse("certificate_new")).status_code == 403
        where = reverse("certificate_correct", args=[cast.shim_certificate.pk])
        assert as_person(someone).get(where).status_code == 403
    assert as_person(cast.carl).post(reverse("certificate_new"), sent(cast)).status_code == 403
