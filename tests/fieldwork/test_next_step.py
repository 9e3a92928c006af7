"""After storing a record the page leads on: to the area, to the plan's next one, to the check after work."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from time_machine import travel

from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.next_step import next_steps
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from tests.cast import MORNING, Cast
from tests.fieldwork.build import sent, spots
from tests.fieldwork.samples import SAMPLES
from tests.fieldwork.test_sheet_pages import ines, words
from tests.fieldwork.test_today import check_gauge

__all__ = ["ines"]
HOUR = timedelta(hours=1)


@pytest.mark.usefixtures("in_date")
def test_after_a_thickness_record_come_its_area_the_next_one_and_the_closing_check(cast: Cast) -> None:
    check_gauge(cast, MORNING)
    with travel(MORNING + 2 * HOUR, tick=False):
        record, _ = record_thickness(cast.ines, **sent(cast))
        told = [step.words for step in next_steps(record, MORNING + 2 * HOUR)]
        assert told == [
            "A1 after Intermediate (Primer passed)", "A2 after Primer (not measured yet)",
            "check G-01 after work, due by 18:00",
        ]  # fmt: skip
        # No further than the plan: what waits at a hold point leads to the point.
        HoldPoint.objects.create(project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0], title="Look")
        assert next_steps(record, MORNING)[0].words == "A1, Intermediate: waits at a hold point"
        thin = sent(cast, readings=spots([20, 20, 20]), first_reading_at=MORNING + HOUR)
        failed, _ = record_thickness(cast.ines, **thin)
        assert next_steps(failed, MORNING)[0].words == "A1 after Primer (failed: repair and measure again)"
        # Past its time, the check is no step any more.
        assert len(next_steps(failed, MORNING + 12 * HOUR)) == len(next_steps(failed, MORNING)) - 1


def test_after_a_record_of_the_steel_comes_what_is_not_recorded_of_it_yet(cast: Cast) -> None:
    def stored(name: str) -> list[str]:
        taken = BY_NAME[name].taken
        assert taken is not None
        site = cast.site
        record, _ = taken.record(
            cast.ines, id=new_id(), project=site.project, area=site.area, taken_at=MORNING, **SAMPLES[name]
        )
        return [step.words for step in next_steps(record, MORNING)]

    assert stored("dust") == ["last look before paint of A1"]
    assert stored("cleanliness") == ["surface profile of A1"]
    # After the last of them, the first area that can be measured.
    assert stored("look") == ["A1 after Primer (not measured yet)"]


def test_the_page_after_storing_says_what_is_next_with_a_way_to_it(ines: Client, cast: Cast) -> None:
    site = cast.site
    body = {
        "area": str(site.area.pk), "coat": str(site.coats[0].pk), "taken_at": "2026-03-04T07:00:00",
        "dry_bulb_c": "20", "wet_bulb_c": "15", "surface_c": "18", "pressure_hpa": "1013.25",
    }  # fmt: skip
    with travel(MORNING + HOUR, tick=False):
        answer = ines.post(reverse("climate_new", args=[site.project.pk]), body, follow=True)
    assert "is stored. Next: A1 after Primer (not measured yet)" in words(answer)
    start = reverse("thickness_start", args=[site.project.pk])
    assert f'href="{start}?area={site.area.pk}&amp;coat={site.coats[0].pk}"' in answer.content.decode()
