"""The lines of a draft: put by number, those there changed and others added; all of them or none."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db import transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.plan.content import said_by
from inspection.plan.legend import Letter, legend_of
from inspection.plan.models import LONGEST_NUMBER, Intervention, LineRequirement, PlanLine, PlanRevision
from inspection.plan.queries import lines_of
from inspection.plan.wording import Required, kind_faults
from inspection.projects.models import Coat, Party, Project
from inspection.projects.preconditions import in_sight, row_faults

MOST_LINES = 500
_NUMBER = re.compile(rf"[0-9A-Za-z][0-9A-Za-z.\-]{{0,{LONGEST_NUMBER - 1}}}")


@dataclass(frozen=True)
class Letters:
    """The letter of one party at a line: of all of a kind, or of one of that kind."""

    party_kind: str
    letter: str
    party: UUID | None = None


@dataclass(frozen=True, kw_only=True)
class LineSent:
    number: str
    activity: str
    title: str
    frequency: str
    criterion: str
    scope: str = PlanLine.Scope.AREA
    method: str = ""
    coat_order: int | None = None
    lead: int | None = None
    lead_unit: str = ""
    requires: Sequence[Required] = ()
    letters: Sequence[Letters] = ()

    @property
    def columns(self) -> dict[str, Any]:
        """What stands in the line's own row, but its number."""
        names = ("activity", "title", "scope", "frequency", "criterion", "method", "coat_order", "lead", "lead_unit")
        return {name: getattr(self, name) for name in names}


@dataclass(frozen=True)
class Known:
    """What lines of a plan may name. A template knows all kinds of parties and any coat."""

    letters: Mapping[str, Letter]
    parties: Mapping[UUID, Party] | None
    coats: frozenset[int] | None

    @property
    def kinds(self) -> set[str]:
        return set(Party.Kind.values) if self.parties is None else {party.kind for party in self.parties.values()}


@dataclass
class Stored:
    added: list[PlanLine] = field(default_factory=list)
    changed: list[PlanLine] = field(default_factory=list)
    same: list[PlanLine] = field(default_factory=list)


def known_to(project: Project | None) -> Known:
    letters = {row.letter: row for row in legend_of(project)}
    if project is None:
        return Known(letters, None, None)
    there = Party.objects.in_force().filter(project=project).select_related("organisation")
    parties = {party.pk: party for party in there}
    coats = Coat.objects.filter(system__project=project).values_list("order", flat=True)
    return Known(letters, parties, frozenset(coats))


def line_faults(sent: LineSent, known: Known, row: int | None = None) -> list[Fault]:
    """What is wrong with one line, field by field."""
    faults = []
    if not _NUMBER.fullmatch(sent.number):
        faults.append(
            Fault(f"A number has 1 to {LONGEST_NUMBER} figures, letters, points and strokes, such as 4.2.", "number")
        )
    if not sent.criterion.strip():
        faults.append(
            Fault("Say by what the line is accepted; a line without a criterion decides nothing.", "criterion")
        )
    if not sent.letters:
        faults.append(Fault("Give at least one party a letter; a line without any party asks nobody.", "parties"))
    if known.coats is not None and sent.coat_order and sent.coat_order not in known.coats:
        there = ", ".join(map(str, sorted(known.coats))) or "none"
        faults.append(
            Fault(f"No coating system of the project has a coat {sent.coat_order}; there are {there}.", "coat")
        )
    faults += kind_faults(sent.requires)
    faults += _letter_faults(sent, known)
    unsaved = PlanLine(number=sent.number, **sent.columns)
    own = {fault.field for fault in faults}
    faults += [
        Fault(fault.message, {"coat_order": "coat", "lead_unit": "lead"}.get(fault.field, fault.field))
        for fault in row_faults(unsaved)
        if fault.field not in {*own, "revision", "order_key"}
    ]
    return [Fault(fault.message, fault.field, row) for fault in faults]


def _letter_faults(sent: LineSent, known: Known) -> list[Fault]:
    faults, seen = [], set()
    for each in sent.letters:
        kind = _kind_words(each.party_kind)
        if each.letter not in known.letters:
            told = ", ".join(known.letters)
            faults.append(Fault(f"“{each.letter[:10]}” is not in the legend; it has {told}.", "parties"))
        elif each.party_kind not in known.kinds:
            faults.append(
                Fault(
                    f"{each.letter} for the {kind}, but there is none in this project; add the party first.", "parties"
                )
            )
        elif each.party and (
            known.parties is None
            or each.party not in known.parties
            or known.parties[each.party].kind != each.party_kind
        ):
            faults.append(Fault(f"{each.letter} for a party that is not a {kind} of this project.", "parties"))
        elif (each.party_kind, each.party) in seen:
            faults.append(Fault(f"The {kind} has two letters; give one.", "parties"))
        seen.add((each.party_kind, each.party))
    return faults


def _kind_words(kind: str) -> str:
    return str(Party.Kind(kind).label).lower() if kind in Party.Kind.values else kind[:20]


def hold_draft(by: Person, revision: PlanRevision, *, to: str) -> PlanRevision:
    """The draft, locked until the transaction ends. Raises NotAllowed, or Conflict where it is none any more."""
    require(by, Role.QUALITY_MANAGER, to=to)
    if revision.plan.project_id:
        in_sight(by, revision)
    locked = PlanRevision.objects.select_for_update(of=("self",)).select_related("plan__project").get(pk=revision.pk)
    if not locked.is_draft:
        raise Conflict(
            f"Revision {locked.number} is {locked.get_state_display().lower()}; only a draft can be changed."
        )
    return locked


@transaction.atomic
def put_lines(by: Person, *, revision: PlanRevision, lines: Sequence[LineSent]) -> Stored:
    """Put these lines of a draft by their numbers; a line that none of them names stays. All or none."""
    locked = hold_draft(by, revision, to="write a plan")
    stored = store(locked, lines)
    _record(by, locked, stored)
    return stored


def store(revision: PlanRevision, lines: Sequence[LineSent]) -> Stored:
    """Store lines of a draft that the caller holds. Raises Refused with the row of each line that is wrong."""
    project = revision.plan.project
    known = known_to(project)
    there = {line.number.casefold(): line for line in lines_of(revision)}
    faults = sent_faults(lines, known)
    if len({*there, *(line.number.casefold() for line in lines)}) > MOST_LINES:
        faults.append(Fault(f"A plan has at most {MOST_LINES} lines.", "number"))
    if faults:
        raise Refused(faults)
    stored = Stored()
    for sent in lines:
        line = there.get(sent.number.casefold())
        if line is None:
            line = PlanLine(revision=revision, number=sent.number, **sent.columns)
            line.save(force_insert=True)
            stored.added.append(line)
        elif same_as(line, sent):
            stored.same.append(line)
            continue
        else:
            for name, value in sent.columns.items():
                setattr(line, name, value)
            line.save()
            line.requirements.all().delete()
            line.interventions.all().delete()
            stored.changed.append(line)
        LineRequirement.objects.bulk_create(
            LineRequirement(line=line, kind=kind, how_many=how_many, fresh_hours=fresh)
            for kind, how_many, fresh in sent.requires
        )
        Intervention.objects.bulk_create(
            Intervention(
                line=line, party_kind=each.party_kind, party_id=each.party, letter=each.letter,
                meaning=known.letters[each.letter].meaning,
            )
            for each in sent.letters
        )  # fmt: skip
    return stored


def sent_faults(lines: Sequence[LineSent], known: Known) -> list[Fault]:
    """What is wrong with lines sent together; the row counts them from 1."""
    faults: list[Fault] = []
    seen: dict[str, int] = {}
    for row, sent in enumerate(lines, start=1):
        faults += line_faults(sent, known, row)
        first = seen.setdefault(sent.number.casefold(), row)
        if first != row:
            faults.append(Fault(f"Line {sent.number} is there twice; give each number one line.", "number", row))
    return faults


def same_as(line: PlanLine, sent: LineSent) -> bool:
    requires = {(each.kind, each.how_many, each.fresh_hours) for each in line.requirements.all()}
    letters = {(each.party_kind, each.party_id, each.letter) for each in line.interventions.all()}
    return (
        sent.columns == {name: getattr(line, name) for name in sent.columns}
        and requires == set(sent.requires)
        and letters == {(each.party_kind, each.party, each.letter) for each in sent.letters}
    )


def sent_by(line: PlanLine) -> LineSent:
    """The line as it would be sent to stand as it does."""
    own = {name: getattr(line, name) for name in LineSent.__dataclass_fields__ if hasattr(line, name)}
    return LineSent(
        **{name: value for name, value in own.items() if name not in {"requires", "letters"}},
        requires=[(each.kind, each.how_many, each.fresh_hours) for each in line.requirements.all()],
        letters=[Letters(each.party_kind, each.letter, each.party_id) for each in line.interventions.all()],
    )


@transaction.atomic
def change_line(by: Person, *, line: PlanLine, sent: LineSent) -> PlanLine:
    """Put one line of a draft, its number too."""
    locked = hold_draft(by, line.revision, to="write a plan")
    if sent.number.casefold() != line.number.casefold():
        if locked.lines.filter(number__iexact=sent.number).exists():
            raise Refused(f"There is already a line {sent.number} in this revision.", field="number")
        if faults := line_faults(sent, known_to(locked.plan.project)):
            raise Refused(faults)
        line.number = sent.number
        line.save()
    stored = store(locked, [sent])
    _record(by, locked, stored)
    return (stored.changed or stored.same)[0]


@transaction.atomic
def take_out(by: Person, *, line: PlanLine) -> None:
    """Take a line out of a draft; the journal keeps what it said."""
    locked = hold_draft(by, line.revision, to="write a plan")
    found = lines_of(locked).filter(pk=line.pk).first()
    if found is None:
        raise Conflict("The line is not in the draft any more.")
    told, project = said_by(found), locked.plan.project_id
    journal.record("plan_line.taken_out", found, by=by, project_id=project, before=told)
    found.delete()


def _record(by: Person, revision: PlanRevision, stored: Stored) -> None:
    changed = [*stored.added, *stored.changed]
    if not changed:
        return
    told = {line.number: said_by(line) for line in lines_of(revision).filter(pk__in=[line.pk for line in changed])}
    journal.record("plan_lines.put", revision, by=by, project_id=revision.plan.project_id, after=told)


def copy_lines(lines: Iterable[PlanLine], into: PlanRevision) -> None:
    """Copy the lines into a further revision; each carries on the one it was copied from."""
    for line in lines:
        copied = PlanLine(
            revision=into, number=line.number, **sent_by(line).columns, carries_on=line,
            template_line_id=line.template_line_id,
        )  # fmt: skip
        copied.save(force_insert=True)
        LineRequirement.objects.bulk_create(
            LineRequirement(line=copied, kind=each.kind, how_many=each.how_many, fresh_hours=each.fresh_hours)
            for each in line.requirements.all()
        )
        Intervention.objects.bulk_create(
            Intervention(
                line=copied, party_kind=each.party_kind, party_id=each.party_id, letter=each.letter,
                meaning=each.meaning,
            )
            for each in line.interventions.all()
        )  # fmt: skip
