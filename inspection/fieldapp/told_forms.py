"""The forms of the field app, made from what the public API takes: every kind of record, and the acts declared here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from django import forms
from rest_framework import serializers

from accounts.models import Person, Role
from inspection.diary.actions import WRITERS
from inspection.diary.kinds import KINDS as DIARY
from inspection.diary.serializers import EntryIn
from inspection.fieldapp.told_fields import Told, told_fields
from inspection.fieldwork.climate.station_forms import Read
from inspection.fieldwork.climate.station_serializers import StationReadingSent
from inspection.fieldwork.kind import RecordKind, TakenByForm
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.holdpoints.serializers import Attendance
from inspection.instruments.custody_api import NothingSent
from inspection.instruments.forms.equipment import HandOver, ReportIncident
from inspection.instruments.serializers import HandOverSent, IncidentSent
from inspection.nonconformance import rework
from inspection.nonconformance.actions import RAISERS
from inspection.nonconformance.forms import OpenRework, RaiseNonconformance, RecordRework
from inspection.nonconformance.serializers import Raised, ReworkDone, ReworkLookedAt, ReworkOpened
from inspection.notices.forms import Outcome
from inspection.notices.serializers import ForParty, OutcomeTold
from inspection.works.entering import WORKERS
from inspection.works.lots.actions import LOGGERS
from inspection.works.lots.forms import EndLot, WriteLot
from inspection.works.lots.serializers import LotEnd, LotIn
from inspection.works.paint.forms import ReceiveBatch, RecordMix, TellUse
from inspection.works.paint.serializers import NewBatch, NewMix, Used

EARLY = 3
POINTS, HELD = "Points and notices", "Instruments"
RECORDERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)


@dataclass(frozen=True, kw_only=True)
class Act:
    """Something else than a record that is done from the field: an address of the public API that is safe to repeat.

    Names in braces in the address are ids of the pack: the project, or what the act is about.
    """

    name: str
    title: str
    sent: type[serializers.Serializer]
    address: str
    roles: tuple[Role, ...]
    lead: str = ""
    # Under which heading the app lists it.
    group: str = "Works, rework, nonconformance"
    # Sent as it stands here and not asked.
    fixed: dict[str, Any] = field(default_factory=dict)
    # Where not all is asked that the API takes: what is, in its order with its labels.
    labels: dict[str, str] = field(default_factory=dict)
    needs: frozenset[str] = frozenset()
    hints: dict[str, str] = field(default_factory=dict)
    # The form of the page that does the same, whose words and order are taken.
    form: type[forms.Form] | None = None


ACTS: tuple[Act, ...] = (
    Act(name="lot", title="Begin a lot", sent=LotIn, address="/api/projects/{project}/lots/begin/", roles=LOGGERS,
        form=WriteLot,
        lead="What one crew prepares or coats in one go, and where."),
    Act(name="lot-end", title="End a lot", sent=LotEnd, address="/api/lots/{lot}/end/", roles=LOGGERS, form=EndLot,
        lead="When it ended, and the paint it took."),
    Act(name="mix", title="Mix paint", sent=NewMix, address="/api/mixes/", roles=WORKERS, form=RecordMix,
        lead="What was mixed of which batches."),
    Act(name="mix-use", title="Use of a mix", sent=Used, address="/api/mixes/{mix}/use/", roles=WORKERS,
        form=TellUse,
        lead="When it was used, from the first to the last."),
    Act(name="batch", title="Receive a batch", sent=NewBatch, address="/api/batches/", roles=WORKERS,
        form=ReceiveBatch,
        lead="A batch of paint as it was delivered."),
    Act(name="station-reading", title="Reading at a climate station", sent=StationReadingSent,
        address="/api/stations/{station}/readings/", roles=RECORDERS, form=Read,
        lead="Air and steel at the station, for all areas that it serves."),
    Act(name="rework", title="Open an item of rework", sent=ReworkOpened, address="/api/rework/", roles=rework.WORKERS,
        form=OpenRework,
        lead="A place that is to be put right."),
    Act(name="rework-done", title="Rework done", sent=ReworkDone, address="/api/rework/{rework}/done/",
        roles=rework.WORKERS, form=RecordRework, lead="What was done, by whom and when."),
    Act(name="rework-looked", title="Look at rework that was done", sent=ReworkLookedAt,
        address="/api/rework/{rework}/look/", roles=rework.WORKERS,
        labels={"in_order": "What was done is in order", "note": "What is not in order"},
        needs=frozenset({"in_order"}), hints={"in_order": "No: it is open again."},
        lead="Whether what another person entered as done is in order."),
    Act(name="attendance", title="Who attended a point", group=POINTS, sent=Attendance,
        address="/api/hold-points/{point}/attend/",
        roles=RECORDERS, labels={"party": "Party", "attended": "They attended", "note": "Note"},
        needs=frozenset({"attended"}),
        hints={"party": "May be empty where the point has one.", "attended": "No: they did not come."},
        lead="Who came to look at it, and who did not. That neither releases the point nor holds it."),
    Act(name="notice-read", title="Acknowledge a notice", group=POINTS, sent=ForParty,
        address="/api/notices/{notice}/acknowledge/",
        roles=(Role.CLIENT, Role.CONTRACTOR), lead="For your party, that you have read it."),
    Act(name="notice-outcome", title="What became of a notice", group=POINTS, sent=OutcomeTold,
        address="/api/notices/{notice}/outcome/", roles=RECORDERS, form=Outcome,
        labels={"outcome": "The inspection was", "why": "Why not, or not everywhere", "reason": "In words"},
        needs=frozenset({"outcome"}),
        lead="Held or not. Where it was held at some of its places only, tell that on its page."),
    Act(name="drop", title="Fall or erratic reading", group=HELD, sent=IncidentSent,
        address="/api/gauges/{gauge}/incidents/",
        roles=RECORDERS, form=ReportIncident, lead="The instrument is in doubt from then on, until a check passes."),
    Act(name="hand-over", title="Hand over an instrument", group=HELD, sent=HandOverSent,
        address="/api/gauges/{gauge}/hand-over/",
        roles=RECORDERS, form=HandOver, lead="Who has it from now on; they confirm it, on their own phone."),
    Act(name="receipt", title="I have this instrument", group=HELD, sent=NothingSent,
        address="/api/gauges/{gauge}/receipt/",
        roles=RECORDERS, lead="That you have what you were handed. If you have it not, hand it over to whoever has."),
    Act(name="hand-over-standard", title="Hand over a shim or standard", group=HELD, sent=HandOverSent,
        address="/api/standards/{standard}/hand-over/", roles=RECORDERS, form=HandOver,
        lead="Who has it from now on; they confirm it, on their own phone."),
    Act(name="receipt-standard", title="I have this shim or standard", group=HELD, sent=NothingSent,
        address="/api/standards/{standard}/receipt/", roles=RECORDERS,
        lead="That you have what you were handed. If you have it not, hand it over to whoever has."),
    Act(name="nonconformance", title="Raise a nonconformance", sent=Raised, address="/api/nonconformances/",
        roles=RAISERS, form=RaiseNonconformance, lead="What does not conform, and against what."),
    *(Act(name=f"diary-{kind.name.value}", title=kind.add, sent=EntryIn, address="/api/projects/{project}/diary/",
          roles=WRITERS, group="Diary of the day", lead=f"Stands in the diary of the day under “{kind.title}”.",
          fixed={"kind": kind.name.value},
          labels={"day": "Day", **kind.labels}, needs=frozenset({"day"}) | kind.needs, hints=dict(kind.hints))
      for kind in DIARY),
)  # fmt: skip


def forms_for(person: Person) -> list[Told]:
    """The forms that the person may send, records first; what the roles refuse is not among them."""
    return [told for roles, told in _all() if person.has_role(*roles)]


@cache
def _all() -> tuple[tuple[tuple[Role, ...], Told], ...]:
    kinds = ((RECORDERS, told_kind(kind, taken)) for kind, taken in TAKEN_BY_FORM)
    return (*kinds, *((act.roles, told_act(act)) for act in ACTS))


def told_kind(kind: RecordKind, taken: TakenByForm) -> Told:
    """The form of a kind of record; the order and the words are those of its page."""
    shown = dict(taken.form.base_fields)  # type: ignore[attr-defined]  # Django's own, of every form's class
    asked = told_fields(taken.sent(), shown)
    _in_order(asked, getattr(taken.form, "field_order", None) or ())
    # Climate is taken for none only at a station, which has a form of its own.
    asked = [each | {"required": True} if kind.of_coat and each["name"] == "coat" else each for each in asked]
    told: Told = {
        "name": kind.name, "title": kind.title, "lead": kind.lead, "address": f"/api/{kind.name}/",
        "of_coat": kind.of_coat, "instrument": str(kind.instrument.value) if kind.instrument else None,
        "caution": kind.caution, "cautions": list(taken.cautions), "reach": kind.reach, "fields": asked,
    }  # fmt: skip
    if taken.cautions:
        told["cautions_address"] = f"/api/projects/{{project}}/{kind.name}/cautions/"
    return told


def told_act(act: Act) -> Told:
    shown: dict[str, forms.Field] = dict(act.form.base_fields) if act.form else {}  # type: ignore[attr-defined]  # as above
    asked = told_fields(act.sent(), shown)
    if act.form:
        _in_order(asked, shown)
    if act.labels:
        by_name = {each["name"]: each for each in asked}
        asked = [
            by_name[name] | {"label": label, "required": name in act.needs, "help": act.hints.get(name, "")}
            for name, label in act.labels.items()
        ]
        # A yes or no that must be said starts as neither: a tick that was forgotten would say no.
        asked = [each | {"null": True} if each["type"] == "flag" and each["required"] else each for each in asked]
    given = set(act.sent().fields)
    return {
        "name": act.name, "title": act.title, "lead": act.lead, "address": act.address, "of_coat": "",
        "instrument": None, "caution": "", "cautions": [], "reach": "", "fixed": act.fixed, "fields": asked,
        "group": act.group,
        # Whether the body names the project, makes its own id, and can be confirmed after a question.
        "body": sorted(given & {"id", "project", "confirmed"}),
    }  # fmt: skip


def _in_order(asked: list[Told], names: Iterable[str]) -> None:
    """Put the fields in the order of a page: the place first, notes last, a table that it asks otherwise early."""
    order = {name: place for place, name in enumerate(names)}
    first = ("area", "coat") if any(each["name"] == "area" for each in asked) else ()

    def place(each: Told) -> tuple[int, int]:
        name = each["name"]
        group = 0 if name in first else 2 if name in ("note", "reason", "party") else 1
        return group, order.get(name, EARLY if each["type"] == "rows" else len(order))

    asked.sort(key=place)
