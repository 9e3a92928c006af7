"""Parties and scopes in the API: the same actions as the pages."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import Strict, person_of
from accounts.models import Organisation, Person, Role
from accounts.rights import require
from accounts.serializers import Because
from inspection.projects import actions, parties, queries
from inspection.projects.api import Writes, parties_told
from inspection.projects.breakdown_api import named
from inspection.projects.models import InspectionArea, Membership, Party, Project, Scope, Section
from inspection.projects.serializers import PartySerializer, ScopeSerializer


class NewParty(Strict):
    project = serializers.UUIDField()
    organisation = serializers.UUIDField()
    kind = serializers.ChoiceField(
        [(kind.value, kind.label) for kind in parties.ORGANISATIONS], help_text="What it is in this project"
    )


class GivenScope(Strict):
    section = serializers.UUIDField(required=False, allow_null=True, default=None)
    area = serializers.UUIDField(required=False, allow_null=True, default=None)


class WithParty(Writes):
    def answered(self, party: Party, status: int = 200) -> Response:
        by = person_of(self.request)
        return Response(parties_told([queries.parties_shown(by).get(pk=party.pk)], by)[0], status=status)

    def party(self, request: Request, pk: UUID) -> Party:
        found: Party = get_object_or_404(queries.parties_shown(person_of(request)), pk=pk)
        return found


class PartyAdd(WithParty):
    serializer_class = NewParty

    @extend_schema(responses={201: PartySerializer})
    def post(self, request: Request) -> Response:
        """Let an organisation be a party of a project; one that ended is taken up again."""
        by, sent = person_of(request), self.sent(request)
        project = named(Project.objects.visible_to(by), sent.pop("project"), "project")
        organisation = named(Organisation.objects.all(), sent.pop("organisation"), "organisation")
        return self.answered(parties.add_party(by, project=project, organisation=organisation, **sent), 201)


class PartyEnd(WithParty):
    serializer_class = Because

    @extend_schema(responses=PartySerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """End its part: its people no longer see the project. 409 when it ended already."""
        found = self.party(request, pk)
        return self.answered(parties.end_party(person_of(request), party=found, **self.sent(request)))


class PartyTakeUp(WithParty):
    serializer_class = Because

    @extend_schema(responses=PartySerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take its end back: its people see the project again, with the scope it had."""
        found = self.party(request, pk)
        return self.answered(parties.take_up_again(person_of(request), party=found, **self.sent(request)))


class ScopeGive(WithParty):
    serializer_class = GivenScope

    @extend_schema(responses={201: ScopeSerializer})
    def post(self, request: Request, pk: UUID) -> Response:
        """Give a section with all below it, or an area, to a painting contractor."""
        by, found = person_of(request), self.party(request, pk)
        sent: dict[str, Any] = self.sent(request)
        section = named(Section.objects.visible_to(by).select_related("structure"), sent["section"], "section")
        area = named(InspectionArea.objects.visible_to(by).select_related("structure"), sent["area"], "area")
        place = parties.one_place(section, area)
        return Response(ScopeSerializer(parties.give_scope(by, party=found, place=place)).data, status=201)


class ScopeEnd(Writes):
    serializer_class = Because

    @extend_schema(responses=ScopeSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take it from the contractor again; with the last one, all of the project is theirs to see."""
        by = person_of(request)
        scope: Scope = get_object_or_404(parties.scopes_seen_by(by), pk=pk)
        return Response(ScopeSerializer(parties.end_scope(by, scope=scope, **self.sent(request))).data)


class MembershipOut(serializers.ModelSerializer):
    name = serializers.CharField(source="person.name", read_only=True)
    role = serializers.CharField(read_only=True)

    class Meta:
        model = Membership
        fields = ("id", "project", "person", "name", "organisation", "role", "begun_at", "ended_at")
        read_only_fields = fields


class NewMember(Strict):
    person = serializers.UUIDField()
    role = serializers.CharField(
        max_length=16, help_text=f"In which they take part: {', '.join(role.value for role in actions.TAKE_PART)}"
    )


class MemberAdd(Writes):
    serializer_class = NewMember
    queryset = Membership.objects.none()

    @extend_schema(responses={201: MembershipOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Let a person take part in the project in a role they hold."""
        by, sent = person_of(request), self.sent(request)
        project = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        require(by, Role.QUALITY_MANAGER, to="add members to a project")
        person = named(Person.objects.filter(is_active=True), sent.pop("person"), "person")
        return Response(MembershipOut(actions.add_member(by, project=project, person=person, **sent)).data, status=201)


class MemberEnd(Writes):
    serializer_class = None
    queryset = Membership.objects.none()

    @extend_schema(request=None, responses=MembershipOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """End a person's part in a project; what they recorded stays theirs. Added again, they take part again."""
        by = person_of(request)
        rows = Membership.objects.visible_to(by).select_related("person", "project")
        ended = actions.end_membership(by, membership=get_object_or_404(rows, pk=pk))
        return Response(MembershipOut(ended).data)
