"""Plans in the API: revisions with their lines to read, and the lines of a draft to put."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from accounts.serializers import Because
from inspection.plan import lines, queries, revisions
from inspection.plan.models import Approval, PlanLine, PlanRevision
from inspection.plan.serializers import (
    ApprovalOut,
    AskedParties,
    BegunRevision,
    BroughtIn,
    PlanLinesIn,
    PlanRevisionOut,
    PlanRevisionWithLines,
    SignedLines,
    line_sent,
)
from inspection.projects.api import OF_PROJECT, Writes, of_project


class RevisionReads(GenericAPIView):
    serializer_class = PlanRevisionOut
    queryset = PlanRevision.objects.none()

    def get_queryset(self) -> QuerySet[PlanRevision]:
        return queries.revisions_seen_by(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT])
class RevisionList(RevisionReads, ListAPIView):
    """Revisions of the inspection and test plans of your projects."""

    def get_queryset(self) -> QuerySet[PlanRevision]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "plan__project")


def with_lines(rows: QuerySet[PlanRevision], person: Person) -> QuerySet[PlanRevision]:
    letters = queries.letters_told_to(person)
    ordered = PlanLine.objects.order_by("order_key").prefetch_related("requirements", letters)
    return rows.prefetch_related(Prefetch("lines", ordered))


class RevisionDetail(RevisionReads, RetrieveAPIView):
    """One revision with its lines."""

    serializer_class = PlanRevisionWithLines

    def get_queryset(self) -> QuerySet[PlanRevision]:
        return with_lines(super().get_queryset(), person_of(self.request))


class RevisionLines(Writes):
    serializer_class = PlanLinesIn
    queryset = PlanRevision.objects.none()

    @extend_schema(responses=PlanRevisionWithLines)
    def post(self, request: Request, pk: UUID) -> Response:
        """Put lines of a draft by their numbers, all or none; a line that none of them names stays."""
        by = person_of(request)
        revision = get_object_or_404(queries.revisions_seen_by(by), pk=pk)
        sent = [line_sent(dict(values)) for values in self.sent(request)["lines"]]
        lines.put_lines(by, revision=revision, lines=sent)
        return Response(PlanRevisionWithLines(with_lines(queries.revisions_seen_by(by), by).get(pk=pk)).data)


class RevisionDeed(Writes):
    """Something done with one revision; the answer is the revision."""

    queryset = PlanRevision.objects.none()

    def revision(self, pk: UUID) -> PlanRevision:
        found: PlanRevision = get_object_or_404(queries.revisions_seen_by(person_of(self.request)), pk=pk)
        return found

    def answered(self, revision: PlanRevision, status: int = 200) -> Response:
        row = queries.revisions_seen_by(person_of(self.request)).get(pk=revision.pk)
        return Response(PlanRevisionOut(row).data, status=status)


class RevisionAsk(RevisionDeed):
    serializer_class = AskedParties

    @extend_schema(responses=PlanRevisionOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Ask parties to approve a draft; without `parties` those that do more at a line than perform."""
        found, sent = self.revision(pk), self.sent(request)["parties"]
        project = found.plan.project
        parties = None
        if sent is not None and project is not None:
            parties = list(queries.may_be_asked(project).filter(pk__in=sent))
            parties = parties if len(parties) == len(set(sent)) else []
        revisions.ask_approval(person_of(request), revision=found, parties=parties)
        return self.answered(found)


class RevisionApprove(RevisionDeed):
    serializer_class = SignedLines

    @extend_schema(responses={201: ApprovalOut(many=True)})
    def post(self, request: Request, pk: UUID) -> Response:
        """Approve a draft for your parties that were asked. 409 when its lines have changed since you saw them."""
        given = revisions.approve(person_of(request), revision=self.revision(pk), **self.sent(request))
        return Response(ApprovalOut(given, many=True).data, status=201)


class ApprovalWithdraw(Writes):
    serializer_class = Because
    queryset = Approval.objects.none()

    @extend_schema(responses=ApprovalOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Withdraw your party's approval of a draft. 409 once it came into force."""
        by = person_of(request)
        approval = get_object_or_404(Approval.objects.visible_to(by), pk=pk)
        revisions.withdraw_approval(by, approval=approval, **self.sent(request))
        return Response(ApprovalOut(Approval.objects.get(pk=pk)).data)


class RevisionForce(RevisionDeed):
    serializer_class = BroughtIn

    @extend_schema(responses=PlanRevisionOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Bring an approved draft into force; the revision before it is superseded."""
        found = self.revision(pk)
        return self.answered(revisions.bring_into_force(person_of(request), revision=found, **self.sent(request)))


class RevisionRevise(RevisionDeed):
    serializer_class = BegunRevision

    @extend_schema(responses={201: PlanRevisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Begin a further revision of the same plan as a copy of the one in force."""
        begun = revisions.begin_revision(person_of(request), plan=self.revision(pk).plan, **self.sent(request))
        return self.answered(begun, 201)


class RevisionThrowAway(RevisionDeed):
    serializer_class = Because

    @extend_schema(responses=PlanRevisionOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Throw a draft away; it can be taken up again."""
        found = self.revision(pk)
        revisions.throw_away(person_of(request), revision=found, **self.sent(request))
        return self.answered(found)


class RevisionTakeUp(RevisionDeed):
    serializer_class = Because

    @extend_schema(responses=PlanRevisionOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a draft up again that was thrown away."""
        found = self.revision(pk)
        revisions.take_up_again(person_of(request), revision=found, **self.sent(request))
        return self.answered(found)
