"""Certificates: recorded whole, corrected by a new version, withdrawn with a reason, told to whom it matters."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.http import Http404

from accounts import vault
from accounts.models import JournalEntry
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments import actions
from inspection.instruments.actions import StandardValue, UploadedContent
from inspection.instruments.models import Certificate, CertifiedValue
from inspection.instruments.signals import evidence_changed
from tests.cast import DAY, Cast

PDF = b"%PDF-1.4\n%%EOF\n"
PAPER: dict[str, Any] = {
    "number": "CS-2", "laboratory": "Example Laboratory", "accreditation": "CAL 7", "issued": date(2026, 1, 5),
    "expires": date(2027, 1, 5), "coverage_factor": Decimal(2), "traceable_to": "National institute",
}  # fmt: skip


@pytest.fixture
def heard() -> Iterator[list[dict[str, Any]]]:
    said: list[dict[str, Any]] = []

    def listen(**sent: Any) -> None:
        said.append(sent)

    evidence_changed.connect(listen)
    yield said
    evidence_changed.disconnect(listen)


def values(cast: Cast, *figures: tuple[int, int, int]) -> list[StandardValue]:
    return [StandardValue(cast.shims[nominal], value, uncertainty) for nominal, value, uncertainty in figures]


def test_a_certificate_is_stored_with_every_value_and_its_file(cast: Cast) -> None:
    certificate = actions.record_certificate(
        cast.quinn, **PAPER, gauges=[cast.gauge], values=values(cast, (50, 50_100, 900), (125, 125_200, 900)),
        file=UploadedContent("scan.pdf", PDF, "text/html"),
    )  # fmt: skip
    assert certificate.values.count() == 3
    assert certificate.file is not None
    assert certificate.file.media_type == "application/pdf"
    assert vault.content_of(certificate.file) == PDF
    entry = JournalEntry.objects.get(verb="certificate.recorded")
    assert entry.after["values"][0] == {"standard": "S-50", "value_nm": 50_100, "expanded_uncertainty_nm": 900}


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"issued": date(2999, 1, 1), "expires": date(2999, 2, 1)}, "issued", "lies in the future"),
        ({"expires": date(2026, 1, 5)}, "expires", "must be after the issue date"),
        ({"expires": date(2226, 1, 5)}, "expires", "too far off"),
        ({"number": " "}, "number", "Give the number printed on the certificate."),
        ({"number": "cs-1"}, "number", "already recorded; correct that one"),
        ({"coverage_factor": Decimal("0.5")}, "coverage_factor", "at least 1"),
        ({"traceable_to": ""}, "traceable_to", "Name the national institute"),
        ({"laboratory": "L" * 121}, "laboratory", "at most 120 characters"),
        ({"file": UploadedContent("x.pdf", b"")}, "file", "The file is empty"),
        ({"file": UploadedContent("x.pdf", b"<script>")}, "file", "neither PDF nor PNG nor JPEG"),
        ({"file": UploadedContent("x.pdf", PDF + b"0" * 10 * 2**20)}, "file", "at most 10 MB are taken"),
    ],
)
def test_a_certificate_that_cannot_be_is_refused_whole(cast: Cast, changed: dict, field: str, words: str) -> None:
    with pytest.raises(Refused) as refusal:
        actions.record_certificate(cast.quinn, **(PAPER | changed), values=values(cast, (50, 50_100, 900)))
    assert [(fault.field, words in fault.message) for fault in refusal.value.faults] == [(field, True)]
    assert Certificate.objects.count() == 2
    assert CertifiedValue.objects.count() == 5


@pytest.mark.parametrize(
    ("figures", "field"),
    [
        ([(50, 125_000, 900)], "value"),
        ([(50, 50_000, 0)], "uncertainty"),
        ([(50, 50_000, 30_000)], "uncertainty"),
        ([(125, 125_000, 900), (125, 125_100, 900)], "standard"),
    ],
)
def test_a_value_that_cannot_be_is_refused_by_row(cast: Cast, figures: list[tuple[int, int, int]], field: str) -> None:
    with pytest.raises(Refused) as refusal:
        actions.record_certificate(cast.quinn, **PAPER, values=values(cast, *figures))
    assert [(fault.field, fault.row) for fault in refusal.value.faults] == [(field, len(figures))]


def test_a_correction_is_a_new_version_and_the_old_one_stays(cast: Cast, heard: list[dict[str, Any]]) -> None:
    old = cast.shim_certificate
    paper = PAPER | {"number": old.number, "issued": old.issued, "expires": old.expires}
    new = actions.correct_certificate(
        cast.quinn, certificate=old, reason="Value of S-50 misread", **paper, values=values(cast, (50, 49_100, 900))
    )
    assert (new.version, new.replaces, str(new)) == (2, old, "CS-1 v2")
    old.refresh_from_db()
    assert old.values.get(standard=cast.shims[50]).value_nm == 50_200
    with pytest.raises(Conflict, match="already been corrected"):
        actions.correct_certificate(cast.quinn, certificate=old, reason="Again", **paper)
    assert heard == []  # no gauge was checked on these shims


def test_a_correction_says_why(cast: Cast) -> None:
    with pytest.raises(Refused, match="Say what was wrong"):
        actions.correct_certificate(cast.quinn, certificate=cast.gauge_certificate, reason=" ", **PAPER)


def test_a_correction_keeps_the_file_unless_a_new_one_comes(cast: Cast) -> None:
    first = actions.record_certificate(cast.quinn, **PAPER, file=UploadedContent("scan.pdf", PDF))
    second = actions.correct_certificate(cast.quinn, certificate=first, reason="Laboratory misspelt", **PAPER)
    assert second.file == first.file
    other = UploadedContent("new.png", b"\x89PNG\r\n\x1a\nx")
    third = actions.correct_certificate(cast.quinn, certificate=second, reason="Clearer scan", **PAPER, file=other)
    assert third.file is not None
    assert third.file.name == "new.png"


def test_a_withdrawn_certificate_is_withdrawn_once_and_can_be_reinstated(
    cast: Cast, heard: list[dict[str, Any]]
) -> None:
    certificate = cast.gauge_certificate
    with pytest.raises(Refused, match="Say why"):
        actions.withdraw_certificate(cast.quinn, certificate=certificate, reason="")
    actions.withdraw_certificate(cast.quinn, certificate=certificate, reason="Laboratory recalls it")
    assert "was withdrawn" in certificate.unusable_because(DAY)
    assert heard[-1]["gauges"] == [cast.gauge.pk]
    with pytest.raises(Conflict, match="already withdrawn: Laboratory recalls it"):
        actions.withdraw_certificate(cast.quinn, certificate=certificate, reason="Again")
    with pytest.raises(Conflict, match="was withdrawn"):
        actions.correct_certificate(cast.quinn, certificate=certificate, reason="Typing error", **PAPER)
    actions.reinstate_certificate(cast.quinn, certificate=certificate, reason="Recall was of another number")
    assert Certificate.objects.get(pk=certificate.pk).unusable_because(DAY) == ""
    assert [entry.verb for entry in JournalEntry.objects.order_by("id")] == [
        "certificate.withdrawn",
        "certificate.reinstated",
    ]


def test_withdrawing_a_parent_is_told_for_gauges_of_its_children(cast: Cast, heard: list[dict[str, Any]]) -> None:
    master = actions.record_certificate(cast.quinn, **PAPER | {"number": "M-1", "issued": date(2025, 1, 1)})
    actions.record_certificate(cast.quinn, **PAPER, parent=master, gauges=[cast.gauge])
    heard.clear()
    actions.withdraw_certificate(cast.quinn, certificate=master, reason="Master block damaged")
    assert heard[-1]["gauges"] == [cast.gauge.pk]
    with pytest.raises(Refused, match="was withdrawn; name another"):
        actions.record_certificate(cast.quinn, **PAPER | {"number": "CS-3"}, parent=master)


def test_nobody_but_the_quality_manager_touches_certificates(cast: Cast) -> None:
    for someone in (cast.ines, cast.clara, cast.audrey, cast.admin):
        with pytest.raises((NotAllowed, Http404)):
            actions.record_certificate(someone, **PAPER)
        with pytest.raises((NotAllowed, Http404)):
            actions.withdraw_certificate(someone, certificate=cast.shim_certificate, reason="x")
