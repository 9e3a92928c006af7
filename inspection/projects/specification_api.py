"""Specifications in the API: to read, and by the actions of the pages to add to. Papers are sent by the page."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import Strict, person_of
from accounts.models import Person
from accounts.serializers import Because
from inspection.projects import specifications
from inspection.projects.api import OF_PROJECT, Writes, of_project
from inspection.projects.breakdown_api import named
from inspection.projects.models import Deviation, DeviationAnswer, Project, Specification, SpecificationRevision

TAKEN_BACK = ("withdrawn_at", "withdrawn_why")


class RevisionOut(serializers.ModelSerializer):
    has_file = serializers.SerializerMethodField()

    class Meta:
        model = SpecificationRevision
        fields = ("id", "revision", "dated", "clauses", "reviewer", "note", "file_name", "has_file", *TAKEN_BACK)
        read_only_fields = fields

    def get_has_file(self, revision: SpecificationRevision) -> bool:
        return revision.file_id is not None


class AnswerOut(serializers.ModelSerializer):
    class Meta:
        model = DeviationAnswer
        fields = ("id", "outcome", "answer", "answered_by", "answered_on", *TAKEN_BACK)
        read_only_fields = fields


class DeviationOut(serializers.ModelSerializer):
    answers: Any = AnswerOut(many=True, read_only=True)

    class Meta:
        model = Deviation
        fields = ("id", "number", "clause", "asked", "asked_for", "asked_on", "answers", *TAKEN_BACK)
        read_only_fields = fields


class SpecificationSerializer(serializers.ModelSerializer):
    revisions: Any = RevisionOut(many=True, read_only=True)
    deviations: Any = DeviationOut(many=True, read_only=True)

    class Meta:
        model = Specification
        fields = ("id", "project", "number", "title", "revisions", "deviations")
        read_only_fields = fields


class NewSpecification(Strict):
    project = serializers.UUIDField()
    number = serializers.CharField(max_length=60)
    title = serializers.CharField(max_length=160)


class ChangedSpecification(Because):
    number = serializers.CharField(max_length=60)
    title = serializers.CharField(max_length=160)


class NewRevision(Strict):
    revision = serializers.CharField(max_length=20)
    dated = serializers.DateField()
    clauses = serializers.CharField(max_length=4_000, required=False, default="", allow_blank=True)
    reviewer = serializers.CharField(max_length=120, required=False, default="", allow_blank=True)
    note = serializers.CharField(max_length=4_000, required=False, default="", allow_blank=True)


class NewDeviation(Strict):
    clause = serializers.CharField(max_length=60, required=False, default="", allow_blank=True)
    asked = serializers.CharField(max_length=4_000)
    asked_for = serializers.CharField(max_length=160)
    asked_on = serializers.DateField()


class NewAnswer(Strict):
    outcome = serializers.ChoiceField(DeviationAnswer.Outcome.choices)
    answer = serializers.CharField(max_length=4_000)
    answered_by = serializers.CharField(max_length=160)
    answered_on = serializers.DateField()


def seen_by(person: Person) -> QuerySet[Specification]:
    rows: QuerySet[Specification] = Specification.objects.visible_to(person).select_related("project")
    return rows.prefetch_related("revisions", "deviations__answers")


class SpecificationReads(GenericAPIView):
    serializer_class = SpecificationSerializer
    queryset = Specification.objects.none()

    def get_queryset(self) -> QuerySet[Specification]:
        return seen_by(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT])
class SpecificationList(SpecificationReads, ListAPIView):
    """Specifications of your projects, with their revisions and deviations; those taken back too."""

    def get_queryset(self) -> QuerySet[Specification]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")


class SpecificationDetail(SpecificationReads, RetrieveAPIView):
    """One specification."""


class OfOne(Writes):
    """One change of one specification; it answers with the specification as it is then."""

    queryset = Specification.objects.none()

    def specification(self, request: Request, pk: UUID) -> Specification:
        found: Specification = get_object_or_404(seen_by(person_of(request)), pk=pk)
        return found

    def told(self, request: Request, pk: UUID, status: int = 200) -> Response:
        return Response(SpecificationSerializer(self.specification(request, pk)).data, status=status)


class SpecificationAdd(OfOne):
    serializer_class = NewSpecification

    @extend_schema(responses={201: SpecificationSerializer})
    def post(self, request: Request) -> Response:
        """Add a specification to a project."""
        by, sent = person_of(request), self.sent(request)
        project = named(Project.objects.visible_to(by), sent.pop("project"), "project")
        made = specifications.add_specification(by, project=project, **sent)
        return self.told(request, made.pk, 201)


class SpecificationCorrect(OfOne):
    serializer_class = ChangedSpecification

    @extend_schema(responses=SpecificationSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Put right its number or title."""
        of = self.specification(request, pk)
        specifications.correct_specification(person_of(request), specification=of, **self.sent(request))
        return self.told(request, pk)


class SpecificationRemove(OfOne):
    serializer_class = Because

    @extend_schema(responses={204: None})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take it away while no revision or deviation is recorded of it; 409 when one is."""
        of = self.specification(request, pk)
        specifications.remove_specification(person_of(request), specification=of, **self.sent(request))
        return Response(status=204)


class SpecificationRevise(OfOne):
    serializer_class = NewRevision

    @extend_schema(responses={201: SpecificationSerializer})
    def post(self, request: Request, pk: UUID) -> Response:
        """Record a revision as it was received."""
        of = self.specification(request, pk)
        specifications.add_revision(person_of(request), specification=of, **self.sent(request))
        return self.told(request, pk, 201)


class DeviationAsk(OfOne):
    serializer_class = NewDeviation

    @extend_schema(responses={201: SpecificationSerializer})
    def post(self, request: Request, pk: UUID) -> Response:
        """Record a request for a deviation."""
        of = self.specification(request, pk)
        specifications.ask_deviation(person_of(request), specification=of, **self.sent(request))
        return self.told(request, pk, 201)


class DeviationAnswered(OfOne):
    serializer_class = NewAnswer

    @extend_schema(responses={201: SpecificationSerializer})
    def post(self, request: Request, pk: UUID) -> Response:
        """Record the answer to a request; 409 when one stands."""
        by = person_of(request)
        found = get_object_or_404(Deviation.objects.visible_to(by), pk=pk)
        specifications.answer_deviation(by, deviation=found, **self.sent(request))
        return self.told(request, found.specification_id, 201)


class Withdraw(OfOne):
    """Take back what was entered by mistake; it stays readable, with the reason."""

    serializer_class = Because
    model: Any = SpecificationRevision

    @extend_schema(responses=SpecificationSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        row: Any = get_object_or_404(self.model.objects.visible_to(by), pk=pk)
        specifications.withdraw(by, row=row, **self.sent(request))
        of = row.deviation.specification_id if isinstance(row, DeviationAnswer) else row.specification_id
        return self.told(request, of)


class RevisionWithdraw(Withdraw):
    pass


class DeviationWithdraw(Withdraw):
    model = Deviation


class AnswerWithdraw(Withdraw):
    model = DeviationAnswer
