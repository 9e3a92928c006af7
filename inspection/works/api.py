"""Crews and shifts in the API, by the actions of the pages."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from inspection.foundation.refusals import Fault
from inspection.projects.api import OF_PROJECT, Writes, of_project
from inspection.projects.breakdown_api import named
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import NotThere
from inspection.works import crews, planning, queries, serializers, shifts
from inspection.works.models import Crew, CrewPerson, Shift


class CrewReads(GenericAPIView):
    serializer_class = serializers.CrewOut
    queryset = Crew.objects.none()

    def get_queryset(self) -> QuerySet[Crew]:
        return queries.crews_seen_by(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT])
class CrewList(CrewReads, ListAPIView):
    """Crews of your projects, with their people."""

    def get_queryset(self) -> QuerySet[Crew]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")


class CrewDetail(CrewReads, RetrieveAPIView):
    """One crew with its people."""


class ShiftReads(GenericAPIView):
    serializer_class = serializers.ShiftOut
    queryset = Shift.objects.none()

    def get_queryset(self) -> QuerySet[Shift]:
        return queries.shifts_seen_by(person_of(self.request)).order_by("begins_at", "pk")


@extend_schema(parameters=[OpenApiParameter("crew", UUID, description="Only those of this crew")])
class ShiftList(ShiftReads, ListAPIView):
    """Shifts of the crews of your projects."""

    def get_queryset(self) -> QuerySet[Shift]:
        return of_project(super().get_queryset(), self.request.query_params.get("crew"), "crew")


class ShiftDetail(ShiftReads, RetrieveAPIView):
    """One shift."""


class CrewWrites(Writes):
    queryset = Crew.objects.none()

    def crew(self, by: Person, pk: UUID) -> Crew:
        return get_object_or_404(queries.crews_seen_by(by), pk=pk)

    def told(self, by: Person, crew: Crew) -> Response:
        return Response(serializers.CrewOut(queries.crews_seen_by(by).get(pk=crew.pk)).data)


class CrewAdd(CrewWrites):
    serializer_class = serializers.NewCrew

    @extend_schema(responses=serializers.CrewOut)
    def post(self, request: Request) -> Response:
        """Set up a crew of one of a project's parties."""
        by, sent = person_of(request), self.sent(request)
        project = named(Project.objects.visible_to(by), sent.pop("project"), "project")
        party = named(Party.objects.visible_to(by), sent.pop("party"), "party")
        return self.told(by, crews.add_crew(by, project=project, party=party, **sent))


class CrewRename(CrewWrites):
    serializer_class = serializers.CrewName

    @extend_schema(responses=serializers.CrewOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Give it another name."""
        by = person_of(request)
        return self.told(by, crews.rename_crew(by, crew=self.crew(by, pk), **self.sent(request)))


class CrewEnd(CrewWrites):
    serializer_class = serializers.Why

    @extend_schema(responses=serializers.CrewOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """End it, with the parts of its people and its shifts still to come."""
        by = person_of(request)
        return self.told(by, crews.end_crew(by, crew=self.crew(by, pk), **self.sent(request)))


class CrewRestore(CrewWrites):
    serializer_class = serializers.Why

    @extend_schema(responses=serializers.CrewOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take its end back."""
        by = person_of(request)
        return self.told(by, crews.restore_crew(by, crew=self.crew(by, pk), **self.sent(request)))


class CrewPeople(CrewWrites):
    serializer_class = serializers.NewPeople

    @extend_schema(responses=serializers.CrewOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Put people into it; all of them or none."""
        by, sent = person_of(request), self.sent(request)
        crew, wanted = self.crew(by, pk), list(dict.fromkeys(sent.pop("people")))
        people = list(queries.people_for(crew).filter(pk__in=wanted))
        if len(people) < len(wanted):
            raise NotThere(Fault(f"Not everybody named belongs to {crew.party.organisation}.", "people"))
        crews.add_people(by, crew=crew, people=people, **sent)
        return self.told(by, crew)


class PartWrites(CrewWrites):
    def part(self, by: Person, pk: UUID) -> CrewPerson:
        rows: QuerySet[CrewPerson] = CrewPerson.objects.visible_to(by).select_related("crew")
        return get_object_or_404(rows, pk=pk)


class PartCorrect(PartWrites):
    serializer_class = serializers.PartTimes

    @extend_schema(responses=serializers.CrewOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say from when and until when somebody belongs to the crew."""
        by = person_of(request)
        return self.told(by, crews.correct_part(by, part=self.part(by, pk), **self.sent(request)).crew)


class PartRemove(PartWrites):
    serializer_class = serializers.Why

    @extend_schema(responses=serializers.CrewOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take out somebody who was entered by mistake."""
        by = person_of(request)
        part = self.part(by, pk)
        crews.remove_part(by, part=part, **self.sent(request))
        return self.told(by, part.crew)


class ShiftsPlan(CrewWrites):
    serializer_class = serializers.Planned

    @extend_schema(responses=serializers.ShiftOut(many=True))
    def post(self, request: Request, pk: UUID) -> Response:
        """Plan the shifts of a pattern, all of them or none; it answers with those that are new."""
        by, sent = person_of(request), self.sent(request)
        crew = self.crew(by, pk)
        spans = planning.shifts_of(planning.Pattern(**{**sent, "weekdays": frozenset(sent["weekdays"])}), crew.project)
        planned = shifts.plan_shifts(by, crew=crew, spans=spans)
        return Response(serializers.ShiftOut(planned, many=True).data)


class ShiftStart(CrewWrites):
    serializer_class = serializers.Tap

    @extend_schema(responses=serializers.ShiftOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Begin its shift. Sent again while that is under way, it changes nothing."""
        by = person_of(request)
        shift, _ = shifts.start_shift(by, crew=self.crew(by, pk), **self.sent(request))
        return Response(serializers.ShiftOut(shift).data)


class ShiftWrites(Writes):
    """One change of one shift; it answers with the shift as it is then."""

    queryset = Shift.objects.none()
    act: Any

    @extend_schema(responses=serializers.ShiftOut)
    def post(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        shift = get_object_or_404(queries.shifts_seen_by(by), pk=pk)
        answer = type(self).act(by, shift=shift, **self.sent(request))
        changed = cast("Shift", answer[0] if isinstance(answer, tuple) else answer)
        return Response(serializers.ShiftOut(changed).data)


class ShiftEnd(ShiftWrites):
    """End it. Sent again, it changes nothing."""

    serializer_class = serializers.Tap
    act = staticmethod(shifts.end_shift)


class ShiftCorrect(ShiftWrites):
    """Put right when it began and ended; null: not told."""

    serializer_class = serializers.Times
    act = staticmethod(shifts.correct_times)


class ShiftReplan(ShiftWrites):
    """Plan it otherwise."""

    serializer_class = serializers.PlanTimes
    act = staticmethod(shifts.replan_shift)


class ShiftCallOff(ShiftWrites):
    """Say that it is not worked."""

    serializer_class = serializers.Why
    act = staticmethod(shifts.call_off_shift)


class ShiftRestore(ShiftWrites):
    """Take the calling off back."""

    serializer_class = serializers.Why
    act = staticmethod(shifts.restore_shift)
