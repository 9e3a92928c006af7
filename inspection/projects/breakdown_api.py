"""Changes of the breakdown in the API: sections and areas, by the actions of the pages."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import Strict, person_of
from accounts.models import Person
from accounts.serializers import Because
from inspection.foundation.refusals import Fault
from inspection.projects import breakdown, division, queries, sections
from inspection.projects.api import Writes
from inspection.projects.division import FEWEST_PARTS, MOST_PARTS, Part
from inspection.projects.models import InspectionArea, Section, Structure
from inspection.projects.preconditions import NotThere
from inspection.projects.serializers import AreaSerializer, SectionSerializer


def square_metres() -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=15, decimal_places=6, help_text="Kept to a hundredth of a square metre")


def metres() -> serializers.DecimalField:
    return serializers.DecimalField(
        max_digits=15,
        decimal_places=6,
        allow_null=True,
        required=False,
        default=None,
        help_text="In m; null: not known",
    )


class Sizes(Because):
    area_m2 = square_metres()
    edges_m = metres()
    welds_m = metres()


class NewName(Because):
    code = serializers.CharField(max_length=60)
    name = serializers.CharField(max_length=120)
    shape = serializers.ChoiceField(InspectionArea.Shape.choices, required=False)


class NewPlace(Because):
    structure = serializers.UUIDField()
    section = serializers.UUIDField(allow_null=True, required=False, default=None)


class NewSystem(Because):
    system = serializers.UUIDField()


class PartIn(Strict):
    code = serializers.CharField(max_length=60)
    name = serializers.CharField(max_length=120)
    area_m2 = square_metres()
    edges_m = metres()
    welds_m = metres()


class Parts(Because):
    parts = serializers.ListField(child=PartIn(), min_length=FEWEST_PARTS, max_length=MOST_PARTS)


class Merged(Because):
    areas = serializers.ListField(child=serializers.UUIDField(), min_length=FEWEST_PARTS, max_length=2_000)
    code = serializers.CharField(max_length=60)
    name = serializers.CharField(max_length=120)


class NewSection(Strict):
    structure = serializers.UUIDField()
    parent = serializers.UUIDField(allow_null=True, required=False, default=None)  # type: ignore[assignment]  # a field
    name = serializers.CharField(max_length=60)


class ChangedSection(Because):
    parent = serializers.UUIDField(  # type: ignore[assignment]  # a field, not the serializer's own
        allow_null=True, required=False, help_text="Null: at the top of the structure; left out: where it hangs"
    )
    name = serializers.CharField(max_length=60)


def named(rows: QuerySet[Any], pk: UUID | None, field: str) -> Any:
    """The row of an id that a request names; None for none. Raises NotThere for one that is not there to the sender."""
    found = rows.filter(pk=pk).first() if pk else None
    if pk and found is None:
        raise NotThere(Fault(f"There is no such {field}, or it is not yours to see.", field))
    return found


class AreaWrites(Writes):
    """One change of one area; it answers with the area as it is then."""

    queryset = InspectionArea.objects.none()

    def area(self, request: Request, pk: UUID) -> InspectionArea:
        found: InspectionArea = get_object_or_404(queries.areas_seen_by(person_of(request)), pk=pk)
        return found

    def told(self, by: Person, area: InspectionArea) -> Response:
        return Response(AreaSerializer(queries.areas_seen_by(by).get(pk=area.pk)).data)


class AreaMeasure(AreaWrites):
    serializer_class = Sizes

    @extend_schema(responses=AreaSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Give it another size: all of its sizes are replaced. What was judged keeps what it was judged by."""
        by, area = person_of(request), self.area(request, pk)
        return self.told(by, breakdown.measure_again(by, area=area, **self.sent(request)))


class AreaRename(AreaWrites):
    serializer_class = NewName

    @extend_schema(responses=AreaSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Give it another code, name or shape."""
        by, area = person_of(request), self.area(request, pk)
        return self.told(by, breakdown.rename_area(by, area=area, **{"shape": area.shape} | self.sent(request)))


class AreaMove(AreaWrites):
    serializer_class = NewPlace

    @extend_schema(responses=AreaSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Hang it in another section, or on another structure of its project."""
        by, area, sent = person_of(request), self.area(request, pk), self.sent(request)
        structure = named(Structure.objects.visible_to(by).select_related("project"), sent["structure"], "structure")
        section = named(Section.objects.visible_to(by), sent["section"], "section")
        reason = sent["reason"]
        return self.told(by, breakdown.move_area(by, area=area, structure=structure, section=section, reason=reason))


class AreaSystem(AreaWrites):
    serializer_class = NewSystem

    @extend_schema(responses=AreaSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Give it another coating system. Points after coats of the former that nobody has released are closed."""
        by, area, sent = person_of(request), self.area(request, pk), self.sent(request)
        system = named(queries.systems_seen_by(by), sent["system"], "system")
        return self.told(by, breakdown.change_system(by, area=area, system=system, reason=sent["reason"]))


class AreaRetire(AreaWrites):
    serializer_class = Because

    @extend_schema(responses=AreaSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take it out of use; 409 when it is already. Records and decisions stay, and late evidence is still kept."""
        by, area = person_of(request), self.area(request, pk)
        return self.told(by, breakdown.retire_area(by, area=area, **self.sent(request)))


class AreaRestore(AreaWrites):
    serializer_class = Because

    @extend_schema(responses=AreaSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Bring it back into use; what took its place is retired again."""
        by, area = person_of(request), self.area(request, pk)
        return self.told(by, division.restore_area(by, area=area, **self.sent(request)))


class AreaDivide(AreaWrites):
    serializer_class = Parts

    @extend_schema(responses={201: AreaSerializer(many=True)})
    def post(self, request: Request, pk: UUID) -> Response:
        """Divide it into parts that take its place; 409 when it is retired. A part's fault has its number as row."""
        by, area, sent = person_of(request), self.area(request, pk), self.sent(request)
        parts = [Part(**part) for part in sent["parts"]]
        made = division.divide_area(by, area=area, parts=parts, reason=sent["reason"])
        return Response(AreaSerializer(made, many=True).data, status=201)


class AreasMerge(Writes):
    serializer_class = Merged

    @extend_schema(responses={201: AreaSerializer})
    def post(self, request: Request) -> Response:
        """Merge areas of one structure and system into a new one, as large as they are together."""
        by, sent = person_of(request), self.sent(request)
        wanted = set(sent.pop("areas"))
        areas = list(queries.areas_seen_by(by).filter(pk__in=wanted))
        if len(areas) != len(wanted):
            raise NotThere(Fault("There is no such area, or it is not yours to see.", "areas"))
        return Response(AreaSerializer(division.merge_areas(by, areas=areas, **sent)).data, status=201)


class SectionAdd(Writes):
    serializer_class = NewSection

    @extend_schema(responses={201: SectionSerializer})
    def post(self, request: Request) -> Response:
        """Add a section to a structure, at its top or below another section."""
        by, sent = person_of(request), self.sent(request)
        structure = named(Structure.objects.visible_to(by).select_related("project"), sent["structure"], "structure")
        parent = named(Section.objects.visible_to(by), sent["parent"], "parent")
        section = sections.add_section(by, structure=structure, parent=parent, name=sent["name"])
        return Response(SectionSerializer(section).data, status=201)


class SectionChange(Writes):
    serializer_class = ChangedSection

    @extend_schema(responses=SectionSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Rename it, or hang it elsewhere in its structure, with all below it."""
        by = person_of(request)
        section = get_object_or_404(Section.objects.visible_to(by).select_related("structure__project"), pk=pk)
        sent = self.sent(request)
        above = section.parent_id if "parent" not in sent else sent.pop("parent")
        parent = named(Section.objects.visible_to(by), above, "parent")
        return Response(SectionSerializer(sections.change_section(by, section=section, parent=parent, **sent)).data)


class SectionRemove(Writes):
    serializer_class = Because

    @extend_schema(responses={204: None})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take it away while nothing hangs in it; 409 when something does."""
        by = person_of(request)
        section = get_object_or_404(Section.objects.visible_to(by).select_related("structure__project"), pk=pk)
        sent = self.sent(request)
        sections.remove_section(by, section=section, **sent)
        return Response(status=204)
