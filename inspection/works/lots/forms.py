"""Forms of lots: places are typed a line each, times as the project's clocks show them. Actions judge them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q
from django.db.models.functions import Lower

from accounts import journal
from accounts.models import Person
from inspection.foundation.form_fields import Figure, LinesField, LocalMoment, Row, number, set_up
from inspection.projects.forms import Because
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.works.entering import LONGEST_NOTE
from inspection.works.forms import zoned
from inspection.works.lots import queries
from inspection.works.lots.actions import TEXTS
from inspection.works.lots.checks import LotSent, PlaceSent
from inspection.works.lots.mixes import MixDrawn
from inspection.works.models import Lot

A_MIX = "write 12, 12: 20 or 12: 20 - 1.5"
A_PLACE = "write A1, A1: 12.5 or A1: 50 %"
MOST_SHIFTS, MOST_PARENTS = 60, 100


def place_of(line: str) -> Row:
    """A line: the code of an area, and after a colon its m² or a share of it in %."""
    code, _, much = (part.strip() for part in line.rpartition(":"))
    if not code:
        return {"code": much}
    if much.endswith("%"):
        return {"code": code, "share_pct": number(much[:-1], A_PLACE)}
    return {"code": code, "m2": number(much.removesuffix("m²").removesuffix("m2"), A_PLACE)}


def _figure(label: str, example: str, **more: Any) -> Figure:
    return Figure(label=label, required=False, example=example, **more)


def mix_of(line: str) -> Row:
    """A line: the number of a mix; after a colon the litres drawn, and after a minus those that came back."""
    named, _, litres = (part.strip() for part in line.partition(":"))
    if not named.isdecimal() or len(named) > 8:
        raise ValueError(f"“{named[:40]}” is no number of a mix; {A_MIX}")
    drawn, _, back = (part.strip().removesuffix("l").strip() for part in litres.replace("−", "-").partition("-"))
    read = {"drawn_l": drawn, "returned_l": back}
    return {"number": int(named), **{name: number(text, A_MIX) for name, text in read.items() if text}}


def mixes_field() -> LinesField:
    return LinesField(
        mix_of, rows=3, required=False, label="Mixes, a line for each",
        help_text="The number of the mix, a colon, litres drawn as mixed, a minus, litres returned: 12: 20 - 1.5.",
    )  # fmt: skip


def named_mixes(by: Person, project: Project, rows: list[Row]) -> list[MixDrawn]:
    """The mixes that lines name. Raises ValidationError with the rows that name none."""
    known = queries.mixes_by_number(by, project, [row["number"] for row in rows])
    if wrong := [place for place, row in enumerate(rows, start=1) if row["number"] not in known]:
        raise forms.ValidationError([f"Row {place}: there is no such mix." for place in wrong[:20]])
    return [MixDrawn(mix=known[row.pop("number")], **row) for row in rows]


def mix_lines(lot: Lot) -> str:
    return "\n".join(_mix_line(row) for row in lot.mixes.all())


def _mix_line(row: Any) -> str:
    drawn = f": {row.drawn_l.normalize():f}" if row.drawn_l is not None else ""
    back = f" - {row.returned_l.normalize():f}" if row.returned_l is not None else ""
    return f"{row.mix.number}{drawn}{back}"


class _CoatField(forms.ModelChoiceField):
    def label_from_instance(self, coat: Any) -> str:
        return f"{coat.system}: {coat}"


class _StripeField(forms.ModelChoiceField):
    def label_from_instance(self, stripe: Any) -> str:
        return f"{stripe.coat.system}: {stripe.name}, {stripe.get_side_display().lower()} {stripe.coat.name}"


class _CrewField(forms.ModelChoiceField):
    def label_from_instance(self, crew: Any) -> str:
        return f"{crew}, {crew.party.organisation}"


class _ParentsField(forms.ModelMultipleChoiceField):
    def label_from_instance(self, lot: Any) -> str:
        begun = f"{lot.begun_at.astimezone(lot.project.zone):%Y-%m-%d %H:%M}"
        return f"{lot}, {lot.of}, {begun}: {', '.join(place.area.label for place in lot.places.all()[:6])}"


class WriteLot(forms.Form):
    # Made when the form is first shown, so that sending it twice stores one lot.
    id = forms.UUIDField(widget=forms.HiddenInput)
    activity = forms.ChoiceField(label="What was done", choices=Lot.Activity.choices, initial=Lot.Activity.COAT)
    coat = _CoatField(None, label="Coat", required=False, empty_label="None: the bare steel")
    stripe = _StripeField(
        None, label="Stripe coat", required=False, empty_label="–", help_text="Of a stripe coat: which."
    )
    places = LinesField(
        place_of, label="Where, an inspection area a line",
        help_text="Its code alone for all of it, or with m² or a share: A1, A1: 12.5 or A1: 50 %.",
    )  # fmt: skip
    crew = _CrewField(None, label="Crew", empty_label=None)
    shift: Any = forms.ModelChoiceField(None, label="Shift", required=False, empty_label="By when it began")
    begun_at = LocalMoment(label="Begun")
    ended_at = LocalMoment(label="Ended", required=False, help_text="Empty: still under way")
    method = forms.ChoiceField(label="How", choices=Lot.Method.choices)
    applicators = forms.CharField(label="Applicators", max_length=TEXTS["applicators"], required=False)
    pump_ratio = forms.CharField(
        label="Pump ratio", max_length=TEXTS["pump_ratio"], required=False, help_text="Such as 60:1"
    )
    tip = forms.CharField(
        label="Tip or nozzle", max_length=TEXTS["tip"], required=False, help_text="Such as 0.021 in, 40°"
    )
    pressure_bar = _figure("Pressure, bar", "180")
    mixes = mixes_field()
    thinner_pct = _figure("Thinner added, % by volume", "5")
    drawn_l = _figure("Paint drawn, l", "40", help_text="Of no mix above; both components, without thinner")
    returned_l = _figure("Of that returned, l", "3.5")
    parents = _ParentsField(None, label="Follows lots", required=False, widget=forms.CheckboxSelectMultiple)
    note = forms.CharField(label="Note", max_length=LONGEST_NOTE, required=False, widget=forms.Textarea({"rows": 3}))

    def __init__(self, *args: Any, by: Person, project: Project, of: Lot | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by, self.project = by, project
        shifts = queries.shifts_for(by, project)
        set_up(self, "coat", queryset=queries.coats_for(by, project))
        if of and of.coat_id:
            set_up(self, "coat", queryset=queries.coats_for(by, project) | _one(of))
        set_up(self, "stripe", queryset=queries.stripes_for(by, project))
        crews = queries.crews_for(by, project)
        set_up(self, "crew", queryset=crews)
        if not crews.exists():
            self.fields["crew"].help_text = "You have no crew in this project yet; a quality manager sets it up."
        set_up(self, "shift", queryset=shifts if self.is_bound else shifts.filter(pk__in=_some(shifts, of)))
        followed = queries.lots_seen(by).filter(project=project, replaced_by=None, withdrawn_at=None)
        if of:
            followed = followed.exclude(number=of.number)
        shown = followed if self.is_bound else followed.filter(pk__in=_followed(followed, of))
        set_up(self, "parents", queryset=shown)
        zoned(self, project)

    def clean_places(self) -> list[PlaceSent]:
        """Areas by their codes; a code that two structures use is written with the structure, as lists show it."""
        rows: list[Row] = self.cleaned_data["places"]
        known: dict[str, InspectionArea] = {}
        codes = _codes(rows)
        lower = Q(lower__in={code.lower() for code in codes})
        areas = queries.areas_for(self.by, self.project).annotate(lower=Lower("code"))
        for area in areas.filter(lower | Q(code__in=codes)):
            known[area.label.casefold()] = area
            if not area.told_by:
                known[area.code.casefold()] = area
        found: list[PlaceSent] = []
        wrong: list[str] = []
        for place, row in enumerate(rows, start=1):
            named = known.get(row.pop("code").casefold())
            if named is None:
                wrong.append(f"Row {place}: there is no such area; write its code as lists show it.")
            else:
                found.append(PlaceSent(area=named, **row))
        if wrong:
            raise forms.ValidationError(wrong[:20])
        return found

    def clean_mixes(self) -> list[MixDrawn]:
        return named_mixes(self.by, self.project, self.cleaned_data["mixes"])

    def sent(self) -> LotSent:
        values = {name: value for name, value in self.cleaned_data.items() if name not in ("id", "reason")}
        return LotSent(**{**values, "parents": list(values["parents"])})

    @property
    def as_asked(self) -> str:
        """What a question was about; an answer holds for this and nothing else."""
        kept = {name: self.data.getlist(name) for name in self.fields if name != "id"}  # type: ignore[attr-defined]  # a form that is sent holds a QueryDict
        return journal.digest_of(kept)

    @property
    def is_confirmed(self) -> bool:
        return bool(self.data.get("confirmed") == self.as_asked)


class CorrectLot(WriteLot, Because):
    field_order = ("reason",)


class EndLot(forms.Form):
    ended_at = LocalMoment(label="Ended")
    mixes = mixes_field()
    drawn_l = _figure("Paint drawn, l", "40", help_text="Both components, without thinner. Empty: as told before")
    returned_l = _figure("Of that returned, l", "3.5")
    field_order = ("ended_at", "mixes")

    def __init__(self, *args: Any, thing: Lot, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"mixes": mix_lines(thing)}} | kwargs)
        self.by, self.project = by, thing.project
        if thing.coat_id is None:
            for name in ("drawn_l", "returned_l", "mixes"):
                del self.fields[name]
        zoned(self, thing.project)

    def clean_mixes(self) -> list[MixDrawn]:
        return named_mixes(self.by, self.project, self.cleaned_data["mixes"])


def as_recorded(lot: Lot) -> dict[str, Any]:
    """What the form is filled with to correct a lot: what was sent, places in m²."""
    names = (
        "activity", "coat", "stripe", "crew", "shift", "begun_at", "ended_at", "method", "applicators", "pump_ratio",
        "tip", "pressure_bar", "thinner_pct", "drawn_l", "returned_l", "note",
    )  # fmt: skip
    told = {name: getattr(lot, name) for name in names}
    lines = "\n".join(f"{place.area.label}: {place.m2.normalize():f}" for place in lot.places.all())
    return {**told, "places": lines, "mixes": mix_lines(lot), "parents": [each.parent_id for each in lot.parents.all()]}


def _codes(rows: list[Row]) -> set[str]:
    """The codes that lines name, and what stands before the name of a structure in brackets."""
    named = {row["code"] for row in rows}
    return named | {code.rpartition(" (")[0] for code in named if code.endswith(")")}


def _one(lot: Lot) -> Any:
    return Coat.objects.filter(lots=lot).select_related("system", "data_sheet")


def _some(shifts: Any, of: Lot | None) -> list[Any]:
    return [*shifts.values_list("pk", flat=True)[:MOST_SHIFTS], *([of.shift_id] if of and of.shift_id else [])]


def _followed(lots: Any, of: Lot | None) -> list[Any]:
    named = [each.parent_id for each in of.parents.all()] if of else []
    newest = lots.order_by("-begun_at").values_list("pk", flat=True)
    return [*newest[:MOST_PARENTS], *named]


class DeclaredLoss(forms.Form):
    """What share of the paint used is declared to be lost, by the contract or the estimate."""

    loss = _figure("Loss declared, % of the paint used", "30")

    def clean_loss(self) -> Any:
        loss = self.cleaned_data["loss"]
        if loss is not None and not 0 <= loss < 100:
            raise forms.ValidationError("Give a share of the paint used, from 0 to below 100 %.")
        return loss
