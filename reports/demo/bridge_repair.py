"""A thin spot on a panel of the bridge: the search for its extent along the girder, the part that is repaired."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.actions import ReadingSent
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Coat, InspectionArea, Project
from reports.demo import plot
from reports.demo.invented_readings import Hand

if TYPE_CHECKING:
    from reports.demo.story import Story

PANEL, THIN_SPOT, THIN_NM = "S3-N07", 7, 14_000
ALONG, ACROSS = (3, 7), (1, 2, 4, 5, 6, 8)


def play(story: Story, project: Project, hand: Hand, *, gauge: str, days_ago: int) -> None:
    """Measured between the two checks of the gauge; the painters have yet to put the part right."""
    area = InspectionArea.objects.select_related("structure", "system").get(
        structure__project=project, code=PANEL
    )  # fmt: skip
    coat = Coat.objects.select_related("system").get(system=area.system, order=1)
    _measured(story, project, hand, area, coat, gauge=gauge, days_ago=days_ago)
    raised = Nonconformance.objects.get(area=area, coat=coat)
    with story.at(story.moment(days_ago, "12:50")):
        _searched(story, raised, coat)
    with story.at(story.moment(days_ago, "13:20")):
        nonconformance.make_repaired_part(
            story.person["priya"], nonconformance=raised, id=new_id(), area_m2=Decimal("2.8"), left_out=[THIN_SPOT],
            note="Chalk line between stiffeners 4 and 6", confirmed=True,
        )  # fmt: skip


def _measured(
    story: Story, project: Project, hand: Hand, area: InspectionArea, coat: Coat, *, gauge: str, days_ago: int
) -> None:
    film = plot.primer(PANEL, "12:05").film
    assert film is not None  # noqa: S101 - a primer has a film
    spots, per_spot = story.sampling(coat, area)
    found = hand.on_film(film, plot.gauge_on(gauge, days_ago), spots, per_spot)
    readings = [
        ReadingSent(spot=spot, order=order, value_nm=(coat.minimum_nm or 0) - THIN_NM + 400 * order
                    if spot == THIN_SPOT else value)
        for spot, values in enumerate(found, 1)
        for order, value in enumerate(values, 1)
    ]  # fmt: skip
    begun = story.moment(days_ago, "12:05")
    ended = begun + timedelta(seconds=20 * len(readings))
    with story.at(ended + timedelta(minutes=2)):
        fieldwork.record_thickness(
            story.person["priya"], id=new_id(), project=project, area=area, coat=coat, gauge=story.gauge[gauge],
            profile_way=ThicknessRecord.ProfileWay.ADJUSTED, unit="um", readings=readings, first_reading_at=begun,
            last_reading_at=ended, source=ThicknessRecord.Source.FILE,
        )  # fmt: skip


def _searched(story: Story, raised: Nonconformance, coat: Coat) -> None:
    """Along the girder the film is thin for one more spot; across it the web ends at the flanges."""
    minimum = (coat.minimum_nm or 0) // 1_000
    for direction in ALONG:
        thin = [minimum - 4, minimum - 6, minimum - 3] if direction == ALONG[0] else None
        for found in [thin, [minimum + 12, minimum + 9, minimum + 14], [minimum + 15, minimum + 11, minimum + 13]]:
            if found:
                _spot(story, raised, direction, readings=[str(um) for um in found])
    for direction in ACROSS:
        _spot(story, raised, direction, ended="no_place")


def _spot(story: Story, raised: Nonconformance, direction: int, **found: object) -> None:
    nonconformance.add_spot(
        story.person["priya"],
        nonconformance=raised,
        id=new_id(),
        direction=direction,
        unit="um",
        **found,  # type: ignore[arg-type]  # readings, or why there are none
    )
