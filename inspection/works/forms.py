"""Forms of crews and shifts: times are typed as the project's clocks show them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.form_fields import Day, LocalMoment
from inspection.projects.forms import Because
from inspection.projects.models import Party, Project
from inspection.works.crews import LONGEST_NAME
from inspection.works.models import Crew, CrewPerson, Shift
from inspection.works.planning import WEEKDAYS, Pattern
from inspection.works.queries import people_for

WORKDAYS = ["0", "1", "2", "3", "4"]


def zoned(form: forms.Form, project: Project) -> None:
    """Let every moment of the form be one of the project's clocks."""
    for field in form.fields.values():
        if isinstance(field, LocalMoment):
            field.zone = project.zone


class AddCrew(forms.Form):
    party = forms.ModelChoiceField(Party.objects.none(), label="Party", empty_label=None)
    name = forms.CharField(label="Name", max_length=LONGEST_NAME, help_text="Such as Days, or Blasters night")

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["party"]
        field.queryset = Party.objects.in_force().filter(project=project).select_related("organisation")
        field.initial = field.queryset.filter(kind=Party.Kind.INSPECTION).first()


class RenameCrew(Because):
    name = forms.CharField(label="Name", max_length=LONGEST_NAME)
    field_order = ("name", "reason")

    def __init__(self, *args: Any, thing: Crew, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"name": thing.name}} | kwargs)


class Why(Because):
    def __init__(self, *args: Any, thing: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)


class AddPeople(forms.Form):
    people = forms.ModelMultipleChoiceField(Person.objects.none(), label="People", widget=forms.CheckboxSelectMultiple)
    begun_at = LocalMoment(label="From")
    ended_at = LocalMoment(label="Until", required=False, help_text="Empty: until it is ended")

    def __init__(self, *args: Any, crew: Crew, **kwargs: Any) -> None:
        # From the beginning of the day, so that whoever is put in during a shift belongs to all of it.
        start, _ = crew.project.day_bounds(crew.project.day_of(timezone.now()))
        super().__init__(*args, **{"initial": {"begun_at": start}} | kwargs)
        field: Any = self.fields["people"]
        field.queryset = people_for(crew)
        zoned(self, crew.project)


class CorrectPart(Because):
    begun_at = LocalMoment(label="From")
    ended_at = LocalMoment(label="Until", required=False, help_text="Empty: still in the crew")
    field_order = ("begun_at", "ended_at", "reason")

    def __init__(self, *args: Any, thing: CrewPerson, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"begun_at": thing.begun_at, "ended_at": thing.ended_at}} | kwargs)
        zoned(self, thing.crew.project)


def clock_field(label: str, initial: str, hint: str = "") -> forms.TimeField:
    return forms.TimeField(
        label=label, initial=initial, help_text=hint,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Write a time of day, such as 06:00."},
    )  # fmt: skip


class PlanShifts(forms.Form):
    first = Day(label="First day")
    last = Day(label="Last day")
    weekdays = forms.MultipleChoiceField(
        label="On", choices=list(enumerate(WEEKDAYS)), initial=WORKDAYS, widget=forms.CheckboxSelectMultiple
    )
    begins = clock_field("From", "06:00")
    ends = clock_field("Until", "16:00", "A time that is not after the first is one of the next day.")

    def __init__(self, *args: Any, crew: Crew, **kwargs: Any) -> None:
        today = crew.project.day_of(timezone.now())
        super().__init__(*args, **{"initial": {"first": today, "last": today + timedelta(days=27)}} | kwargs)

    def pattern(self) -> Pattern:
        weekdays = frozenset(int(day) for day in self.cleaned_data["weekdays"])
        return Pattern(**{**self.cleaned_data, "weekdays": weekdays})


class CorrectTimes(Because):
    begun_at = LocalMoment(label="Begun", required=False)
    ended_at = LocalMoment(label="Ended", required=False, help_text="Empty: not told; then the planned one counts")
    field_order = ("begun_at", "ended_at", "reason")

    def __init__(self, *args: Any, thing: Shift, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"begun_at": thing.begun_at, "ended_at": thing.ended_at}} | kwargs)
        zoned(self, thing.crew.project)


class ReplanShift(Because):
    planned_begin = LocalMoment(label="Planned from")
    planned_end = LocalMoment(label="Planned until")
    field_order = ("planned_begin", "planned_end", "reason")

    def __init__(self, *args: Any, thing: Shift, **kwargs: Any) -> None:
        planned = {"planned_begin": thing.planned_begin, "planned_end": thing.planned_end}
        super().__init__(*args, **{"initial": planned} | kwargs)
        zoned(self, thing.crew.project)
