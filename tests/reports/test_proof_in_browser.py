"""What stands beside a verdict, a question about readings and what hand-over lacks, as people see them."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from inspection.fieldwork.actions import record_thickness
from inspection.holdpoints.models import HoldPoint
from reports.questions.models import ReadingQuestion
from tests.cast import Cast
from tests.fieldwork.build import sent
from tests.fieldwork.test_conformance import NEAR
from tests.standing.scene import verify

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_pages_read_well_on_a_phone_in_the_dark_and_on_a_desk(cast: Cast, page_as: Any, axe: Any) -> None:
    site = cast.site
    verify(cast, "06:30", off_by_nm=800)
    record, _ = record_thickness(cast.ines, **sent(cast, readings=NEAR))
    figures = {"counts": [40, 3, 2, 5, 4, 38, 3, 2, 1, 22], "chi_square": 182.1, "chance": 2e-9, "step_nm": 100}
    question = ReadingQuestion.objects.create(project=site.project, record=record, kind="digits", figures=figures)
    HoldPoint.objects.create(
        project=site.project, area=site.area, coat=site.coats[0], title="Primer accepted", lies=HoldPoint.Lies.READY
    )
    addresses = (
        reverse("thickness", args=[record.pk]), reverse("question", args=[question.pk]), reverse("question_list"),
        reverse("handover", args=[site.project.pk]),
    )  # fmt: skip
    for look in ({"width": 390, "dark": True}, {"width": 1280}):
        page = page_as(cast.quinn, scripts=True, **look)
        for address in addresses:
            page.goto(address)
            for details in page.locator("main details > summary").all():
                details.click()
            axe(page)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (address, look)
