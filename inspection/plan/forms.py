"""Forms of plans: what was typed becomes typed values; the actions judge them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms

from inspection.foundation.clocks import day_of
from inspection.foundation.form_fields import Day, WholeFigure, set_up
from inspection.foundation.refusals import Refused
from inspection.plan.calendar import NOTIFIED
from inspection.plan.legend import MOST_LETTERS, Letter
from inspection.plan.lines import Known, Letters, LineSent, sent_by
from inspection.plan.models import LONGEST_NUMBER, LeadUnit, Meaning, Plan, PlanLine
from inspection.plan.queries import may_be_asked
from inspection.plan.wording import kind_faults, lead_read, lead_told, requirements_read, requirements_told
from inspection.projects.models import Party, Project

WHY = {"label": "Why", "max_length": 1_000, "help_text": "The journal keeps it."}
WEEKDAYS = [
    (str(number), name)
    for number, name in enumerate(
        ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"), start=1
    )
]


class Because(forms.Form):
    reason = forms.CharField(**WHY)  # type: ignore[arg-type]  # each of its own type


class BeginPlan(forms.Form):
    name = forms.CharField(label="Name", max_length=120, help_text="As the contract calls it, with its number")
    template = forms.ModelChoiceField(
        Plan.objects.none(), label="Template", required=False, empty_label="None; begin with no line",
        help_text="What it holds is fitted to the project's parties and coats; you see how first.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        in_force = Plan.objects.filter(project=None, revisions__state="in_force")
        set_up(self, "template", queryset=in_force.distinct().order_by("name"))


class BeginRevision(forms.Form):
    note = forms.CharField(
        label="What it changes, and why", required=False, max_length=1_000, widget=forms.Textarea(attrs={"rows": 3})
    )


class NameTemplate(forms.Form):
    name = forms.CharField(label="Name of the template", max_length=120)


class Line(forms.Form):
    """One line of a plan. For each kind of party that may have one, its letter; where several, one for each."""

    number = forms.CharField(label="Number", max_length=LONGEST_NUMBER, help_text="Such as 4.2")
    activity = forms.ChoiceField(label="Activity", choices=PlanLine.Activity.choices)
    title = forms.CharField(label="Title", max_length=160)
    scope = forms.ChoiceField(
        label="Scope", choices=PlanLine.Scope.choices, initial=PlanLine.Scope.AREA, help_text="What it is done for"
    )
    coat = forms.ChoiceField(label="Falls after", required=False)
    frequency = forms.CharField(
        label="Frequency", max_length=160, help_text="Such as: every area; three in the first 100 m², then one a 100 m²"
    )
    criterion = forms.CharField(label="Criterion", max_length=300, help_text="By what it is accepted")
    method = forms.CharField(label="Method or standard", max_length=160, required=False)
    requires = forms.CharField(label="Records needed", max_length=300, required=False)
    lead = forms.CharField(
        label="Notice", max_length=12, required=False,
        help_text="48 h for working hours or 2 d for working days; empty for the project's own",
    )  # fmt: skip

    def __init__(self, data: Any = None, *, known: Known, kinds: Iterable[str], line: PlanLine | None = None) -> None:
        super().__init__(data, initial=_initial(line) if line else None)
        orders = range(1, 13) if known.coats is None else sorted(known.coats)
        set_up(self, "coat", choices=[("", "Bare steel, before the first coat"), *((n, f"Coat {n}") for n in orders)])
        set_up(self, "requires", help_text=f"With how many and how fresh, such as: 2 climate within 8 h, profile. "
               f"Known are {', '.join(kinds)}.")  # fmt: skip
        letters = [("", "Not concerned"), *((row.letter, f"{row.letter} {row.word}") for row in known.letters.values())]
        self._parties: dict[str, tuple[str, Any]] = {}
        for name, label, kind, party in _askable(known):
            self._parties[name] = (kind, party)
            self.fields[name] = forms.ChoiceField(label=label, choices=letters, required=False)

    def clean_requires(self) -> list[tuple[str, int, int | None]]:
        try:
            found = requirements_read(self.cleaned_data["requires"])
        except Refused as refusal:
            raise forms.ValidationError([fault.message for fault in refusal.faults]) from None
        if faults := kind_faults(found):
            raise forms.ValidationError([fault.message for fault in faults])
        return found

    def clean_lead(self) -> tuple[int | None, str]:
        try:
            return lead_read(self.cleaned_data["lead"])
        except Refused as refusal:
            raise forms.ValidationError([fault.message for fault in refusal.faults]) from None

    def sent(self, values: dict[str, Any]) -> LineSent:
        """The line that was typed."""
        lead, unit = values["lead"]
        texts = ("number", "activity", "title", "scope", "frequency", "criterion", "method", "requires")
        return LineSent(
            **{name: values[name] for name in texts}, coat_order=int(values["coat"]) if values["coat"] else None,
            lead=lead, lead_unit=unit,
            letters=[
                Letters(kind, values[name], party)
                for name, (kind, party) in self._parties.items()
                if values.get(name)
            ],
        )  # fmt: skip


def _askable(known: Known) -> list[tuple[str, str, str, Any]]:
    """The boxes for letters: name, label, kind and party; a kind with several parties has one for all and one each."""
    found: list[tuple[str, str, str, Any]] = []
    for kind in Party.Kind:
        there = [party for party in (known.parties or {}).values() if party.kind == kind]
        if kind not in known.kinds:
            continue
        one = f": {there[0].organisation}" if len(there) == 1 else ", all of them" if there else ""
        found.append((f"party_{kind.value}", f"{kind.label}{one}", kind.value, None))
        if len(there) > 1:
            found += [
                (f"party_{party.pk.hex}", f"{kind.label}: {party.organisation}", kind.value, party.pk)
                for party in there
            ]
    return found


def _initial(line: PlanLine) -> dict[str, Any]:
    sent = sent_by(line)
    letters = {f"party_{each.party.hex if each.party else each.party_kind}": each.letter for each in sent.letters}
    return {
        "number": sent.number, **sent.columns, "coat": sent.coat_order or "", "lead": lead_told(line),
        "requires": requirements_told(line.requirements.all()), **letters,
    }  # fmt: skip


class AskApproval(forms.Form):
    parties = forms.ModelMultipleChoiceField(
        Party.objects.none(), label="Who is to approve it", widget=forms.CheckboxSelectMultiple,
        help_text="Chosen are those that do more at a line than perform. Their people are written to.",
    )  # fmt: skip

    def __init__(self, data: Any = None, *, project: Project, chosen: Iterable[Party]) -> None:
        super().__init__(data, initial={"parties": [party.pk for party in chosen]})
        set_up(self, "parties", queryset=may_be_asked(project))


class Approve(forms.Form):
    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    password = forms.CharField(
        label="Your password", widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="It signs these lines for your party.",
    )  # fmt: skip


class BringIntoForce(forms.Form):
    applies_from = Day(label="Applies from", help_text="Today, or a day already past")


class LetterRow(forms.Form):
    letter = forms.CharField(label="Letter", max_length=3, required=False)
    meaning = forms.ChoiceField(label="Means", choices=Meaning.choices)
    word = forms.CharField(label="The contract's word", max_length=40, required=False)

    def __init__(self, data: Any, *, number: int, initial: dict[str, Any] | None) -> None:
        super().__init__(data, prefix=str(number), initial=initial)
        self.caption = f"Letter {number}"

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("letter") and not values.get("word"):
            self.add_error("word", "Give the contract's word for the letter.")
        if values.get("word") and not values.get("letter"):
            self.add_error("letter", "Give the letter that the word stands for, or empty both.")
        return values


def letter_rows(legend: list[Letter], data: Any) -> list[LetterRow]:
    """A row for each letter of the legend, and some to spare; an emptied one goes."""
    many = min(MOST_LETTERS, len(legend) + 3)
    kept = [{"letter": row.letter, "meaning": row.meaning, "word": row.word} for row in legend]
    return [
        LetterRow(data, number=number, initial=kept[number - 1] if number <= len(kept) else None)
        for number in range(1, many + 1)
    ]


class CalendarForm(forms.Form):
    weekdays = forms.MultipleChoiceField(
        label="Days worked", choices=WEEKDAYS, widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one day that is worked."},
    )  # fmt: skip
    begins = forms.TimeField(
        label="Working hours begin", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="With both times, only those hours count; without, all hours of a day worked",
    )  # fmt: skip
    ends = forms.TimeField(
        label="Working hours end", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    closed = forms.CharField(
        label="Closed days", required=False, max_length=40_000, widget=forms.Textarea(attrs={"rows": 6}),
        help_text="One a line, such as 2026-12-25 Christmas",
    )  # fmt: skip
    lead_hold = WholeFigure(label="Notice to those who hold", required=False, example="48")
    unit_hold = forms.ChoiceField(label="Counted in", choices=LeadUnit.choices, required=False)
    lead_witness = WholeFigure(label="Notice to those who witness", required=False, example="48")
    unit_witness = forms.ChoiceField(label="Counted in", choices=LeadUnit.choices, required=False)

    def __init__(self, data: Any = None, *, kept: dict[str, Any]) -> None:
        leads = {
            name: value
            for meaning, (lead, unit) in kept["leads"].items()
            for name, value in ((f"lead_{meaning}", lead), (f"unit_{meaning}", unit))
        }
        closed = "\n".join(f"{day} {why}".strip() for day, why in kept["closed"].items())
        own = {name: kept[name] for name in ("begins", "ends")}
        super().__init__(data, initial={"weekdays": list(kept["weekdays"]), "closed": closed, **own, **leads})

    def clean_closed(self) -> dict[date, str]:
        found: dict[date, str] = {}
        wrong = []
        for number, line in enumerate(self.cleaned_data["closed"].splitlines(), start=1):
            text, _, why = line.strip().partition(" ")
            if not text:
                continue
            try:
                day = day_of(text)
            except ValueError:
                wrong.append(f"Line {number}: “{text[:20]}” is no date; write 2026-12-25 Christmas.")
                continue
            if day in found:
                wrong.append(f"Line {number}: {day} is there twice.")
            found[day] = why.strip()[:80]
        if wrong:
            raise forms.ValidationError(wrong)
        return found

    def as_sent(self, values: dict[str, Any]) -> dict[str, Any]:
        leads = {
            meaning.value: (values[f"lead_{meaning.value}"], values[f"unit_{meaning.value}"] or LeadUnit.HOURS)
            for meaning in NOTIFIED
            if values[f"lead_{meaning.value}"] is not None
        }
        own = {name: values[name] for name in ("begins", "ends", "closed")}
        return {"weekdays": "".join(values["weekdays"]), "leads": leads, **own}


class Nothing(forms.Form):
    """A question with nothing to type."""
