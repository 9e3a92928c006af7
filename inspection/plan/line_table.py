"""Lines of a plan from one table, a row each: those not there yet are added, those there are put as the row says.

Reading stores nothing; what is wrong stands beside its row. A line that no row names stays as it is, and so does what
a row leaves empty.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from inspection.foundation import tables
from inspection.foundation.asked_tables import Columns, can_be
from inspection.foundation.refusals import Refused
from inspection.foundation.tables import Line, as_csv, lines_under_head
from inspection.plan.lines import Known, Letters, LineSent, known_to, line_faults, same_as, sent_by
from inspection.plan.models import PlanLine, PlanRevision
from inspection.plan.queries import lines_of
from inspection.plan.wording import lead_read, lead_told, requirements_read, requirements_told
from inspection.projects.models import Party

KINDS = tuple(Party.Kind.values)
TEXTS = ("title", "frequency", "criterion", "method")
COLUMNS = (
    "number",
    "activity",
    "title",
    "scope",
    "frequency",
    "criterion",
    "method",
    "coat",
    "requires",
    "lead",
    *KINDS,
)
NEEDED = ("number",)
READ_AS = Columns(
    "plan lines",
    (
        can_be("number", "Number of the line", "no|nr|item|item no|step|step no|line|line no|pos|position|#"),
        can_be("activity", "Activity", "activity type|tätigkeit"),
        can_be("title", "Title", "description|operation|inspection|inspection point|bezeichnung|beschreibung"),
        can_be("scope", "Scope", "applies to"),
        can_be("frequency", "How often", "extent|how often|häufigkeit|prüfumfang"),
        can_be("criterion", "Criterion", "acceptance criteria|acceptance criterion|acceptance|requirement|criteria"),
        can_be("method", "Method", "procedure|test method|standard|reference|verfahren"),
        can_be("coat", "After which coat", "coat no|layer|schicht"),
        can_be("requires", "Records it requires", "records|record|verifying document"),
        can_be("lead", "Notice", "lead time|notice|notification"),
        *(can_be(kind, str(Party.Kind(kind).label), kind.replace("_", " ")) for kind in KINDS),
    ),
    NEEDED,
)
NONE = "none"
"""What takes a method, records, a lead time or a letter away, and says bare steel; an empty cell leaves what is."""
TEMPLATE = ";".join(COLUMNS) + "\n"
NEW, CHANGED, UNCHANGED = "New", "Changed", "Unchanged"


@dataclass
class Row(tables.Row):
    """One row of the table, and the line it says."""

    sent: LineSent | None = None
    outcome: str = ""
    changes: list[str] = field(default_factory=list)


@dataclass
class Table(tables.Table):
    COLUMNS = COLUMNS
    rows: list[Row]

    @property
    def found(self) -> str:
        """What the table holds, in words."""
        counts = Counter(row.outcome for row in self.rows)
        told = [f"{counts[each]} {each.lower()}" for each in (NEW, CHANGED, UNCHANGED) if counts[each]]
        return f"{len(self.rows)} line{'s' * (len(self.rows) != 1)}{': ' if told else ''}{', '.join(told)}"

    def sent(self) -> list[LineSent]:
        return [row.sent for row in self.rows if row.sent]

    def show_refusal(self, refusal: Refused) -> None:
        """What the action refused at storing, beside the row it meant."""
        for fault in refusal.faults:
            self.rows[(fault.row or 1) - 1].fault(fault.field, fault.message)


def read(revision: PlanRevision, content: bytes) -> Table:
    """Read and check a table of lines of the draft. Raises Refused for a file that is no such table."""
    rows = [Row(line) for line in lines_under_head(content, known=COLUMNS, needed=NEEDED)]
    known = known_to(revision.plan.project)
    there = {line.number.casefold(): line for line in lines_of(revision)}
    named: dict[str, int] = {}
    for row in rows:
        row.faults += row.line.unseen()
        number = row.line["number"].casefold()
        if number in named:
            row.fault("number", f"Line {row.line['number'][:20]} is in row {named[number]} already; give each one row.")
        named.setdefault(number, row.number)
        _read(row, there.get(number), known)
    return Table(rows)


def _read(row: Row, line: PlanLine | None, known: Known) -> None:
    values = _values(row, known, sent_by(line).letters if line else ())
    if row.faults:
        return
    base = sent_by(line) if line else LineSent(
        number=row.line["number"], activity="", title="", frequency="", criterion=""
    )  # fmt: skip
    sent = replace(base, **values)
    for fault in line_faults(sent, known):
        row.fault(fault.field, fault.message)
    row.sent = sent
    row.outcome = NEW if line is None else UNCHANGED if same_as(line, sent) else CHANGED
    if line and row.outcome == CHANGED:
        row.changes = [f"{column}: {row.line[column]}" for column in COLUMNS[1:] if row.line[column]]


def _values(row: Row, known: Known, letters: Any) -> dict[str, Any]:
    """What the row gives, by the names of a line's values."""
    values: dict[str, Any] = {name: _or_none(row.line[name]) for name in TEXTS if row.line[name]}
    for name, choices in (("activity", PlanLine.Activity), ("scope", PlanLine.Scope)):
        if text := row.line[name]:
            values[name] = _chosen(row, name, choices)
    if text := row.line["coat"]:
        values["coat_order"] = _coat(row, text)
    if text := row.line["requires"]:
        values["requires"] = _heard(row, lambda: requirements_read(_or_none(text)))
    if text := row.line["lead"]:
        values["lead"], values["lead_unit"] = _heard(row, lambda: lead_read(_or_none(text))) or (None, "")
    if any(row.line[kind] for kind in KINDS):
        values["letters"] = [each for each in letters if not row.line[each.party_kind]]
        for kind in KINDS:
            values["letters"] += _letters(row, kind, known)
    return values


def _or_none(text: str) -> str:
    return "" if text.casefold() == NONE else text


def _heard(row: Row, act: Callable[[], Any]) -> Any:
    try:
        return act()
    except Refused as refusal:
        for fault in refusal.faults:
            row.fault(fault.field, fault.message)
        return None


def _chosen(row: Row, name: str, choices: Any) -> str:
    text = row.line[name].casefold()
    known = {value: value for value in choices.values} | {
        str(label).casefold(): value for value, label in choices.choices
    }
    if text not in known:
        row.fault(name, f"“{row.line[name][:30]}” is not known; write one of {', '.join(choices.values)}.")
    return str(known.get(text, ""))


def _coat(row: Row, text: str) -> int | None:
    if text.casefold() in {NONE, "bare steel"}:
        return None
    number = text.casefold().removeprefix("coat").strip()
    if not number.isdecimal() or len(number) > 2:
        row.fault(
            "coat", f"“{text[:20]}” is no coat; write its order in the system, such as 1, or none for bare steel."
        )
        return None
    return int(number)


def _letters(row: Row, kind: str, known: Known) -> list[Letters]:
    """`H`, or `H Owner One; W Owner Two` where the parties of a kind have each their own."""
    found = []
    for part in filter(None, (each.strip() for each in _or_none(row.line[kind]).split(";"))):
        letter, _, name = part.partition(" ")
        party = None
        if name:
            named = [
                each
                for each in (known.parties or {}).values()
                if each.kind == kind and str(each.organisation).casefold() == name.strip().casefold()
            ]
            if not named:
                row.fault(kind, f"“{name[:40]}” is no {Party.Kind(kind).label.lower()} of this project.")
                continue
            party = named[0].pk
        found.append(Letters(kind, letter, party))
    return found


def written_out(revision: PlanRevision) -> str:
    """The lines as the table that reads them again, unchanged."""
    return as_csv([Line(number, _cells(line)) for number, line in enumerate(lines_of(revision), start=2)], COLUMNS)


def _cells(line: PlanLine) -> dict[str, str]:
    letters: dict[str, list[str]] = {}
    for each in line.interventions.all():
        told = f"{each.letter} {each.party.organisation}" if each.party else each.letter
        letters.setdefault(each.party_kind, []).append(told)
    return {
        "number": line.number, "activity": line.activity, "title": line.title, "scope": line.scope,
        "frequency": line.frequency, "criterion": line.criterion, "method": line.method,
        "coat": str(line.coat_order or NONE), "requires": requirements_told(line.requirements.all()),
        "lead": lead_told(line), **{kind: "; ".join(letters.get(kind, [])) for kind in KINDS},
    }  # fmt: skip
