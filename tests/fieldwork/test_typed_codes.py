"""A code typed off a label in place of choosing from a long list: of areas, gauges, shims and batches."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from time_machine import travel

from inspection.fieldwork.models import ClimateRecord
from inspection.foundation.typed_codes import TypedChoice, code_of, meant_by
from inspection.instruments.labels import address_of
from inspection.instruments.models import Gauge
from inspection.projects.models import InspectionArea, Structure
from tests.cast import MORNING, Cast
from tests.fieldwork.test_climate_pages import typed as climate
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]


def many_areas(cast: Cast) -> None:
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=cast.site.structure, system=cast.site.system, code=f"FR{at}/P", name="Bay", area_m2=9)
        for at in range(8)
    )


def test_an_area_and_a_meter_are_named_by_their_codes(ines: Client, cast: Cast) -> None:
    address = reverse("climate_new", args=[cast.site.project.pk])
    assert "or type its code" not in words(ines.get(address))
    many_areas(cast)
    assert "or type its code" in words(ines.get(address))
    meter = Gauge.objects.create(identity="M-7 ½", kind=Gauge.Kind.CLIMATE)
    with travel(MORNING + timedelta(hours=2), tick=False):

        def sent(**changes: Any) -> Any:
            return ines.post(address, climate(cast, area="", gauge="", **changes))

        unknown = sent(area_typed="FR9/P")
        assert "Nothing in this list bears the code “FR9/P”" in words(unknown)
        assert 'value="FR9/P"' in unknown.content.decode()
        # As a scanner gives it: the whole address that the label holds.
        # The meter is found by it; that it cannot be relied on, the action says.
        assert f"{meter}: it has no certificate." in words(sent(area_typed="A1", gauge_typed=address_of(meter)))
        assert sent(area_typed=" fr3/p ").status_code == 302
    record = ClimateRecord.objects.get()
    assert record.area.code == "FR3/P"


def test_a_code_that_two_bear_is_asked_about_and_another_projects_is_none(ines: Client, cast: Cast) -> None:
    many_areas(cast)
    other = Structure.objects.create(project=cast.site.project, name="Hull")
    InspectionArea.objects.create(structure=other, system=cast.site.system, code="A1", name="Deck", area_m2=5)
    InspectionArea.objects.filter(pk=cast.foreign.area.pk).update(code="X1")
    address = reverse("climate_new", args=[cast.site.project.pk])
    with travel(MORNING + timedelta(hours=2), tick=False):
        twice = words(ines.post(address, climate(cast, area="", area_typed="a1")))
        foreign = words(ines.post(address, climate(cast, area="", area_typed="X1")))
    assert "“a1” is borne by more than one: A1 Deck, 5 m² (Hull); A1 Hatch, 8 m² (Tank). Choose from the list." in twice
    assert "Nothing in this list bears the code “X1”" in foreign


@pytest.mark.once
def test_codes_of_a_list_made_by_hand() -> None:
    field = TypedChoice(choices=[("", "None"), ("1", "B-100, base"), ("2", "B-100, hardener"), ("3", "C-7")])
    field.codes = [("B-100", "1"), ("B-100", "2"), ("C-7", "3")]
    assert [field.clean("c-7"), field.clean("2")] == ["3", "2"]
    with pytest.raises(ValidationError, match="more than one: B-100, base; B-100, hardener"):
        field.clean("b-100")
    assert meant_by("s-50; S-125,", [("S-50", "a"), ("S-125", "b")]) == ["a", "b"]
    with pytest.raises(ValidationError, match="“S-9”"):
        meant_by("S-50, S-9", [("S-50", "a")])
    assert code_of("https://records.example/i/S%2050") == "S 50"
    assert code_of(" FR3/P ") == "FR3/P"
