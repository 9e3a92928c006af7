"""What the house has to know of a kind of record. Each kind says it once, in the `kind.py` of its folder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from inspection.fieldwork.models import Record

if TYPE_CHECKING:
    from django import forms
    from rest_framework import serializers

    from inspection.foundation.refusals import Fault
    from inspection.instruments.models import Gauge


class Reliance(StrEnum):
    """What the standing of a record follows from."""

    NONE = "none"
    """it has none: what stands against its instrument is said beside it"""
    SEEN = "seen"
    """whoever looked: no instrument is read"""
    CERTIFIED = "certified"
    """the certificate of its instrument on its day; its checks before and after, where it is checked on site"""
    CHECKED = "checked"
    """the checks of its instrument before and after it"""


class Discipline(StrEnum):
    """Whose part of the work a record tells of, where a project reports by disciplines (common practice, no source)."""

    PREPARATION = "Preparation"
    COATING = "Coating"
    INSPECTION = "Inspection"


@dataclass(frozen=True)
class Column:
    """What a list of records tells of each, beside where, when, verdict, standing and by whom."""

    head: str
    cell: Callable[[Any], str]
    is_number: bool = False


Facts = list[tuple[str, str]]


@dataclass(frozen=True)
class Parts:
    """What a record is made of, as a table: its readings, where they are few enough for one."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def labelled(self) -> list[list[tuple[str, str]]]:
        """Each row as its cells with the head of each, as a narrow page stacks them."""
        return [list(zip(self.heads, row, strict=True)) for row in self.rows]


@dataclass(frozen=True)
class ToMend:
    """A place that a record leaves to be put right: what is there, and where."""

    what: str
    place: str


# Why a record that nothing stands against is sound; a verdict says no more than the facts carry.
SOUND_BECAUSE = {
    Reliance.SEEN: "It rests on who looked; no instrument of ours was read.",
    Reliance.CERTIFIED: "A certificate of the instrument covers the day. It was not checked before and after.",
    Reliance.CHECKED: "The instrument was checked before and after on valid standards, and both checks passed.",
}


@dataclass(frozen=True)
class TakenByForm:
    """A kind whose records are taken in one go, by one form and one request; pages and API are the same for all."""

    form: type[forms.Form]
    correction: type[forms.Form]
    # With the signature `(by, *, id, project, area, coat, gauge, ..., source, replaces, replacement_reason, ask)`.
    record: Callable[..., tuple[Any, bool]]
    # What the form is filled with to correct a record.
    as_recorded: Callable[[Any], dict[str, Any]]
    # What the API takes, shows of each in a list, shows of one, and answers to the sender.
    sent: type[serializers.Serializer]
    shown: type[serializers.BaseSerializer]
    detail: type[serializers.BaseSerializer]
    answer: type[serializers.BaseSerializer]
    # Names of the calculation that are fields of the form under another name.
    fields: dict[str, str]
    # What has to be confirmed, once a day by each person, before the form opens.
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class RecordKind:
    """One kind of record: its words, what it stands on, and how it is shown, told, exported and judged again."""

    # As `Record.kind` has it; it also names the addresses, the journal's verbs and the kind in a trace.
    name: str
    title: str
    one: str
    many: str
    # What a record of it is, in a sentence.
    lead: str
    model: type[Record]
    # The kind of instrument it is taken with; None where nothing is read off one.
    instrument: Gauge.Kind | None
    reliance: Reliance
    discipline: Discipline
    # What it has to do with a coat: taken “after” it or “for” it; empty for the bare steel before the first.
    of_coat: str
    columns: tuple[Column, ...]
    # What was found, in a line.
    sentence: Callable[[Any], str]
    # What was read and found, label and value each.
    facts: Callable[[Any], Facts]
    # The digest of what is stored, and the verdict it gives when it is judged again; as they should be.
    digest: Callable[[Any], str]
    verdict: Callable[[Any], str]
    # Why a record is doubted though it is stored, a sentence each.
    warnings: Callable[[Any], list[str]]
    # What looks like a slip and is asked about before it is stored.
    doubts: Callable[[Any], list[Fault]]
    taken: TakenByForm | None = None
    parts: Callable[[Any], Parts | None] = lambda record: None
    # What it leaves to be put right: the hole of each destructive test, each holiday found.
    to_mend: Callable[[Any], list[ToMend]] | None = None
    # Said under the verdict, where it must not be taken for more than it is.
    reach: str = ""
    # What can hurt whoever takes it, said above the form.
    caution: str = ""
    # Its verdicts, where it cannot give all of them.
    verdicts: tuple[tuple[str, str], ...] = tuple(Record.Verdict.choices)

    @property
    def sound_because(self) -> str:
        return SOUND_BECAUSE.get(self.reliance, "")

    @property
    def sound_when_checked(self) -> str:
        """The same of a record whose instrument was checked before it and after, whatever the kind rests on else."""
        return SOUND_BECAUSE[Reliance.CHECKED]

    def place(self, record: Record) -> str:
        """Where the record was taken, in words."""
        return f"{record.area.label} {self.of_coat} {record.coat.name}" if record.coat else record.area.label

    @property
    def verbs(self) -> tuple[str, str]:
        """The journal's words for a record of it stored, and corrected."""
        return f"{self.name}.recorded", f"{self.name}.corrected"
