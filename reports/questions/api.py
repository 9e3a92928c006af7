"""Questions about readings in the API: the quality manager's alone, by the same action and words as the pages."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import Strict, person_of
from inspection.fieldwork.storing import LONGEST_NOTE
from inspection.projects.api import Writes, one_of
from reports.questions import actions
from reports.questions.models import ReadingAnswer, ReadingQuestion
from reports.questions.queries import questions
from reports.questions.views import the_managers
from reports.questions.words import told

STATE = OpenApiParameter("state", str, enum=ReadingQuestion.State.values, description="Only those in this state")


class QuestionAnswered(serializers.ModelSerializer):
    by = serializers.CharField(source="by_name", read_only=True)

    class Meta:
        model = ReadingAnswer
        fields = ("id", "outcome", "text", "by", "at")
        read_only_fields: tuple[str, ...] = fields


class QuestionOut(serializers.ModelSerializer):
    """A question, never a verdict: in words, with the arithmetic it rests on."""

    sentences = serializers.SerializerMethodField()
    figures = serializers.SerializerMethodField()
    answers = QuestionAnswered(many=True, read_only=True)

    class Meta:
        model = ReadingQuestion
        fields = (
            "id", "project", "record", "other", "kind", "state", "asked_at", "sentences", "figures", "answers",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_sentences(self, row: ReadingQuestion) -> list[str]:
        return told(row)

    @extend_schema_field({"type": "object", "additionalProperties": True})
    def get_figures(self, row: ReadingQuestion) -> dict[str, Any]:
        return dict(sorted(row.figures.items()))


class QuestionAnswerSent(Strict):
    outcome = serializers.ChoiceField(ReadingAnswer.Outcome.choices)
    text = serializers.CharField(max_length=LONGEST_NOTE)


class QuestionReads(GenericAPIView):
    serializer_class = QuestionOut
    queryset = ReadingQuestion.objects.none()

    def get_queryset(self) -> QuerySet[ReadingQuestion]:
        return questions(the_managers(person_of(self.request)))


@extend_schema(parameters=[STATE])
class QuestionList(QuestionReads, ListAPIView):
    """Questions about readings, newest first. Of quality managers; to others there are none."""

    def get_queryset(self) -> QuerySet[ReadingQuestion]:
        person = the_managers(person_of(self.request))
        state = one_of(self.request.query_params.get("state"), ReadingQuestion.State.values, "state")
        return questions(person, state=state)


class QuestionDetail(QuestionReads, RetrieveAPIView):
    """One question about readings with what was answered."""


class QuestionAnswer(Writes):
    """Answer a question about readings; another answer follows one given by mistake."""

    serializer_class = QuestionAnswerSent
    queryset = ReadingQuestion.objects.none()

    @extend_schema(request=QuestionAnswerSent, responses={201: QuestionAnswered})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that it is explained, taken up, or open again, with the words for it."""
        by = the_managers(person_of(request))
        row = get_object_or_404(questions(by), pk=pk)
        return Response(QuestionAnswered(actions.answer(by, question=row, **self.sent(request))).data, status=201)
