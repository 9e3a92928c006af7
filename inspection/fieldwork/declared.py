"""A kind of record whose questions are declared: its form, its API and the way it is stored follow from `Asked`."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Generic, TypeVar
from uuid import UUID

from rest_framework import serializers

from accounts.models import Person
from inspection.fieldwork.asked import Asked, Choice, DayAsked, Number, Rows, Words, plain
from inspection.fieldwork.forms import Corrected, Observed, OnArea
from inspection.fieldwork.kind import Facts, Parts, TakenByForm
from inspection.fieldwork.models import JudgedRecord, Record
from inspection.fieldwork.observing import Observing, observe
from inspection.fieldwork.serializers import (
    OF_AREA,
    ObservedAt,
    ObservedSent,
    OnAreaShown,
    RecordSent,
    StandingOfRecord,
    WithWarnings,
)
from inspection.fieldwork.storing import LONGEST_NOTE, content_digest, moments, words
from inspection.foundation.refusals import Fault, Refused
from inspection.instruments.models import Gauge
from inspection.projects.coating import CoatingSystem
from inspection.projects.models import InspectionArea, Project
from inspection.projects.steps import system_at
from inspection.standards import InputFault, calculate

R = TypeVar("R", bound=JudgedRecord)
IN_A_LIST = re.compile(r"(\w+)\[(\d+)\].*")
PUT_RIGHT = Words(
    name="put_right", label="What was done since the record before failed", required=False,
    help="Such as: washed with fresh water, blasted again. Empty where the one before did not fail.",
)  # fmt: skip


@dataclass(frozen=True)
class Given:
    """What a rule is given of a record: the calculation, or none with a note why nothing judges it."""

    calculation: str
    inputs: Mapping[str, Any]
    why_not: str = ""


@dataclass(frozen=True, kw_only=True)
class Declared(Generic[R]):
    """What a kind of the bare steel says of itself, beside its words: what it asks, what the rule is given of it."""

    model: type[R]
    one: str
    asked: tuple[Asked, ...]
    # What the specification asks, as it stands now; kept with the record, which is judged again by it.
    limits: Callable[[CoatingSystem], dict[str, Any]]
    # What the rule is given of the record, held to the limits it keeps. Raises Refused naming the field.
    given: Callable[[R], Given]
    # What looks like a slip, or weakens what was found, though it can be stored.
    doubts: Callable[[R], Iterator[Fault]]
    # What the journal tells of it.
    told: Callable[[R], dict[str, Any]]
    # What the rule's fields are called among those asked.
    fields: Mapping[str, str]
    instrument: Gauge.Kind | None = None
    # What is used up in the test, such as tape, by its batch and its day; empty where nothing is.
    consumable: str = ""
    # Fills in the figures found beside the verdict, which stands in `result` already.
    found: Callable[[R], None] = lambda record: None

    @property
    def every(self) -> tuple[Asked, ...]:
        return (*self.asked, *self._of_consumable, PUT_RIGHT)

    @property
    def _of_consumable(self) -> tuple[Asked, ...]:
        """Batch and last day of what is used up; a kind that asked for its batch before keeps its own name of it."""
        if not self.consumable:
            return ()
        batch = Words(
            name="consumable_batch", label=f"Batch of the {self.consumable}", required=False, later=True,
            help="As on the packet.",
        )  # fmt: skip
        last = DayAsked(
            name="consumable_expires", label=f"Last day of the {self.consumable}", required=False, later=True,
            help="As on the packet; empty where it never runs out.",
        )  # fmt: skip
        return (last,) if any(each.name == "patch_batch" for each in self.asked) else (batch, last)

    def record(
        self,
        by: Person,
        *,
        id: UUID,  # noqa: A002 - the record's own name for it, in every action and in the API
        project: Project,
        area: InspectionArea,
        coat: None = None,
        taken_at: datetime,
        gauge: Gauge | None = None,
        note: str = "",
        source: str = Record.Source.PAGE,
        replaces: R | None = None,
        replacement_reason: str = "",
        ask: bool = False,
        **values: Any,
    ) -> tuple[R, bool]:
        """Store what was observed, with the verdict it gives; True when it is new. Raises as `observe` does."""
        columns = {each.name: _column(each, values.pop(each.name, each.empty)) for each in self.every}
        if values:
            raise TypeError(f"a {self.one} has no {', '.join(values)}")
        record = self.model(
            id=id, project=project, area=area, coat=None, gauge=gauge, taken_by=by, taken_at=taken_at,
            ended_at=taken_at, note=note, source=source, replaces=replaces, replacement_reason=replacement_reason,
            **columns,
        )  # fmt: skip
        how = Observing(
            refuse_faulty=self._refuse_faulty, digest=self.digest, judge=self._judge, questions=self.all_doubts,
            told=self.told, evidence="records", because=self._because,
        )  # fmt: skip
        return observe(record, how, ask=ask)

    def digest(self, record: R) -> str:
        """SHA-256 of what the sender sent."""
        sent = (each.name for each in self.every if not each.later or getattr(record, each.name) not in (None, ""))
        return content_digest(record, ("gauge_id", *sent))

    def verdict(self, record: R) -> str:
        """The verdict that what is stored gives under the limits it was judged by."""
        return str(self._answer(self.given(record))["verdict"])

    def all_doubts(self, record: R) -> list[Fault]:
        return [*self.doubts(record), *self._consumable_run_out(record), *_after_a_failure(record)]

    def _consumable_run_out(self, record: R) -> Iterator[Fault]:
        last = getattr(record, "consumable_expires", None)
        if last and record.project.day_of(record.taken_at) > last:
            words = f"The {self.consumable} could be used until {last:%Y-%m-%d}, which was past."
            yield Fault(words, "consumable_expires")

    def warnings(self, record: R) -> list[str]:
        return [fault.message for fault in self.all_doubts(record)]

    def facts(self, record: R) -> Facts:
        """What was asked and answered, but for what stands in rows."""
        answers = (
            (each.label, each.shown(getattr(record, each.name), record.project))
            for each in self.every
            if not isinstance(each, Rows)
        )
        return [(label, told) for label, told in answers if told]

    def parts(self, record: R) -> Parts | None:
        """The rows of the record as a table, where it has any."""
        for each in self.asked:
            if isinstance(each, Rows) and getattr(record, each.name):
                rows = [
                    (str(number), *(cell.shown(row[cell.name], record.project) or "–" for cell in each.cells))
                    for number, row in enumerate(getattr(record, each.name), start=1)
                ]
                return Parts(
                    each.label.split(", a line")[0],
                    (each.one.capitalize(), *(cell.label for cell in each.cells)),
                    tuple(rows),
                )
        return None

    def taken(self) -> TakenByForm:
        """The form and the serializers, made from what is asked."""
        name = self.model.__name__.removesuffix("Record")
        form = self._form(name)
        rows = tuple(each.name for each in self.every if isinstance(each, Rows))
        light = tuple(each.name for each in self.every if not isinstance(each, Rows))
        shown = (*OF_AREA, *(("gauge",) if self.instrument else ()), *light, "standing")
        full = (*shown, *rows, "asked_for", "calculation", "inputs", "result")
        sent = (ObservedSent if self.instrument else ObservedAt, RecordSent)
        return TakenByForm(
            form=form,
            correction=type(f"{name}Correction", (form, Corrected), {}),
            record=self.record,
            as_recorded=self._as_recorded,
            sent=type(f"{name}Sent", sent, {each.name: each.sent() for each in self.every}),
            shown=self._serializer(f"{name}Serializer", shown),
            detail=self._serializer(f"{name}DetailSerializer", full),
            answer=self._serializer(f"{name}Answer", (*full, "warnings"), WithWarnings),
            fields={},
        )

    def _form(self, name: str) -> type[Any]:
        order = (
            "area",
            "id",
            "taken_at",
            *(each.name for each in (*self.asked, *self._of_consumable)),
            "gauge",
            PUT_RIGHT.name,
            "note",
        )
        made = {
            "instrument": self.instrument, "figures": tuple(each.name for each in self.every), "field_order": order,
            **{each.name: each.in_form() for each in self.every},
        }  # fmt: skip
        return type(name, (Observed, OnArea), made)

    def _serializer(self, name: str, fields: tuple[str, ...], *more: type[Any]) -> type[Any]:
        meta = type("Meta", (), {"model": self.model, "fields": fields, "read_only_fields": fields})
        # A choice that was not made is empty, which is none of the choices.
        unmade = {each.name: serializers.CharField(read_only=True, help_text=", ".join(each.words))
                  for each in self.every if isinstance(each, Choice) and not each.required}  # fmt: skip
        return type(name, (*more, StandingOfRecord, OnAreaShown), {**unmade, "Meta": meta})

    def _as_recorded(self, record: R) -> dict[str, Any]:
        typed = {each.name: each.typed(getattr(record, each.name)) for each in self.every}
        return {"taken_at": record.taken_at, "note": record.note, **typed}

    def _refuse_faulty(self, record: R) -> None:
        """Raise Refused for what the columns cannot hold, all at once."""
        faults = [
            *moments(taken_at=record.taken_at),
            *words(note=(record.note, LONGEST_NOTE), replacement_reason=(record.replacement_reason, LONGEST_NOTE)),
        ]
        if record.gauge and record.gauge.kind != self.instrument:
            wanted = Gauge.Kind(self.instrument).label.lower() if self.instrument else "instrument for this"
            faults.append(Fault(f"{record.gauge} is no {wanted}; choose the one that was used, or none.", "gauge"))
        faults += [fault for each in self.every for fault in each.all_faults(getattr(record, each.name))]
        if faults:
            raise Refused(faults)

    def _judge(self, record: R) -> None:
        """Fill in what is asked of the place, what the rule was given and what it answered."""
        record.asked_for = self.limits(system_at(record.area, record.taken_at))
        given = self.given(record)
        record.calculation, record.inputs = given.calculation, dict(given.inputs)
        record.result = self._answer(given)
        record.verdict = record.result["verdict"]
        self.found(record)
        record.reading_count = max(
            [1, *(len(getattr(record, each.name)) for each in self.asked if isinstance(each, Rows))]
        )

    def _answer(self, given: Given) -> dict[str, Any]:
        if not given.calculation:
            return {"verdict": Record.Verdict.NOT_JUDGED.value, "checks": [], "notes": [given.why_not]}
        try:
            return calculate(given.calculation, given.inputs)
        except InputFault as wrong:
            raise Refused(self._in_our_words(fault.field, fault.message) for fault in wrong.faults) from wrong

    def _in_our_words(self, field: str, message: str) -> Fault:
        """A fault of the rule's field as one of what was asked, with its row."""
        found = IN_A_LIST.fullmatch(field)
        name, row = (found[1], int(found[2]) + 1) if found else (field, None)
        return Fault(message[0].upper() + message[1:], self.fields.get(name, name), row)

    def _because(self, record: R) -> str:
        taken = f"{record.taken_at.astimezone(record.project.zone):%Y-%m-%d %H:%M}"
        about = f"The {self.one} of {record.area.label}, {taken}"
        return f"{about}{', was corrected' if record.replaces else ''}: {record.get_verdict_display().lower()}."


def _column(asked: Asked, value: Any) -> Any:
    if isinstance(asked, Rows):
        return asked.kept(value or ())
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, Decimal) and isinstance(asked, Number) and not asked.places:
        return int(value) if value == value.to_integral_value() else value
    return asked.empty if value is None else value


def _after_a_failure(record: JudgedRecord) -> Iterator[Fault]:
    """A record after one that failed, of which nobody says what was done between: measured again makes nothing good."""
    before = Record.objects.of_place(record.area_id, None).filter(kind=record.KIND, taken_at__lt=record.taken_at)
    last = before.exclude(pk__in=[record.pk, record.replaces_id or record.pk]).first()
    if last and last.verdict == Record.Verdict.FAIL and not record.put_right:
        when = f"{last.taken_at.astimezone(record.project.zone):%Y-%m-%d %H:%M}"
        yield Fault(f"The record of {when} failed, and nothing says what was done since. It stays.", PUT_RIGHT.name)


def limits_of(**found: Any) -> dict[str, Any]:
    """What is asked, without what is not, as JSON keeps it."""
    return {
        name: plain(value) if isinstance(value, Decimal) else value
        for name, value in found.items()
        if value not in (None, "")
    }
