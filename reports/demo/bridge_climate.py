"""The bridge's climate station, read by hand, and its logger's file of a night in which the air grows damp."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from inspection.fieldwork.climate import stations
from inspection.fieldwork.climate.logger_files import store_file
from inspection.foundation.ids import new_id
from inspection.projects.models import InspectionArea, Project
from reports.demo import plot

if TYPE_CHECKING:
    from reports.demo.story import Story

SAMPLES, EVERY = 14 * 12, timedelta(minutes=5)


def play(story: Story, project: Project) -> None:
    day, tove = plot.BRIDGE_DAYS_AGO - 1, story.person["tove"]
    begun = story.moment(plot.BRIDGE_DAYS_AGO, "18:00")
    areas = InspectionArea.objects.in_use().filter(structure__project=project, code__startswith="S1-")
    with story.at(story.moment(day, "08:00")):
        station, _ = stations.declare_station(
            tove, project=project, code="CS-1", name="Span 1, under the sheeting", where="sheltered",
            areas=list(areas), since=begun,
        )  # fmt: skip
        stations.record_at_station(
            tove, id=new_id(), station=station, coats=[], taken_at=story.moment(day, "07:55"),
            dry_bulb_c=Decimal("14.2"), wet_bulb_c=Decimal("11.6"), surface_c=Decimal("13.6"),
            warmest_surface_c=Decimal("14.1"), wind_m_s=Decimal("2.5"), rain="none",
        )  # fmt: skip
        rows = _night(begun.astimezone(story.zone))
        store_file(tove, station=station, content=rows.encode(), name="span-1-night.csv", gap_min=15)


def _night(begun: datetime) -> str:
    """It cools, the air grows damp until the middle of the night, and dries again; times with their offset."""
    rows = ["Logger L-3", "Time;Air °C;RH %;Steel °C"]
    for number in range(SAMPLES):
        turn = math.sin(math.pi * number / (SAMPLES - 1))
        air, humidity = 15 - 5 * turn, 68 + 20 * turn**2
        rows.append(f"{begun + number * EVERY:%Y-%m-%d %H:%M%z};{air:.1f};{humidity:.1f};{air - 0.4 - 0.6 * turn:.1f}")
    return "\n".join(rows)
