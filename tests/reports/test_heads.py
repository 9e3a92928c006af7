"""Heads of papers: the company's address and logo, a project's order number, references and distribution list."""

from __future__ import annotations

import base64
import io
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from PIL import Image

from accounts.models import JournalEntry
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.projects.models import Project
from reports.daily.gathering import gather
from reports.daily.pdf import draw
from reports.papers.actions import enter_company_head, enter_project_head
from tests.cast import DAY, MORNING, Cast
from tests.reports.test_content import facts_of, pages, told

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def picture(kind: str = "PNG", size: tuple[int, int] = (300, 120)) -> bytes:
    out = io.BytesIO()
    Image.new("RGBA" if kind == "PNG" else "RGB", size).save(out, kind)
    return out.getvalue()


def test_the_report_bears_the_heads_that_held_on_its_day(cast: Cast) -> None:
    project = cast.site.project
    assert facts_of(cast).digest == facts_of(cast).digest
    with time_machine.travel(MORNING, tick=False):
        logo = UploadedContent("logo.png", picture())
        enter_company_head(cast.quinn, address="1 Quay Street\n\n0150 Oslo", logo=logo)
        enter_project_head(
            cast.quinn, project=project, order_number="4711-B", references="Contract C-9\nPlan QP-2",
            distribution="Clara Client\nOffice",
        )  # fmt: skip
    with time_machine.travel(MORNING + 48 * HOUR, tick=False):
        enter_company_head(cast.quinn, address="9 New Street")
        enter_project_head(cast.quinn, project=project, order_number="4712")
    facts = facts_of(cast)
    assert (facts.address, facts.order_number) == ("1 Quay Street\n0150 Oslo", "4711-B")
    text = told(cast)
    for words in ("1 Quay Street 0150 Oslo", "Order 4711-B Contract C-9 Plan QP-2", "Clara Client Office"):
        assert words in text, words
    assert draw(facts) == draw(facts), "with a logo the same facts still give the same bytes"
    later = gather(Project.objects.get(pk=project.pk), DAY + timedelta(days=2))
    assert (later.address, later.order_number, later.references) == ("9 New Street", "4712", ())
    assert later.logo == facts.logo, "a logo that is not sent stays"
    assert "4711" not in " ".join(pages(draw(later)))
    verbs = list(JournalEntry.objects.filter(verb__startswith="paper.").values_list("verb", flat=True).order_by("pk"))
    assert verbs == ["paper.company_head", "paper.project_head"] * 2


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"address": "x", "logo": UploadedContent("a.pdf", b"%PDF-1.4")}, "neither PNG nor JPEG"),
        ({"address": "x", "logo": UploadedContent("a.png", picture()[:60])}, "damaged or cut short"),
        ({"address": "x", "logo": UploadedContent("a.jpg", picture("JPEG", (4001, 2)))}, "larger than 4000 pixels"),
        ({"address": "\n".join("1234567")}, "These are 7 lines; at most 6"),
        ({"address": "x" * 161}, "Line 1 has 161 characters"),
    ],
)
def test_a_head_that_cannot_be_printed_is_refused(cast: Cast, sent: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused) as refusal:
        enter_company_head(cast.quinn, **sent)
    assert words in str(refusal.value)


def test_heads_are_entered_on_their_pages_and_by_the_api(cast: Cast) -> None:
    quinn, ines, project = Client(), Client(), cast.site.project
    quinn.force_login(cast.quinn)
    ines.force_login(cast.ines)
    logo = io.BytesIO(picture())
    logo.name = "logo.png"
    assert quinn.post("/papers/head/", {"address": "1 Quay Street", "logo": logo}).status_code == 302
    page = quinn.get("/papers/head/").content.decode()
    assert "1 Quay Street" in page
    shown = quinn.get(page.split('class="paper-logo" src="')[1].split('"')[0])
    assert (shown["Content-Type"], shown.content) == ("image/png", picture())
    again = quinn.post("/papers/head/", {"address": "1 Quay Street"})
    assert (again.status_code, "Nothing differs" in again.content.decode()) == (422, True)
    ours = quinn.get("/api/paper-head/").json()
    assert (ours[0]["address"], len(ours[0]["logo_sha256"])) == ("1 Quay Street", 64)
    for sent, status, words in (
        ({"address": "9 New Street", "logo": "no base64!"}, 422, "not base64"),
        ({"address": "9 New Street", "logo": base64.b64encode(b"%PDF-1.4").decode()}, 422, "neither PNG nor JPEG"),
        ({"address": "9 New Street", "logo": base64.b64encode(picture("JPEG")).decode()}, 201, "9 New Street"),
        ({"address": "9 New Street", "without_logo": True}, 201, '"logo_sha256":null'),
    ):
        answer = quinn.post("/api/paper-head/", sent, content_type="application/json")
        assert (answer.status_code, words in answer.content.decode()) == (status, True), answer.content
    assert ines.get("/api/paper-head/").status_code == 403
    address = f"/api/projects/{project.pk}/paper-head/"
    sent = quinn.post(address, {"order_number": "4711"}, content_type="application/json")
    assert (sent.status_code, ines.get(address).json()[0]["order_number"]) == (201, "4711")
    page = quinn.get(f"/projects/{project.pk}/paper-head/").content.decode()
    assert 'value="4711"' in page
    assert ines.get("/papers/head/").status_code == 403
    with pytest.raises(NotAllowed):
        enter_project_head(cast.ines, project=project, order_number="1")
    assert quinn.post(f"/projects/{project.pk}/paper-head/", {"order_number": "4712"}).status_code == 302
    assert [row["order_number"] for row in ines.get(address).json()] == ["4712", "4711"]
