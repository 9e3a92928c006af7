"""Labels of areas: a square that leads to the area's page, and the code that forms take typed."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from django.conf import settings
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from inspection.foundation.typed_codes import code_of
from inspection.projects.area_labels import _label
from inspection.projects.models import InspectionArea, Section
from tests.cast import Cast
from tests.instruments.pages import as_person, text_of


def pages(client: Client, cast: Cast, **asked: Any) -> list[str]:
    answer = client.get(reverse("area_labels", args=[cast.site.project.pk]), {"sheet": "large", "start": "1", **asked})
    assert answer["Content-Type"] == "application/pdf", text_of(answer)
    return [page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages]


def test_areas_get_labels_by_section_by_code_or_all(cast: Cast) -> None:
    client, site = as_person(cast.ines), cast.site
    section = Section.objects.create(structure=site.structure, name="Bottom", path="Bottom")
    InspectionArea.objects.filter(pk=site.other_area.pk).update(section=section)
    (every,) = pages(client, cast)
    assert ("A1" in every, "A2" in every, "Hatch" in every) == (True, True, True)
    (one,) = pages(client, cast, section=str(section.pk))
    assert ("A1" in one, "Tank / Bottom" in one) == (False, True)
    (named,) = pages(client, cast, codes="a1")
    assert ("A1" in named, "A2" in named) == (True, False)
    assert len(pages(client, cast, start="24")) == 2
    # What the square holds is taken by forms as the area's code is.
    address = _label(site.area, site.project).address
    assert address == f"{settings.SITE_URL}{reverse('area', args=[site.area.pk])}"
    assert code_of(address) == str(site.area.pk)


def test_what_cannot_be_printed_is_said(cast: Cast) -> None:
    client, address = as_person(cast.ines), reverse("area_labels", args=[cast.site.project.pk])
    wrong = text_of(client.get(address, {"sheet": "large", "start": "25", "codes": "A1, A9"}))
    assert "A sheet has labels 1 to 24." in wrong
    assert "bears the code “A9”" in text_of(client.get(address, {"sheet": "large", "start": "1", "codes": "A1, A9"}))
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=cast.site.structure, system=cast.site.system, code=f"B{at}", name="Bay", area_m2=9)
        for at in range(520)
    )
    assert "At most 520 labels" in text_of(client.get(address, {"sheet": "small", "start": "1"}))
    assert as_person(cast.clara).get(address).status_code == 403
