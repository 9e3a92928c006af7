"""Gathering the chains of the day that are not met: of the lots under way in it, and of the points released in it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from inspection.fieldwork.kind import Discipline
from inspection.holdpoints.chain.facts import Step, facts_of
from inspection.holdpoints.chain.links import State, not_met
from inspection.holdpoints.chain.told import chains_of
from inspection.holdpoints.models import Decision
from inspection.projects.models import Project
from inspection.works.models import Lot, LotPlace
from reports.daily.chain_facts import LinkNotMet
from reports.daily.parts import Part
from reports.daily.works import lots_of


def chains_told(project: Project, of: Part) -> tuple[LinkNotMet, ...]:
    """In the order of the lots, then of the decisions; as many reads for many as for one."""
    released = _of_releases(project, of.begins, of.ends) if of.tells(Discipline.INSPECTION) else ()
    return (*_of_lots(project, of), *released)


def _of_lots(project: Project, of: Part) -> Iterator[LinkNotMet]:
    lots = Lot.objects.filter(pk__in=lots_of(project, of)).select_related("coat__system", "stripe")
    by_pk = {lot.pk: lot for lot in lots}
    places = list(
        LotPlace.objects.filter(lot__in=by_pk)
        .select_related("area")
        .order_by("lot__begun_at", "lot__number", "area__code")
    )
    steps = [Step(place.area_id, by_pk[place.lot_id].coat_id, by_pk[place.lot_id]) for place in places]
    # As it stood when the day or the shift ended: what came later is told in its own paper.
    chains = chains_of(steps, facts_of(steps, of.ends)) if steps else []
    for place, chain in zip(places, chains, strict=True):
        lot = by_pk[place.lot_id]
        for link in not_met(chain):
            yield LinkNotMet(
                what=f"{lot}: {lot.of}", area=place.area.label, at=lot.begun_at, link=link.title, found=link.sentence,
                asked_by=link.source,
            )  # fmt: skip


def _of_releases(project: Project, begins: datetime, ends: datetime) -> Iterator[LinkNotMet]:
    """What each release of the day went over, as the evidence has it that was signed."""
    rows = Decision.objects.filter(
        point__project=project, outcome=Decision.Outcome.RELEASED, at__gte=begins, at__lt=ends
    )
    for decision in rows.select_related("point__area", "point__coat").order_by("at", "pk"):
        for link in decision.evidence.get("chain", ()):
            if link["state"] == State.NOT_MET:
                yield LinkNotMet(
                    what=f"{decision.point.title}, {decision.point.step}", area=decision.point.area.label,
                    at=decision.at, link=link["title"], found="Not met when it was released.", asked_by="",
                    accepted=f"{decision.signed_as}: {decision.reason}",
                )  # fmt: skip
