"""The diary in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from accounts.rights import require
from inspection.diary import actions, queries, serializers, signing, work
from inspection.diary.checks import EntrySent
from inspection.diary.models import DaySignature, DiaryEntry
from inspection.diary.urls import FIRST_YEAR, LAST_YEAR
from inspection.foundation.refusals import Fault, Refused
from inspection.projects.api import OF_PROJECT, Writes, of_project, one_of
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import NotThere
from inspection.works.models import Crew

DAY = OpenApiParameter("day", date, description="Only those of this day, such as 2026-03-04")
KIND = OpenApiParameter("kind", str, enum=DiaryEntry.Kind.values, description="Only those of this kind")
WHICH = OpenApiParameter("day", date, description="Such as 2026-03-04; without one: today, by the project's clocks")


def day_asked(text: str | None) -> date | None:
    """The day that an address names. Raises Refused for what is none."""
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = date.min
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise Refused(f"Write the day as 2026-03-04, of the years {FIRST_YEAR} to {LAST_YEAR}.", field="day")
    return day


class EntryReads(GenericAPIView):
    serializer_class = serializers.EntryOut
    queryset = DiaryEntry.objects.none()

    def get_queryset(self) -> QuerySet[DiaryEntry]:
        return queries.entries_seen(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT, DAY, KIND])
class EntryList(EntryReads, ListAPIView):
    """Entries of the diary, the current version of each, those withdrawn among them. Empty for outside parties."""

    def get_queryset(self) -> QuerySet[DiaryEntry]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset().filter(replaced_by=None), asked.get("project"), "project")
        if day := day_asked(asked.get("day")):
            rows = rows.filter(day=day)
        kind = one_of(asked.get("kind"), list(DiaryEntry.Kind.values), "kind")
        return rows.filter(kind=kind) if kind else rows


class EntryDetail(EntryReads, RetrieveAPIView):
    """One version of an entry."""


class EntryWrites(Writes):
    queryset = DiaryEntry.objects.none()

    def entry(self, by: Person, pk: UUID) -> DiaryEntry:
        return get_object_or_404(queries.entries_seen(by), pk=pk)

    def told(self, by: Person, entry: DiaryEntry, status: int = 200) -> Response:
        return Response(serializers.EntryOut(queries.entries_seen(by).get(pk=entry.pk)).data, status=status)


class EntryWrite(EntryWrites):
    serializer_class = serializers.EntryIn

    @extend_schema(responses={201: serializers.EntryOut, 200: serializers.EntryOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Enter something of a day of the project.

        200 for the same sent again. 428 for what is doubtful: nothing is stored yet; send it again with `confirmed` if
        it is meant, and the entry keeps what was asked.
        """
        by = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        require(by, *actions.WRITERS, to="write in the diary")
        sent = self.sent(request)
        own, confirmed = sent.pop("id"), sent.pop("confirmed")
        entry, new = actions.write_entry(by, id=own, project=project, sent=read(by, project, sent), confirmed=confirmed)
        return self.told(by, entry, 201 if new else 200)


class EntryCorrect(EntryWrites):
    serializer_class = serializers.EntryCorrection

    @extend_schema(responses={201: serializers.EntryOut, 200: serializers.EntryOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Put it right by a new version with all of its content; kind and day stay. 409 where it was corrected."""
        by = person_of(request)
        found = self.entry(by, pk)
        actions.refuse_strangers(by, found)
        sent = self.sent(request)
        own, confirmed, reason = sent.pop("id"), sent.pop("confirmed"), sent.pop("reason")
        content = read(by, found.project, {**sent, "kind": found.kind, "day": found.day})
        entry, new = actions.correct_entry(by, entry=found, id=own, sent=content, reason=reason, confirmed=confirmed)
        return self.told(by, entry, 201 if new else 200)


class EntryDeed(EntryWrites):
    def done(self, request: Request, pk: UUID, act: Callable[..., Any]) -> Response:
        by = person_of(request)
        found = self.entry(by, pk)
        actions.refuse_strangers(by, found)
        return self.told(by, act(by, entry=found, **self.sent(request)))


class EntryWithdraw(EntryDeed):
    serializer_class = serializers.EntryWhy

    @extend_schema(responses=serializers.EntryOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that it was entered by mistake; it stays readable and counts for nothing."""
        return self.done(request, pk, actions.withdraw_entry)


class EntryRestore(EntryDeed):
    serializer_class = serializers.EntryWhy

    @extend_schema(responses=serializers.EntryOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a withdrawal back."""
        return self.done(request, pk, actions.restore_entry)


class NoteReading(EntryWrites):
    serializer_class = serializers.NoteReadIn

    @extend_schema(responses=serializers.EntryOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that you have read a note to the next shift, which said again changes nothing; or take that back."""
        by = person_of(request)
        found = self.entry(by, pk)
        if self.sent(request)["read"]:
            actions.mark_read(by, entry=found)
        else:
            actions.mark_unread(by, entry=found)
        return self.told(by, found)


class DayDetail(GenericAPIView):
    serializer_class = serializers.DayOut
    queryset = Project.objects.none()

    @extend_schema(parameters=[WHICH])
    def get(self, request: Request, pk: UUID) -> Response:
        """A day of the project: its entries, shifts, signatures, and what you would sign."""
        by = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        queries.require_reader(by)
        day = day_asked(request.query_params.get("day")) or project.day_of(timezone.now())
        return Response(serializers.DayOut(queries.day_of(by, project, day)).data)


class SignatureReads(GenericAPIView):
    serializer_class: Any = serializers.SignatureOut
    queryset = DaySignature.objects.none()

    def get_queryset(self) -> QuerySet[DaySignature]:
        return queries.signatures_seen(person_of(self.request))


def signature_told(signature: DaySignature) -> dict[str, Any]:
    now = work.work_of(signature.project, signature.day, {signature.by_id}).get(signature.by_id, [])
    return dict(serializers.SignatureDetail(signature, context={"changed": work.since(signature.content, now)}).data)


@extend_schema(parameters=[OF_PROJECT, DAY])
class SignatureList(SignatureReads, ListAPIView):
    """Signatures under days, those withdrawn among them. Empty for outside parties."""

    def get_queryset(self) -> QuerySet[DaySignature]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        day = day_asked(asked.get("day"))
        return rows.filter(day=day) if day else rows


class SignatureDetail(SignatureReads, RetrieveAPIView):
    """One signature with what was signed, and what differs now."""

    serializer_class = serializers.SignatureDetail

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(signature_told(self.get_object()))


class DaySign(Writes):
    serializer_class = serializers.SignIn
    queryset = DaySignature.objects.none()

    @extend_schema(responses={201: serializers.SignatureDetail, 200: serializers.SignatureDetail})
    def post(self, request: Request, pk: UUID) -> Response:
        """Sign all that you recorded and wrote on the day, as it was shown to you. 409 where it changed since."""
        by = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        require(by, *actions.WRITERS, to="sign their day")
        signature, new = signing.sign_day(by, project=project, **self.sent(request))
        return Response(signature_told(queries.signatures_seen(by).get(pk=signature.pk)), status=201 if new else 200)


class SignatureWithdraw(Writes):
    serializer_class = serializers.EntryWhy
    queryset = DaySignature.objects.none()

    @extend_schema(responses=serializers.SignatureDetail)
    def post(self, request: Request, pk: UUID) -> Response:
        """Withdraw your own signature with a reason; the day can be signed again."""
        by = person_of(request)
        found = get_object_or_404(queries.signatures_seen(by), pk=pk)
        signing.refuse_strangers(by, found)
        signing.withdraw_signature(by, signature=found, **self.sent(request))
        return Response(signature_told(queries.signatures_seen(by).get(pk=pk)))


def read(by: Person, project: Project, sent: dict[str, Any]) -> EntrySent:
    """What was sent with the things that it names. Raises NotThere, naming the field, for what is not seen."""
    found: dict[str, Any] = {}
    for name, model, path in (("crew", Crew, "party__organisation"), ("party", Party, "organisation")):
        if sent[name]:
            rows: Any = model.objects
            found[name] = rows.visible_to(by).filter(project=project, pk=sent[name]).select_related(path).first()
            if found[name] is None:
                raise NotThere(Fault(f"There is no such {name}, or it is not yours to see.", name))
    return EntrySent(**{**sent, **found})
