"""Storing a test of a film: what was set, read and seen in one mapping, judged by one rule of the standards core.

A kind says in an `AsTested` what is its own; storing, digest, verdict given again, warnings and the way of a fault from
the rule to what was sent are the same for all.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from accounts.models import Person
from inspection.fieldwork.kind import Facts, Parts
from inspection.fieldwork.models import Record, TestRecord
from inspection.fieldwork.observing import Observing, observe, run_out_of
from inspection.fieldwork.storing import LONGEST_NOTE, LONGEST_REASON, content_digest, moments, words
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import wrong_on_a_line
from inspection.instruments import overdue
from inspection.instruments.models import Gauge
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.standards import InputFault, calculate
from inspection.standards.units import plain

IN_A_ROW = re.compile(r"(?P<list>\w+)\[(?P<index>\d+)\](?:\.(?P<part>\w+))?")


@dataclass(frozen=True)
class Unjudged(Exception):
    """That no rule can judge what was sent, as a sentence: the contract says too little."""

    why: str


@dataclass(frozen=True)
class AsTested:
    """What one kind of test says of itself."""

    model: type[TestRecord]
    title: str
    # Of the standards core, and what it is given. Raises Unjudged, and Refused naming a field.
    given: Callable[[Any], tuple[str, dict[str, Any]]]
    # Fills in the columns that lists are asked for, from what was sent and what the rule answered.
    figures: Callable[[Any], None]
    instrument: Gauge.Kind | None = None
    # What the rule does not look at and is wrong all the same, and what looks like a slip.
    faults: Callable[[Any], Iterable[Fault]] = lambda record: ()
    doubts: Callable[[Any], Iterable[Fault]] = lambda record: ()
    # What the rule calls a field or list, and what the sender calls it.
    fields: Mapping[str, str] = field(default_factory=dict)

    def record(
        self, by: Person, *, id: UUID, project: Project, area: InspectionArea, coat: Coat, taken_at: datetime,  # noqa: A002 - the record's own name for it
        gauge: Gauge | None = None, note: str = "", source: str = Record.Source.PAGE,
        replaces: TestRecord | None = None, replacement_reason: str = "", ask: bool = False, **observed: Any,
    ) -> tuple[Any, bool]:  # fmt: skip
        """Store a test with the verdict it gives; True when the record is new. Raises as `observe` does.

        `observed` is what the kind's form or serializer takes beside what all records have; what is empty is left out.
        """
        record = self.model(
            id=id, project=project, area=area, coat=coat, gauge=gauge, taken_by=by, taken_at=taken_at,
            ended_at=taken_at, note=note, source=source, replaces=replaces, replacement_reason=replacement_reason,
            observed=plainly(observed),
        )  # fmt: skip
        return observe(record, self._observing, ask=ask)

    def digest(self, record: TestRecord) -> str:
        """SHA-256 of what the sender sent."""
        return content_digest(record, ("gauge_id",), observed=record.observed)

    def judged_again(self, record: TestRecord) -> str:
        """The verdict that what is stored as sent gives."""
        try:
            return str(self._answer(record)[2]["verdict"])
        except Refused:
            return "none"

    def all_doubts(self, record: TestRecord) -> list[Fault]:
        return list(self.doubts(record))

    def warnings(self, record: TestRecord) -> list[str]:
        """A sentence for each thing that casts doubt on a record, though it is stored."""
        run_out = overdue.words(run_out_of(record)) if self.instrument else []
        return [*run_out, *(fault.message for fault in self.doubts(record))]

    @property
    def _observing(self) -> Observing:
        return Observing(
            refuse_faulty=self._refuse_faulty, digest=self.digest, judge=self._judge, questions=self.all_doubts,
            told=lambda record: {"found": record.found}, evidence="records", because=self._because,
        )  # fmt: skip

    def _refuse_faulty(self, record: TestRecord) -> None:
        faults = [
            *moments(taken_at=record.taken_at),
            *words(note=(record.note, LONGEST_NOTE), replacement_reason=(record.replacement_reason, LONGEST_NOTE)),
            *_faulty_words(record.observed),
        ]
        if record.gauge and record.gauge.kind != self.instrument:
            wanted = Gauge.Kind(self.instrument).label.lower() if self.instrument else "instrument of ours"
            faults.append(Fault(f"{record.gauge} is no {wanted}; choose the one that was used, or none.", "gauge"))
        if faults := faults or list(self.faults(record)):
            raise Refused(faults)

    def _judge(self, record: TestRecord) -> None:
        record.calculation, record.inputs, record.result = self._answer(record)
        record.verdict = record.result["verdict"]
        self.figures(record)

    def _answer(self, record: TestRecord) -> tuple[str, dict[str, Any], dict[str, Any]]:
        try:
            name, given = self.given(record)
            return name, given, calculate(name, given)
        except Unjudged as unjudged:
            return "", {}, {"verdict": Record.Verdict.NOT_JUDGED.value, "checks": [], "notes": [unjudged.why]}
        except InputFault as wrong:
            raise Refused(self._sent(fault.field, fault.message) for fault in wrong.faults) from wrong

    def _sent(self, name: str, message: str) -> Fault:
        """A fault of the rule under the name that the sender gave, with the row of a list."""
        if found := IN_A_ROW.match(name):
            sent, part = self.fields.get(found["list"], found["list"]), found["part"]
            said = f"{part.replace('_', ' ')}: {message}" if part else message
            return Fault(said, sent, int(found["index"]) + 1)
        return Fault(message, self.fields.get(name, name))

    def _because(self, record: TestRecord) -> str:
        taken = f"{record.taken_at.astimezone(record.project.zone):%Y-%m-%d %H:%M}"
        about = f"The {self.title} of {record.area.label} after {record.coat.name}, {taken}"
        return f"{about}{', was corrected' if record.replaces else ''}: {record.get_verdict_display().lower()}."


def plainly(value: Any) -> Any:
    """What was sent as JSON keeps it: one way to write a number, nothing that is empty."""
    if isinstance(value, Mapping):
        kept = {name: plainly(part) for name, part in value.items()}
        return {name: part for name, part in kept.items() if part not in (None, "", [], {})}
    if isinstance(value, list | tuple):
        return [plainly(part) for part in value]
    if isinstance(value, Decimal):
        return plain(Fraction(value)) if value.is_finite() else str(value)
    if isinstance(value, float):
        return int(value) if value.is_integer() else value
    return " ".join(value.split()) if isinstance(value, str) and value.isprintable() else value


def _faulty_words(observed: Mapping[str, Any]) -> list[Fault]:
    """Faults of the short texts in what was sent, with the row of those in a list."""
    faults = []
    for name, value in observed.items():
        rows = value if isinstance(value, list) else [value]
        for row, each in enumerate(rows, start=1):
            for text in each.values() if isinstance(each, Mapping) else [each]:
                if isinstance(text, str) and (wrong := _faulty(text)):
                    faults.append(Fault(wrong, name, row if isinstance(value, list) else None))
    return faults


def _faulty(text: str) -> str:
    too_long = f"Give at most {LONGEST_REASON} characters; these are {len(text)}." if len(text) > LONGEST_REASON else ""
    return too_long or wrong_on_a_line(text)


def told(value: Any, unit: str = "") -> str:
    """A figure as it was sent, with its unit."""
    return f"{value:g}{f' {unit}' if unit else ''}" if isinstance(value, int | float) else str(value)


def facts_of(record: Any, named: Iterable[tuple[str, str, str]]) -> Facts:
    """What was found, then what was sent of the `named`: key, label and unit of each."""
    sent = record.observed
    return [("Found", record.found), *((label, told(sent[name], unit)) for name, label, unit in named if name in sent)]


def places_of(record: Any, line_of: Callable[[Any], str]) -> Parts:
    """Each place with what was found there, as the line that a form takes for it says."""
    rows = [(place["place"], line_of(place).rpartition(": ")[2]) for place in record.observed["places"]]
    return Parts(f"Places, by {record.method}", ("Place", "Found"), tuple(rows))
