"""Forms of hold points; the actions judge what they read."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

from django import forms

from accounts.forms import signature
from inspection.fieldwork.kinds import BY_NAME
from inspection.foundation.form_fields import InZone, LocalMoment, set_up
from inspection.holdpoints.actions.applying import MOST_AREAS
from inspection.holdpoints.actions.points import REQUIRABLE
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.plan.legend import legend_of
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Party, Project, Section


class _Signed(forms.Form):
    """What is signed by typing one's password again, under the evidence named in the page."""

    evidence = forms.CharField(max_length=64, widget=forms.HiddenInput)
    password = signature()


class Release(_Signed):
    """With `acceptance` only where a link of the chain is not met, as by climate, or rework is open."""

    acceptance = forms.CharField(
        label="Why the coat is accepted all the same",
        max_length=2_000,
        help_text="Such as when the coat was applied, and who judged it. It is kept with your release.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    field_order = ("acceptance", "password")

    def __init__(self, *args: Any, asks_why: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["acceptance"].error_messages["required"] = asks_why
        if not asks_why:
            del self.fields["acceptance"]


FOR_LETTER = "to give another letter"
ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
SHOWN = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12} [0-9a-f]{64}")


class DecideMany(forms.Form):
    """Which of the points shown are decided on; each comes with the digest of the evidence that is shown of it."""

    reason = forms.CharField(
        label="Why", max_length=2_000, help_text="Kept with each of them.", widget=forms.Textarea(attrs={"rows": 3})
    )
    points = forms.MultipleChoiceField(label="Points", required=False)
    every = forms.BooleanField(label="All that are shown here", required=False)
    password = signature()

    def __init__(self, *args: Any, shown: list[str], outcome: str, **kwargs: Any) -> None:
        """`shown` are the points on the page as it was sent, written as `point digest`; no other text is one."""
        super().__init__(*args, **kwargs)
        self.shown = [each for each in shown if SHOWN.fullmatch(each)]
        set_up(self, "points", choices=[(each, each) for each in self.shown])
        if outcome == Decision.Outcome.RELEASED:
            del self.fields["reason"]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        chosen = self.shown if values.pop("every", False) else values.get("points") or []
        if not chosen:
            self.add_error("points", "Choose at least one point, or all that are shown.")
        values["shown"] = dict(each.split(" ", 1) for each in chosen)
        values.pop("points", None)
        return values


class DecideAwaited(DecideMany):
    """The same of what waits for a person, in whatever project."""

    outcome = forms.TypedChoiceField(
        label="What you decide",
        choices=[("released", "Release"), ("refused", "Refuse"), ("waived", "Waive")],
        coerce=Decision.Outcome,
        widget=forms.RadioSelect,
        initial="released",
    )
    field_order = ("outcome", "reason", "password")

    def __init__(self, *args: Any, shown: list[str], **kwargs: Any) -> None:
        super().__init__(*args, shown=shown, outcome="", **kwargs)
        self.fields["reason"].required = False
        self.fields["reason"].needed_by = "to refuse or to waive"  # type: ignore[attr-defined]  # read by forms/field.html

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        releasing = values.get("outcome") == Decision.Outcome.RELEASED
        if not releasing and not values.get("reason"):
            self.add_error("reason", "Say why; it is kept with each of them.")
        return {**values, "reason": "" if releasing else values.get("reason", "")}


class ChangeSeveral(forms.Form):
    """What is done to several points, by somebody who may do `deeds`, and which of those shown."""

    deed = forms.ChoiceField(label="What to do", widget=forms.RadioSelect)
    kind = forms.ChoiceField(label="Party", required=False)
    letter = forms.ChoiceField(label="Letter", required=False)
    reason = forms.CharField(
        label="Why", max_length=2_000, required=False, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="One reason for all; it stands with each of them.",
    )  # fmt: skip
    points = forms.MultipleChoiceField(label="Points", required=False)
    every = forms.BooleanField(label="All that are shown here", required=False)

    def __init__(
        self, *args: Any, deeds: list[tuple[str, str]], shown: list[str], project: Project, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "deed", choices=deeds)
        set_up(self, "points", choices=[(each, each) for each in shown])
        self.shown = [each for each in shown if ID.fullmatch(each)]
        there = Party.objects.in_force().filter(project=project).select_related("organisation")
        parties = list(there.order_by("kind", "begun_at"))
        kinds = {party.kind: party.get_kind_display() for party in parties}
        many = [kind for kind in kinds if sum(party.kind == kind for party in parties) > 1]
        named = [(f"{party.kind} {party.pk}", str(party)) for party in parties if party.kind in many]
        set_up(self, "kind", choices=[("", "Choose"), *kinds.items(), *named])
        letters = [(row.letter, f"{row.letter} {row.word}") for row in legend_of(project)]
        set_up(self, "letter", choices=[("", "Choose"), *letters])
        self.parties = {str(party.pk): party for party in parties}
        for name, needed_by in (("kind", FOR_LETTER), ("letter", FOR_LETTER), ("reason", "needed but to present")):
            self.fields[name].needed_by = needed_by  # type: ignore[attr-defined]  # read by forms/field.html
        if "letter" not in dict(deeds):
            del self.fields["kind"], self.fields["letter"]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        chosen = self.shown if values.pop("every", False) else values.get("points") or []
        if not chosen:
            self.add_error("points", "Choose at least one point, or all that are shown.")
        kind, letter = values.pop("kind", ""), values.pop("letter", "")
        if values.get("deed") == "letter":
            for name, given in (("kind", kind), ("letter", letter)):
                if not given and name not in self.errors:
                    self.add_error(name, f"Choose the {'party' if name == 'kind' else 'letter'}.")
            kind, _, party = kind.partition(" ")
            values |= {"party_kind": kind, "letter": letter, "party": self.parties.get(party)}
        return {**values, "points": [UUID(each) for each in chosen if ID.fullmatch(each)]}


class Refuse(_Signed):
    reason = forms.CharField(
        label="Why it is refused",
        max_length=2_000,
        help_text="The inspector reads this and puts it right.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    field_order = ("reason", "password")


class Waive(_Signed):
    reason = forms.CharField(
        label="Why it is waived",
        max_length=2_000,
        help_text="Work may go on without your looking. It says nothing of the evidence.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    field_order = ("reason", "password")


class NoteAttendance(forms.Form):
    party = forms.ModelChoiceField(Party.objects.none(), label="Party", empty_label=None)
    attended = forms.TypedChoiceField(
        label="They", choices=[("yes", "attended"), ("no", "did not come")], coerce=lambda value: value == "yes",
        help_text="It is noted with the point. It releases nothing and holds nothing.",
    )  # fmt: skip
    note = forms.CharField(label="Note", max_length=2_000, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, parties: list[Party], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "party", queryset=Party.objects.filter(pk__in=[party.pk for party in parties]))


class Presented(forms.Form):
    """That a point without records can be looked at, with a note; taken back with a reason."""

    reason = forms.CharField(max_length=2_000, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, back: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = "Why it cannot be looked at yet" if back else "Note"
        self.fields["reason"].required = self.back = back


class TakeRefusalBack(forms.Form):
    reason = forms.CharField(
        label="Why it is taken back",
        max_length=2_000,
        help_text="What was measured before a refusal counts again; a waived point waits again.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    password = signature()


class PresentAgain(InZone):
    note = forms.CharField(
        label="What was done since it was refused", max_length=2_000, widget=forms.Textarea(attrs={"rows": 4})
    )
    reworked_at = LocalMoment(
        label="When rework was finished",
        required=False,
        help_text="Where the film was worked on. The release then needs a measurement begun after it.",
    )
    reworked_by = forms.CharField(label="Who did the rework", max_length=200, required=False)


class PlanPoints(forms.Form):
    """Which areas get the point: those ticked, whole groups, or all; of the latter those that have not yet this point.

    A group is the areas of one structure under one coating system, for the coat belongs to a system.
    """

    title = forms.CharField(
        label="Title", max_length=160, help_text="What is accepted, such as “Primer before build coat”"
    )
    kind = forms.ChoiceField(
        label="Kind",
        choices=HoldPoint.Kind.choices,
        help_text="Work stops at a hold point until the client releases it; a witness point invites them to be there.",
    )
    coat = forms.ModelChoiceField(Coat.objects.none(), label="After coat", empty_label="Choose")
    requires = forms.MultipleChoiceField(
        label="It also requires",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        choices=[(name, BY_NAME[name].title) for name in REQUIRABLE],
        help_text="Beside the measurement of the coat: the newest record of the area has to pass and to be sound.",
    )
    every = forms.BooleanField(
        label="On every area that has this coat and not yet this point", required=False, initial=False
    )
    groups = forms.MultipleChoiceField(label="Whole groups", required=False)
    areas = forms.ModelMultipleChoiceField(InspectionArea.objects.none(), label="Areas", required=False)

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        in_force = CoatingSystem.objects.filter(project=project).in_force()
        set_up(self, "coat", queryset=Coat.objects.filter(system__in=in_force).select_related("system"))
        set_up(self, "coat", label_from_instance=lambda coat: f"{coat.system}: {coat}")
        # A repaired part has the points of its area after the coat that was found, and no others.
        areas = InspectionArea.objects.in_use().whole().filter(structure__project=project)
        areas = areas.select_related("structure", "system")
        set_up(self, "areas", queryset=areas)
        self.grouped: dict[str, list[InspectionArea]] = {}
        for area in areas.order_by("structure__name", "system__name", "code"):
            self.grouped.setdefault(f"{area.structure_id} {area.system_id}", []).append(area)
        set_up(self, "groups", choices=[(key, key) for key in self.grouped])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        coat, kind = values.get("coat"), values.get("kind")
        every, groups = values.pop("every", False), values.pop("groups", None) or []
        areas = {area.pk: area for area in values.get("areas") or ()}
        if coat and kind:
            wanted = [area for key in groups for area in self.grouped[key]]
            if foreign := next((area for area in wanted if area.system_id != coat.system_id), None):
                self.add_error("groups", f"{coat.name} is not a coat of {foreign.system}; choose groups of its system.")
            if every:
                wanted = [area for of_one in self.grouped.values() for area in of_one]
            planned = set(HoldPoint.objects.filter(coat=coat, kind=kind).values_list("area", flat=True))
            areas |= {a.pk: a for a in wanted if a.system_id == coat.system_id and a.pk not in planned}
        values["areas"] = sorted(areas.values(), key=lambda area: area.code)
        return values

    def groups_shown(self) -> list[dict[str, Any]]:
        """Each group with its areas, and what is ticked of them."""
        groups, ticked = (set(map(str, self[name].value() or ())) for name in ("groups", "areas"))
        return [
            {
                "key": key, "structure": areas[0].structure, "system": areas[0].system, "ticked": key in groups,
                "areas": [(area, str(area.pk) in ticked) for area in areas],
                "open": any(str(area.pk) in ticked for area in areas),
            }
            for key, areas in self.grouped.items()
        ]  # fmt: skip


class ApplyPlan(forms.Form):
    """Which areas get the points: all that are in use, those of a section, or those of a coating system."""

    section = forms.ModelChoiceField(
        Section.objects.none(), label="Areas of section", required=False, empty_label="Every section"
    )
    system = forms.ModelChoiceField(
        CoatingSystem.objects.none(), label="Areas under coating system", required=False, empty_label="Every system"
    )

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.project = project
        sections = Section.objects.filter(structure__project=project).select_related("structure")
        set_up(self, "section", queryset=sections, label_from_instance=lambda section: section.name_path)
        set_up(self, "system", queryset=CoatingSystem.objects.filter(project=project))

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        areas: Any = InspectionArea.objects.in_use().whole().filter(structure__project=self.project)
        if section := values.get("section"):
            areas = areas.within(section)
        if system := values.get("system"):
            areas = areas.filter(system=system)
        return {"areas": list(areas.order_by("code", "pk")[: MOST_AREAS + 1])}


class RenamePoint(forms.Form):
    title = forms.CharField(label="Title", max_length=160)
