"""Forms of the diary; the actions judge what they read."""

from __future__ import annotations

from typing import Any

from django import forms

from accounts import journal
from accounts.forms import signature
from accounts.models import Person
from inspection.diary.actions import LONGEST_WORD
from inspection.diary.checks import LONGEST_TEXT, EntrySent
from inspection.diary.kinds import COLUMNS, EntryKind
from inspection.diary.models import DiaryEntry
from inspection.foundation.form_fields import Figure, WholeFigure, set_up
from inspection.projects.forms import Because
from inspection.projects.models import Party, Project
from inspection.works.models import Crew

NONE = [("", "–")]


class _PartyField(forms.ModelChoiceField):
    def label_from_instance(self, party: Any) -> str:
        return str(party)


class _CrewField(forms.ModelChoiceField):
    def label_from_instance(self, crew: Any) -> str:
        return f"{crew}, {crew.party.organisation}"


class WriteEntry(forms.Form):
    # Made when the form is first shown, so that sending it twice stores one entry.
    id = forms.UUIDField(widget=forms.HiddenInput)
    crew = _CrewField(None, required=False, empty_label="–")
    party = _PartyField(None, required=False, empty_label="–")
    organisation = forms.CharField(max_length=LONGEST_WORD, required=False)
    who = forms.CharField(max_length=LONGEST_WORD, required=False)
    people = WholeFigure(required=False, example="6")
    hours = Figure(required=False, example="7.5")
    clock = forms.TimeField(
        required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Write a time of day, such as 06:00."},
    )  # fmt: skip
    cause = forms.ChoiceField(choices=NONE + DiaryEntry.Cause.choices, required=False)
    state = forms.ChoiceField(choices=NONE + DiaryEntry.State.choices, required=False)
    way = forms.ChoiceField(choices=NONE + DiaryEntry.Way.choices, required=False)
    text = forms.CharField(max_length=LONGEST_TEXT, required=False, widget=forms.Textarea(attrs={"rows": 4}))

    def __init__(self, *args: Any, by: Person, project: Project, kind: EntryKind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind
        for name in COLUMNS:
            if name not in kind.labels:
                del self.fields[name]
                continue
            field = self.fields[name]
            field.label, field.help_text = kind.labels[name], kind.hints.get(name, "")
            field.required = name in kind.needs
        if "crew" in self.fields:
            crews = Crew.objects.visible_to(by).in_use().filter(project=project).select_related("party__organisation")
            set_up(self, "crew", queryset=crews)
        if "party" in self.fields:
            set_up(self, "party", queryset=Party.objects.in_force().filter(project=project)
                   .select_related("organisation"))  # fmt: skip
        if kind.labels.keys() == {"text"}:
            self.fields["text"].widget.attrs["rows"] = 10
        self.order_fields(["reason", "id", *kind.labels])

    def sent(self, day: Any) -> EntrySent:
        values = {name: value for name, value in self.cleaned_data.items() if name in COLUMNS}
        return EntrySent(kind=self.kind.name, day=day, **values)

    @property
    def as_asked(self) -> str:
        """What a question was about; an answer holds for this and nothing else."""
        kept = {name: self.data.getlist(name) for name in self.fields if name != "id"}  # type: ignore[attr-defined]  # a form that is sent holds a QueryDict
        return journal.digest_of(kept)

    @property
    def is_confirmed(self) -> bool:
        return bool(self.data.get("confirmed") == self.as_asked)


class CorrectEntry(WriteEntry, Because):
    def __init__(self, *args: Any, of: DiaryEntry, **kwargs: Any) -> None:
        """With what the entry names among the choices, also where it has ended since."""
        super().__init__(*args, **kwargs)
        for name, model in (("crew", Crew), ("party", Party)):
            if name in self.fields and (kept := getattr(of, f"{name}_id")):
                known: Any = self.fields[name]
                path = "party__organisation" if name == "crew" else "organisation"
                rows = model.objects.filter(pk=kept) | known.queryset.select_related(None)
                known.queryset = rows.select_related(path)


def as_entered(entry: DiaryEntry) -> dict[str, Any]:
    """What the form is filled with to correct an entry; of a crew the party follows."""
    told = {name: getattr(entry, name) for name in COLUMNS}
    if entry.hours is not None:
        told["hours"] = f"{entry.hours.normalize():f}"
    return {**told, "party": None} if entry.crew_id else told


class Why(Because):
    pass


class Sign(forms.Form):
    id = forms.UUIDField(widget=forms.HiddenInput)
    digest = forms.CharField(max_length=64, widget=forms.HiddenInput)
    password = signature()
