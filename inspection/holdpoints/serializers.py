"""Hold points and decisions as the API takes and shows them."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict, person_of
from inspection.holdpoints.chain.links import State
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.ground import PLACES
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outline import FAILED_CLIMATE, Outline, outline_of
from inspection.holdpoints.queries import MOST_AT_ONCE
from inspection.projects.models import InspectionArea, Party
from inspection.projects.serializers import Moment


class DecisionOut(serializers.ModelSerializer):
    class Meta:
        model = Decision
        fields = (
            "number", "outcome", "party", "reason", "reworked_at", "reworked_by", "signed_as", "admitted", "at",
            "record", "evidence_digest",
        )  # fmt: skip
        read_only_fields = fields


class HoldPointOut(serializers.ModelSerializer):
    area_code = serializers.CharField(source="area.code", read_only=True)
    area_label = serializers.CharField(
        source="area.label", read_only=True, help_text="The code, with its structure where two structures share it"
    )
    coat_name = serializers.CharField(
        source="step", read_only=True, help_text="After which it falls; `bare steel` before the first"
    )
    place = serializers.SerializerMethodField(help_text="Where it lies on the board, by its evidence as it is now")
    record = serializers.UUIDField(source="record_id", read_only=True, allow_null=True)

    class Meta:
        model = HoldPoint
        fields = (
            "id", "project", "area", "area_code", "area_label", "coat", "coat_name", "kind", "title", "state", "place",
            "record",
        )  # fmt: skip
        read_only_fields = fields

    def to_representation(self, point: HoldPoint) -> dict[str, Any]:
        """Records are not a contractor's to open, so that none is named to their people."""
        shown: dict[str, Any] = super().to_representation(point)
        return {**shown, "record": None} if self._to_contractor else shown

    @property
    def _to_contractor(self) -> bool:
        request = self.context.get("request")
        return request is not None and person_of(request).is_contractors

    @extend_schema_field(serializers.ChoiceField(choices=list(PLACES.items())))
    def get_place(self, point: HoldPoint) -> str:
        return HoldPoint.Lies(point.lies).name.lower()


class RequiredOut(serializers.Serializer):
    """A record that the point requires beside its measurement, as it stands now."""

    kind = serializers.CharField(source="kind.name")
    record = serializers.UUIDField(source="record.pk", allow_null=True, default=None)
    verdict = serializers.CharField(source="record.verdict", allow_null=True, default=None)
    standing = serializers.CharField(source="standing.state", allow_null=True, default=None)


class LinkOut(serializers.Serializer):
    """One thing that had to come before, and what says whether it did."""

    key = serializers.CharField(help_text="Which link: steelwork, previous_coat, climate_during, hold:… and others")
    title = serializers.CharField()
    state = serializers.ChoiceField(choices=[each.value for each in State])
    sentence = serializers.CharField(allow_blank=True, help_text="Empty for a painting contractor's people")
    asked_by = serializers.CharField(
        source="source", allow_blank=True, help_text="What asks for it: system, data sheet, plan or rule"
    )
    kind = serializers.CharField(
        allow_blank=True, help_text="Of what says so: a kind of record, lot, batch, mix, point, logger_file"
    )
    id = serializers.UUIDField(allow_null=True)


class PlaceChainOut(serializers.Serializer):
    """What had to come before a lot at one of its areas."""

    area = serializers.UUIDField(source="area.pk")
    area_code = serializers.CharField(source="area.code")
    chain = LinkOut(many=True)


class EvidenceOut(serializers.Serializer):
    digest = serializers.CharField(help_text="Send it back with a decision: it says on what you decided")
    releasable = serializers.BooleanField()
    why_not = serializers.ListField(child=serializers.CharField())
    verdict = serializers.CharField(allow_blank=True)
    standing = serializers.CharField(source="standing.state", allow_null=True, default=None)
    reasons = serializers.ListField(child=serializers.CharField())
    climate = serializers.ListField(child=serializers.UUIDField(), source="climate_ids")
    climate_verdict = serializers.ChoiceField(choices=["pass", "fail", "not recorded"])
    to_accept = serializers.ListField(
        child=serializers.CharField(),
        help_text="Each climate record that failed, each other link of the chain that is not met, open rework of the "
        "area, and paint of withdrawn batches; a release then says why in `acceptance`",
    )
    verifications = serializers.ListField(child=serializers.UUIDField(), source="verification_ids")
    also_required = RequiredOut(source="required", many=True)
    open_nonconformances = serializers.ListField(child=serializers.UUIDField(), source="nonconformance_ids")
    chain = LinkOut(many=True, help_text="What had to come before; a link only where something asks for it")


def outlined(told: Outline) -> dict[str, Any]:
    """Of `EvidenceOut` what a painting contractor's people are told: the digest, and whether it carries a release."""
    return {
        "digest": told.digest, "releasable": told.releasable, "why_not": list(told.why_not), "verdict": "",
        "standing": None, "reasons": [], "climate": [],
        "climate_verdict": "fail" if FAILED_CLIMATE in told.to_accept else "not recorded",
        "to_accept": list(told.to_accept),
        "verifications": [], "also_required": [], "open_nonconformances": [],
        "chain": LinkOut(told.chain, many=True).data,
    }  # fmt: skip


class HoldPointDetail(HoldPointOut):
    evidence = serializers.SerializerMethodField()
    decisions = DecisionOut(many=True, read_only=True)

    class Meta:
        model = HoldPoint
        fields = (*HoldPointOut.Meta.fields, "evidence", "decisions")
        read_only_fields = fields

    @extend_schema_field(EvidenceOut)
    def get_evidence(self, point: HoldPoint) -> dict[str, Any]:
        evidence = evidence_of(point)
        return outlined(outline_of(evidence)) if self._to_contractor else dict(EvidenceOut(evidence).data)


class Signed(Strict):
    password = serializers.CharField(max_length=200, trim_whitespace=False, help_text="Yours, as your signature")
    evidence_digest = serializers.CharField(max_length=64, help_text="`evidence.digest` of the point as you saw it")


class SignedRelease(Signed):
    acceptance = serializers.CharField(
        max_length=2_000,
        required=False,
        default="",
        allow_blank=True,
        help_text="Why the coat is accepted, where `evidence.to_accept` names any",
    )


class SignedWithReason(Signed):
    reason = serializers.CharField(max_length=2_000)


class Attendance(Strict):
    id = serializers.UUIDField(
        required=False, help_text="Made by the sender (UUID version 7); sending it again under it is safe"
    )
    party = serializers.PrimaryKeyRelatedField(
        queryset=Party.objects.all(), required=False, allow_null=True, default=None, pk_field=serializers.UUIDField(),
        help_text="Of a point of the plan, one of its parties; may be left out where there is one",
    )  # fmt: skip
    attended = serializers.BooleanField(help_text="Whether it attended; false that it did not come")
    note = serializers.CharField(max_length=2_000, required=False, allow_blank=True, default="")


class PointShown(Strict):
    point = serializers.UUIDField()
    evidence_digest = serializers.CharField(max_length=64, help_text="`evidence.digest` of the point as you saw it")


class DecidedTogether(Strict):
    outcome = serializers.ChoiceField(choices=["released", "refused", "waived"])
    points = PointShown(many=True, help_text=f"At most {MOST_AT_ONCE}")
    password = serializers.CharField(max_length=200, trim_whitespace=False, help_text="Yours, as your signature")
    reason = serializers.CharField(
        max_length=2_000, required=False, allow_blank=True, default="", help_text="Given to refuse or to waive"
    )


class SeveralChanged(Strict):
    deed = serializers.ChoiceField(
        choices=["present", "unpresent", "close", "reopen", "letter", "unletter"],
        help_text="Present points that require no record, say that they are not applicable (`close`), give a party "
        "another letter there than its line does (`letter`); and each way back",
    )
    points = serializers.ListField(child=serializers.UUIDField(), help_text=f"At most {MOST_AT_ONCE}, all or none")
    reason = serializers.CharField(
        max_length=2_000, required=False, allow_blank=True, default="", help_text="Needed but to present"
    )
    party_kind = serializers.ChoiceField(choices=Party.Kind.choices, required=False, help_text="With `letter`")
    party = serializers.PrimaryKeyRelatedField(
        queryset=Party.objects.all(), required=False, allow_null=True, default=None, pk_field=serializers.UUIDField(),
        help_text="With `letter`: one party of that kind; null all of them",
    )  # fmt: skip
    letter = serializers.CharField(max_length=3, required=False, help_text="With `letter`, of the project's legend")


class CellOut(serializers.Serializer):
    line = serializers.CharField(source="line.number")
    title = serializers.CharField(source="line.title")
    point = serializers.UUIDField(allow_null=True)
    state = serializers.CharField(source="words")
    why = serializers.CharField(help_text="Of one that is not applicable, the reason")


class MatrixRowOut(serializers.Serializer):
    area = serializers.UUIDField(source="area.pk")
    area_code = serializers.CharField(source="area.code")
    cells = CellOut(many=True)


class ApplyTo(Strict):
    areas = serializers.PrimaryKeyRelatedField(
        many=True, queryset=InspectionArea.objects.all(), pk_field=serializers.UUIDField(), help_text="At most 2,000"
    )


class AppliedOut(serializers.Serializer):
    planned = serializers.IntegerField(help_text="Points")
    areas = serializers.IntegerField()
    without_coat = serializers.ListField(
        child=serializers.CharField(), help_text="Lines after a coat that the system of an area has not"
    )


class PresentedAgain(Strict):
    note = serializers.CharField(max_length=2_000, help_text="What was done since it was refused")
    reworked_at = Moment(
        required=False, allow_null=True, default=None,
        help_text="When rework was finished; the release then needs a measurement begun after it",
    )  # fmt: skip
    reworked_by = serializers.CharField(
        max_length=200, required=False, allow_blank=True, default="", help_text="Who did it; given with `reworked_at`"
    )


class NewTitle(Strict):
    title = serializers.CharField(max_length=160)
