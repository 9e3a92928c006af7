"""What the painters of the bridge did: two areas blasted, the first of them primed, both by one crew."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from inspection.foundation.ids import new_id
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.works import crews
from inspection.works.lots import actions as lots
from inspection.works.lots.checks import LotSent, PlaceSent
from inspection.works.lots.mixes import MixDrawn
from inspection.works.models import Crew, Lot, Mix

if TYPE_CHECKING:
    from reports.demo.story import Story

CREW = "Painters, span 1"


def play(story: Story, project: Project) -> None:
    """The foreman records yesterday’s blast with its end, and this morning’s primer; what is asked he goes over."""
    with story.at(story.moment(1, "05:50")):
        crew = crews.add_crew(
            story.person["tove"], project=project, party=project.parties.get(kind="contractor"), name=CREW
        )
    areas = list(InspectionArea.objects.in_use().filter(structure__project=project).order_by("code")[:2])
    with story.at(story.moment(1, "16:30")):
        blasted = _blasted(story, project, crew, areas)
    with story.at(story.moment(0, "08:25")):
        _primed(story, project, crew, areas[0], blasted)


def _blasted(story: Story, project: Project, crew: Crew, areas: list[InspectionArea]) -> Lot:
    sent = LotSent(
        activity="blast", method="dryblast", crew=crew, places=[PlaceSent(area=area) for area in areas],
        begun_at=story.moment(1, "07:00"), ended_at=story.moment(1, "15:40"), tip="No. 7", pressure_bar=Decimal("7.0"),
    )  # fmt: skip
    lot, _ = lots.begin_lot(story.person["mikkel"], id=new_id(), project=project, sent=sent, confirmed=True)
    return lot


def _primed(story: Story, project: Project, crew: Crew, area: InspectionArea, blasted: Lot) -> None:
    coat = Coat.objects.get(system__project=project, order=1)
    mix = Mix.objects.filter(project=project).order_by("number")[0]
    begun_at = story.moment(0, "07:20")
    sent = LotSent(
        activity="coat", method="airless", coat=coat, crew=crew, begun_at=begun_at, parents=[blasted],
        places=[PlaceSent(area=area)], pump_ratio="60:1", tip="0.021 in, 40°", pressure_bar=Decimal(180),
        ended_at=begun_at + timedelta(minutes=55), mixes=[MixDrawn(mix=mix, drawn_l=Decimal(8), returned_l=Decimal(1))],
    )  # fmt: skip
    lots.begin_lot(story.person["mikkel"], id=new_id(), project=project, sent=sent, confirmed=True)
